//! One placement in several settings: with the leads where they are, another costs seconds.

use super::candidates::{Probes, neighbours};
use super::choose::{Choice, worth};
use super::columns::between;
use super::score::{Column, Row, both};
use super::search::{Search, Spot, apart};
use crate::circuit::test::Test;
use indexmap::IndexSet;

/// One placement is asked in so many settings at most.
const SETTINGS: usize = 3;

impl Search<'_, '_> {
    /// What each other state adds to each of these at most, the most promising first: by how much the two readings
    /// differ.
    pub(super) fn adds(&mut self, finalists: &[(Spot, usize, Choice)]) -> Vec<Vec<(f64, usize)>> {
        /// How much a state adds.
        enum Adds {
            /// There is no telling.
            Any,
            Nothing,
            /// What this column tells.
            Column(usize),
        }
        let mut columns: IndexSet<Column> = IndexSet::new();
        let mut pairs: Vec<Vec<(Adds, usize)>> = Vec::with_capacity(finalists.len());
        for &(spot, look, _) in finalists {
            let mut of_spot = Vec::new();
            for other in self.others(spot, look) {
                let Spot::Probes(place) = spot else {
                    of_spot.push((Adds::Any, other));
                    continue;
                };
                let Probes { red, black, .. } = self.placements[place];
                let volts = |look: usize| between(&self.looks[look].displays, red, black);
                let column = self.columns.volts(&apart(&volts(other), &volts(look)));
                let adds = column.map_or(Adds::Nothing, |column| Adds::Column(columns.insert_full(column).0));
                of_spot.push((adds, other));
            }
            pairs.push(of_spot);
        }
        let gains = self.gains(columns);
        let gain = |adds: Adds| match adds {
            Adds::Any => f64::INFINITY,
            Adds::Nothing => 0.0,
            Adds::Column(column) => gains[column],
        };
        let sorted = |of_spot: Vec<(Adds, usize)>| {
            let mut adds: Vec<(f64, usize)> = of_spot.into_iter().map(|(adds, other)| (gain(adds), other)).collect();
            adds.sort_by(|a, b| b.0.total_cmp(&a.0));
            adds
        };
        pairs.into_iter().map(sorted).collect()
    }

    /// States in which a spot may be asked besides this one: none where a display swings, which is no quick reading.
    fn others(&self, spot: Spot, look: usize) -> Vec<usize> {
        // (nor of a fuse: what one setting has blown is blown in the next)
        let fuse = |name: &String| {
            let machine = &self.board.machine;
            let kind = machine.netlist.parts.get(name).and_then(|part| machine.catalogue.kind(&part.kind));
            kind.is_some_and(|kind| kind.is_fuse())
        };
        if self.looks[look].swings || matches!(spot, Spot::Part(part) if fuse(&self.watchable[part])) {
            return Vec::new();
        }
        (0..self.looks.len())
            .filter(|&other| other != look && self.looks[other].rig == self.looks[look].rig)
            .filter(|&other| !self.looks[other].swings && !self.is_hot(spot, other))
            .filter(|&other| self.is_open(spot, other))
            .collect()
    }

    /// The same test in further settings where they are worth their seconds. `floor`: what another test is worth
    /// already; nothing comes back where this one cannot be worth more, whatever it takes in.
    pub(super) fn in_more_states(
        &mut self,
        spot: Spot,
        look: usize,
        mut best: Choice,
        adds: &[(f64, usize)],
        floor: f64,
    ) -> Option<Choice> {
        let most = best.gain + adds.iter().take(SETTINGS - 1).map(|(add, _)| add).sum::<f64>();
        if worth(&Choice { gain: most, ..best.clone() }) <= floor {
            return None;
        }
        let Some(column) = self.column(spot, look) else { return Some(best) };
        // Rows of a pair are kept with it; those of one state stand in the columns.
        let mut joint: Option<(Column, Vec<Row>)> = None;
        let mut looks = vec![look];
        while looks.len() < SETTINGS {
            let mut better: Option<(usize, (Column, Vec<Row>), Choice)> = None;
            for &(add, other) in adds.iter().filter(|(_, other)| !looks.contains(other)) {
                let Some(test) = self.test_in(spot, &looks, other) else { continue };
                let Some(second) = self.column(spot, other) else { continue };
                let most = best.gain + add;
                // Pairing is dear; what could not win if all of it were new needs none.
                let so_good = worth(better.as_ref().map_or(&best, |(.., choice)| choice));
                if self.priced(test.clone(), most).is_none_or(|choice| worth(&choice) <= so_good) {
                    continue;
                }
                let so_far =
                    joint.as_ref().map_or((&column[..], &self.columns.rows[..]), |(c, rows)| (&c[..], &rows[..]));
                let pair = both(so_far, (&second, &self.columns.rows));
                let gain = self.scorer.gain(&pair.0, &pair.1).min(most);
                if let Some(choice) = self.priced(test, gain)
                    && worth(&choice) > so_good
                {
                    better = Some((other, pair, choice));
                }
            }
            let Some((other, pair, choice)) = better else { break };
            looks.push(other);
            (joint, best) = (Some(pair), choice);
        }
        Some(best)
    }

    /// A test in these states, the likeliest complaint's first, where each of the others is one control away from it.
    fn test_in(&self, spot: Spot, looks: &[usize], other: usize) -> Option<Test> {
        let mut all: Vec<usize> = looks.iter().copied().chain([other]).collect();
        all.sort_unstable();
        let (first, rest) = all.split_first()?;
        let controls = &self.board.machine.sim.schematic().controls;
        let step = |look: &usize| neighbours(controls, &self.looks[*first].set, &self.looks[*look].set);
        let then = rest.iter().map(|look| step(look).map(|step| vec![step])).collect::<Option<Vec<_>>>()?;
        Some(Test { then, ..self.test(spot, *first) })
    }
}
