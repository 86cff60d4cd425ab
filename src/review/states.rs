//! Which states of a machine are worth looking at: all where they are few, else what its own circuits ask for.

use super::scene::is_load;
use super::ways::{Asked, Ways, agree, both};
use crate::circuit::lower::ENGINE;
use crate::circuit::schematic::{Law, Node};
use crate::circuit::state::against_the_engine;
use crate::circuit::test::Settings;
use crate::diagnosis::machine::Machine;
use std::collections::BTreeSet;

/// As many states as this are looked at one and all; of more, what the machine's own circuits ask for.
const ALL: usize = 256;
/// So many interlock switches are tried in all their settings together.
const LOCKS: usize = 5;
/// States looked at, at most.
const MOST: usize = 2000;
/// States times elements that are looked at, as far as pairs of circuits go (eight times as many pairs are thought of,
/// for many come to the same state): what is kept of them stays well below a gigabyte.
const ROOM: usize = 1_000_000;
/// Switches turned times elements, over all states: what a wiring of ten thousand loads may take, so that a larger one
/// ends too. What is left out for it is told.
const WORK: usize = 15_000_000;

/// The states to be looked at.
pub struct Worth {
    /// As settings, fewest first; none that the engine forbids.
    pub sets: Vec<Settings>,
    /// How many more the circuits ask for, left out because the wiring is so large.
    pub left: usize,
}

/// Settings by control from what is asked for, in the order of the controls; what is at rest is not named.
fn named(machine: &Machine, asked: &Asked) -> Settings {
    let controls = &machine.sim.schematic().controls;
    let one = |(&control, &setting): (&usize, &usize)| {
        let (name, info) = controls.get_index(control)?;
        Some((name.clone(), info.settings.get(setting)?.clone()))
    };
    asked.iter().filter(|(_, setting)| **setting != 0).filter_map(one).collect()
}

/// All that is to be looked at.
pub fn worth_looking_at(machine: &Machine, ways: &Ways) -> Worth {
    let schematic = machine.sim.schematic();
    let mut seen: BTreeSet<Settings> = BTreeSet::new();
    let mut sets: Vec<Settings> = Vec::new();
    let Wanted { list, needed, most } = wanted(machine, ways);
    let mut room = WORK / schematic.elements.len().max(1);
    let mut left = 0;
    for (at, asked) in list.iter().enumerate() {
        let set = named(machine, asked);
        if !set.is_empty() && against_the_engine(&schematic.controls, &set) || !seen.insert(set.clone()) {
            continue;
        }
        let turned = set.len() + 1;
        if sets.len() < most && turned <= room {
            room -= turned;
            sets.push(set);
        } else if at < needed {
            left += 1;
        }
    }
    sets.sort_by_key(Vec::len);
    Worth { sets, left }
}

/// What could be looked at.
struct Wanted {
    /// The most needed first.
    list: Vec<Asked>,
    /// So many of them, from the first, the circuits ask for themselves.
    needed: usize,
    /// So many different ones at most.
    most: usize,
}

fn wanted(machine: &Machine, ways: &Ways) -> Wanted {
    let schematic = machine.sim.schematic();
    let counts: Vec<usize> = schematic.controls.values().map(|info| info.settings.len().max(1)).collect();
    let product = counts.iter().try_fold(1usize, |product, &count| product.checked_mul(count)).unwrap_or(usize::MAX);
    if product <= ALL {
        let all = (0..product).map(|mut number| {
            let mut asked = Asked::new();
            for (control, &count) in counts.iter().enumerate() {
                asked.insert(control, number % count);
                number /= count;
            }
            asked
        });
        return Wanted { list: all.collect(), needed: product, most: ALL };
    }
    let own = circuits(machine, ways);
    let engine = schematic.controls.get_full(ENGINE);
    let idling = engine.and_then(|(id, _, info)| Some((id, info.settings.iter().position(|s| s == "idling")?)));
    let running = idling.map(|(engine, idling)| Asked::from([(engine, idling)]));
    // As much at once as does not contradict itself: it tells the most, so it comes before what may be left out.
    let busy = own.iter().fold(Asked::new(), |mut busy, one| {
        if agree(&busy, one) {
            busy.extend(one);
        }
        busy
    });
    let mut out: Vec<Asked> = vec![Asked::new()];
    out.extend(running.as_ref().and_then(|running| both(&busy, running)));
    out.push(busy);
    for (control, &count) in counts.iter().enumerate() {
        out.extend((1..count).map(|setting| Asked::from([(control, setting)])));
    }
    out.extend(own.iter().cloned());
    out.extend(held_back(machine, ways));
    if let Some(running) = &running {
        out.extend(own.iter().filter_map(|asked| both(asked, running)));
    }
    // A circuit with a switch of its own left at rest.
    let less = own.iter().flat_map(|one| {
        one.keys().map(|control| {
            let mut less = one.clone();
            less.remove(control);
            less
        })
    });
    out.extend(less);
    // What no circuit asks for (how warm, how full) and every single switch, beside each circuit. These grow with the
    // square of the machine, so that not all may be thought of.
    let singles = counts.iter().enumerate().filter(|(control, _)| Some(*control) != idling.map(|(engine, _)| engine));
    let singles: Vec<Asked> = singles
        .flat_map(|(control, &count)| (1..count).map(move |setting| Asked::from([(control, setting)])))
        .collect();
    let beside = own.iter().flat_map(|one| singles.iter().filter_map(|single| both(one, single)));
    let pairs = own.iter().enumerate().flat_map(|(at, one)| own[at + 1..].iter().filter_map(|other| both(one, other)));
    let (needed, different) = (out.len(), out.iter().collect::<BTreeSet<_>>().len());
    let most = different.max(ROOM / schematic.elements.len().max(1)).min(MOST);
    out.extend(beside.chain(pairs).take(8 * most));
    Wanted { list: out, needed, most }
}

