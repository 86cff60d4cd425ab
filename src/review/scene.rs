//! The states of the machine that a review looks at, each solved once.

use super::states::{self, Worth};
use super::walk::ends;
use super::ways::Ways;
use super::works::Fed;
use crate::circuit::injury::{Change, Injury};
use crate::circuit::schematic::{ElementId, Law, Node};
use crate::circuit::sim::{Outcome, StateId};
use crate::circuit::state::state_of_settings;
use crate::circuit::test::Settings;
use crate::diagnosis::kill;
use crate::diagnosis::machine::Machine;
use crate::pace::Work;
use indexmap::IndexSet;
use std::cell::OnceCell;

/// Volts that differ by less are the same, V.
const ALIKE: f64 = 0.1;

/// One state, solved.
pub struct Seen {
    /// What is set; what is not named is at rest.
    pub set: Settings,
    /// The state.
    pub id: StateId,
    /// It, solved.
    pub outcome: Outcome,
    /// Volts of each node over battery minus with all that chops closed; 0 where nothing joins them.
    pub volts: Vec<f64>,
    /// Nothing joins the node to battery minus.
    pub floats: Vec<bool>,
    /// Amps through each element, in at `a`, with all that chops closed.
    pub amps: Vec<f64>,
    /// Root mean square of each element's amps over what chops: what heats it.
    pub heat: Vec<f64>,
    /// The likeliest showing of each part of [`Scene::shown`].
    pub shows: Vec<Option<String>>,
    /// The engine cannot run so: its kill terminal is grounded.
    pub stalled: bool,
}

/// The machine in all the states looked at.
pub struct Scene<'a> {
    /// The machine.
    pub machine: &'a Machine,
    /// By which settings each point is joined to battery plus and minus.
    pub ways: Ways,
    /// The states, rest first, fewest settings first.
    pub seen: Vec<Seen>,
    /// States that its circuits ask for and that were left out, because the wiring is so large.
    pub left: usize,
    /// Fitted parts that show something.
    pub shown: IndexSet<String>,
    /// The sources whose posts one can touch: batteries. What holds the volts of a stabiliser or an alternator inside
    /// it is none.
    pub batteries: Vec<ElementId>,
    /// What copper and contacts feed, once it is asked for.
    pub fed: OnceCell<Fed>,
}

impl Seen {
    /// `key on, horn-push pressed`; `everything at rest`.
    pub fn told(&self) -> String {
        told(&self.set)
    }

    /// Does the engine turn?
    pub fn engine_runs(&self) -> bool {
        kill::turns(&self.set)
    }
}

/// `key on, horn-push pressed`; `everything at rest` for nothing.
pub fn told(set: &Settings) -> String {
    if set.is_empty() {
        return "everything at rest".to_string();
    }
    set.iter().map(|(control, setting)| format!("{control} {setting}")).collect::<Vec<_>>().join(", ")
}

