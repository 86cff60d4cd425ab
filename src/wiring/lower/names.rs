//! Names: who has which, and the point that a text in a row means.

use super::super::fields::{Text, is_name};
use super::super::raw::File;
use super::Lower;
use crate::netlist::PointKind;
use crate::text::problem::Problem;
use crate::text::span::Span;
use crate::text::words::nearest;
use indexmap::IndexMap;
use petgraph::graph::NodeIndex;

/// What a name stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    Part,
    Feed,
    Plug,
    Half,
    Wire,
    Sleeve,
    Ground,
    Piece,
}

impl What {
    fn word(self) -> &'static str {
        match self {
            What::Part => "part",
            What::Feed => "feed",
            What::Plug => "plug",
            What::Half => "plug's half",
            What::Wire => "wire",
            What::Sleeve => "sleeve",
            What::Ground => "ground point",
            What::Piece => "chassis piece",
        }
    }
}

/// All names of the file but places', by their lower case.
#[derive(Default)]
pub(super) struct Names {
    all: IndexMap<String, (What, String, Option<Span>)>,
}

impl Names {
    pub fn what(&self, name: &str) -> Option<What> {
        self.all.get(&name.to_lowercase()).map(|entry| entry.0)
    }

    /// The name as its owner wrote it.
    pub fn written(&self, name: &str) -> Option<&str> {
        self.all.get(&name.to_lowercase()).map(|entry| entry.1.as_str())
    }

    pub fn of(&self, wanted: &[What]) -> impl Iterator<Item = &str> {
        self.all.values().filter(move |entry| wanted.contains(&entry.0)).map(|entry| entry.1.as_str())
    }

    /// A name for a wire that has none of its own: its ends, with a number if that is taken.
    pub fn made(&mut self, base: &str, span: Span) -> String {
        let mut name = base.to_owned();
        let mut number = 2;
        while self.all.contains_key(&name.to_lowercase()) {
            name = format!("{base}-{number}");
            number += 1;
        }
        self.all.insert(name.to_lowercase(), (What::Wire, name.clone(), Some(span)));
        name
    }
}

