//! What one weighing needs, predicted by several workers before it is weighed in order.

use super::enumerate::Suspects;
use super::evidence::{Entry, Evidence};
use super::machine::Machine;
use super::posterior::Predicted;
use super::predict::{Sight, change_met, sound_volts, volts_met, words_met};
use super::runs::Runs;
use super::suspect::What;
use super::workers::by_workers;
use crate::circuit::injury::Injury;
use crate::circuit::sim::{Outcome, StateId};
use crate::pace::Work;
use std::collections::HashSet;
use std::rc::Rc;

/// So few severities of one suspect are solved each by itself.
const FEW: usize = 3;
/// Two severities predict the same if they differ by less than this part of the meter's own spread, or of a chance.
const ALIKE: f64 = 0.05;

impl Evidence {
    /// Predicts in one go what these points say of an entry. Where a reading hardly follows a suspect's severity, few
    /// of its severities are solved and the others lie between them ([`between`]).
    pub(super) fn foresee(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        points: &[usize],
    ) {
        let row = &mut self.predictions[index];
        if row.len() < runs.points.len() {
            row.resize(runs.points.len(), None);
        }
        let mut wanted: Vec<usize> = Vec::new();
        let mut stretches: Vec<(usize, usize)> = Vec::new();
        for some in points.chunk_by(|&a, &b| runs.span(a) == runs.span(b)) {
            let (first, end) = runs.span(some[0]);
            let severities = runs.points[first..end].iter().all(|point| point.severity.is_some());
            if severities && some.len() > FEW {
                let middle = usize::midpoint(first, end - 1);
                wanted.extend([first, middle, end - 1]);
                stretches.extend([(first, middle), (middle, end - 1)]);
            } else {
                wanted.extend(some);
            }
        }
        while !wanted.is_empty() {
            self.predict_all(machine, suspects, runs, index, &wanted);
            wanted.clear();
            let states: Vec<StateId> = self.entries[index].sight.states().collect();
            let sight = &self.entries[index].sight;
            let row = &mut self.predictions[index];
            let mut open: Vec<(usize, usize)> = Vec::new();
            for (from, to) in stretches.drain(..) {
                let asked = &points[points.partition_point(|&p| p <= from)..points.partition_point(|&p| p < to)];
                let (Some(low), Some(high), false) = (&row[from], &row[to], asked.is_empty()) else { continue };
                let severity = |point: usize| runs.points[point].severity.unwrap_or(1.0).ln();
                let part = |point| (severity(point) - severity(from)) / (severity(to) - severity(from));
                let filled: Option<Vec<Predicted>> =
                    asked.iter().map(|&point| between(low, high, part(point))).collect();
                let mut one_way = |state: &StateId| runs.one_way(machine, suspects, *state, [from, to]);
                let filled = filled.filter(|_| states.iter().all(&mut one_way));
                let filled = filled.filter(|_| same_side(machine, suspects, runs, sight, (from, low), (to, high)));
                match filled {
                    Some(filled) => {
                        for (&point, one) in asked.iter().zip(filled) {
                            row[point].get_or_insert(one);
                        }
                    }
                    None if asked.len() <= FEW => wanted.extend(asked),
                    None => {
                        let middle = usize::midpoint(from, to);
                        wanted.push(middle);
                        open.extend([(from, middle), (middle, to)]);
                    }
                }
            }
            stretches = open;
        }
    }

    /// Each of these points by itself.
    fn predict_all(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        points: &[usize],
    ) {
        let row = &self.predictions[index];
        let missing: Vec<usize> = points.iter().copied().filter(|&point| row[point].is_none()).collect();
        runs.memory.go_to(self.entries[index].epoch);
        let states = self.entries[index].sight.states();
        let wanted: Vec<_> = states.flat_map(|state| missing.iter().map(move |&point| (state, point as u32))).collect();
        machine.pace.begin(Work::Suspects, wanted.len());
        runs.ahead(machine, suspects, &wanted);
        self.read_ahead(machine, suspects, runs, index, &missing);
        for &point in &missing {
            self.predict(machine, suspects, runs, index, point);
        }
    }

