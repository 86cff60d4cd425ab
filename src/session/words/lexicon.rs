//! Phrases of the rules and names of the machine, ready to be met in a text.

use super::paths::Paths;
use super::table::{PartWords, SymptomTable};
use super::tokens::{Token, Vocabulary, stem, stems};
use crate::catalogue::{Catalogue, Kind};
use crate::circuit::schematic::ControlInfo;
use crate::netlist::{Netlist, Part};
use indexmap::IndexMap;
use std::collections::BTreeSet;

/// What a phrase can mean. A phrase can mean several things; the sentence decides.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// A showing of the table.
    Showing(String),
    /// Words for a part of the table.
    Part(String),
    /// A kind or its nickname: the kind's name.
    Kind(String),
    /// A part by its whole name.
    Named(String),
    /// A word that stands in parts' names.
    NameWord(String),
    /// Words for a control of the table.
    Control(String),
    /// A doing that names a control of the table.
    Doing(String),
    /// A setting of a control of the table.
    Said(String, String),
    /// `on` or `off`.
    Verb(String),
    /// when, cure, since, next, not, filler.
    Join(String),
    /// wiggle, bump, …
    Disturb(String),
    /// A plug, ground point, sleeve, wire or place, of which heat is said.
    Thing(String),
    /// Wires of a colour, of which heat is said.
    Coloured(String),
    /// "wire", "plug" beside the name of one.
    Carrier,
}

/// A phrase met in a text.
#[derive(Clone, Debug)]
pub struct Met {
    /// First token.
    pub at: usize,
    /// How many tokens.
    pub length: usize,
    /// What it can mean.
    pub means: Vec<Meaning>,
}

/// Everything that words are looked up in.
pub struct Lexicon<'m> {
    /// The machine.
    pub netlist: &'m Netlist,
    /// The kinds.
    pub catalogue: &'m Catalogue,
    /// The machine's controls.
    pub controls: &'m IndexMap<String, ControlInfo>,
    /// The words.
    pub table: &'m SymptomTable,
    /// What depends on what.
    pub paths: Paths<'m>,
    /// Heat is spoken of, and names of plugs, wires and places are known.
    pub things: bool,
    phrases: IndexMap<Vec<String>, Vec<Meaning>>,
    longest: usize,
    vocabulary: Vocabulary,
}

