//! What can be seen of a fault, without any instrument.

use super::kill;
use super::machine::Machine;
use crate::circuit::injury::{Change, Injury};
use crate::circuit::lower::ENGINE;
use crate::circuit::schematic::{ControlId, Law, When};
use crate::circuit::sim::{Outcome, StateId};
use crate::circuit::state::{against_the_engine, state_of_settings};
use crate::circuit::test::Settings;
use crate::pace::Work;

/// A showing that is not as it should be.
#[derive(Clone, Debug, PartialEq)]
pub struct Sight {
    /// Settings in which it shows.
    pub set: Settings,
    /// The part.
    pub part: String,
    /// Its likeliest showing on the healthy machine.
    pub healthy: String,
    /// Its likeliest showing with the fault.
    pub shows: String,
}

/// The healthy machine's showings in every state that is near rest.
#[derive(Debug, Default)]
pub struct Watcher {
    states: Vec<State>,
    parts: Vec<String>,
    /// Parts that a kill terminal stops.
    killed: Vec<String>,
    /// States, the liveliest first: by how many parts show something else than at rest.
    lively: Vec<usize>,
}

#[derive(Debug)]
struct State {
    set: Settings,
    id: StateId,
    healthy: Outcome,
    /// Likeliest showing of each part that shows something.
    shows: Vec<Option<String>>,
    /// A sound engine would have stopped: all that can be seen here is that it has not.
    stalled: bool,
}

/// Of more pairs of settings than this only those are taken in which a control has a part that feeds much.
const PAIRS: usize = 2500;
/// States times elements at most: each state is kept factored, some 400 bytes an element.
const WORK: usize = 8_000_000;

/// States at most two settings from rest, and the same with the engine idling; fewest settings first. On a very large
/// machine two settings are set at once only where one of them is of a control that much hangs on: circuits that have
/// nothing but the battery in common show together what they show apart. Of a machine of thousands of switches those
/// nearest to rest are taken.
pub fn states(machine: &Machine) -> Vec<Settings> {
    let controls = &machine.sim.schematic().controls;
    let mut singles: Vec<(String, String)> = Vec::new();
    for (name, control) in controls.iter().filter(|(name, _)| name.as_str() != ENGINE) {
        singles.extend(control.settings.iter().skip(1).map(|setting| (name.clone(), setting.clone())));
    }
    let most = WORK / machine.sim.schematic().elements.len().max(1);
    let pairs = PAIRS.min(most.saturating_sub(singles.len()));
    let wide: Option<Vec<String>> = (singles.len() * singles.len() / 2 > pairs).then(|| {
        let names = most_hangs_on(machine).into_iter().filter_map(|control| controls.get_index(control));
        names.map(|(name, _)| name.clone()).take((pairs / singles.len()).max(1)).collect()
    });
    let taken = |a: &str, b: &str| wide.as_ref().is_none_or(|wide| wide.iter().any(|name| name == a || name == b));
    let mut sets: Vec<Settings> = vec![Vec::new()];
    sets.extend(singles.iter().map(|one| vec![one.clone()]));
    for (i, first) in singles.iter().enumerate() {
        let others = singles[i + 1..].iter().filter(|second| second.0 != first.0 && taken(&first.0, &second.0));
        sets.extend(others.map(|second| vec![first.clone(), second.clone()]));
    }
    if controls.get(ENGINE).is_some_and(|engine| engine.settings.iter().any(|s| s == "idling")) {
        let idling: Vec<Settings> = sets
            .iter()
            .map(|set| set.iter().cloned().chain([(ENGINE.to_string(), "idling".to_string())]).collect())
            .collect();
        sets.extend(idling);
    }
    sets.retain(|set| set.is_empty() || !against_the_engine(controls, set));
    sets.truncate(most.max(1));
    sets
}

