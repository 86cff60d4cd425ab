//! Whatever comes in is answered: bytes thrown at everything that reads what people, files and scripts say.
//!
//! The same functions serve a coverage-guided fuzzer (`tests/fuzz/targets`, see DEVELOPERS.md) and, with inputs made
//! from good ones by chance, the test at the end.

#[cfg(test)]
mod by_chance;

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::fault::resolve;
use ohmward::circuit::test::{Instrument, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::harness::extend;
use ohmward::netlist::{Joint, Netlist};
use ohmward::review::review;
use ohmward::session::learn::{self, Learn};
use ohmward::session::ringout::job::Job;
use ohmward::session::ringout::{Ring, Stage};
use ohmward::session::twin::Twin;
use ohmward::session::words::reading::{self, Asked};
use ohmward::session::words::{SymptomTable, unasked};
use ohmward::session::{Chase, Event, Input, hear, journal};
use ohmward::sketch::Book;
use ohmward::text::span::Source;
use ohmward::wiring;
use ohmward::wiring::edit::{Draft, Pen};
use ohmward::wiring::sheet;
use std::cell::RefCell;
use std::fmt::Debug;
use std::slice::from_ref;
use std::sync::OnceLock;

const CART: &str = include_str!("../../rules/machines/orchard-cart/wiring.yaml");
/// A machine small enough to be quick.
pub const SMALL: &str = "\
machine: Bench
places: {nose: 3 min}
parts:
  battery: lead-acid battery, 12 V, 14 Ah, nose
  main-fuse: fuse, 20 A, nose
  switch: toggle switch, nose
  lamp: lamp, 21 W, nose
wires:
  - battery.pos to main-fuse.in, red, 4 mm2, 0.3 m
  - battery.neg to G1, black, 4 mm2, 0.3 m
  - main-fuse.out to switch.a, red, 1.5 mm2, 2 m
  - switch.b to lamp.feed, brown, 1.5 mm2, 2 m
  - lamp.ground to G1, black, 1.5 mm2, 0.5 m
chassis: frame
grounds: {G1: {place: nose, on: frame}}
";

fn rules() -> &'static Catalogue {
    static RULES: OnceLock<Catalogue> = OnceLock::new();
    RULES.get_or_init(Catalogue::builtin)
}

fn netlist(text: &str) -> Netlist {
    wiring::read(&Source::new("wiring.yaml", text), rules()).unwrap_or_else(|p| panic!("{p:?}")).netlist
}

/// What is told is told in numbers.
fn numbers(told: &impl Debug) {
    let text = format!("{told:?}");
    assert!(!text.contains("NaN") && !text.contains(": inf") && !text.contains("(inf"), "{text}");
}

/// A wiring file; a small machine is looked over too.
pub fn wiring_file(data: &[u8]) {
    let source = match Source::from_bytes("wiring.yaml", data.to_vec()) {
        Ok(source) => source,
        Err(wrong) => return drop(wrong.1.render(&wrong.0)),
    };
    match wiring::read(&source, rules()) {
        Err(problems) => assert!(problems.iter().all(|p| !p.render(&source).is_empty()) && !problems.is_empty()),
        Ok(reading) => {
            reading.warnings.iter().for_each(|warning| drop(warning.render(&source)));
            if reading.netlist.parts.len() <= 14 && reading.netlist.wires.len() <= 20 {
                numbers(&review(&mut Machine::new(reading.netlist, rules().clone())));
            }
        }
    }
}

/// A file of rules, a sheet, a list of pins, a stock; the first byte says which.
pub fn other_file(data: &[u8]) {
    const NAMES: [&str; 8] = [
        "kinds/x.yaml",
        "weights.yaml",
        "symptoms.yaml",
        "fuses.yaml",
        "sketches/x.yaml",
        "stock.yaml",
        "review.yaml",
        "loom.csv",
    ];
    let Some((&which, rest)) = data.split_first() else { return };
    let name = NAMES[usize::from(which) % NAMES.len()];
    let Ok(source) = Source::from_bytes(name, rest.to_vec()) else { return };
    let render = |problem: &ohmward::text::problem::Problem| assert!(!problem.render(&source).is_empty());
    match name {
        "symptoms.yaml" => drop(SymptomTable::read(&source).map_err(|problems| problems.iter().for_each(render))),
        "sketches/x.yaml" => drop(Book::with(from_ref(&source))),
        "stock.yaml" => {
            drop(extend::stock::read(&source, rules()).map_err(|problems| problems.iter().for_each(render)));
            drop(extend::stock::spool(&source.text, rules()));
        }
        "loom.csv" => {
            for text in [CART, SMALL] {
                let draft = Draft::open(Source::new("wiring.yaml", text), rules()).unwrap_or_else(|_| panic!("sound"));
                drop(sheet::import(&source, &draft, &Default::default()).map_err(|p| p.iter().for_each(render)));
            }
            let ask = extend::Ask {
                joint: Joint::CrimpSleeve,
                size: None,
                slack: None,
                amps: Vec::new(),
                stock: Default::default(),
            };
            if let Ok(list) = sheet::pins(&source, "plug", 12.0, &[], rules())
                && list.pins.len() < 30
                && let Ok(plan) = extend::pins::plan_pins(&list.pins, Some(1.2), &ask, rules())
            {
                numbers(&plan);
            }
        }
        _ => {
            if let Ok(rules) = Catalogue::with(from_ref(&source)) {
                // Rules that read are used.
                drop(wiring::read(&Source::new("wiring.yaml", SMALL), &rules));
            }
        }
    }
}