/// What turns the starters, with every setting of the switches that may hold them back.
fn held_back(machine: &Machine, ways: &Ways) -> Vec<Asked> {
    let schematic = machine.sim.schematic();
    let rules = &machine.catalogue.review;
    let listed = |list: &str, part: &str| {
        let kind = machine.netlist.parts.get(part).and_then(|part| machine.catalogue.kind(&part.kind));
        kind.is_some_and(|kind| rules.lists(list, &kind.name))
    };
    let interlocks = schematic.controls.iter().enumerate().filter(|(_, (name, _))| listed("interlocks", name));
    let interlocks: Vec<(usize, usize)> =
        interlocks.map(|(id, (_, info))| (id, info.settings.len())).take(LOCKS).collect();
    let mut out = Vec::new();
    for part in machine.netlist.parts.keys().filter(|part| listed("starting", part)) {
        let elements = schematic.by_part.get(part).map_or(&[][..], Vec::as_slice);
        let loads = elements.iter().map(|&id| &schematic.elements[id]).filter(|element| is_load(&element.law));
        for way in loads.flat_map(|element| ways.between(element.a, element.b)).take(2) {
            let mut sets = vec![way];
            for &(control, count) in &interlocks {
                let each = |set: &Asked| {
                    let set = set.clone();
                    (0..count).map(move |setting| {
                        let mut set = set.clone();
                        set.insert(control, setting);
                        set
                    })
                };
                sets = sets.iter().flat_map(each).collect();
            }
            out.extend(sets);
        }
    }
    out
}

/// What the circuits of the machine ask for, one each: parts, and ends that lead to nothing yet.
fn circuits(machine: &Machine, ways: &Ways) -> Vec<Asked> {
    let schematic = machine.sim.schematic();
    let mut out: Vec<Asked> = Vec::new();
    let mut known: BTreeSet<Asked> = BTreeSet::new();
    let mut add = |asked: &Asked| {
        let away: Asked = asked.iter().filter(|(_, setting)| **setting != 0).map(|(c, s)| (*c, *s)).collect();
        if !away.is_empty() && known.insert(away.clone()) {
            out.push(away);
        }
    };
    for part in machine.netlist.parts.values() {
        let pins: Vec<Node> = part.pins.values().map(|pin| pin.index()).collect();
        if !part.fitted {
            pins.iter().filter_map(|&pin| ways.plus[pin].first()).for_each(&mut add);
            continue;
        }
        let elements = schematic.by_part.get(&part.name).map_or(&[][..], Vec::as_slice);
        let loads = elements.iter().map(|&id| &schematic.elements[id]).filter(|element| is_load(&element.law));
        let mut between: Vec<(Node, Node)> = loads.map(|element| (element.a, element.b)).collect();
        if !elements.is_empty() && elements.iter().all(|&id| !matches!(schematic.elements[id].law, Law::Contact { .. }))
        {
            for (at, &one) in pins.iter().enumerate() {
                between.extend(pins[at + 1..].iter().map(|&other| (one, other)));
            }
        }
        for (a, b) in between {
            ways.between(a, b).iter().take(2).for_each(&mut add);
        }
    }
    out
}
