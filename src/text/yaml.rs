//! The one home of the YAML crate: text in, a tree with spans out.
//!
//! Every scalar keeps the characters that stand in the text (`no`, `007`, `12` stay as typed).
//! Duplicate keys are kept, so that whoever reads the tree can name them all. Knows nothing of what
//! the tree means.

use super::hidden;
use super::problem::Problem;
use super::span::{Source, Span};
use serde::Deserialize;
use serde::de::{MapAccess, SeqAccess, Visitor};
use serde_yaml::{Location, Spanned};

/// A node of the tree.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Where it stands.
    pub span: Span,
    /// What it is.
    pub value: Value,
}

/// What a node holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing: an empty value or a null.
    Null,
    /// Text as it stands, quotes removed.
    Scalar(String),
    /// A list.
    List(Vec<Node>),
    /// Key, value pairs in order, duplicates included. Keys are always scalars.
    Map(Vec<(Key, Node)>),
}

/// A key of a map.
#[derive(Clone, Debug, PartialEq)]
pub struct Key {
    /// Where it stands.
    pub span: Span,
    /// Its text.
    pub text: String,
}

/// Nesting deeper than this is no wiring file and no rules file.
const MAX_DEPTH: usize = 40;
/// More nodes than this are a bomb: a coach with 10,000 rows has about 200,000.
const MAX_NODES: usize = 2_000_000;

/// Reads one document. A syntax error is one problem, with its place, in plain words.
///
/// ```
/// use ohmward::text::{span::Source, yaml::{parse, Value}};
/// let tree = parse(&Source::new("w.yaml", "horn: no\n")).unwrap();
/// let Value::Map(pairs) = tree.value else { panic!() };
/// assert_eq!(pairs[0].1.value, Value::Scalar("no".into()));
/// ```
pub fn parse(source: &Source) -> Result<Node, Problem> {
    let skip = if source.text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let text = &source.text[skip..];
    if let Some((at, c)) = hidden::first(text) {
        return Err(unseen(Span { start: skip + at, end: skip + at + c.len_utf8() }, c));
    }
    let options = serde_yaml::options! {
        duplicate_keys: serde_yaml::options::DuplicateKeyPolicy::PassThrough,
        merge_keys: serde_yaml::options::MergeKeyPolicy::AsOrdinary,
        strict_booleans: true,
        leading_zero_numbers_as_strings: true,
        underscored_numbers_as_strings: true,
        non_finite_float_policy: serde_yaml::options::NonFiniteFloatPolicy::PassThrough,
        with_snippet: false,
        budget: serde_yaml::budget! { max_depth: MAX_DEPTH, flow_nesting_limit: MAX_DEPTH, max_nodes: MAX_NODES },
    };
    match serde_yaml::from_str_with_options::<Spanned<Raw>>(text, options) {
        Ok(raw) => Reader { text, skip }.node(raw),
        Err(error) => Err(syntax_problem(&error, text, skip)),
    }
}

/// A character that nobody sees, written as it is or by its code.
fn unseen(span: Span, c: char) -> Problem {
    Problem::at(span, format!("there is a character that cannot be seen (U+{:04X}) in the text", u32::from(c)))
        .help("take it out, or save the file again as plain text (UTF-8)")
}

/// The tree as the crate gives it. Scalars that the crate took for a number, a truth value or nothing carry no
/// text: their characters are fetched from the source.
enum Raw {
    Typed,
    Text(String),
    List(Vec<Spanned<Raw>>),
    Map(Vec<(Spanned<Raw>, Spanned<Raw>)>),
}

impl<'de> Deserialize<'de> for Raw {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(RawVisitor)
    }
}

struct RawVisitor;

impl<'de> Visitor<'de> for RawVisitor {
    type Value = Raw;

