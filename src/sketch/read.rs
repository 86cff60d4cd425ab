//! Reads sketches: shapes only, every problem at once.

use super::{Ask, Asking, BASE, Block, Book, Choice, Danger, Sketch};
use crate::text::problem::Problem;
use crate::text::span::Source;
use crate::text::words::nearest;
use crate::text::yaml::{self, Node, Value};
use indexmap::IndexMap;

/// Sections that rows may stand in, besides `wires`.
const SECTIONS: [&str; 5] = ["chassis", "parts", "switches", "sleeves", "grounds"];
const TOP: [&str; 22] = [
    "sketch", "is", "about", "at", "looks", "also", "shows-at", "asks", "rows", "source", "places", "shared",
    "changed", "how", "when", "what", "which", "fuse", "circuit", "safe", "dangers", "usual",
];

/// Reads all files, the base first.
pub(super) fn book(sources: &[Source]) -> Result<Book, Vec<(Source, Problem)>> {
    let mut book = Book::default();
    let mut troubles = Vec::new();
    for source in sources {
        let mut reader = Reader::default();
        match yaml::parse(source) {
            Ok(root) => reader.file(&root, &mut book),
            Err(problem) => reader.problems.push(problem),
        }
        troubles.extend(reader.problems.into_iter().map(|problem| (source.clone(), problem)));
    }
    if troubles.is_empty() { Ok(book) } else { Err(troubles) }
}

#[derive(Default)]
struct Reader {
    problems: Vec<Problem>,
}

impl Reader {
    fn file(&mut self, root: &Node, book: &mut Book) {
        let mut sketch = Sketch::default();
        let mut asks = None;
        let mut sourced = false;
        for (key, node) in self.map(root, &TOP) {
            match key.as_str() {
                "sketch" => sketch.name = self.text(node),
                "is" => sketch.is = self.text(node),
                "at" => sketch.at = self.text(node),
                "looks" => sketch.looks = self.list(node),
                "also" => sketch.also = self.list(node),
                "shows-at" => sketch.shows_at = self.texts(node),
                "asks" => asks = Some(node),
                "rows" => sketch.rows.extend(self.blocks(node)),
                "source" => sourced = true,
                "places" => book.places.extend(self.texts(node)),
                "shared" => {
                    for (name, node) in self.map(node, &[]) {
                        let shared = self.shared(node);
                        book.shared.insert(name, shared);
                    }
                }
                "changed" => book.changed = self.asking(node),
                "how" => book.how = self.asking(node),
                "when" => book.when = self.asking(node),
                "what" => book.what = self.asking(node),
                "which" => book.which = self.asking(node),
                "circuit" => book.circuit = self.asking(node),
                "fuse" => book.fuse = self.asking(node),
                "safe" => book.safe = self.asking(node),
                "dangers" => {
                    for (name, node) in self.map(node, &[]) {
                        let danger = self.danger(node);
                        book.dangers.insert(name, danger);
                    }
                }
                "usual" => {
                    for (_, node) in self.map(node, &[]) {
                        let mut usual = (Vec::new(), Vec::new());
                        for (key, node) in self.map(node, &["say", "circuits"]) {
                            let list = self.list(node);
                            if key == "say" { usual.0 = list } else { usual.1 = list }
                        }
                        book.usual.push(usual);
                    }
                }
                _ => {}
            }
        }
        if sketch.name.is_empty() {
            self.problems.push(Problem::at(root.span, "this sketch has no name").help("begin it with: sketch: horn"));
            return;
        }
        if !sourced {
            let problem = Problem::at(root.span, "this sketch has no source");
            self.problems.push(problem.help("write: source: common practice, no source"));
        }
        if let Some(node) = asks {
            for (name, node) in self.map(node, &[]) {
                self.ask(&name, node, book, &mut sketch);
            }
        }
        self.conditions(root, &sketch);
        if sketch.name == BASE {
            book.sketches.shift_insert(0, BASE.into(), sketch);
        } else {
            book.sketches.insert(sketch.name.clone(), sketch);
        }
    }

