//! Plans of the built-in machines and of small ones: the file that comes out says what the plan says, and solves to it.

use ohmward::catalogue::Catalogue;
use ohmward::diagnosis::machine::Machine;
use ohmward::harness::extend::machine::{NoPlan, Planned, plan_machine};
use ohmward::harness::extend::moving::Move;
use ohmward::harness::extend::{Ask, Known, Spool, Stock, Why};
use ohmward::netlist::{Joint, Netlist, Wire};
use ohmward::review::carried::survey;
use ohmward::text::span::Source;
use ohmward::wiring;
use ohmward::wiring::edit::{Draft, LongerSite};
use std::path::PathBuf;

fn ask(spools: &[(&str, f64, f64)]) -> Ask {
    let spools = spools
        .iter()
        .map(|(colour, area, length)| Spool { colour: (*colour).into(), area: *area, length: *length })
        .collect();
    let stock = Stock { spools, ..Stock::default() };
    Ask { joint: Joint::CrimpSleeve, size: None, slack: None, amps: Vec::new(), stock }
}

fn moves(list: &[(&str, f64)]) -> Vec<Move> {
    list.iter().map(|(what, by)| Move { what: (*what).into(), by: *by }).collect()
}

fn machines() -> Vec<(String, String)> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("rules/machines");
    let mut out: Vec<(String, String)> = std::fs::read_dir(root)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), path.join("wiring.yaml")))
        .map(|(name, path)| (name, std::fs::read_to_string(path).unwrap()))
        .collect();
    out.sort();
    out
}

#[track_caller]
fn planned<'c>(draft: &Draft<'c>, list: &[(&str, f64)], half: usize, ask: &Ask) -> Planned<'c> {
    plan_machine(draft, &moves(list), half, ask).unwrap_or_else(|no| match no {
        NoPlan::Problems(list) => panic!("{list:#?}"),
        NoPlan::Refused(refusal) => panic!("{:#?}\n{}", refusal.problems, refusal.source.text),
    })
}

/// The added wire of a site, and the old one.
fn pair<'n>(net: &'n Netlist, site: &LongerSite) -> (&'n Wire, &'n Wire) {
    match site {
        LongerSite::Way { plug, half, way } => {
            let base = format!("{plug}{}-{way}", ["a", "b"][*half]);
            (&net.wires[&format!("{base}-new")], &net.wires[&format!("{base}-old")])
        }
        LongerSite::Wire { wire, .. } => (&net.wires[&format!("{wire}-new")], &net.wires[wire]),
    }
}

/// What the file says is what the plan says; old wires are what they were.
fn file_says_the_plan(name: &str, before: &Draft, made: &Planned) {
    let source = Source::new("wiring.yaml", made.draft.text());
    let reading = wiring::read(&source, before.catalogue()).unwrap_or_else(|list| {
        panic!("{name}: {}", list.iter().map(|problem| problem.render(&source)).collect::<String>())
    });
    let net = &reading.netlist;
    for row in &made.plan.rows {
        let site = row.strand.site.as_ref().unwrap();
        let (new, old) = pair(net, site);
        let tells = format!("{name} {}: {new:?}", row.strand.name());
        assert!((new.length - row.length).abs() < 1e-6 && (new.area - row.area).abs() < 1e-3, "{tells}");
        assert_eq!(new.colour, row.new, "{tells}");
        assert_eq!(old.colour, row.strand.old, "{tells}");
        let was = match site {
            LongerSite::Wire { wire, .. } => &before.netlist().wires[wire],
            LongerSite::Way { plug, half, way } => {
                let base = format!("{plug}{}-{way}-old", ["a", "b"][*half]);
                &before.netlist().wires[&base]
            }
        };
        assert!((old.area - was.area).abs() < 1e-6, "{tells}: the old wire was {} mm2, is {}", was.area, old.area);
        if row.strand.before == 0.0 {
            assert!(
                (old.length - was.length).abs() < 1e-6,
                "{tells}: the old wire was {} m, is {}",
                was.length,
                old.length
            );
        }
    }
    let unmoved = before.netlist().wires.values().filter(|wire| {
        let site = |row: &ohmward::harness::extend::Row| match row.strand.site.as_ref() {
            Some(LongerSite::Wire { wire: name, .. }) => *name == wire.name,
            Some(LongerSite::Way { plug, half, way }) => {
                wire.name.starts_with(&format!("{plug}{}-{way}-", ["a", "b"][*half]))
            }
            None => false,
        };
        !made.plan.rows.iter().any(site)
    });
    for wire in unmoved {
        let now = net.wires.get(&wire.name).unwrap_or_else(|| panic!("{name}: {} is gone", wire.name));
        assert_eq!((now.area, now.length, &now.colour), (wire.area, wire.length, &wire.colour), "{name} {}", wire.name);
    }
}