    /// Volts readings, looks at parts and at needles that move, by workers.
    fn read_ahead(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        points: &[usize],
    ) {
        let states: Vec<StateId> = self.entries[index].sight.states().collect();
        let mut jobs: Vec<Job> = Vec::new();
        let mut known: HashSet<usize> = HashSet::new();
        for &point in points {
            if states.is_empty() {
                break;
            }
            let point = self.same_as(machine, suspects, runs, index, point);
            let what = &suspects.list[runs.points[point].suspect].what;
            // (a special suspect's prediction is made of the healthy machine's)
            if matches!(what, What::NothingBroken | What::NotInFile)
                || self.predictions[index][point].is_some()
                || !known.insert(point)
            {
                continue;
            }
            let outcomes = states.iter().map(|state| runs.outcome(machine, suspects, *state, point as u32)).collect();
            let injury = runs.injury_of(machine, suspects, point as u32);
            let touching = runs.touches(suspects, runs.acting(point as u32));
            jobs.push(Job { point, outcomes, injury, touching });
        }
        let Entry { sight, reading, .. } = &self.entries[index];
        let work: Vec<(Vec<&Outcome>, &Injury, bool)> = jobs
            .iter()
            .map(|job| (job.outcomes.iter().map(|outcome| &**outcome).collect(), &*job.injury, job.touching))
            .collect();
        let healthy =
            jobs.iter().any(|job| job.touching).then(|| states.first().map(|state| runs.healthy(machine, *state)));
        let sound = healthy.flatten().and_then(|healthy| sound_volts(machine, &healthy, sight));
        let done = by_workers(&work, |(outcomes, injury, touching)| match outcomes[..] {
            [before, after] => change_met(machine, [before, after], injury, sight),
            [outcome] => {
                volts_met(machine, outcome, sight, reading, sound.filter(|_| *touching).map(|sound| (sound, *injury)))
                    .or_else(|| words_met(machine, outcome, injury, sight))
            }
            _ => None,
        });
        for (job, predicted) in jobs.iter().zip(done) {
            self.predictions[index][job.point] = predicted.flatten();
        }
    }
}

/// A point to be predicted.
struct Job {
    point: usize,
    /// In each state of the sight.
    outcomes: Vec<Rc<Outcome>>,
    injury: Rc<Injury>,
    touching: bool,
}

/// Do both severities lie on one side of what was met? A chance that is as small at one as at the other may be large
/// between them: lit, dim, dark.
fn same_side(
    machine: &Machine,
    suspects: &Suspects,
    runs: &mut Runs,
    sight: &Sight,
    (from, low): (usize, &Predicted),
    (to, high): (usize, &Predicted),
) -> bool {
    let (Predicted::Mass(low), Predicted::Mass(high)) = (low, high) else { return true };
    if low.min(*high) > 0.5 {
        return true;
    }
    let likeliest =
        |words: Vec<(String, f64)>| words.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(word, _)| word);
    let mut shown = |point: usize| {
        let injury = runs.injury_of(machine, suspects, point as u32);
        match sight {
            Sight::Words { state, part, words, .. } => {
                let outcome = runs.outcome(machine, suspects, *state, point as u32);
                likeliest(machine.view(*state, &injury, &outcome)?.showing_as(part, words).ok()?)
            }
            Sight::Change { before, after, part, .. } => {
                let [first, then] = [before, after].map(|state| runs.outcome(machine, suspects, *state, point as u32));
                let later = machine.view(*after, &injury, &then)?;
                likeliest(machine.view(*before, &injury, &first)?.change(&later, part).ok()?)
            }
            // What is left are numbers that fit no display.
            Sight::Volts { .. } | Sight::Felt { .. } | Sight::Stirs { .. } | Sight::Instrument(_) | Sight::Nothing => {
                None
            }
        }
    };
    let (one, other) = (shown(from), shown(to));
    one.is_some() && one == other
}

