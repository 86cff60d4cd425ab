//! Wiggling: where a fault comes and goes, its place is told by what stirs it.
//!
//! Nothing else tells while it is away. One part is watched in the complaint's settings while one thing is moved by
//! hand: a plug, a ground point, a fuse, a switch, the wires behind them; or, while it may be anywhere, all that there is
//! at a place.

use super::allowed::cranks;
use super::choose::{Board, Choice, digest, worth};
use super::columns::Columns;
use super::hands;
use super::minutes::minutes;
use super::score::{Scorer, Weight, undecided};
use crate::circuit::showing::Words;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::suspect::Suspect;
use crate::diagnosis::{kill, predict, presence};
use crate::netlist::Netlist;
use indexmap::IndexMap;
use std::rc::Rc;

/// From this much of the mass on that comes and goes it is worth wiggling.
const COMING: f64 = 0.2;
/// Things to wiggle, at most: those with most of the mass behind them.
const HANDLES: usize = 24;
/// Nothing is taken hold of that has less than this part of the mass behind it that the foremost has.
const OWN: f64 = 0.02;
/// The same thing is wiggled so often: what did not change the first time may the second.
const OFTEN: usize = 2;

/// The most telling thing to wiggle while a part is watched; nothing where little comes and goes.
pub fn stir(board: &mut Board, part: &str, set: &Settings) -> Option<Choice> {
    // Nobody is sent to move wires about an engine that turns, an ignition's among them.
    if kill::turns(set) {
        return None;
    }
    let all = board.presence;
    let presence_of = |point: u32| all.get(point as usize).copied().flatten();
    let coming = |point: u32| presence_of(point).map_or(0.0, |presence| presence.coming);
    let (live, classes) = digest(board);
    if live.iter().map(|l| l.weight.p * coming(l.point)).sum::<f64>() < COMING {
        return None;
    }
    let weights: Vec<Weight> = live.iter().map(|l| l.weight).collect();
    let state = predict::state(board.machine, set).ok()?;
    let Board { machine, suspects, runs, .. } = &mut *board;
    let suspect_of = |point: u32, runs: &crate::diagnosis::runs::Runs| runs.points[point as usize].suspect;
    let parts = machine.shown();
    let at = parts.iter().position(|name| name.eq_ignore_ascii_case(part))?;
    let healthy = runs.healthy(machine, state);
    let sound = predict::words(machine, state, &Default::default(), &healthy, part);
    let there: Vec<Words> =
        live.iter().map(|l| runs.words(machine, suspects, state, l.point, &parts)[at].clone()).collect();
    let mut handles: IndexMap<String, f64> = IndexMap::new();
    for l in &live {
        let suspect = suspect_of(l.point, runs);
        let suspect = &suspects.list[suspect];
        for handle in handle(&machine.netlist, suspect).into_iter().chain(places(&machine.netlist, suspect)) {
            *handles.entry(handle).or_default() += l.weight.p * coming(l.point);
        }
    }
    // (whatever lies near something else is stirred with it a little: no reason to take hold of it)
    let most = handles.values().copied().fold(0.0, f64::max);
    handles.retain(|_, own| *own >= OWN * most);
    handles.sort_by(|_, a, _, b| b.total_cmp(a));
    let order = predict::scale(machine, part).to_vec();
    let all = undecided(&weights, classes).max(1e-300);
    let mut scorer = Scorer::new(&weights, classes);
    let mut best: Option<Choice> = None;
    for (handle, _) in handles.into_iter().take(HANDLES) {
        let mut test = Test { part: Some(part.to_string()), ..Test::new(Instrument::Watch, set) };
        test.disturb = Some(("wiggle".into(), handle.clone()));
        let asked = |other: &&Test| other.part == test.part && other.disturb == test.disturb;
        let often = board.done.iter().filter(asked).count() >= OFTEN;
        if often || board.skipped.iter().any(|other| asked(&other)) {
            continue;
        }
        let controls = &board.machine.sim.schematic().controls;
        if cranks(&test) || !hands::can(&board.machine.netlist, controls, &test) {
            continue;
        }
        let shown: Vec<Rc<Vec<Words>>> = live
            .iter()
            .zip(&there)
            .map(|(l, there)| {
                let presence = presence_of(l.point);
                let suspect = suspect_of(l.point, board.runs);
                let changes =
                    coming(l.point) * presence::stirring(board.machine, board.suspects, suspect, "wiggle", &handle);
                // (what comes and goes is there now or not; everything else shows what it shows)
                let away = presence.is_some_and(|presence| !presence.there);
                let now = if away { coming(l.point) * (1.0 - 2.0 * changes) } else { 0.0 } + changes;
                Rc::new(vec![mixed(there, &sound, now.clamp(0.0, 1.0))])
            })
            .collect();
        let Some(choice) = told_by(board, test, &shown, &order, (&mut scorer, all)) else { continue };
        if best.as_ref().is_none_or(|best| worth(&choice) > worth(best)) {
            best = Some(choice);
        }
    }
    best
}