    fn expecting(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        f.write_str("text, a list or a map")
    }
    fn visit_bool<E>(self, _: bool) -> Result<Raw, E> {
        Ok(Raw::Typed)
    }
    fn visit_i64<E>(self, _: i64) -> Result<Raw, E> {
        Ok(Raw::Typed)
    }
    fn visit_u64<E>(self, _: u64) -> Result<Raw, E> {
        Ok(Raw::Typed)
    }
    fn visit_f64<E>(self, _: f64) -> Result<Raw, E> {
        Ok(Raw::Typed)
    }
    fn visit_unit<E>(self) -> Result<Raw, E> {
        Ok(Raw::Typed)
    }
    fn visit_str<E>(self, text: &str) -> Result<Raw, E> {
        Ok(Raw::Text(text.to_owned()))
    }
    fn visit_string<E>(self, text: String) -> Result<Raw, E> {
        Ok(Raw::Text(text))
    }
    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Raw, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element()? {
            items.push(item);
        }
        Ok(Raw::List(items))
    }
    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Raw, A::Error> {
        let mut pairs = Vec::new();
        while let Some(pair) = map.next_entry()? {
            pairs.push(pair);
        }
        Ok(Raw::Map(pairs))
    }
}

/// Turns the crate's tree into ours.
struct Reader<'a> {
    text: &'a str,
    skip: usize,
}

impl Reader<'_> {
    fn node(&self, raw: Spanned<Raw>) -> Result<Node, Problem> {
        let mut span = self.span(&raw.referenced);
        let value = match raw.value {
            Raw::Typed => match self.typed(&raw.defined) {
                "" | "~" | "null" | "Null" | "NULL" => Value::Null,
                text => Value::Scalar(text.to_owned()),
            },
            Raw::Text(text) => match hidden::first(&text) {
                Some((_, c)) => return Err(unseen(span, c)),
                None => Value::Scalar(text),
            },
            Raw::List(items) => {
                let items = items.into_iter().map(|item| self.node(item)).collect::<Result<Vec<_>, _>>()?;
                span.end = items.last().map_or(span.end, |item| item.span.end.max(span.end));
                Value::List(items)
            }
            Raw::Map(pairs) => {
                let mut out = Vec::with_capacity(pairs.len());
                for (key, value) in pairs {
                    let key_span = self.span(&key.referenced);
                    let text = match key.value {
                        Raw::Text(text) => match hidden::first(&text) {
                            Some((_, c)) => return Err(unseen(key_span, c)),
                            None => text,
                        },
                        Raw::Typed => self.typed(&key.defined).to_owned(),
                        Raw::List(_) | Raw::Map(_) => {
                            return Err(Problem::at(key_span, "a list or a map stands where a name is expected")
                                .help("write a name before the colon"));
                        }
                    };
                    let value = self.node(value)?;
                    span.end = span.end.max(value.span.end).max(key_span.end);
                    out.push((Key { span: key_span, text }, value));
                }
                Value::Map(out)
            }
        };
        Ok(Node { span, value })
    }

    fn span(&self, location: &Location) -> Span {
        let found = span_of(location, self.text);
        Span { start: found.start + self.skip, end: found.end + self.skip }
    }

    /// The characters of a scalar that the crate gave a type.
    fn typed(&self, location: &Location) -> &str {
        let span = span_of(location, self.text);
        self.text.get(span.start..span.end).unwrap_or("").trim()
    }
}