impl<'m> Lexicon<'m> {
    /// Gathers all phrases.
    pub fn new(
        netlist: &'m Netlist,
        catalogue: &'m Catalogue,
        controls: &'m IndexMap<String, ControlInfo>,
        table: &'m SymptomTable,
    ) -> Lexicon<'m> {
        let paths = Paths::new(netlist, catalogue);
        let mut out = Lexicon {
            netlist,
            catalogue,
            controls,
            table,
            paths,
            things: false,
            phrases: IndexMap::new(),
            longest: 1,
            vocabulary: Vocabulary::default(),
        };
        out.gather_rules();
        out.gather_names();
        out.longest = out.phrases.keys().map(Vec::len).max().unwrap_or(1);
        table.same.iter().for_each(|(said, known)| out.vocabulary.same(said, known));
        out
    }

    fn add(&mut self, phrase: &str, meaning: Meaning) {
        let stems = stems(phrase);
        if stems.is_empty() {
            return;
        }
        self.vocabulary.add(phrase, matches!(meaning, Meaning::Join(_)));
        let means = self.phrases.entry(stems).or_default();
        if !means.contains(&meaning) {
            means.push(meaning);
        }
    }

    fn gather_rules(&mut self) {
        let table = self.table;
        for (name, words) in &table.showings {
            words.say.iter().for_each(|say| self.add(say, Meaning::Showing(name.clone())));
        }
        for (name, words) in &table.parts {
            words.say.iter().for_each(|say| self.add(say, Meaning::Part(name.clone())));
        }
        for (name, words) in &table.controls {
            words.say.iter().for_each(|say| self.add(say, Meaning::Control(name.clone())));
            words.doing.iter().for_each(|say| self.add(say, Meaning::Doing(name.clone())));
            for (setting, said) in &words.said {
                said.iter().for_each(|say| self.add(say, Meaning::Said(name.clone(), setting.clone())));
            }
        }
        for (name, verb) in &table.verbs {
            verb.say.iter().for_each(|say| self.add(say, Meaning::Verb(name.clone())));
        }
        for (name, say) in &table.joins {
            say.iter().for_each(|say| self.add(say, Meaning::Join(name.clone())));
        }
        for (name, say) in &table.disturbs {
            say.iter().for_each(|say| self.add(say, Meaning::Disturb(name.clone())));
        }
    }

    fn gather_names(&mut self) {
        let (netlist, catalogue) = (self.netlist, self.catalogue);
        let used: BTreeSet<&str> =
            netlist.parts.values().filter_map(|part| Some(catalogue.kind(&part.kind)?.name.as_str())).collect();
        for kind in catalogue.kinds.values().filter(|kind| used.contains(kind.name.as_str())) {
            for say in std::iter::once(&kind.name).chain(&kind.also) {
                self.add(say, Meaning::Kind(kind.name.clone()));
            }
        }
        for name in netlist.parts.keys() {
            self.add(name, Meaning::Named(name.clone()));
            let words = stems(name);
            if words.len() > 1 {
                words.into_iter().for_each(|word| self.add(&word, Meaning::NameWord(word.clone())));
            }
        }
    }

    /// Is heat spoken of?
    pub fn is_heated(&self, tokens: &[Token]) -> bool {
        let heat = |m: &Meaning| matches!(m, Meaning::Showing(name) if self.table.showings.get(name).is_some_and(|words| words.may_be_heat()));
        (0..tokens.len()).any(|at| self.at(tokens, at, &heat).is_some())
    }

    /// Names of what has no other showing than its heat. They are known only to who speaks of heat: "the rear lamp is
    /// dark" is about no place that is called rear.
    pub fn gather_things(&mut self) {
        self.things = true;
        let netlist = self.netlist;
        let named = netlist.plugs.keys().chain(netlist.grounds.keys()).chain(netlist.sleeves.keys());
        for name in named.chain(netlist.wires.keys()) {
            self.add(name, Meaning::Thing(name.clone()));
        }
        for place in netlist.places.keys() {
            self.add(place, Meaning::Thing(place.clone()));
            // ("under the seat" is the place `under-seat`)
            stems(place).iter().for_each(|word| self.add(word, Meaning::Thing(place.clone())));
        }
        for colour in netlist.wires.values().filter_map(|wire| wire.colour.as_ref()) {
            self.add(colour, Meaning::Coloured(colour.clone()));
        }
        let table = self.table;
        table.carriers.iter().for_each(|say| self.add(say, Meaning::Carrier));
        self.longest = self.phrases.keys().map(Vec::len).max().unwrap_or(1);
    }

    /// Mends a text's words against everything that is known.
    pub fn mend(&self, tokens: &mut [Token]) {
        self.vocabulary.mend(tokens);
    }

    /// The longest phrase at a place that can mean something wanted.
    pub fn at(&self, tokens: &[Token], at: usize, wanted: &dyn Fn(&Meaning) -> bool) -> Option<Met> {
        let most = self.longest.min(tokens.len() - at);
        (1..=most).rev().find_map(|length| {
            let part = &tokens[at..at + length];
            if part[1..].iter().any(|token| token.pause) {
                return None;
            }
            let key: Vec<String> = part.iter().map(|token| token.stem.clone()).collect();
            let means: Vec<Meaning> = self.phrases.get(&key)?.iter().filter(|m| wanted(m)).cloned().collect();
            (!means.is_empty()).then_some(Met { at, length, means })
        })
    }

    /// The kind of a part.
    pub fn kind(&self, part: &Part) -> Option<&'m Kind> {
        self.catalogue.kind(&part.kind)
    }

    fn is_kind(&self, part: &Part, kinds: &[String]) -> bool {
        self.kind(part).is_some_and(|kind| {
            kinds.iter().any(|name| self.catalogue.kind(name).is_some_and(|known| known.name == kind.name))
        })
    }

    fn behind(&self, part: &Part, feed: Option<&str>, kinds: &[String]) -> bool {
        self.paths.in_series(&part.name, feed).iter().any(|other| self.is_kind(other, kinds))
            || self.paths.only_through(&part.name, feed, &|other| self.is_kind(other, kinds))
    }

    /// Does a part have something to see or hear?
    pub fn visible(&self, part: &Part) -> bool {
        self.kind(part).is_some_and(|kind| !kind.showings.is_empty())
    }

    /// Does a part have a needle?
    pub fn needle(&self, part: &Part) -> bool {
        self.kind(part).is_some_and(|kind| kind.showings.iter().any(|showing| showing.needle))
    }

    /// Parts that a meaning can stand for; where heat is spoken of, wires, plugs and places as well.
    pub fn parts(&self, meaning: &Meaning) -> Vec<String> {
        if let Meaning::Thing(name) = meaning {
            return vec![name.clone()];
        }
        if let Meaning::Coloured(colour) = meaning {
            let wires = self.netlist.wires.values().filter(|wire| wire.colour.as_ref() == Some(colour));
            return wires.map(|wire| wire.name.clone()).collect();
        }
        let fits = |part: &Part| match meaning {
            Meaning::Part(name) => self.table.parts.get(name).is_some_and(|words| self.fits(part, words)),
            Meaning::Kind(kind) => self.kind(part).is_some_and(|own| own.name == *kind),
            Meaning::Named(name) => part.name == *name,
            Meaning::NameWord(word) => stems(&part.name).contains(word),
            _ => false,
        };
        self.netlist.parts.values().filter(|part| fits(part)).map(|part| part.name.clone()).collect()
    }

    fn fits(&self, part: &Part, words: &PartWords) -> bool {
        let own = stems(&part.name);
        (words.kinds.is_empty() || self.is_kind(part, &words.kinds))
            && (words.named.is_empty() || words.named.iter().any(|named| own.contains(&stem(named))))
            && (!words.needle || self.needle(part))
            && (!words.all || self.works(part))
            && (words.behind.is_empty() || self.behind(part, words.feed.as_deref(), &words.behind))
            && (words.not_behind.is_empty() || !self.behind(part, words.feed.as_deref(), &words.not_behind))
    }

    /// Can one see or hear the part doing its work (a fuse's wire does not count)?
    fn works(&self, part: &Part) -> bool {
        self.kind(part).is_some_and(|kind| {
            kind.showings.iter().any(|showing| showing.works.is_some())
                && !kind.elements.values().any(|element| element.blows.is_some() || element.coil.is_some())
        })
    }

    /// Controls of parts of these kinds.
    pub fn controls_of_kinds(&self, kinds: &[String]) -> Vec<String> {
        let of = |name: &&String| self.netlist.parts.get(*name).is_some_and(|part| self.is_kind(part, kinds));
        self.controls.keys().filter(of).cloned().collect()
    }

    /// Does an entry of the table mean this control?
    pub fn entry_means(&self, entry: &str, control: &str) -> bool {
        let Some(words) = self.table.controls.get(entry) else { return false };
        words.control.as_deref() == Some(control)
            || self.netlist.parts.get(control).is_some_and(|part| self.is_kind(part, &words.kinds))
    }

    /// Parts of these kinds.
    pub fn parts_of_kinds(&self, kinds: &[String]) -> Vec<String> {
        self.netlist.parts.values().filter(|part| self.is_kind(part, kinds)).map(|part| part.name.clone()).collect()
    }

    /// Is this control the machine's key?
    pub fn is_key(&self, control: &str) -> bool {
        let key = self.table.controls.get("key").map_or(&[][..], |key| &key.kinds);
        self.netlist.parts.get(control).is_some_and(|part| self.is_kind(part, key))
    }

    /// A control with this name, as it is called.
    pub fn control(&self, name: &str) -> Option<&String> {
        self.controls.keys().find(|key| key.eq_ignore_ascii_case(name))
    }
}