/// What lies between two severities of one suspect that predict all but the same, `part` of the way; nothing if they do
/// not. (As long as every contact stands as it does, more ohms in one place move a reading one way only, so that a
/// severity between two lies between them.)
fn between(low: &Predicted, high: &Predicted, part: f64) -> Option<Predicted> {
    match (low, high) {
        (Predicted::Mass(low), Predicted::Mass(high)) => {
            let alike = (low - high).abs() <= ALIKE * low.min(*high);
            alike.then(|| Predicted::Mass(low + part * (high - low)))
        }
        (
            Predicted::Number { mean: low, own: low_own, shared: low_shared, ln: low_ln, .. },
            Predicted::Number { mean: high, own: high_own, shared: high_shared, ln: high_ln, .. },
        ) => {
            let spread = |shared: &[(u32, f64)]| shared.iter().map(|(_, by)| by * by).sum::<f64>().sqrt();
            let near = |a: f64, b: f64| (a - b).abs() <= ALIKE * low_own.min(*high_own);
            let alike = near(*low, *high) && near(*low_own, *high_own) && near(spread(low_shared), spread(high_shared));
            let alike = alike && (low_ln - high_ln).abs() <= ALIKE;
            alike.then(|| Predicted::Number {
                mean: low + part * (high - low),
                own: low_own + part * (high_own - low_own),
                shared: if part < 0.5 { low_shared } else { high_shared }.clone(),
                severity: None,
                ln: low_ln + part * (high_ln - low_ln),
            })
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::circuit::test::{Instrument, Reading, Test};
    use crate::diagnosis::entry;
    use crate::diagnosis::enumerate::enumerate;
    use crate::text::span::Source;
    use crate::wiring;

    #[test]
    fn what_lies_between_two_alike_is_told_from_them_and_else_is_not() {
        let number =
            |mean, by| Predicted::Number { mean, own: 0.1, shared: vec![(3, by)], severity: Some(1.0), ln: 0.0 };
        let alike = between(&number(12.0, 0.02), &number(12.004, 0.021), 0.25);
        assert!(
            matches!(alike, Some(Predicted::Number { mean, severity: None, .. }) if (mean - 12.001).abs() < 1e-9),
            "{alike:?}"
        );
        assert_eq!(between(&number(12.0, 0.02), &number(12.006, 0.02), 0.5), None);
        assert_eq!(between(&number(12.0, 0.02), &number(12.0, 0.03), 0.5), None);
        assert_eq!(between(&number(12.0, 0.02), &Predicted::Mass(0.5), 0.5), None);
        assert_eq!(between(&Predicted::Mass(0.5), &Predicted::Mass(0.52), 0.5), Some(Predicted::Mass(0.51)));
        assert_eq!(between(&Predicted::Mass(1e-6), &Predicted::Mass(1e-5), 0.5), None);
    }

    const CART: &str = include_str!("../../rules/machines/orchard-cart/wiring.yaml");

    /// Every severity told from others beside the same severity solved by itself.
    #[test]
    fn severities_that_are_not_solved_are_told_as_if_they_were() {
        let rules = Catalogue::builtin();
        let cart = wiring::read(&Source::new("wiring.yaml", CART), &rules).unwrap().netlist;
        let mut machine = Machine::new(cart, rules);
        let set = [("key", "on"), ("lights", "on"), ("horn-push", "pressed")];
        let test = Test {
            red: Some("coolant-gauge.feed".into()),
            black: Some("frame".into()),
            ..Test::new(Instrument::VoltsDc, &set.map(|(c, s)| (c.to_string(), s.to_string())).to_vec())
        };
        let suspects = enumerate(&machine, true);
        let reading = [Reading::Value { value: 11.9, step: Some(0.01) }];
        let entry = entry::readings(&mut machine, &test, &reading, 0).unwrap().remove(0);
        let mut evidence = [Evidence::default(), Evidence::default()];
        let mut runs = [Runs::new(&suspects), Runs::new(&suspects)];
        let points: Vec<usize> = (0..runs[0].points.len()).collect();
        evidence[0].push(entry.clone());
        evidence[0].foresee(&mut machine, &suspects, &mut runs[0], 0, &points);
        evidence[1].push(entry);
        let (mut told, mut most) = (0, 0.0_f64);
        for &point in &points {
            evidence[1].predict(&mut machine, &suspects, &mut runs[1], 0, point);
            let both = [&evidence[0], &evidence[1]].map(|evidence| evidence.predicted(0, point).cloned());
            match both {
                [
                    Some(Predicted::Number { mean, own, shared, .. }),
                    Some(Predicted::Number { mean: solved, shared: all, .. }),
                ] => {
                    let spread = |shared: &[(u32, f64)]| shared.iter().map(|(_, by)| by * by).sum::<f64>().sqrt();
                    most = most.max((mean - solved).abs() / own).max((spread(&shared) - spread(&all)).abs() / own);
                    told += usize::from(mean.to_bits() != solved.to_bits());
                }
                [Some(Predicted::Mass(one)), Some(Predicted::Mass(other))] => assert!((one - other).abs() < 1e-9),
                other => panic!("point {point}: {other:?}"),
            }
        }
        assert!(told > 500, "only {told} of {} were told from others", points.len());
        assert!(most <= 2.0 * ALIKE, "{most} of the meter's own spread apart");
    }

    /// What is unlikely at both ends of a stretch may be likely inside it: lit, dim, dark; and an ohmmeter's display.
    #[test]
    fn what_is_met_between_two_severities_is_not_told_from_them() {
        let rules = Catalogue::builtin();
        let cart = wiring::read(&Source::new("wiring.yaml", CART), &rules).unwrap().netlist;
        let mut machine = Machine::new(cart, rules);
        let set: Vec<(String, String)> = [("key", "on"), ("lights", "on")].map(|(c, s)| (c.into(), s.into())).to_vec();
        let look = Test { part: Some("head-lamp".into()), ..Test::new(Instrument::Watch, &set) };
        let ohms = Test {
            red: Some("head-lamp.ground".into()),
            black: Some("frame".into()),
            open: vec!["battery".into()],
            ..Test::new(Instrument::Ohms, &Vec::new())
        };
        let suspects = enumerate(&machine, true);
        let met = [(look, Reading::Showing("dim".into())), (ohms, Reading::Value { value: 10.3, step: Some(0.1) })];
        for (test, reading) in met {
            let entry = entry::readings(&mut machine, &test, &[reading], 0).unwrap().remove(0);
            let mut evidence = [Evidence::default(), Evidence::default()];
            let mut runs = [Runs::new(&suspects), Runs::new(&suspects)];
            let points: Vec<usize> = (0..runs[0].points.len()).collect();
            evidence[0].push(entry.clone());
            evidence[0].foresee(&mut machine, &suspects, &mut runs[0], 0, &points);
            evidence[1].push(entry);
            let mut explains = 0;
            for &point in &points {
                evidence[1].predict(&mut machine, &suspects, &mut runs[1], 0, point);
                let severity = runs[0].points[point].severity;
                match [&evidence[0], &evidence[1]].map(|evidence| evidence.predicted(0, point).cloned()) {
                    [Some(Predicted::Mass(told)), Some(Predicted::Mass(solved))] => {
                        assert!((told - solved).abs() <= ALIKE * solved + 1e-9, "{severity:?}: {told} for {solved}");
                        explains += usize::from(severity.is_some() && solved > 0.5);
                    }
                    [Some(Predicted::Number { mean: told, own, .. }), Some(Predicted::Number { mean: solved, .. })] => {
                        assert!((told - solved).abs() <= 2.0 * ALIKE * own, "{severity:?}: {told} for {solved}");
                        explains += usize::from(severity.is_some() && (solved - 10.3).abs() < 5.0);
                    }
                    other => panic!("{severity:?}: {other:?}"),
                }
            }
            assert!(explains > 3, "{explains} severities explain {:?}", test.instrument);
        }
    }
}
