//! The state to draw, and the circuit solved in it.

use crate::circuit::injury::Injury;
use crate::circuit::schematic::{ElementId, Law, Node};
use crate::circuit::sim::{Outcome, StateId};
use crate::circuit::state::{against_the_engine, state_of_settings};
use crate::circuit::test::Settings;
use crate::diagnosis::kill;
use crate::diagnosis::machine::Machine;
use crate::review::ways::{Asked, Ways, agree};
use indexmap::IndexMap;

/// A control is turned as often as this at most while the busiest state is looked for.
const ROUNDS: usize = 3;
/// Where more than so many are turned it is taken as it is.
const LONG: usize = 30;
/// Of more parts than so many what they ask for is not tried part by part.
const MANY: usize = 120;
/// Switches turned times elements at most.
const WORK: usize = 20_000_000;
/// A part at work is worth so many controls turned.
const WORTH: i64 = 100;
/// One that carries current without working yet: on the way to it.
const LIVE: i64 = 10;
/// Less is no current that anything works by, A.
const NOTHING: f64 = 1e-3;

/// The circuit solved in one state, as a DC meter shows it: mean over what chops three times a second and faster, what
/// flashes being on.
pub struct Solved {
    /// What is set; what is not named is at rest.
    pub set: Settings,
    /// Volts of each node over battery minus; `None` where nothing joins it to there.
    pub volts: Vec<Option<f64>>,
    /// Amps through each element, in at its first node.
    pub amps: Vec<f64>,
    /// Is each element there: closed, whole, not broken?
    pub present: Vec<bool>,
    /// What each part shows, likeliest word.
    pub shows: IndexMap<String, String>,
    /// Fuses that have blown.
    pub blown: Vec<ElementId>,
}

impl Solved {
    /// Solves an injury in a state.
    pub fn new(machine: &Machine, set: Settings, state: StateId, injury: &Injury) -> Solved {
        let sim = &machine.sim;
        let outcome = sim.run(state, injury);
        let (nodes, elements) = (sim.schematic().nodes.len(), sim.schematic().elements.len());
        let on: Vec<usize> = (0..outcome.levels.len()).filter(|&at| outcome.levels[at].slow_closed).collect();
        let levels = if on.is_empty() { (0..outcome.levels.len()).collect() } else { on };
        let (mut sum, mut held) = (vec![0.0; nodes], vec![0.0; nodes]);
        let (mut amps, mut whole) = (vec![0.0; elements], 0.0);
        let mut present = vec![false; elements];
        for &level in &levels {
            let share = outcome.levels[level].share.max(1e-9);
            whole += share;
            let (volts, floats) = (sim.all_volts(&outcome, level), sim.floats(&outcome, level));
            for node in (0..nodes).filter(|&node| !floats[node]) {
                sum[node] += share * volts[node];
                held[node] += share;
            }
            for element in 0..elements {
                amps[element] += share * sim.element_amps(&outcome, level, element);
                present[element] |= sim.element_present(&outcome, level, element);
            }
        }
        amps.iter_mut().for_each(|amps| *amps /= whole.max(1e-9));
        let volts = sum.iter().zip(&held).map(|(sum, held)| (*held > 0.0).then(|| sum / held)).collect();
        let shows = shows(machine, state, injury, &outcome);
        Solved { set, volts, amps, present, shows, blown: outcome.blown.clone() }
    }

    /// Volts of a node, if anything holds it.
    pub fn at(&self, node: Node) -> Option<f64> {
        self.volts.get(node).copied().flatten()
    }
}

/// The likeliest word of each part that shows something.
fn shows(machine: &Machine, state: StateId, injury: &Injury, outcome: &Outcome) -> IndexMap<String, String> {
    let mut out = IndexMap::new();
    let Some(view) = machine.view(state, injury, outcome) else { return out };
    for part in machine.netlist.parts.values().filter(|part| part.fitted) {
        if let Ok(words) = view.showing(&part.name)
            && let Some((word, _)) = words.into_iter().max_by(|a, b| a.1.total_cmp(&b.1))
        {
            out.insert(part.name.clone(), word);
        }
    }
    out
}

/// The settings in which most of these parts work (all parts, if none is named), with as few controls turned as that
/// takes; nothing is cranked.
pub fn busiest(machine: &mut Machine, parts: &[String]) -> Settings {
    let controls: Vec<(String, Vec<String>)> =
        machine.sim.schematic().controls.iter().map(|(name, info)| (name.clone(), info.settings.clone())).collect();
    let mut best = Settings::new();
    let mut worth = score(machine, parts, &best).unwrap_or(i64::MIN);
    // What each part's own circuit asks for, part by part; then every control by itself.
    let asked = asked(machine, parts);
    if machine.netlist.parts.len() > MANY {
        // Each try is a way step by step through all that was taken before: of very many, what fits together is tried once.
        let all = together(machine, asked.iter().flatten());
        if score(machine, parts, &all).is_some_and(|found| found > worth) {
            best = all;
        }
        return kill::running(machine, best);
    }
    for asked in asked {
        for set in asked.iter().filter_map(|asked| merged(machine, &best, asked)).collect::<Vec<_>>() {
            if let Some(found) = score(machine, parts, &set).filter(|&found| found > worth) {
                (worth, best) = (found, set);
            }
        }
    }
    // (each control that is turned back makes another way there, step by step: of very many nobody asks for the best)
    for _ in 0..if best.len() > LONG { 0 } else { ROUNDS } {
        let before = worth;
        for (name, settings) in &controls {
            for set in turned(&best, name, settings) {
                if let Some(found) = score(machine, parts, &set).filter(|&found| found > worth) {
                    (worth, best) = (found, set);
                }
            }
        }
        if worth == before {
            break;
        }
    }
    kill::running(machine, best)
}

