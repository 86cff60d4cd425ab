//! `rules/symptoms.yaml`: what people say, as data.

use crate::circuit::heat;
use crate::text::problem::Problem;
use crate::text::span::Source;
use crate::text::words::nearest;
use crate::text::yaml::{self, Node, Value};
use indexmap::IndexMap;
use std::sync::OnceLock;

/// The language of complaints in force.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SymptomTable {
    /// What is seen, heard, felt, by name.
    pub showings: IndexMap<String, ShowingWords>,
    /// Words for parts.
    pub parts: IndexMap<String, PartWords>,
    /// Words for what is operated.
    pub controls: IndexMap<String, ControlWords>,
    /// `on` and `off`: how people say that they set something.
    pub verbs: IndexMap<String, Verb>,
    /// Words that join: `when`, `cure`, `since`, `next`, `not`, `filler`.
    pub joins: IndexMap<String, Vec<String>>,
    /// What is done to it while looking: wiggle, bump, …
    pub disturbs: IndexMap<String, Vec<String>>,
    /// Words beside the name of what gets hot, and of no meaning of their own: wire, plug.
    pub carriers: Vec<String>,
    /// Other spellings, each with the one used here.
    pub same: IndexMap<String, String>,
    /// Settings without which a part of a kind shows nothing.
    pub needs: IndexMap<String, Vec<(String, String)>>,
}

/// Where a showing is to be expected.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Expected {
    /// Set so that it ought to work.
    Working,
    /// Set so that it ought not.
    Rest,
    /// Either.
    #[default]
    Any,
}

/// A thing that is seen, heard or felt.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ShowingWords {
    /// Phrases.
    pub say: Vec<String>,
    /// Showing words, the wanted one first; words that stand together cannot be told apart.
    pub means: Vec<Vec<String>>,
    /// Where it shows.
    pub state: Expected,
    /// What it becomes after "not".
    pub not: Option<String>,
    /// Only where there is a needle.
    pub needle: bool,
    /// The part that it names by itself.
    pub part: Option<String>,
    /// Said as well of the same part.
    pub with: Option<String>,
    /// Felt, not seen: where nothing is named it is a place that is asked for.
    pub felt: bool,
    /// It comes and goes.
    pub comes_and_goes: bool,
    /// Those of the phrases that judge and do not say what is seen: no answer to "what do you see?".
    pub judged: Vec<String>,
}

impl ShowingWords {
    /// It may be felt, and so be said of whatever a hand can be laid on.
    pub fn may_be_heat(&self) -> bool {
        self.means.iter().flatten().any(|word| heat::is_word(word))
    }
}

/// Words for a part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PartWords {
    /// Phrases.
    pub say: Vec<String>,
    /// Of one of these kinds.
    pub kinds: Vec<String>,
    /// One of these words is in its name.
    pub named: Vec<String>,
    /// In series with a part of one of these kinds.
    pub behind: Vec<String>,
    /// Not in series with a part of one of these kinds.
    pub not_behind: Vec<String>,
    /// Of a part with several feeds, the pin of the one that is meant.
    pub feed: Option<String>,
    /// Only these showings are meant.
    pub words: Vec<String>,
    /// Has a needle.
    pub needle: bool,
    /// Narrowed by the part beside it to the fuses in series with that.
    pub fuse: bool,
    /// Every part that can be seen or heard working.
    pub all: bool,
}

/// Words for what is operated.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ControlWords {
    /// Phrases that name it.
    pub say: Vec<String>,
    /// Phrases that say it is done, without a verb.
    pub doing: Vec<String>,
    /// Controls of parts of these kinds.
    pub kinds: Vec<String>,
    /// The hand switch in series with a part of these kinds.
    pub near: Vec<String>,
    /// A control of the whole machine.
    pub control: Option<String>,
    /// Setting to phrases.
    pub said: IndexMap<String, Vec<String>>,
}

/// How people say that they set something.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Verb {
    /// Phrases.
    pub say: Vec<String>,
    /// Settings that it can mean, the wanted one first.
    pub settings: Vec<String>,
}

/// The table compiled in.
const BUILTIN: &str = include_str!("../../../rules/symptoms.yaml");

impl SymptomTable {
    /// The table that is compiled in; a test reads it, so it is whole.
    pub fn builtin() -> SymptomTable {
        static WHOLE: OnceLock<SymptomTable> = OnceLock::new();
        let read = || SymptomTable::read(&Source::new("rules/symptoms.yaml", BUILTIN)).unwrap_or_default();
        WHOLE.get_or_init(read).clone()
    }