/// What a look or a touch is worth by the words that each point would show; `all`: what is undecided, nats.
pub(super) fn told_by(
    board: &Board,
    test: Test,
    shown: &[Rc<Vec<Words>>],
    order: &[String],
    (scorer, all): (&mut Scorer, f64),
) -> Option<Choice> {
    let mut columns = Columns::default();
    let column = columns.words(shown, 0, order)?;
    let gain = scorer.gain(&column, &columns.rows) / all;
    let minutes = minutes(&board.machine.netlist, &board.machine.catalogue.minutes, board.stand, &test);
    Some(Choice { test, minutes, gain })
}

/// Words of two, so much of the second.
fn mixed(one: &Words, other: &Words, share: f64) -> Words {
    let mut out: Words = one.iter().map(|(word, p)| (word.clone(), p * (1.0 - share))).collect();
    for (word, p) in other {
        match out.iter_mut().find(|(known, _)| known == word) {
            Some((_, sum)) => *sum += p * share,
            None => out.push((word.clone(), p * share)),
        }
    }
    out
}

/// The places at which a suspect's fault is.
fn places(netlist: &Netlist, suspect: &Suspect) -> Vec<String> {
    let site = suspect.members.first().and_then(|member| member.fault.singles.first()).map(|single| &single.site);
    let all = site.into_iter().flat_map(|site| site.split('~')).flat_map(|site| netlist.places_of(site));
    let mut out: Vec<String> = all.filter(|place| netlist.is_place(place)).cloned().collect();
    out.sort_unstable();
    out.dedup();
    out
}

/// What one takes hold of to move a suspect's place: its plug, ground point, part, or the part that its wire ends at.
pub(super) fn handle(netlist: &Netlist, suspect: &Suspect) -> Option<String> {
    let site = &suspect.members.first()?.fault.singles.first()?.site;
    let first = site.split('~').next().unwrap_or(site);
    let head = first.split('.').next().unwrap_or(first);
    let known = |name: &str| {
        netlist.plugs.contains_key(name) || netlist.grounds.contains_key(name) || netlist.parts.contains_key(name)
    };
    if known(head) {
        return Some(head.to_string());
    }
    // `P9a-4-new.b`: a wire into a plug's half; else the wire's own name.
    let plug = netlist.plugs.keys().find(|plug| {
        let rest = head.strip_prefix(plug.as_str()).unwrap_or("");
        rest.starts_with("a-") || rest.starts_with("b-")
    });
    let wire = netlist.wires.get(head);
    let ended = || {
        let wire = wire?;
        let end = &netlist.graph[if first.ends_with(".b") { wire.to } else { wire.from }].name;
        let owner = end.split('.').next().unwrap_or(end);
        known(owner).then(|| owner.to_string())
    };
    plug.cloned().or_else(ended).or_else(|| wire.is_some().then(|| head.to_string()))
}