/// The settings that bring a part's elements to both posts of a battery, for each part.
fn asked(machine: &Machine, parts: &[String]) -> Vec<Vec<Asked>> {
    let schematic = machine.sim.schematic();
    let points = machine.netlist.graph.node_count();
    let sources = schematic.elements.iter().filter(|element| element.law.feeds());
    let posts: Vec<(Node, Node)> = sources
        .filter(|element| element.a < points && element.b < points)
        .map(|element| (element.a, element.b))
        .collect();
    let ways = Ways::new(schematic, &posts);
    let own = |part: &String| {
        let elements = schematic.by_part.get(part).into_iter().flatten().map(|&id| &schematic.elements[id]);
        let loads = elements.filter(|element| !matches!(element.law, Law::Contact { .. }));
        loads.flat_map(|element| ways.between(element.a, element.b)).collect()
    };
    // Of a large machine only what is asked for itself: the way there is step by step.
    let few = machine.netlist.parts.len() <= MANY || parts.is_empty();
    machine.netlist.parts.keys().filter(|part| few || parts.contains(part)).map(own).collect()
}

/// A state with what is asked for besides, if it does not speak against it.
fn merged(machine: &Machine, set: &Settings, asked: &Asked) -> Option<Settings> {
    let mut out = set.clone();
    for (&control, &setting) in asked {
        let (name, info) = machine.sim.schematic().controls.get_index(control)?;
        let setting_name = info.settings.get(setting)?;
        match out.iter().find(|(known, _)| known == name) {
            Some((_, known)) if known != setting_name => return None,
            Some(_) => {}
            None if setting != 0 => out.push((name.clone(), setting_name.clone())),
            None => {}
        }
    }
    Some(out)
}

/// What fits together of what is asked for, the first asked first; of very many switches not all, for each is a step.
fn together<'a>(machine: &Machine, asked: impl Iterator<Item = &'a Asked>) -> Settings {
    let schematic = machine.sim.schematic();
    let most = WORK / schematic.elements.len().max(1);
    let mut all = Asked::new();
    for one in asked {
        let turned = all.values().filter(|&&setting| setting != 0).count();
        if turned + one.len() > most {
            break;
        }
        if agree(&all, one) {
            all.extend(one);
        }
    }
    let name = |(control, setting): (usize, usize)| {
        let (name, info) = schematic.controls.get_index(control)?;
        Some((name.clone(), info.settings.get(setting)?.clone()))
    };
    all.into_iter().filter(|(_, setting)| *setting != 0).filter_map(name).collect()
}

/// A state with one control in each of its settings.
fn turned(set: &Settings, control: &str, settings: &[String]) -> Vec<Settings> {
    let one = |(at, setting): (usize, &String)| {
        let mut out: Settings = set.iter().filter(|(name, _)| name != control).cloned().collect();
        if at > 0 {
            out.push((control.to_string(), setting.clone()));
        }
        out
    };
    settings.iter().enumerate().map(one).filter(|out| out != set).collect()
}

/// What a state is worth; nothing for one that the engine forbids.
fn score(machine: &mut Machine, parts: &[String], set: &Settings) -> Option<i64> {
    if !set.is_empty() && against_the_engine(&machine.sim.schematic().controls, set) {
        return None;
    }
    let spec = state_of_settings(machine.sim.schematic(), set).ok()?;
    let state = machine.state(&spec);
    let healthy = Injury::default();
    let outcome = machine.sim.run(state, &healthy);
    let rules = &machine.catalogue;
    let mut sum = -i64::try_from(set.len()).unwrap_or(i64::MAX);
    for (name, word) in shows(machine, state, &healthy, &outcome) {
        let kind = machine.netlist.parts.get(&name).and_then(|part| rules.kind(&part.kind));
        let Some(kind) = kind.filter(|kind| !kind.is_fuse() && kind.control.is_none()) else { continue };
        let works = kind.showings.first().and_then(|showing| showing.works.as_deref());
        let at_work = works == Some(word.as_str()) || word.contains("flash");
        if at_work && rules.review.lists("starting", &kind.name) && !parts.contains(&name) {
            return None;
        }
        if parts.is_empty() || parts.contains(&name) {
            let own = machine.sim.schematic().by_part.get(&name).into_iter().flatten();
            let carries = |&id: &ElementId| machine.sim.element_amps(&outcome, 0, id).abs() > NOTHING;
            sum += if at_work { WORTH } else { LIVE * i64::from(own.into_iter().any(carries)) };
        }
    }
    Some(sum)
}