    /// The built-in table with a user's own laid over it: an entry replaces the one of its name, or is added.
    ///
    /// # Errors
    ///
    /// Every problem of the first file that has some.
    pub fn with(files: &[Source]) -> Result<SymptomTable, (Source, Vec<Problem>)> {
        let mut table = SymptomTable::builtin();
        for file in files {
            table.lay(file).map_err(|problems| (file.clone(), problems))?;
        }
        Ok(table)
    }

    /// Reads a table. All problems at once.
    pub fn read(source: &Source) -> Result<SymptomTable, Vec<Problem>> {
        let mut table = SymptomTable::default();
        table.lay(source).map(|()| table)
    }

    fn lay(&mut self, source: &Source) -> Result<(), Vec<Problem>> {
        let root = yaml::parse(source).map_err(|problem| vec![problem])?;
        let mut reader = Reader::default();
        let table = self;
        let sections = ["showings", "parts", "controls", "verbs", "joins", "disturbs", "needs", "same", "carriers"];
        for (section, node) in reader.map(&root, &sections) {
            let section = section.as_str();
            if section == "carriers" {
                table.carriers = reader.list(node);
                continue;
            }
            for (name, entry) in reader.map(node, &[]) {
                match section {
                    "showings" => drop(table.showings.insert(name, reader.showing(entry))),
                    "parts" => drop(table.parts.insert(name, reader.part(entry))),
                    "controls" => drop(table.controls.insert(name, reader.control(entry))),
                    "verbs" => drop(table.verbs.insert(name, reader.verb(entry))),
                    "joins" => drop(table.joins.insert(name, reader.list(entry))),
                    "same" => drop(table.same.insert(name, reader.text(entry))),
                    "disturbs" => drop(table.disturbs.insert(name, reader.verb(entry).say)),
                    _ => drop(table.needs.insert(name, reader.need(entry))),
                }
            }
        }
        for (name, words) in &table.showings {
            for other in words.not.iter().chain(&words.with) {
                if !table.showings.contains_key(other) {
                    reader.problems.push(Problem::whole(format!("showing {name} names {other}, which is no showing")));
                }
            }
            if let Some(part) = words.part.as_ref().filter(|part| !table.parts.contains_key(*part)) {
                reader.problems.push(Problem::whole(format!("showing {name} names {part}, which is not in parts")));
            }
        }
        if reader.problems.is_empty() { Ok(()) } else { Err(reader.problems) }
    }
}

/// Walks the tree and collects what is wrong.
#[derive(Default)]
struct Reader {
    problems: Vec<Problem>,
}