/// Controls in the order of how many points no battery reaches without their contacts, whatever else is closed.
pub(crate) fn most_hangs_on(machine: &Machine) -> Vec<ControlId> {
    let schematic = machine.sim.schematic();
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); schematic.nodes.len()];
    for (id, element) in schematic.elements.iter().enumerate() {
        at[element.a].push(id);
        at[element.b].push(id);
    }
    let starts = schematic.elements.iter().filter(|element| element.law.feeds()).map(|element| element.a);
    let starts: Vec<usize> = starts.collect();
    let reached = |without: Option<ControlId>| {
        let mut seen = vec![false; schematic.nodes.len()];
        let mut todo = starts.clone();
        while let Some(node) = todo.pop() {
            if std::mem::replace(&mut seen[node], true) {
                continue;
            }
            for &id in &at[node] {
                let element = &schematic.elements[id];
                let passes = match &element.law {
                    Law::Resistor { .. } => element.part.is_none(),
                    Law::Contact { when: When::Setting { control, .. }, .. } => Some(*control) != without,
                    Law::Contact { .. } => true,
                    _ => false,
                };
                todo.extend([element.a, element.b].into_iter().filter(|&next| passes && !seen[next]));
            }
        }
        seen.into_iter().filter(|seen| *seen).count()
    };
    let mut order: Vec<(usize, ControlId)> =
        (0..schematic.controls.len()).map(|control| (reached(Some(control)), control)).collect();
    order.sort_unstable();
    order.into_iter().map(|(_, control)| control).collect()
}

impl Watcher {
    /// Looks at the healthy machine in all these states; those that cannot be are left out.
    pub fn new(machine: &mut Machine, states: Vec<Settings>) -> Watcher {
        let parts = machine.shown();
        let killed = kill::stopped_by_ground(machine);
        let mut out = Watcher { states: Vec::new(), parts, killed, lively: Vec::new() };
        let mut ohms: Vec<Vec<f64>> = Vec::new();
        machine.pace.begin(Work::States, states.len());
        for set in states {
            machine.pace.step();
            let Ok(spec) = state_of_settings(machine.sim.schematic(), &set) else { continue };
            let id = machine.state(&spec);
            let healthy = Injury::default();
            let outcome = machine.sim.run(id, &healthy);
            let shows = out.parts.iter().map(|part| machine.likeliest(id, &healthy, &outcome, part)).collect();
            ohms.push(kill::ohms(machine, &outcome));
            out.states.push(State { set, id, healthy: outcome, shows, stalled: false });
        }
        let stalled = kill::stalled(out.states.iter().map(|state| &state.set).zip(ohms.iter().map(Vec::as_slice)));
        for (state, stalled) in out.states.iter_mut().zip(stalled) {
            state.stalled = stalled;
        }
        let alive = |state: &State| {
            let rest = out.states.first().map_or(&[][..], |rest| &rest.shows);
            state.shows.iter().zip(rest).filter(|(now, rest)| now != rest).count()
        };
        let mut lively: Vec<usize> = (0..out.states.len()).collect();
        lively.sort_by_key(|&state| std::cmp::Reverse(alive(&out.states[state])));
        out.lively = lively;
        out
    }

    /// The first part that shows something else under an injury, in the state nearest to rest.
    pub fn first(&self, machine: &Machine, injury: &Injury) -> Option<Sight> {
        self.sights(machine, injury).next()
    }

    /// Does any part show something else under an injury, in any of the states?
    pub fn seen(&self, machine: &Machine, injury: &Injury) -> bool {
        self.lively.iter().any(|&state| self.in_state(machine, &self.states[state], injury).next().is_some())
    }

    /// So many states are looked at.
    pub fn looks(&self) -> usize {
        self.states.len()
    }

    /// The same of many injuries: state by state, so that each state's own work is done once and let go of. Counts a
    /// piece for each injury in each state.
    pub fn all_seen(&self, machine: &Machine, injuries: &[Option<Injury>]) -> Vec<bool> {
        let mut seen = vec![false; injuries.len()];
        for &state in &self.lively {
            let state = &self.states[state];
            for (seen, injury) in seen.iter_mut().zip(injuries).filter(|(seen, _)| !**seen) {
                *seen = injury.as_ref().is_some_and(|injury| self.in_state(machine, state, injury).next().is_some());
            }
            machine.sim.forget(state.id);
            machine.pace.steps(injuries.len());
        }
        seen
    }