/// What a person types, to whom the first byte says.
pub fn said(data: &[u8]) {
    thread_local! {
        static CART_HEARS: (Machine, SymptomTable) = (Machine::new(netlist(CART), rules().clone()), SymptomTable::builtin());
        static DRAFT: Draft<'static> =
            Draft::open(Source::new("wiring.yaml", SMALL), rules()).unwrap_or_else(|_| panic!("sound"));
    }
    let Some((&whom, rest)) = data.split_first() else { return };
    let Ok(text) = std::str::from_utf8(rest) else { return };
    match whom % 7 {
        0 | 1 => CART_HEARS.with(|(machine, table)| {
            hear::hear(machine, table, text);
            hear::ask_back(machine, table, text);
        }),
        2 => CART_HEARS.with(|(machine, _)| {
            drop(unasked::unasked(text));
            unasked::points(text, &machine.netlist, rules());
        }),
        3 => CART_HEARS.with(|(_, table)| {
            let words = ["dark", "dim", "lit"].map(String::from);
            for instrument in Instrument::ALL {
                let words = if instrument == Instrument::Watch { &words[..] } else { &[] };
                for count in 1..4 {
                    let asked = Asked { count, words, ..Asked::one(instrument) };
                    if let Ok(said) = reading::read(text, &asked, table) {
                        numbers(&said.readings);
                    }
                }
            }
        }),
        4 => DRAFT.with(|draft| drop(Pen::default().write(draft, text))),
        5 => CART_HEARS.with(|(machine, _)| {
            let netlist = &machine.netlist;
            let job = Job::half(netlist, &netlist.plugs["P9"], 'a');
            let mut ring = Ring::new(job, Stage::Beep { ganged: text.len() % 2 == 0 });
            text.lines().for_each(|line| drop((ring.take(line), ring.waiting())));
        }),
        _ => {
            let mut learn = Learn::new(learn::Start::default());
            for line in text.lines() {
                drop(match (line.split_once(' '), line.len() % 3) {
                    (Some((key, text)), _) => learn.answer(key, text),
                    (None, 0) => learn.all_silent(),
                    (None, 1) => learn.back(),
                    (None, _) => Ok(()),
                });
            }
            learn.table();
        }
    }
}

/// Journals, tests, faults, a whole chase in JSON lines; the first byte says which.
pub fn lines(data: &[u8]) {
    thread_local! {
        static TWINS: RefCell<[Twin; 2]> = RefCell::new(["nothing-broken", "G1:resistive(2)"].map(|fault| {
            let fault = if fault == "nothing-broken" { Fault::healthy() } else { Fault::parse(fault).unwrap() };
            Twin::new(&netlist(CART), rules(), &fault, 1).unwrap()
        }));
    }
    let Some((&which, rest)) = data.split_first() else { return };
    match which % 4 {
        0 => {
            drop(journal::read(rest));
            drop(learn::journal::read(rest));
        }
        1 => {
            let Ok(Ok(test)) = serde_json::from_slice(rest).map(|value| Test::from_json(&value)) else { return };
            assert_eq!(Test::from_json(&test.to_json()).as_ref().ok(), Some(&test));
            TWINS
                .with_borrow_mut(|twins| twins.iter_mut().for_each(|twin| drop(twin.read(&test).map(|r| numbers(&r)))));
        }
        2 => {
            let Ok(text) = std::str::from_utf8(rest) else { return };
            if let Ok(fault) = Fault::parse(text) {
                assert!(Fault::parse(&fault.to_string()).is_ok(), "{fault}");
            }
            let netlist = netlist(SMALL);
            if let Ok(fault) = resolve::read(text, &netlist, rules())
                && let Ok(mut twin) = Twin::new(&netlist, rules(), &fault, 3)
            {
                let symptom = twin.symptom();
                numbers(&symptom);
            }
        }
        _ => {
            let mut chase = Chase::new(Machine::new(netlist(SMALL), rules().clone()));
            for line in rest.split(|&byte| byte == b'\n').take(8) {
                let Ok(value) = serde_json::from_slice(line) else { continue };
                let asked = match chase.waiting() {
                    Some(Event::Ask { test, .. }) => Some(test),
                    _ => None,
                };
                if let Ok(input) = Input::from_json(&value, asked.as_deref()) {
                    chase.take(input).iter().for_each(|event| drop(event.to_json()));
                }
                let sum: f64 = chase.chances().suspects.iter().sum();
                assert!((sum - 1.0).abs() < 1e-6, "{sum}");
            }
        }
    }
}