impl<'a> Scene<'a> {
    /// Finds the states and solves them.
    pub fn new(machine: &'a mut Machine) -> Scene<'a> {
        let points = machine.netlist.graph.node_count();
        let elements = &machine.sim.schematic().elements;
        let is_battery = |id: &ElementId| {
            let element = &elements[*id];
            matches!(element.law, Law::Source { .. } | Law::Cell { .. }) && element.a < points && element.b < points
        };
        let batteries: Vec<ElementId> = (0..elements.len()).filter(is_battery).collect();
        let posts: Vec<(Node, Node)> = batteries.iter().map(|&id| (elements[id].a, elements[id].b)).collect();
        let ways = Ways::new(machine.sim.schematic(), &posts);
        let shown: IndexSet<String> = machine.shown().into_iter().collect();
        let mut ids: Vec<(Settings, StateId)> = Vec::new();
        let Worth { sets, left } = states::worth_looking_at(machine, &ways);
        machine.pace.begin(Work::Circuits, sets.len());
        for set in sets {
            machine.pace.step();
            if let Ok(spec) = state_of_settings(machine.sim.schematic(), &set) {
                ids.push((set, machine.state(&spec)));
            }
        }
        let machine: &Machine = machine;
        let mut scene = Scene { machine, ways, seen: Vec::new(), left, shown, batteries, fed: OnceCell::new() };
        machine.pace.begin(Work::States, ids.len());
        scene.seen = ids.into_iter().map(|(set, id)| scene.look(set, id)).collect();
        scene.stall();
        scene
    }

    fn look(&self, set: Settings, id: StateId) -> Seen {
        let sim = &self.machine.sim;
        self.machine.pace.step();
        let healthy = Injury::default();
        let outcome = sim.run(id, &healthy);
        let closed = outcome.levels.iter().position(|level| level.closed && !level.pulse_high).unwrap_or(0);
        // All at once before they are asked for one by one.
        let volts = sim.all_volts(&outcome, closed);
        let floats = sim.floats(&outcome, closed);
        let shows = self.likeliest(id, &healthy, &outcome);
        let amps = self.amps(&outcome, closed, &volts, &floats);
        let mut heat: Vec<f64> = vec![0.0; amps.len()];
        for (index, level) in outcome.levels.iter().enumerate() {
            let there = if index == closed {
                amps.clone()
            } else {
                self.amps(&outcome, index, &sim.all_volts(&outcome, index), &sim.floats(&outcome, index))
            };
            for (sum, amps) in heat.iter_mut().zip(there) {
                *sum += level.share * amps * amps;
            }
        }
        heat.iter_mut().for_each(|sum| *sum = sum.sqrt());
        Seen { set, id, outcome, volts, floats, amps, heat, shows, stalled: false }
    }

    /// Amps through every element in a level. Copper's are told from the volts over it.
    fn amps(&self, outcome: &Outcome, level: usize, volts: &[f64], floats: &[bool]) -> Vec<f64> {
        let sim = &self.machine.sim;
        let of = |(id, element): (ElementId, &crate::circuit::schematic::Elem)| match element.law {
            Law::Resistor { ohms } if !floats[element.a] => (volts[element.a] - volts[element.b]) / ohms.max(1e-9),
            _ => sim.element_amps(outcome, level, id),
        };
        sim.schematic().elements.iter().enumerate().map(of).collect()
    }

    fn stall(&mut self) {
        let ohms: Vec<Vec<f64>> = self.seen.iter().map(|seen| kill::ohms(self.machine, &seen.outcome)).collect();
        let stalled = kill::stalled(self.seen.iter().map(|seen| &seen.set).zip(ohms.iter().map(Vec::as_slice)));
        for (seen, stalled) in self.seen.iter_mut().zip(stalled) {
            seen.stalled = stalled;
        }
    }

    /// The part's likeliest showing in a state.
    pub fn shows<'s>(&self, seen: &'s Seen, part: &str) -> Option<&'s str> {
        let at = self.shown.get_index_of(part)?;
        seen.shows[at].as_deref()
    }

    /// The word of the part at work, and the word of one that gets nothing.
    pub fn words(&self, part: &str) -> Option<(&'a str, &'a str)> {
        let part = self.machine.netlist.parts.get(part)?;
        let showing = self.machine.catalogue.kind(&part.kind)?.showings.first()?;
        Some((showing.works.as_deref()?, showing.words.first()?))
    }

    /// Does the part work in a state: show its word, or flash with it?
    pub fn works(&self, seen: &Seen, part: &str) -> bool {
        let Some((works, _)) = self.words(part) else { return false };
        self.shows(seen, part).is_some_and(|shows| shows == works || shows.contains("flash"))
    }

    /// Does it show anything but that it gets nothing?
    pub fn alive(&self, seen: &Seen, part: &str) -> bool {
        let Some((_, nothing)) = self.words(part) else { return false };
        self.shows(seen, part).is_some_and(|shows| shows != nothing)
    }

    /// The state in which a part works with the most volts, of fewest settings among equals.
    pub fn at_full_work(&self, part: &str) -> Option<&Seen> {
        let over = |seen: &Seen| ends(self, seen, part).map_or(0.0, |(high, low)| seen.volts[high] - seen.volts[low]);
        let working = self.seen.iter().filter(|seen| !seen.stalled && self.works(seen, part));
        // (a copper path more or less is no other volts)
        working
            .map(|seen| (seen, over(seen)))
            .reduce(|best, now| if now.1 > best.1 + ALIKE { now } else { best })
            .map(|best| best.0)
    }

    /// The state of fewest settings in which a part works.
    pub fn at_work(&self, part: &str) -> Option<&Seen> {
        self.seen.iter().find(|seen| !seen.stalled && self.works(seen, part))
    }

    /// The state under an injury, and what the parts show then.
    pub fn hurt(&self, seen: &Seen, injury: &Injury) -> (Outcome, Vec<Option<String>>) {
        let outcome = self.machine.sim.run(seen.id, injury);
        let shows = self.likeliest(seen.id, injury, &outcome);
        (outcome, shows)
    }

    fn likeliest(&self, state: StateId, injury: &Injury, outcome: &Outcome) -> Vec<Option<String>> {
        self.shown.iter().map(|part| self.machine.likeliest(state, injury, outcome, part)).collect()
    }

    /// These elements taken out.
    pub fn without(elements: impl IntoIterator<Item = ElementId>) -> Injury {
        let changes = elements.into_iter().map(|id| Change::Law(id, Law::Open)).collect();
        Injury { changes, ..Injury::default() }
    }

    /// Elements of a part.
    pub fn elements(&self, part: &str) -> &[ElementId] {
        self.machine.sim.schematic().by_part.get(part).map_or(&[], Vec::as_slice)
    }

    /// Plus posts of all batteries.
    pub fn plus_posts(&self) -> Vec<Node> {
        self.batteries.iter().map(|&id| self.machine.sim.schematic().elements[id].a).collect()
    }

    /// Minus posts of all batteries.
    pub fn minus_posts(&self) -> Vec<Node> {
        self.batteries.iter().map(|&id| self.machine.sim.schematic().elements[id].b).collect()
    }

    /// Mean volts of each node over what chops three times a second and faster, as a DC meter shows them; what flashes
    /// being on.
    pub fn mean_volts(&self, seen: &Seen) -> Vec<f64> {
        let sim = &self.machine.sim;
        let (mut sum, mut share) = (vec![0.0; seen.volts.len()], 0.0);
        for (index, level) in seen.outcome.levels.iter().enumerate().filter(|(_, level)| level.slow_closed) {
            share += level.share;
            for (sum, volts) in sum.iter_mut().zip(sim.all_volts(&seen.outcome, index)) {
                *sum += level.share * volts;
            }
        }
        if share <= 0.0 {
            return seen.volts.clone();
        }
        sum.iter_mut().for_each(|sum| *sum /= share);
        sum
    }

    /// Volts over the battery that gives the most in a state, at its posts: the volts that a drop is counted from.
    pub fn battery(&self, seen: &Seen) -> Option<(f64, Node, Node)> {
        let elements = &self.machine.sim.schematic().elements;
        let gives = |id: &ElementId| -seen.amps[*id];
        let id = self.batteries.iter().copied().max_by(|a, b| gives(a).total_cmp(&gives(b)))?;
        let (a, b) = (elements[id].a, elements[id].b);
        Some((seen.volts[a] - seen.volts[b], a, b))
    }
}

/// Does it use what it is given: no copper, no contact, no source?
pub fn is_load(law: &Law) -> bool {
    match law {
        Law::Filament { .. } | Law::Motor { .. } | Law::Coil { .. } | Law::Solenoid { .. } | Law::PulseInput { .. } => {
            true
        }
        Law::Interrupter { hertz, .. } => *hertz >= 3.0,
        Law::Resistor { ohms } => *ohms > 0.5,
        _ => false,
    }
}