    /// Every part that shows something else, the states nearest to rest first; computed as it is asked for.
    pub fn sights<'a>(&'a self, machine: &'a Machine, injury: &'a Injury) -> impl Iterator<Item = Sight> + 'a {
        self.states.iter().flat_map(move |state| self.in_state(machine, state, injury))
    }

    fn in_state<'a>(
        &'a self,
        machine: &'a Machine,
        state: &'a State,
        injury: &'a Injury,
    ) -> impl Iterator<Item = Sight> + 'a {
        // What no current meets shows in the very part alone, if anywhere.
        let idle = unfelt(machine, &state.healthy, injury);
        let outcome = if idle { None } else { Some(machine.sim.run(state.id, injury)) };
        self.parts.iter().zip(&state.shows).filter_map(move |(part, healthy)| {
            let healthy = healthy.as_ref()?;
            if state.stalled && !self.killed.contains(part) {
                return None;
            }
            if idle && !hurt(machine, injury, part) {
                return None;
            }
            let shows = machine.likeliest(state.id, injury, outcome.as_ref().unwrap_or(&state.healthy), part)?;
            (shows != *healthy).then(|| Sight {
                set: state.set.clone(),
                part: part.clone(),
                healthy: healthy.clone(),
                shows,
            })
        })
    }
}

/// Does no part get anything else under an injury than in this outcome without it?
pub(super) fn unfelt(machine: &Machine, outcome: &Outcome, injury: &Injury) -> bool {
    // (A line that is parted, or lies too close to another, may pick up what a contact chops.)
    let chops = outcome.levels.iter().any(|level| !level.fast_closed);
    let parts = injury.changes.iter().any(|change| matches!(change, Change::Law(_, Law::Open)));
    !(chops && (parts || !injury.coupled.is_empty())) && machine.sim.idle(outcome, injury)
}

/// Does the injury change an element of this part?
pub(super) fn hurt(machine: &Machine, injury: &Injury, part: &str) -> bool {
    let elements = &machine.sim.schematic().elements;
    injury.changes.iter().any(|change| match change {
        Change::Law(id, _) | Change::Reverse(id) => elements.get(*id).is_some_and(|e| e.part.as_deref() == Some(part)),
        Change::Tie { .. } | Change::Add { .. } => false,
    })
}

/// What a needle does while a control moves: its likeliest word, `steady` among them; nothing where the control stops
/// the engine that is to run.
pub fn needle(
    machine: &mut Machine,
    injury: &Injury,
    part: &str,
    set: &Settings,
    change: &(String, [String; 2]),
) -> Option<String> {
    let at = |setting: &String| -> Settings {
        set.iter()
            .filter(|(control, _)| *control != change.0)
            .cloned()
            .chain([(change.0.clone(), setting.clone())])
            .collect()
    };
    let sets = [at(&change.1[0]), at(&change.1[1])];
    let before = state_of_settings(machine.sim.schematic(), &sets[0]).ok()?;
    let after = state_of_settings(machine.sim.schematic(), &sets[1]).ok()?;
    let (before, after) = (machine.state(&before), machine.state(&after));
    let ohms = [before, after].map(|state| kill::ohms(machine, &machine.sim.run(state, &Injury::default())));
    if kill::stalled(sets.iter().zip(ohms.iter().map(Vec::as_slice))).contains(&true) {
        return None;
    }
    let (first, last) = (machine.sim.run(before, injury), machine.sim.run(after, injury));
    let view = machine.view(before, injury, &first)?;
    let words = view.change(&machine.view(after, injury, &last)?, part).ok()?;
    words.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(word, _)| word)
}