    /// Every condition names a question of this sketch and answers of it.
    fn conditions(&mut self, root: &Node, sketch: &Sketch) {
        let of_asks = sketch.asks.values().flat_map(|ask| &ask.when);
        for (ask, choices) in sketch.rows.iter().flat_map(|block| &block.when).chain(of_asks) {
            let Some(known) = sketch.asks.get(ask) else {
                let near = nearest(ask, sketch.asks.keys().map(String::as_str)).map(|n| format!("nearest: {n}"));
                let problem = Problem::at(
                    root.span,
                    format!("rows of {} depend on \"{ask}\", which it does not ask", sketch.name),
                );
                self.problems.push(problem.help(near.unwrap_or_else(|| "put the question under asks".into())));
                continue;
            };
            for choice in choices.iter().filter(|choice| !known.choices.contains_key(*choice)) {
                let all: Vec<&str> = known.choices.keys().map(String::as_str).collect();
                let problem = Problem::at(root.span, format!("\"{choice}\" is no answer to {ask} of {}", sketch.name));
                self.problems.push(problem.help(format!("answers: {}", all.join(", "))));
            }
        }
        for (name, ask) in sketch.asks.iter().filter(|(_, ask)| !ask.choices.contains_key(&ask.default)) {
            let problem =
                Problem::at(root.span, format!("the default of {name} is none of its answers: \"{}\"", ask.default));
            self.problems.push(problem.help("name one of its choices"));
        }
    }

    /// A question of its own, or one that it shares with others: `feed: {like: feed, default: own-key}`.
    fn ask(&mut self, name: &str, node: &Node, book: &Book, sketch: &mut Sketch) {
        let mut ask = Ask::default();
        let keys = ["like", "ask", "worth", "default", "choices", "when", "several", "alone"];
        for (key, node) in self.map(node, &keys) {
            match key.as_str() {
                "like" => {
                    let like = self.text(node);
                    match book.shared.get(&like) {
                        Some((shared, rows)) => {
                            ask = shared.clone();
                            sketch.rows.splice(0..0, rows.iter().cloned());
                        }
                        None => {
                            let near = nearest(&like, book.shared.keys().map(String::as_str)).unwrap_or("feed");
                            let problem = Problem::at(node.span, format!("no shared question is called \"{like}\""));
                            self.problems.push(problem.help(format!("nearest: {near}")));
                        }
                    }
                }
                _ => self.ask_field(&key, node, &mut ask),
            }
        }
        sketch.asks.insert(name.to_string(), ask);
    }

    fn ask_field(&mut self, key: &str, node: &Node, ask: &mut Ask) {
        match key {
            "ask" => ask.text = self.text(node),
            "worth" => ask.worth = self.number(node),
            "default" => ask.default = self.text(node),
            "several" => ask.several = self.text(node) == "true",
            "alone" => ask.alone = Some(self.text(node)),
            "when" => ask.when = self.conditions_of(node),
            "choices" => {
                for (name, node) in self.map(node, &[]) {
                    let mut choice = Choice { weight: 1.0, ..Choice::default() };
                    for (key, node) in self.map(node, &["say", "weight", "words", "slots"]) {
                        match key.as_str() {
                            "say" => choice.say = self.text(node),
                            "weight" => choice.weight = self.number(node),
                            "words" => choice.words = self.list(node),
                            _ => choice.slots = self.texts(node).into_iter().collect(),
                        }
                    }
                    ask.choices.insert(name, choice);
                }
            }
            _ => {}
        }
    }

    fn shared(&mut self, node: &Node) -> (Ask, Vec<Block>) {
        let mut out = (Ask::default(), Vec::new());
        for (key, node) in self.map(node, &["ask", "worth", "default", "several", "alone", "choices", "rows"]) {
            match key.as_str() {
                "rows" => out.1 = self.blocks(node),
                _ => self.ask_field(&key, node, &mut out.0),
            }
        }
        out
    }

    fn blocks(&mut self, node: &Node) -> Vec<Block> {
        let Value::List(items) = &node.value else {
            self.problems.push(Problem::at(node.span, "rows is a list of blocks").help("- parts: …"));
            return Vec::new();
        };
        let mut known = vec!["when", "wires"];
        known.extend(SECTIONS);
        let mut out = Vec::new();
        for item in items {
            let mut block = Block::default();
            for (key, node) in self.map(item, &known) {
                match key.as_str() {
                    "when" => block.when = self.conditions_of(node),
                    "wires" => block.wires = self.list(node),
                    _ => {
                        let rows = self.texts(node);
                        block.named.insert(key, rows);
                    }
                }
            }
            out.push(block);
        }
        out
    }