impl Reader {
    /// Pairs of a map; keys outside `allowed` (if any are given) and repeated keys are problems.
    fn map<'n>(&mut self, node: &'n Node, allowed: &[&str]) -> Vec<(String, &'n Node)> {
        let Value::Map(pairs) = &node.value else {
            self.problems.push(Problem::at(node.span, "a map is wanted here: key: value"));
            return Vec::new();
        };
        let mut out: Vec<(String, &Node)> = Vec::new();
        for (key, value) in pairs {
            if !allowed.is_empty() && !allowed.contains(&key.text.as_str()) {
                let near = nearest(&key.text, allowed.iter().copied());
                let help = near.map_or_else(|| format!("known: {}", allowed.join(", ")), |n| format!("nearest: {n}"));
                self.problems.push(Problem::at(key.span, format!("\"{}\" is not known here", key.text)).help(help));
            } else if out.iter().any(|(known, _)| *known == key.text) {
                self.problems.push(Problem::at(key.span, format!("\"{}\" stands here twice", key.text)));
            } else {
                out.push((key.text.clone(), value));
            }
        }
        out
    }

    fn text(&mut self, node: &Node) -> String {
        if let Value::Scalar(text) = &node.value {
            return text.clone();
        }
        self.problems.push(Problem::at(node.span, "a word or a phrase is wanted here"));
        String::new()
    }

    fn list(&mut self, node: &Node) -> Vec<String> {
        if let Value::List(items) = &node.value {
            return items.iter().map(|item| self.text(item)).collect();
        }
        self.problems.push(Problem::at(node.span, "a list of phrases is wanted here: [one, two]"));
        Vec::new()
    }

    fn flag(&mut self, node: &Node) -> bool {
        let text = self.text(node);
        if !matches!(text.as_str(), "true" | "false") {
            self.problems.push(Problem::at(node.span, "true or false is wanted here"));
        }
        text == "true"
    }

    fn needs_source(&mut self, node: &Node, pairs: &[(String, &Node)]) {
        if !pairs.iter().any(|(key, _)| key == "source") {
            let problem = Problem::at(node.span, "this entry has no source");
            self.problems.push(problem.help("write: source: common practice, no source"));
        }
    }

    fn showing(&mut self, node: &Node) -> ShowingWords {
        let keys =
            ["say", "means", "state", "not", "needle", "part", "with", "felt", "comes-and-goes", "judged", "source"];
        let pairs = self.map(node, &keys);
        self.needs_source(node, &pairs);
        let mut out = ShowingWords::default();
        for (key, value) in pairs {
            match key.as_str() {
                "say" => out.say = self.list(value),
                "means" => out.means = self.means(value),
                "state" => out.state = self.state(value),
                "not" => out.not = Some(self.text(value)),
                "needle" => out.needle = self.flag(value),
                "part" => out.part = Some(self.text(value)),
                "with" => out.with = Some(self.text(value)),
                "felt" => out.felt = self.flag(value),
                "comes-and-goes" => out.comes_and_goes = self.flag(value),
                "judged" => out.judged = self.list(value),
                _ => {}
            }
        }
        out
    }

    fn means(&mut self, node: &Node) -> Vec<Vec<String>> {
        let Value::List(items) = &node.value else {
            return vec![self.list(node)];
        };
        items
            .iter()
            .map(|item| match &item.value {
                Value::List(_) => self.list(item),
                _ => vec![self.text(item)],
            })
            .collect()
    }

    fn state(&mut self, node: &Node) -> Expected {
        match self.text(node).as_str() {
            "working" => Expected::Working,
            "rest" => Expected::Rest,
            "any" => Expected::Any,
            _ => {
                self.problems.push(Problem::at(node.span, "working, rest or any is wanted here"));
                Expected::Any
            }
        }
    }

    fn part(&mut self, node: &Node) -> PartWords {
        let keys =
            ["say", "kinds", "named", "behind", "not-behind", "feed", "words", "needle", "fuse", "all", "source"];
        let pairs = self.map(node, &keys);
        self.needs_source(node, &pairs);
        let mut out = PartWords::default();
        for (key, value) in pairs {
            match key.as_str() {
                "say" => out.say = self.list(value),
                "kinds" => out.kinds = self.list(value),
                "named" => out.named = self.list(value),
                "behind" => out.behind = self.list(value),
                "not-behind" => out.not_behind = self.list(value),
                "feed" => out.feed = Some(self.text(value)),
                "words" => out.words = self.list(value),
                "needle" => out.needle = self.flag(value),
                "fuse" => out.fuse = self.flag(value),
                "all" => out.all = self.flag(value),
                _ => {}
            }
        }
        out
    }

    fn control(&mut self, node: &Node) -> ControlWords {
        let pairs = self.map(node, &["say", "doing", "kinds", "near", "control", "said", "source"]);
        self.needs_source(node, &pairs);
        let mut out = ControlWords::default();
        for (key, value) in pairs {
            match key.as_str() {
                "say" => out.say = self.list(value),
                "doing" => out.doing = self.list(value),
                "kinds" => out.kinds = self.list(value),
                "near" => out.near = self.list(value),
                "control" => out.control = Some(self.text(value)),
                "said" => {
                    for (setting, phrases) in self.map(value, &[]) {
                        let phrases = self.list(phrases);
                        out.said.insert(setting, phrases);
                    }
                }
                _ => {}
            }
        }
        out
    }

    fn verb(&mut self, node: &Node) -> Verb {
        let pairs = self.map(node, &["say", "settings", "source"]);
        self.needs_source(node, &pairs);
        let mut out = Verb::default();
        for (key, value) in pairs {
            match key.as_str() {
                "say" => out.say = self.list(value),
                "settings" => out.settings = self.list(value),
                _ => {}
            }
        }
        out
    }

    fn need(&mut self, node: &Node) -> Vec<(String, String)> {
        let pairs = self.map(node, &["set", "source"]);
        self.needs_source(node, &pairs);
        let mut out = Vec::new();
        for (_, value) in pairs.into_iter().filter(|(key, _)| key == "set") {
            for (control, setting) in self.map(value, &[]) {
                out.push((control, self.text(setting)));
            }
        }
        out
    }
}
