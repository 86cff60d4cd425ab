//! True readings never rule the truth out, and chances mean what they say: faults drawn by their chances, planted in drawn
//! machines whose parts are off their ratings, read with a meter that errs within its figures.

use fastrand::Rng;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::test::{Instrument, Settings, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::diagnosis::suspect::Suspect;
use ohmward::session::drill::slip;
use ohmward::session::twin::Twin;
use ohmward::session::{Chase, Told};
use ohmward::text::span::Source;
use ohmward::wiring;

/// Readings of a chase.
const READINGS: usize = 6;

/// How one chase ended.
struct Ended {
    fault: String,
    seed: u64,
    /// Chance of the planted fault, in the end and before anything was said.
    p: f64,
    prior: f64,
    /// Of every suspect: its chance, and is it the planted one?
    all: Vec<(f64, bool)>,
    slips: usize,
    said: Vec<String>,
}

/// A fault of this suspect, as bad as chance has it.
fn planted(suspect: &Suspect, rng: &mut Rng) -> Fault {
    let mut left = rng.f64();
    for cell in &suspect.cells {
        left -= cell.share;
        if left <= 0.0 && cell.to > cell.from {
            let ln = cell.from.ln() + rng.f64() * (cell.to / cell.from).ln();
            // The simulated machine moves it by up to 1.6 either way: not out of what the file says there is.
            let (least, most) =
                suspect.cells.iter().fold((f64::MAX, 0.0_f64), |(a, b), c| (a.min(c.from), b.max(c.to)));
            return suspect.fault_at(Some(ln.exp().min(most / 1.6).max(least * 1.6)));
        }
    }
    suspect.members[0].fault.clone()
}

fn settings(machine: &Machine, rng: &mut Rng) -> Settings {
    let mut set = Settings::new();
    for (name, control) in &machine.sim.schematic().controls {
        let at = rng.usize(..control.settings.len());
        // Cranking and the like are left out: nobody holds a starter for a reading.
        if name != "engine" && control.settings[at] != "start" {
            set.push((name.clone(), control.settings[at].clone()));
        }
    }
    set
}

/// A placement somebody might try: volts, ohms with the battery off, a look.
fn placement(machine: &Machine, points: &[String], rng: &mut Rng) -> Test {
    let shown = machine.shown();
    let set = settings(machine, rng);
    match rng.u8(..6) {
        0 if !shown.is_empty() => {
            Test { part: Some(shown[rng.usize(..shown.len())].clone()), ..Test::new(Instrument::Watch, &set) }
        }
        1 => Test {
            red: Some(points[rng.usize(..points.len())].clone()),
            black: Some(points[rng.usize(..points.len())].clone()),
            open: vec!["battery".into()],
            ..Test::new(Instrument::Ohms, &set)
        },
        _ => Test {
            red: Some(points[rng.usize(..points.len())].clone()),
            black: Some(if rng.bool() { "battery.neg".into() } else { points[rng.usize(..points.len())].clone() }),
            ..Test::new(Instrument::VoltsDc, &set)
        },
    }
}

/// A chase of a drawn fault in a drawn machine; none if nobody would complain of it. `wrong`: the share of readings that
/// are slips.
fn chased(seed: u64, wrong: f64, catalogue: &Catalogue) -> Option<Ended> {
    chased_by(seed, wrong, catalogue, false)
}

/// `each`: all is weighed after each reading, as at the prompt, not only in the end.
fn chased_by(seed: u64, wrong: f64, catalogue: &Catalogue, each: bool) -> Option<Ended> {
    let mut rng = Rng::with_seed(seed ^ 0x7ab1e);
    let text = super::sensible(seed);
    let netlist = wiring::read(&Source::new("wiring.yaml", text), catalogue).unwrap().netlist;
    let mut chase = Chase::new(Machine::new(netlist.clone(), catalogue.clone()));
    let mut left = rng.f64();
    let list = &chase.suspects().list;
    let truth = list.iter().position(|suspect| {
        left -= suspect.prior;
        left <= 0.0
    })?;
    if list[truth].special() {
        return None;
    }
    let prior = list[truth].prior;
    let fault = planted(&list[truth], &mut rng);
    let mut twin = Twin::new(&netlist, catalogue, &fault, seed).ok()?;
    let symptom = twin.symptom()?;
    let mut said = vec![format!("{symptom:?}")];
    assert!(chase.tell(&Told::Symptom(symptom)));
    let points: Vec<String> =
        wiring::points(&netlist).into_iter().filter(|point| point.probeable).map(|point| point.name).collect();
    let mut slips = 0;
    for _ in 0..READINGS {
        let test = placement(chase.machine(), &points, &mut rng);
        let Ok(mut readings) = twin.read(&test) else { continue };
        if rng.f64() < wrong {
            slips += usize::from(slip(&mut readings, &mut rng));
        }
        said.push(format!("{} {readings:?}", test.to_json()));
        chase.tell(&Told::Readings(Box::new(test), readings));
        if each {
            chase.agreement();
        }
    }
    let agreement = chase.agreement();
    assert!(!agreement.is_nan());
    let mut lead: Vec<(&str, f64)> = chase
        .suspects()
        .list
        .iter()
        .zip(&chase.chances().suspects)
        .map(|(s, p)| (s.members[0].name.as_str(), *p))
        .collect();
    lead.sort_by(|a, b| b.1.total_cmp(&a.1));
    said.push(format!("leading, at {agreement:.2}: {:?}", &lead[..lead.len().min(4)]));
    let chances = &chase.chances().suspects;
    let sum: f64 = chances.iter().sum();
    assert!((sum - 1.0).abs() < 1e-9, "seed {seed}: chances sum to {sum}");
    let all = chances.iter().enumerate().map(|(at, p)| (*p, at == truth)).collect();
    Some(Ended { fault: twin.planted().to_string(), seed, p: chances[truth], prior, all, slips, said })
}

/// So many chases by two workers.
fn chases(seeds: std::ops::Range<u64>, wrong: f64) -> Vec<Ended> {
    let catalogue = Catalogue::builtin();
    let middle = seeds.start.midpoint(seeds.end);
    std::thread::scope(|scope| {
        let halves = [seeds.start..middle, middle..seeds.end].map(|half| {
            let catalogue = &catalogue;
            scope.spawn(move || half.filter_map(|seed| chased(seed, wrong, catalogue)).collect::<Vec<_>>())
        });
        halves.into_iter().flat_map(|half| half.join().unwrap()).collect()
    })
}

/// The truth is out where it has lost nearly all of what it had: nothing that is likelier after all would be asked for.
fn out(ended: &Ended) -> bool {
    ended.p < 1e-3 * ended.prior
}

/// Said chances in bands, with how often they came true: (mean chance, share, how many).
fn calibration(ended: &[Ended]) -> Vec<(f64, f64, usize)> {
    let bands = [0.0, 0.001, 0.01, 0.05, 0.15, 0.3, 0.5, 0.7, 0.9, 1.01];
    let all = || ended.iter().flat_map(|ended| &ended.all);
    bands
        .windows(2)
        .map(|band| {
            let inside: Vec<&(f64, bool)> = all().filter(|(p, _)| (band[0]..band[1]).contains(p)).collect();
            let count = inside.len().max(1) as f64;
            let mean = inside.iter().map(|(p, _)| p).sum::<f64>() / count;
            (mean, inside.iter().filter(|(_, truth)| *truth).count() as f64 / count, inside.len())
        })
        .collect()
}

#[test]
fn true_readings_never_rule_the_truth_out() {
    let ended = chases(0..400, 0.0);
    assert!(ended.len() > 100, "{}", ended.len());
    if let Some(lost) = ended.iter().find(|ended| out(ended)) {
        panic!("seed {}, {}: {:.1e} of {:.1e}\n{}", lost.seed, lost.fault, lost.p, lost.prior, lost.said.join("\n"));
    }
}

#[test]
fn weighed_one_by_one_and_all_at_once_is_the_same() {
    let catalogue = Catalogue::builtin();
    let mut compared = 0;
    for seed in 0..60 {
        let [all, each] = [false, true].map(|each| chased_by(seed, 0.05, &catalogue, each));
        let (Some(all), Some(each)) = (all, each) else { continue };
        compared += 1;
        for (at, ((p, _), (q, _))) in all.all.iter().zip(&each.all).enumerate() {
            assert!(
                (p - q).abs() < 1e-3,
                "seed {seed}, suspect {at}: {p} at once, {q} one by one\n{}",
                all.said.join("\n")
            );
        }
    }
    assert!(compared > 20, "{compared}");
}

/// One of them in words: `SEED=7 cargo test one_drawn_chase -- --ignored --nocapture`.
#[test]
#[ignore = "shows one chase"]
#[expect(clippy::print_stderr)]
fn one_drawn_chase() {
    let seed = std::env::var("SEED").ok().and_then(|text| text.parse().ok()).unwrap_or(7);
    let catalogue = Catalogue::builtin();
    eprintln!("{}", super::sensible(seed));
    if let Some(ended) = chased(seed, 0.0, &catalogue) {
        eprintln!("{}: {:.2e} of {:.2e}\n{}", ended.fault, ended.p, ended.prior, ended.said.join("\n"));
    }
}

/// Ten thousand, with figures; and as many with wrong readings among them: `cargo test --release ten_thousand -- --ignored --nocapture`.
#[test]
#[ignore = "takes many minutes"]
#[expect(clippy::print_stderr)]
fn ten_thousand_chases() {
    let count: u64 = std::env::var("CHASES").ok().and_then(|text| text.parse().ok()).unwrap_or(10_000);
    for wrong in [0.0, 0.03] {
        // Some drawn faults show nothing: as many more are drawn.
        let ended = chases(1_000..1_000 + 2 * count, wrong);
        let lost: Vec<&Ended> = ended.iter().filter(|ended| out(ended)).collect();
        let clean = lost.iter().filter(|ended| ended.slips == 0).count();
        eprintln!(
            "{} chases, {wrong} of the readings wrong: ruled out {}, of these without a slip {clean}",
            ended.len(),
            lost.len()
        );
        for one in lost.iter().take(12) {
            eprintln!("  seed {} {} {:.1e} of {:.1e}, {} slips", one.seed, one.fault, one.p, one.prior, one.slips);
        }
        for (said, true_, count) in calibration(&ended) {
            eprintln!("  said {said:.4}  came true {true_:.4}  of {count}");
        }
        assert_eq!(clean, 0);
    }
}