/// Byte span of a location, always inside the text and on character boundaries.
fn span_of(location: &Location, text: &str) -> Span {
    let bytes = |offset: Option<u64>| offset.and_then(|o| usize::try_from(o).ok());
    let start = bytes(location.span().byte_offset()).unwrap_or_else(|| line_start(text, location.line() as usize));
    let mut start = start.min(text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    let mut end = (start + bytes(location.span().byte_len()).unwrap_or(0)).min(text.len());
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    let kept = text[start..end].trim_end().len();
    Span { start, end: start + kept }
}

/// Byte offset of the start of a line counted from 1.
fn line_start(text: &str, line: usize) -> usize {
    text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum()
}

/// What the crate could not read, said in our own words: its own speak of parsers and Rust.
fn syntax_problem(error: &serde_yaml::Error, text: &str, skip: usize) -> Problem {
    let place = error.location().map(|location| span_of(&location, text));
    let says = error.without_snippet().to_string().to_lowercase();
    let at = place.unwrap_or_default();
    let (what, help) = explain(&says, text, at);
    let blank = text[at.start..].len() - text[at.start..].trim_start_matches([' ', '\t']).len();
    let from = if text[at.start + blank..].starts_with(['\n', '\r']) { at.start } else { at.start + blank };
    let mut span = Span { start: from + skip, end: at.end.max(from) + skip };
    if span.start >= text.len() + skip {
        // The end of the text is no place to point at: the last line that holds something is.
        let last = text.trim_end().rfind('\n').map_or(0, |i| i + 1);
        span = Span { start: last + skip, end: text.trim_end().len().max(last) + skip };
    }
    Problem { span: place.map(|_| span), text: what.into(), help: Some(help.into()) }
}

fn explain(says: &str, text: &str, at: Span) -> (&'static str, &'static str) {
    let line_from = text[..at.start].rfind('\n').map_or(0, |i| i + 1);
    let line = text[line_from..].lines().next().unwrap_or("");
    let before = text[..line_from].trim_end().lines().last().unwrap_or("");
    let indent = |l: &str| l.chars().take_while(|c| c.is_whitespace()).any(|c| c == '\t');
    let after_bracket = |l: &str| l.find("],").or_else(|| l.find("] ,")).is_some_and(|i| !l[..i].contains(['"', '\'']));
    if says.contains("budget") || says.contains("depth") || says.contains("nesting") || says.contains("recurs") {
        ("the file nests or repeats more than any wiring does", "write it plainly, without deep nesting or anchors")
    } else if says.contains("alias") || says.contains("anchor") || line.trim_start().starts_with(['*', '&']) {
        ("a name begins with * or &, which YAML takes for a reference", "put it in quotes")
    } else if indent(line) || indent(before) || says.contains("tab") {
        ("a tab stands where spaces must stand", "indent with spaces only")
    } else if after_bracket(line) {
        ("something stands after a list in brackets", "a list in brackets stands last in its row")
    } else if says.contains("multiple") || says.contains("document") {
        ("a second document begins here (a line of ---)", "keep one document a file")
    } else if says.contains("quote") || line.matches('"').count() % 2 == 1 {
        ("a quote is opened and not closed", "close it on the same line")
    } else if says.contains("flow") || [line, before].iter().any(|l| l.contains(['[', '{', ']', '}'])) {
        ("a bracket is opened and not closed, or closed and not opened", "count [ ] and { }, and the commas between")
    } else if line.trim_start().starts_with(['@', '`', '%', '!', '|', '>']) || says.contains("tag") {
        ("a word begins with a sign that YAML keeps for itself", "put it in quotes")
    } else if line.matches(": ").count() > 1 {
        ("two colons in one row", "put the row in quotes, or use commas")
    } else {
        (
            "the file cannot be read from here on",
            "look at the indentation and the colons of this line and the one before",
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tree(text: &str) -> Node {
        parse(&Source::new("t.yaml", text)).unwrap_or_else(|p| panic!("{p:?}"))
    }

    fn pairs(node: &Node) -> Vec<(&str, Option<&str>)> {
        let Value::Map(pairs) = &node.value else { panic!("no map: {node:?}") };
        pairs
            .iter()
            .map(|(k, v)| (k.text.as_str(), if let Value::Scalar(s) = &v.value { Some(s.as_str()) } else { None }))
            .collect()
    }

    #[test]
    fn scalars_stay_as_typed() {
        let node = tree(
            "a: no\nb: 007\nc: 1.10\nd: 12\ne: true\nf: \"12\"\ng: 0x1F\nh: 1e999\ni: .nan\nj: 1_0\noff: on\n12: yes\nnull: 4k7\nk: 'it''s'\nl: 2,5 m\n",
        );
        assert_eq!(
            pairs(&node),
            [
                ("a", Some("no")),
                ("b", Some("007")),
                ("c", Some("1.10")),
                ("d", Some("12")),
                ("e", Some("true")),
                ("f", Some("12")),
                ("g", Some("0x1F")),
                ("h", Some("1e999")),
                ("i", Some(".nan")),
                ("j", Some("1_0")),
                ("off", Some("on")),
                ("12", Some("yes")),
                ("null", Some("4k7")),
                ("k", Some("it's")),
                ("l", Some("2,5 m")),
            ]
        );
    }

    #[test]
    fn spans_point_at_the_text_behind_a_mark_umlauts_and_crlf() {
        let text = "\u{feff}größe: 12\r\nliste: [., .a, 1.10]\r\nleer:\r\n";
        let node = tree(text);
        let Value::Map(pairs) = &node.value else { panic!() };
        assert_eq!(&text[pairs[0].0.span.start..pairs[0].0.span.end], "größe");
        assert_eq!(&text[pairs[0].1.span.start..pairs[0].1.span.end], "12");
        let Value::List(items) = &pairs[1].1.value else { panic!() };
        let shown: Vec<&str> = items.iter().map(|i| &text[i.span.start..i.span.end]).collect();
        assert_eq!(shown, [".", ".a", "1.10"]);
        assert_eq!(items[2].value, Value::Scalar("1.10".into()));
        assert_eq!(pairs[2].1.value, Value::Null);
    }

    #[test]
    fn duplicates_are_all_kept() {
        assert_eq!(pairs(&tree("a: 1\nb: 2\na: 3\n")), [("a", Some("1")), ("b", Some("2")), ("a", Some("3"))]);
    }

    #[test]
    fn aliases_show_where_they_are_used() {
        let text = "a: &x 12\nb: *x\n";
        let node = tree(text);
        assert_eq!(pairs(&node), [("a", Some("12")), ("b", Some("12"))]);
        let Value::Map(pairs) = &node.value else { panic!() };
        assert!(pairs[1].1.span.start > 8, "{:?}", pairs[1].1.span);
    }

    #[test]
    fn syntax_errors_are_one_problem_in_plain_words() {
        let cases = [
            ("a: [1, 2\nb: 3\n", "bracket"),
            ("a: \"x\nb: 3\n", "quote"),
            ("a:\n\tb: 3\n", "tab"),
            ("a: [x], y\n", "list in brackets"),
            ("a: b\n c: d: e\n", ""),
            ("a: 1\n---\nb: 2\n", "second document"),
            ("a: *nobody\n", "reference"),
            ("a: x\0y\n", "cannot be seen"),
            ("[a]: 3\n", "where a name is expected"),
            ("? {a: b}\n: 3\n", "where a name is expected"),
        ];
        for (text, word) in cases {
            let source = Source::new("t.yaml", text);
            let problem = parse(&source).expect_err(text);
            assert!(problem.text.contains(word), "{text:?}: {problem:?}");
            let shown = problem.render(&source).to_lowercase();
            for rust in ["serde", "usize", "deserial", "scanner", "parser", "mapping values"] {
                assert!(!shown.contains(rust), "{shown}");
            }
            assert!(problem.span.is_some() && problem.help.is_some(), "{text:?}: {problem:?}");
        }
    }

    #[test]
    fn bombs_are_refused() {
        assert!(parse(&Source::new("t", "[".repeat(5_000))).is_err());
        let deep: String = (0..200).map(|i| format!("{}a:\n", " ".repeat(i))).collect();
        assert!(parse(&Source::new("t", deep)).is_err());
        let mut bomb = String::from("a0: &a0 [x, x, x, x, x, x, x, x, x]\n");
        for i in 1..12 {
            let item = format!("*a{}", i - 1);
            bomb.push_str(&format!("a{i}: &a{i} [{}]\n", vec![item; 9].join(", ")));
        }
        assert!(parse(&Source::new("t", bomb)).is_err());
    }
}
