//! Places, runs, looms, recent work, bench: what stands around the wires.

use super::super::fields::Text;
use super::super::raw::File;
use super::Lower;
use super::names::What;
use crate::netlist::{Bench, Loom, Place};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use indexmap::IndexSet;

/// Minutes to get at a place that is called easy.
const EASY: f64 = 0.5;

impl Lower<'_> {
    pub(super) fn places(&mut self, file: &File) {
        for raw in &file.places {
            let minutes = match &raw.reach {
                None => EASY,
                Some(text) if text.is("easy") => EASY,
                Some(text) => self.minutes(text).unwrap_or(EASY),
            };
            let first = raw.first.as_ref().map(|t| t.text.trim_start_matches("first ").to_owned());
            let warm = raw.warm.as_ref().and_then(|text| self.warmth(text));
            self.net.places.insert(raw.name.text.clone(), Place { minutes, first, warm });
        }
    }

    fn warmth(&mut self, text: &Text) -> Option<f64> {
        let celsius = self.amount(text, Unit::Celsius, "80 C")?;
        if (-60.0..=250.0).contains(&celsius) {
            return Some(celsius);
        }
        let says = format!("no wire works at {}", text.text);
        self.problems.push(Problem::at(text.span, says).help("write how warm the place gets: 80 C"));
        None
    }

    fn minutes(&mut self, text: &Text) -> Option<f64> {
        match quantity::parse(&text.text) {
            // Reach is in minutes; a bare figure can mean nothing else.
            Ok(q) if matches!(q.unit, Unit::Minute | Unit::One) && q.value <= 1000.0 => Some(q.value),
            Ok(q) if q.unit == Unit::Second => Some(q.value / 60.0),
            Ok(_) => {
                let says = format!("\"{}\" is no time to get at a place", text.text);
                self.problems.push(Problem::at(text.span, says).help("write easy, or 3 min"));
                None
            }
            Err(error) => {
                self.bad_quantity(text, &error, "easy, or 3 min");
                None
            }
        }
    }

    pub(super) fn runs(&mut self, file: &File) {
        for raw in &file.runs {
            let ends = (self.place(&raw.from), self.place(&raw.to));
            let length = self.amount(&raw.length, Unit::Metre, "1.2 m");
            if let ((Some(a), Some(b)), Some(length)) = (ends, length) {
                let (a, b) = (a.to_lowercase(), b.to_lowercase());
                self.net.runs.insert((b.clone(), a.clone()), length);
                self.net.runs.insert((a, b), length);
            }
        }
        // A loom's run is the length of its wires where nothing better is known.
        for raw in &file.looms {
            let Some(run) = raw.run.as_ref().and_then(|text| quantity::parse(&text.text).ok()) else { continue };
            for wire in raw.wires.iter().filter(|_| run.unit == Unit::Metre) {
                self.loom_runs.entry(wire.lower()).or_insert(run.value);
            }
        }
    }

    pub(super) fn looms(&mut self, file: &File) {
        for raw in &file.looms {
            let mut wires: IndexSet<String> = IndexSet::new();
            for text in &raw.wires {
                match self.names.what(&text.text) {
                    Some(What::Plug) => wires.extend(self.plug_wire_names(&text.text)),
                    Some(What::Wire) => wires.extend(self.names.written(&text.text).map(str::to_owned)),
                    _ if self.dead.contains(&text.lower()) => {}
                    _ => {
                        let known: Vec<String> = self.names.of(&[What::Plug, What::Wire]).map(str::to_owned).collect();
                        let says = format!("there is no wire or plug \"{}\" for the loom {}", text.text, raw.name.text);
                        self.stranger(text, says, known.iter().map(String::as_str), "wires and plugs");
                    }
                }
            }
            let run = raw.run.as_ref().and_then(|text| self.amount(text, Unit::Metre, "1.6 m"));
            let lies_on = raw.lies_on.as_ref().and_then(|text| {
                let known: Vec<String> = self.net.pieces.keys().cloned().collect();
                let found = known.iter().find(|name| text.is(name)).cloned();
                if found.is_none() {
                    let says = format!("there is no chassis piece \"{}\"", text.text);
                    self.stranger(text, says, known.iter().map(String::as_str), "chassis");
                }
                found
            });
            let wires = wires.into_iter().filter(|name| self.net.wires.contains_key(name)).collect();
            self.net.looms.insert(raw.name.text.clone(), Loom { wires, run, lies_on });
        }
    }

    fn plug_wire_names(&self, plug: &str) -> Vec<String> {
        let Some(plug) = self.names.written(plug).and_then(|name| self.net.plugs.get(name)) else { return Vec::new() };
        let mut out = Vec::new();
        for way in plug.ways.keys() {
            for (half, kind) in [('a', "old"), ('a', "new"), ('b', "new"), ('b', "old")] {
                let name = format!("{}{half}-{way}-{kind}", plug.name);
                if self.net.wires.contains_key(&name) {
                    out.push(name);
                }
            }
        }
        out
    }

    pub(super) fn recent(&mut self, file: &File) {
        for text in &file.recent {
            let found = self.names.written(&text.text).map(str::to_owned).or_else(|| self.find_place(&text.text));
            match found {
                Some(name) => self.net.recent.push(name),
                None if self.dead.contains(&text.lower()) => {}
                None => {
                    let every =
                        [What::Part, What::Feed, What::Plug, What::Wire, What::Sleeve, What::Ground, What::Piece];
                    let mut known: Vec<String> = self.names.of(&every).map(str::to_owned).collect();
                    known.extend(self.net.places.keys().cloned());
                    let says = format!("there is nothing called \"{}\" to have been worked on", text.text);
                    self.stranger(text, says, known.iter().map(String::as_str), "names");
                }
            }
        }
    }

    pub(super) fn bench(&mut self, file: &File) {
        let mut bench = Bench::default();
        for (key, list) in &file.bench.lists {
            if key.is("cannot") {
                bench.cannot = list.iter().map(|t| t.text.clone()).collect();
                continue;
            }
            bench.meter = Vec::new();
            for text in list {
                match instrument(&text.text) {
                    Some(name) => bench.meter.push(name.to_owned()),
                    None => {
                        let known = ["volts", "ohms", "beep", "amps", "volts-ac", "volts-loz"];
                        let says = format!("there is no instrument \"{}\"", text.text);
                        self.stranger(text, says, known.into_iter(), "instruments");
                    }
                }
            }
        }
        for (key, text) in &file.bench.values {
            match key.lower().as_str() {
                "leads" => bench.leads = self.amount(text, Unit::Metre, "1 m").unwrap_or(bench.leads),
                "test-lamp" => {
                    bench.test_lamp =
                        if text.is("no") || text.is("none") { None } else { self.amount(text, Unit::Watt, "21 W") };
                }
                "input" => bench.volts_ohms = self.amount(text, Unit::Ohm, "10 Mohm").unwrap_or(bench.volts_ohms),
                "beep-below" => bench.beep_below = self.amount(text, Unit::Ohm, "50 ohm").unwrap_or(bench.beep_below),
                "clips" => match text.text.parse() {
                    Ok(clips) if clips <= 100 => bench.clips = clips,
                    _ => self.problems.push(
                        Problem::at(text.span, format!("\"{}\" is no number of clips", text.text))
                            .help("write clips: 2"),
                    ),
                },
                _ => match text.lower().as_str() {
                    "yes" | "true" => bench.helper = true,
                    "no" | "false" => bench.helper = false,
                    _ => self.problems.push(
                        Problem::at(text.span, format!("\"{}\" is neither yes nor no", text.text))
                            .help("write helper: yes or helper: no"),
                    ),
                },
            }
        }
        self.net.bench = bench;
    }
}

/// The contract's name of an instrument.
fn instrument(text: &str) -> Option<&'static str> {
    Some(match text.to_lowercase().as_str() {
        "volts" | "volts-dc" | "volt" | "v" => "volts-dc",
        "ac" | "volts-ac" | "volts ac" => "volts-ac",
        "loz" | "volts-loz" | "low z" => "volts-loz",
        "ohms" | "ohm" => "ohms",
        "beep" | "beeper" | "continuity" => "beep",
        "amps" | "amps-dc" | "amp" => "amps-dc",
        "lamp" | "test-lamp" | "test lamp" => "test-lamp",
        _ => return None,
    })
}
