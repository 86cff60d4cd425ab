//! The best test per minute, computed on a digest of the suspects.

use super::minutes::Stand;
use super::score::{Weight, undecided};
use super::search::{Search, near};
use crate::circuit::schematic::Law;
use crate::circuit::test::{Settings, Test};
use crate::diagnosis::enumerate::Suspects;
use crate::diagnosis::kill;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::predict;
use crate::diagnosis::presence::Presence;
use crate::diagnosis::runs::Runs;
use indexmap::IndexMap;

/// Suspects' points that the choice looks at hold this share of the mass…
const DIGEST_MASS: f64 = 0.995;
/// …and are at most so many.
const DIGEST: usize = 100;
/// Where a second fault is looked for and so many hold less than this share, each suspect is one point, and there are more.
const FLAT: f64 = 0.8;
const DIGEST_FLAT: usize = 240;

/// A point is away just now from this chance on that it comes and goes.
const AWAY: f64 = 0.5;

/// A reading may bring forward any of so many points.
const AHEAD: usize = 3 * DIGEST;

/// A starter takes more than this, anything else less, A (60 to 120 A on small machines, from memory).
pub(super) const HEAVY: f64 = 25.0;

/// Everything the choice looks at.
pub struct Board<'a> {
    /// The machine (states are factored on the way).
    pub machine: &'a mut Machine,
    /// Its suspects.
    pub suspects: &'a Suspects,
    /// Outcomes so far.
    pub runs: &'a mut Runs,
    /// Probability of each severity point.
    pub p: &'a [f64],
    /// How each of them stands to what was read, if it may come and go.
    pub presence: &'a [Option<Presence>],
    /// Settings of the complaints, active ones first.
    pub complaints: &'a [Settings],
    /// Where the person stands.
    pub stand: &'a Stand,
    /// Tests not to be asked (again).
    pub done: &'a [Test],
    /// Placements and looks that the person could not do: not asked again in any state.
    pub skipped: &'a [Test],
    /// Settings in which something smoked: nobody is asked to bring them about again.
    pub burns: &'a [Settings],
}

/// A test with what it is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The test.
    pub test: Test,
    /// Minutes from where the person stands.
    pub minutes: f64,
    /// Expected information about repair classes, as a share of what is undecided; 0 for a look that is asked for whatever
    /// it tells of them.
    pub gain: f64,
}

/// What every question costs beside its minutes: reading it, doing it, typing the answer, min.
pub(super) const ATTENTION: f64 = 5.0;

/// Information a minute.
pub fn worth(choice: &Choice) -> f64 {
    choice.gain / (choice.minutes + ATTENTION)
}

/// A digest point. "Not in this file" reads here as the healthy machine: that it could read anything else as well
/// makes every reading look telling, and none is.
pub(super) struct Live {
    pub point: u32,
    /// What it reads as now: the sound machine's point while it is away, else its own.
    pub now: u32,
    pub weight: Weight,
}

pub(super) fn digest(board: &Board) -> (Vec<Live>, usize) {
    let mut order: Vec<(u32, f64)> = (0..).zip(board.p.iter().copied()).filter(|(_, p)| *p > 1e-7).collect();
    order.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut most = DIGEST;
    if board.runs.several() && order.iter().take(DIGEST).map(|(_, p)| p).sum::<f64>() < FLAT {
        (order, most) = (middles(board, &order), DIGEST_FLAT);
    }
    let mut classes: IndexMap<&str, u32> = IndexMap::new();
    let mut live = Vec::new();
    let mut mass = 0.0;
    for (point, p) in order {
        if mass >= DIGEST_MASS || live.len() >= most {
            break;
        }
        let suspect = &board.suspects.list[board.runs.points[point as usize].suspect];
        let next = classes.len() as u32;
        let class = *classes.entry(suspect.class.as_str()).or_insert(next);
        mass += p;
        let presence = board.presence.get(point as usize).copied().flatten();
        let away = presence.filter(|presence| presence.coming > AWAY && !presence.there);
        let now = away.map_or(point, |presence| presence.away);
        live.push(Live { point, now, weight: Weight { p, class } });
    }
    for l in &mut live {
        l.weight.p /= mass.max(1e-300);
    }
    (live, classes.len())
}