#[test]
fn every_plug_of_every_machine_can_be_made_longer_and_the_file_says_so() {
    let rules = Catalogue::builtin();
    let stock = ask(&[("red", 1.5, 12.0), ("black", 2.5, 6.0), ("white", 0.75, 30.0), ("green", 1.0, 3.0)]);
    let none = ask(&[]);
    let mut plugs = 0;
    for (name, text) in machines() {
        let draft = Draft::new(Source::new("wiring.yaml", text), &rules).unwrap();
        for plug in draft.netlist().plugs.keys() {
            for half in 0..2 {
                let made = planned(&draft, &[(plug.as_str(), 0.7)], half, if half == 0 { &stock } else { &none });
                file_says_the_plan(&format!("{name} {plug}{half}"), &draft, &made);
                plugs += 1;
            }
        }
    }
    assert!(plugs >= 20, "{plugs}");
}

#[test]
fn parts_of_every_sort_can_be_moved_and_the_file_says_so() {
    let rules = Catalogue::builtin();
    for (name, text) in machines().into_iter().step_by(2) {
        let draft = Draft::new(Source::new("wiring.yaml", text), &rules).unwrap();
        for part in draft.netlist().parts.keys().step_by(4) {
            match plan_machine(&draft, &moves(&[(part, 0.4)]), 0, &ask(&[("red", 2.5, 50.0)])) {
                Ok(made) => file_says_the_plan(&format!("{name} {part}"), &draft, &made),
                // A part that hangs on straps or plugs alone says so.
                Err(NoPlan::Problems(list)) => {
                    assert!(list.iter().all(|p| p.help.is_some()), "{name} {part}: {list:#?}")
                }
                Err(NoPlan::Refused(refusal)) => {
                    assert!(refusal.problems.iter().all(|p| p.text.contains("strap")), "{name} {part}: {refusal:#?}");
                }
            }
        }
    }
}

const SMALL: &str = "\
machine: Small
places: {here: easy, there: easy}
runs: {here to there: 2 m}
parts:
  battery: lead-acid battery, 12 V, 40 Ah, here
  F: fuse, 10 A, here
  push: push switch, there
  lamp: filament lamp, 55 W, here
wires:
  - battery.pos to F.in, red, 2.5 mm2, 0.3 m
  - W1: F.out to push.a, red, 1.5 mm2, 2 m
  - lamp.ground to battery.neg, black, 1.5 mm2, 0.5 m   # short
plugs:
  P1:
    a: there
    b: here
    ways:
      - 1, yellow, same, push.b, lamp.feed, ok
looms:
  main: {wires: [W1, P1], run: 2 m}
";

/// The drop over the added wire is amps × ohms, and the circuit loses more by just that.
#[test]
fn what_the_circuit_loses_grows_by_what_the_added_wires_lose() {
    let rules = Catalogue::builtin();
    let draft = Draft::new(Source::new("wiring.yaml", SMALL), &rules).unwrap();
    let made = planned(&draft, &[("P1", 1.5)], 0, &ask(&[]));
    let [row] = made.plan.rows.as_slice() else { panic!("{:#?}", made.plan.rows) };
    let [load] = made.plan.loads.as_slice() else { panic!("{:#?}", made.plan.loads) };
    assert!(matches!(&row.strand.amps.known, Known::Solved(state) if state == "push pressed"), "{row:#?}");
    let amps = row.strand.amps.peak;
    assert!((4.0..5.0).contains(&amps), "55 W take some 4.6 A: {amps}");
    // One sleeve and one piece of wire come in; its crimp in the plug was there before.
    let more = amps * row.ohms;
    assert!((load.after - load.before - more).abs() < 0.05 * more, "{load:#?} {more}");
    assert!((row.volts - more).abs() < 0.05 * more, "{row:#?}");
    assert_eq!(row.strand.amps.fuse, Some(10.0));
}