impl Lower<'_> {
    /// Registers every name that the file gives; what is taken already is a problem.
    pub(super) fn declare(&mut self, file: &File) {
        match &file.pieces {
            Some(pieces) => pieces.iter().for_each(|piece| self.claim(What::Piece, &piece.name)),
            None => {
                // A file that says nothing of its chassis has one piece; a part may still be called so.
                if !file.parts.iter().any(|p| p.name.is("frame")) {
                    self.names.all.insert("frame".into(), (What::Piece, "frame".into(), None));
                }
            }
        }
        file.parts.iter().for_each(|part| self.claim(What::Part, &part.name));
        file.feeds.iter().for_each(|feed| self.claim(What::Feed, &feed.part.name));
        file.grounds.iter().for_each(|ground| self.claim(What::Ground, &ground.name));
        file.sleeves.iter().for_each(|sleeve| self.claim(What::Sleeve, &sleeve.name));
        for plug in &file.plugs {
            self.claim(What::Plug, &plug.name);
        }
        // Halves after all plugs, so that a part called P9a is told of the plug and not the other way round.
        for plug in &file.plugs {
            for half in ["a", "b"] {
                let name = Text { text: format!("{}{half}", plug.name.text), span: plug.name.span };
                self.claim(What::Half, &name);
            }
        }
        let straps = file.pieces.iter().flatten().flat_map(|piece| &piece.straps);
        for name in file.wires.iter().chain(straps).filter_map(|wire| wire.name.as_ref()) {
            if is_name(&name.text) {
                self.claim(What::Wire, name);
            }
        }
        // A strap's far end is a piece by being named.
        for strap in file.pieces.iter().flatten().flat_map(|piece| &piece.straps) {
            if let Some(to) = strap.to.as_ref().filter(|to| is_name(&to.text) && self.names.what(&to.text).is_none()) {
                let pieces = file.pieces.iter().flatten().map(|piece| piece.name.text.as_str());
                if let Some(near) =
                    nearest(&to.text, pieces.filter(|piece| file.pieces.iter().flatten().count() > 1 && !to.is(piece)))
                {
                    let says = format!("\"{}\" is taken for a chassis piece of its own", to.text);
                    self.warnings.push(Problem::at(to.span, says).help(format!("if it is {near}, mend the spelling")));
                }
                self.names.all.insert(to.lower(), (What::Piece, to.text.clone(), Some(to.span)));
            }
        }
    }

    fn claim(&mut self, what: What, name: &Text) {
        let lower = name.lower();
        let Some((other, written, span)) = self.names.all.get(&lower) else {
            self.names.all.insert(lower, (what, name.text.clone(), Some(name.span)));
            return;
        };
        let line = span.map_or(String::new(), |span| format!(" in line {}", self.source.line(span)));
        let taken = format!("\"{}\" is already the name of a {}{line}", name.text, other.word());
        let (says, help) = match what {
            What::Half => (
                format!("the plug {} needs the name {} for its half", &name.text[..name.text.len() - 1], name.text),
                format!("{taken}: rename one of them"),
            ),
            _ => {
                let case = if *written == name.text { "" } else { " (capitals do not count)" };
                (format!("{taken}{case}"), "give it another name".to_owned())
            }
        };
        self.problems.push(Problem::at(name.span, says).help(help));
    }

    /// The point that a text means; a text that means none is a problem.
    pub(super) fn resolve(&mut self, text: &Text) -> Option<NodeIndex> {
        if let Some(node) = self.net.point(&text.text).filter(|&node| self.may_end_here(node)) {
            return Some(node);
        }
        let problem = self.no_point(text)?;
        match problem {
            Ok(node) => return Some(node),
            Err(problem) => self.problems.push(problem),
        }
        None
    }

    fn may_end_here(&self, node: NodeIndex) -> bool {
        !matches!(self.net.graph[node].what, PointKind::Conductor { .. })
    }

    /// `None`: a point of a part whose kind is unknown, already told.
    fn no_point(&self, text: &Text) -> Option<Result<NodeIndex, Problem>> {
        let says = |says: String, help: String| Some(Err(Problem::at(text.span, says).help(help)));
        let Some((head, tail)) = text.text.split_once('.') else {
            if self.names.what(&text.text).is_none() && self.dead.contains(&text.lower()) {
                return None;
            }
            return match self.names.what(&text.text) {
                Some(What::Part | What::Feed) => {
                    if self.dead.contains(&text.lower()) {
                        return None;
                    }
                    says(format!("{} is a part: which pin of it?", text.text), self.pins_help(&text.text))
                }
                Some(What::Plug | What::Half) => says(
                    format!("{} is a plug: which way of which half?", text.text),
                    format!(
                        "write {}a.1 or {}b.1",
                        text.text.trim_end_matches(['a', 'b']),
                        text.text.trim_end_matches(['a', 'b'])
                    ),
                ),
                Some(What::Wire) => says(
                    format!("{} is a wire: a wire ends at a pin, a sleeve or a ground", text.text),
                    "name a sleeve under sleeves: and let both wires end in it".into(),
                ),
                Some(What::Sleeve | What::Ground | What::Piece) => None,
                None => {
                    let point = [What::Sleeve, What::Ground, What::Piece, What::Part, What::Feed];
                    let near = nearest(&text.text, self.names.of(&point));
                    let help = near.map_or_else(
                        || "an end is PART.PIN, P9a.4, a sleeve, a ground point or a chassis piece".to_owned(),
                        |near| format!("nearest: {near}"),
                    );
                    says(format!("there is no point \"{}\"", text.text), help)
                }
            };
        };
        let what = self.names.what(head);
        if self.dead.contains(&head.to_lowercase()) {
            return None;
        }
        match what {
            Some(What::Part | What::Feed) => match self.pin_by_nickname(head, tail) {
                Some(node) => Some(Ok(node)),
                None => {
                    let part = self.part(head)?;
                    let near = nearest(tail, part.pins.keys().map(String::as_str));
                    let help = near.map_or_else(|| self.pins_help(head), |near| format!("nearest: {near}"));
                    let at = text.text.len() - tail.len();
                    let span = text.part(self.source, at, text.text.len()).span;
                    Some(Err(Problem::at(span, format!("{} has no pin \"{tail}\"", part.name)).help(help)))
                }
            },
            Some(What::Plug) => says(
                format!("{} is both halves of the way", text.text),
                format!("say which half: {head}a.{tail} or {head}b.{tail}"),
            ),
            Some(What::Half) => says(
                format!("{} has no row for way \"{tail}\"", &head[..head.len() - 1]),
                format!("write a row for it under {}", &head[..head.len() - 1]),
            ),
            Some(What::Wire) => says(
                format!("{} is the middle of a wire: a wire ends at a pin, a sleeve or a ground", text.text),
                "name a sleeve under sleeves: and let both wires end in it".into(),
            ),
            Some(What::Sleeve | What::Ground | What::Piece) => {
                says(format!("{head} has no pins"), format!("write {head} alone"))
            }
            None => {
                let owners = [What::Part, What::Feed, What::Half];
                let span = text.part(self.source, 0, head.len()).span;
                let near = nearest(head, self.names.of(&owners));
                let help =
                    near.map_or_else(|| "name it under parts: first".to_owned(), |near| format!("nearest: {near}"));
                Some(Err(Problem::at(span, format!("there is no part \"{head}\"")).help(help)))
            }
        }
    }

    pub(super) fn part(&self, name: &str) -> Option<&crate::netlist::Part> {
        self.net.parts.get(self.names.written(name)?)
    }

    fn pin_by_nickname(&self, part: &str, pin: &str) -> Option<NodeIndex> {
        let part = self.part(part)?;
        let clean = pin.replace(['/', ' '], "-");
        if let Some((_, node)) = part.pins.iter().find(|(name, _)| name.eq_ignore_ascii_case(&clean)) {
            return Some(*node);
        }
        if part.table.is_some() {
            return None;
        }
        let kind = self.catalogue.kind(&part.kind)?;
        let (name, _) = kind.pins.iter().find(|(_, also)| also.iter().any(|a| a.eq_ignore_ascii_case(pin)))?;
        part.pins.get(name).copied()
    }

    fn pins_help(&self, part: &str) -> String {
        match self.part(part) {
            Some(part) => {
                let pins: Vec<&str> = part.pins.keys().map(String::as_str).collect();
                format!("pins of {}: {}", part.name, pins.join(", "))
            }
            None => "write PART.PIN".to_owned(),
        }
    }
}