/// One point for each suspect that has any of these, with the chances of all of its points: the middle one of its severities
/// and of what may be wrong beside it.
fn middles(board: &Board, points: &[(u32, f64)]) -> Vec<(u32, f64)> {
    let mut of: IndexMap<usize, Vec<(u32, f64)>> = IndexMap::new();
    for &(point, p) in points {
        of.entry(board.runs.points[point as usize].suspect).or_default().push((point, p));
    }
    let middle = |mut points: Vec<(u32, f64)>| {
        points.sort_by_key(|(point, _)| *point);
        let all: f64 = points.iter().map(|(_, p)| p).sum();
        let mut left = all / 2.0;
        let at = points.iter().position(|(_, p)| {
            left -= p;
            left <= 0.0
        });
        (points[at.unwrap_or(points.len() - 1)].0, all)
    };
    let mut out: Vec<(u32, f64)> = of.into_values().map(middle).collect();
    out.sort_by(|a, b| b.1.total_cmp(&a.1));
    out
}

/// The tests most worth their minutes, best first; empty when no allowed test would tell anything.
pub fn choose(board: &mut Board, most: usize) -> Vec<Choice> {
    let (live, classes) = digest(board);
    if live.is_empty() || classes < 2 {
        return Vec::new();
    }
    let weights: Vec<Weight> = live.iter().map(|l| l.weight).collect();
    let all = undecided(&weights, classes).max(1e-300);
    let found = Search::new(board, &live, &weights, classes).best(most);
    found.into_iter().map(|choice| Choice { gain: choice.gain / all, ..choice }).collect()
}

/// Works out for the choice to come what the likeliest points do in the `done + 1`th of its states; false if that was
/// the last. Changes no choice.
pub fn look_ahead(board: &mut Board, done: usize) -> bool {
    let states = near(board);
    let Some(&(_, state)) = states.get(done) else { return false };
    let mut order: Vec<u32> = (0..board.p.len() as u32).filter(|&i| board.p[i as usize] > 0.0).collect();
    order.sort_by(|&a, &b| board.p[b as usize].total_cmp(&board.p[a as usize]));
    let wanted: Vec<_> = order.into_iter().take(AHEAD).map(|point| (state, point)).collect();
    let parts = board.machine.shown();
    board.runs.look_ahead(board.machine, board.suspects, &wanted, &parts);
    done + 1 < states.len()
}

/// Does a motor of more than [`HEAVY`] amps turn in this state of the healthy machine? Cranking is not proposed
/// unless the complaint itself is about it, but for a look while a second fault is looked for.
pub(super) fn heavy(board: &mut Board, set: &Settings) -> bool {
    let Ok(state) = predict::state(board.machine, set) else { return false };
    let healthy = board.runs.healthy(board.machine, state);
    let sim = &board.machine.sim;
    sim.schematic().elements.iter().enumerate().any(|(id, element)| {
        matches!(element.law, Law::Motor { amps, .. } if amps > HEAVY)
            && (0..healthy.levels.len()).any(|level| sim.element_amps(&healthy, level, id).abs() > HEAVY)
    })
}

/// Which of these settings ask for an engine that runs with its kill terminal grounded.
pub(super) fn stalled(board: &mut Board, sets: &[Settings]) -> Vec<bool> {
    let mut ohms: Vec<Vec<f64>> = Vec::with_capacity(sets.len());
    for set in sets {
        ohms.push(match predict::state(board.machine, set) {
            Ok(state) => kill::ohms(board.machine, &board.runs.healthy(board.machine, state)),
            Err(_) => Vec::new(),
        });
    }
    kill::stalled(sets.iter().zip(ohms.iter().map(Vec::as_slice)))
}