#[test]
fn a_part_without_a_plug_has_its_wires_cut_and_joined_and_names_stay() {
    let rules = Catalogue::builtin();
    let draft = Draft::new(Source::new("wiring.yaml", SMALL), &rules).unwrap();
    let made = planned(&draft, &[("push", 0.5)], 0, &ask(&[]));
    let text = made.draft.text();
    for row in [
        "  W1-sleeve: crimp sleeve, there\n",
        "  - W1: F.out to W1-sleeve, red, 1.5 mm2, 2 m\n",
        "  - W1-new: W1-sleeve to push.a, red, 1.5 mm2, 0.58 m, ?\n",
        "    a: there, 0.58 m, 1 mm2, crimp sleeve, stub 1 m\n",
        "      - 1, yellow, same, push.b, lamp.feed, ?\n",
        "battery.neg, black, 1.5 mm2, 0.5 m   # short\n",
        "  main: {wires: [W1, P1], run: 2 m}\n",
    ] {
        assert!(text.contains(row), "{row}\n{text}");
    }
}

/// A long wire to a big lamp: sized until the circuit loses no more than it may, or the wire added is not what loses it.
#[test]
fn a_circuit_that_would_lose_too_much_gets_thicker_wire() {
    let rules = Catalogue::builtin();
    let draft = Draft::new(Source::new("wiring.yaml", SMALL), &rules).unwrap();
    let made = planned(&draft, &[("P1", 12.0)], 0, &ask(&[]));
    let (row, load) = (&made.plan.rows[0], &made.plan.loads[0]);
    assert_eq!(row.why, Why::Drop);
    assert!(load.after <= load.allowed && !made.plan.falls_short(), "{load:#?}");
    let thin = Ask { size: Some(1.0), ..ask(&[]) };
    let made = planned(&draft, &[("P1", 12.0)], 0, &thin);
    assert!(made.plan.rows[0].lacks == Some(Why::Drop) && made.plan.falls_short(), "{:#?}", made.plan.rows);
}

#[test]
fn the_written_file_solves_to_what_the_plan_says() {
    let rules = Catalogue::builtin();
    let text = machines().into_iter().find(|(name, _)| name == "orchard-cart").unwrap().1;
    let draft = Draft::new(Source::new("wiring.yaml", text), &rules).unwrap();
    let made = planned(&draft, &[("P9", 1.2), ("P5b", 0.4)], 0, &ask(&[("red", 1.5, 9.0), ("blue", 2.5, 9.0)]));
    let reading = wiring::read(&Source::new("wiring.yaml", made.draft.text()), &rules).unwrap();
    let mut net = reading.netlist;
    net.parts.values_mut().for_each(|part| part.fitted = true);
    let solved = survey(&mut Machine::new(net, rules.clone()));
    let mut looked = 0;
    for load in &made.plan.loads {
        let again = solved.loads.iter().find(|again| again.part == load.part).unwrap();
        assert!((again.lost - load.after).abs() < 1e-9, "{load:?} {again:?}");
        looked += 1;
    }
    assert!(looked >= 5);
    // No spool gives more than it has, and what is cut is what is on the schedule.
    for (at, used) in made.plan.spools.iter().enumerate() {
        let cut: f64 = made.plan.rows.iter().filter(|row| row.spool == Some(at)).map(|row| row.length).sum();
        assert!((used.cut - cut).abs() < 1e-6 && (used.left + used.cut - used.spool.length).abs() < 1e-6, "{used:?}");
    }
    let listed: usize = made.plan.cuts.iter().flat_map(|cut| &cut.pieces).map(|pieces| pieces.wires.len()).sum();
    assert_eq!(listed, made.plan.rows.len());
}

#[test]
fn what_is_for_others_is_left_out_and_said() {
    let rules = Catalogue::builtin();
    let text = SMALL
        .replace("lamp: filament lamp, 55 W, here", "lamp: filament lamp, 55 W, here\n  airbag: unknown module, here")
        .replace("lamp.feed, ok\n", "lamp.feed, ok\n      - 2, green, same, airbag.feed, F.out, ok\n");
    let draft = Draft::new(Source::new("wiring.yaml", text), &rules);
    let Ok(draft) = draft else { panic!("{:#?}", draft.err()) };
    let made = planned(&draft, &[("P1", 1.0)], 0, &ask(&[]));
    assert_eq!(made.plan.rows.len(), 1);
    assert!(made.plan.falls_short() && made.plan.warned.iter().any(|w| w.stop && w.wires == ["P1a.2"]));
    assert!(made.draft.text().contains("- 2, green, same, airbag.feed, F.out, ok\n"), "{}", made.draft.text());
}