    /// `{relay: none, button: [feed, ground]}`.
    fn conditions_of(&mut self, node: &Node) -> IndexMap<String, Vec<String>> {
        let mut out = IndexMap::new();
        for (ask, node) in self.map(node, &[]) {
            let choices = match &node.value {
                Value::List(_) => self.list(node),
                _ => vec![self.text(node)],
            };
            out.insert(ask, choices);
        }
        out
    }

    fn asking(&mut self, node: &Node) -> Asking {
        let mut out = Asking::default();
        for (key, node) in self.map(node, &["ask", "worth", "say", "choices", "again"]) {
            match (key.as_str(), &node.value) {
                ("ask", _) => out.ask = self.text(node),
                ("worth", _) => out.worth = self.number(node),
                ("again", _) => out.again = self.list(node),
                ("choices", _) => {
                    for (name, node) in self.map(node, &[]) {
                        for (key, node) in self.map(node, &["say", "words", "recent"]) {
                            match key.as_str() {
                                "say" => drop(out.say.insert(name.clone(), self.text(node))),
                                "words" => drop(out.words.insert(name.clone(), self.list(node))),
                                _ => drop(out.recent.insert(name.clone(), self.list(node))),
                            }
                        }
                    }
                }
                (_, Value::List(_)) => out.say = self.list(node).into_iter().map(|say| (say.clone(), say)).collect(),
                (_, Value::Map(_)) => out.say = self.texts(node).into_iter().collect(),
                _ => {
                    let say = self.text(node);
                    out.say.insert(say.clone(), say);
                }
            }
        }
        out
    }

    fn danger(&mut self, node: &Node) -> Danger {
        let mut out = Danger::default();
        for (key, node) in self.map(node, &["say", "first", "covers", "source"]) {
            match key.as_str() {
                "say" => out.say = self.list(node),
                "first" => out.first = self.text(node),
                "covers" => out.covers = self.list(node),
                _ => {}
            }
        }
        out
    }

    /// Pairs of a map; unknown keys (if any are given) and keys that stand twice are problems.
    fn map<'n>(&mut self, node: &'n Node, known: &[&str]) -> Vec<(String, &'n Node)> {
        let Value::Map(pairs) = &node.value else {
            self.problems.push(Problem::at(node.span, "a map is wanted here: key: value"));
            return Vec::new();
        };
        let mut out: IndexMap<String, &Node> = IndexMap::new();
        for (key, value) in pairs {
            if !known.is_empty() && !known.contains(&key.text.as_str()) {
                let near = nearest(&key.text, known.iter().copied());
                let help = near.map_or_else(|| format!("known: {}", known.join(", ")), |n| format!("nearest: {n}"));
                self.problems.push(Problem::at(key.span, format!("\"{}\" is not known here", key.text)).help(help));
            } else if out.insert(key.text.clone(), value).is_some() {
                self.problems.push(Problem::at(key.span, format!("\"{}\" stands here twice", key.text)));
            }
        }
        out.into_iter().collect()
    }

    fn texts(&mut self, node: &Node) -> Vec<(String, String)> {
        self.map(node, &[]).into_iter().map(|(key, node)| (key, self.text(node))).collect()
    }

    fn list(&mut self, node: &Node) -> Vec<String> {
        let Value::List(items) = &node.value else {
            self.problems.push(Problem::at(node.span, "a list is wanted here: [one, two]"));
            return Vec::new();
        };
        items.iter().map(|item| self.text(item)).collect()
    }

    fn text(&mut self, node: &Node) -> String {
        if let Value::Scalar(text) = &node.value {
            return text.clone();
        }
        self.problems.push(Problem::at(node.span, "a word or a sentence is wanted here"));
        String::new()
    }

    fn number(&mut self, node: &Node) -> f64 {
        let text = self.text(node);
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() && value >= 0.0 => value,
            _ => {
                self.problems.push(Problem::at(node.span, format!("\"{text}\" is no number, zero or more")));
                0.0
            }
        }
    }
}
