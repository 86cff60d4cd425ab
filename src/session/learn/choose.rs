//! The next touch: the one whose answer is expected to tell most.
//!
//! A beep or a silence tells at most one bit, and that where both are as likely. So likely pairs come first (a pair
//! found spares all the touches of one of its wires), and where clips are at hand several wires of which each is
//! unlikely are held together on a lead. Such a touch never costs more than its pairs one by one: all of them are
//! unknown, a silence settles them at once, and after a beep halving finds the pair in as many touches as there are
//! wires in it, less one, at most.

use super::gang::{Ground, Sides};
use super::known::{Doubt, Known};
use super::prior::Past;
use super::touch::Touch;

/// Why a touch is asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// To find what is joined.
    Find,
    /// Wires held together beep: which of them?
    Which,
    /// The leads the other way round: does the whole group pass both ways?
    Swap,
    /// A group does not pass both ways: is it this link?
    Link,
    /// A number was met: is it the same the other way round?
    Number,
    /// Two answers contradict each other.
    Again(Doubt),
}

/// What hands and bench can do.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Means {
    /// Clips to hold wires together.
    pub clips: usize,
    /// Nothing but contacts is in it: beeps need not be tried both ways.
    pub contacts_only: bool,
}

/// A touch and why.
pub type Next = (Touch, Why);

/// The next touch of a position; nothing if it is settled. `heard` counts silences of other positions from red to black.
pub fn next(known: &Known, past: &Past, means: Means, heard: &dyn Fn(usize, usize) -> u32) -> Option<Next> {
    if let Some(doubt) = &known.doubt {
        return Some((doubt.again.clone(), Why::Again(doubt.clone())));
    }
    if let Some(open) = known.pending() {
        return Some((split(known, past, &open), Why::Which));
    }
    let groups = known.groups();
    if let Some((red, black)) = groups.iter().find_map(|group| known.suspect_link(group)) {
        return Some((Touch::pair(red, black), Why::Link));
    }
    if let Some((red, black)) = number(known).filter(|_| !means.contacts_only) {
        return Some((Touch::pair(red, black), Why::Number));
    }
    if let Some(touch) = find(known, past, means, &groups, heard) {
        return Some((touch, Why::Find));
    }
    if let Some((red, black)) =
        groups.iter().find_map(|group| known.untouched_link(group)).filter(|_| !means.contacts_only)
    {
        return Some((Touch::pair(red, black), Why::Swap));
    }
    let unproved = groups.iter().filter(|group| group.len() > 1 && !means.contacts_only && !known.is_proved(group));
    let back = unproved.map(|group| known.ends(group)).find(|&(head, tail)| !known.was_skipped(tail, head));
    back.map(|(head, tail)| (Touch::pair(tail, head), Why::Swap))
}

/// Touches that are left at most, if nothing contradicts itself.
pub fn most_left(known: &Known, means: Means) -> usize {
    let groups = known.groups();
    let firsts: Vec<usize> = groups.iter().map(|group| group[0]).collect();
    let open = pairs(&firsts).filter(|&(a, b)| known.is_open(a, b)).count();
    let joins = groups.iter().filter(|group| group.len() > 1 && !known.is_proved(group)).count();
    open + if means.contacts_only { 0 } else { joins }
}

/// Each two of a list.
fn pairs(list: &[usize]) -> impl Iterator<Item = (usize, usize)> + '_ {
    list.iter().enumerate().flat_map(|(i, &a)| list[i + 1..].iter().map(move |&b| (a, b)))
}

/// A number of ohms that was met one way only.
fn number(known: &Known) -> Option<(usize, usize)> {
    let n = known.wires();
    let mut all = (0..n).flat_map(|red| (0..n).map(move |black| (red, black)));
    all.find(|&(red, black)| {
        known.load(red, black).is_some() && known.pass(black, red).is_none() && !known.was_skipped(black, red)
    })
    .map(|(red, black)| (black, red))
}

/// Half of the wires of which one beeps with the others: by their chances.
fn split(known: &Known, past: &Past, open: &[(usize, usize)]) -> Touch {
    let chance = |&(a, b): &(usize, usize)| past.chance(known.wires(), &[a], &[b]);
    let side = |of: &dyn Fn(&(usize, usize)) -> usize| {
        let mut wires: Vec<usize> = open.iter().map(of).collect();
        wires.sort_unstable();
        wires.dedup();
        wires
    };
    let (reds, blacks) = (side(&|pair| pair.0), side(&|pair| pair.1));
    if !known.ganging {
        let best = open.iter().max_by(|a, b| chance(a).total_cmp(&chance(b))).copied().unwrap_or_default();
        return Touch::pair(best.0, best.1);
    }
    let half = |wires: &[usize], of: &dyn Fn(&(usize, usize)) -> usize| {
        let mut mass: Vec<(f64, usize)> =
            wires.iter().map(|&w| (open.iter().filter(|pair| of(pair) == w).map(chance).sum(), w)).collect();
        mass.sort_by(|a, b| b.0.total_cmp(&a.0));
        let total: f64 = mass.iter().map(|(m, _)| m).sum();
        let mut taken = Vec::new();
        let mut sum = 0.0;
        for (m, wire) in mass {
            if !taken.is_empty() && (taken.len() >= wires.len() / 2 || sum + m / 2.0 > total / 2.0) {
                break;
            }
            sum += m;
            taken.push(wire);
        }
        taken
    };
    if blacks.len() >= reds.len() {
        Touch { red: reds, black: half(&blacks, &|pair| pair.1) }
    } else {
        Touch { red: half(&reds, &|pair| pair.0), black: blacks }
    }
}

/// The touch that tells most of what is joined.
fn find(
    known: &Known,
    past: &Past,
    means: Means,
    groups: &[Vec<usize>],
    heard: &dyn Fn(usize, usize) -> u32,
) -> Option<Touch> {
    let k = groups.len();
    let n = known.wires();
    let mut chance = vec![0.0; k * k];
    let mut open = vec![false; k * k];
    for i in 0..k {
        for j in 0..k {
            if i != j && known.is_open(groups[i][0], groups[j][0]) {
                open[i * k + j] = true;
                chance[i * k + j] = past.chance(n, &groups[i], &groups[j]);
            }
        }
    }
    // Where two are as likely: the one that, if it beeps, spares more.
    let spared = |i: usize, j: usize| (0..k).filter(|&c| open[i * k + c] || open[j * k + c]).count() as f64;
    let worth = |i: usize, j: usize| chance[i * k + j] * (1.0 + 0.01 * spared(i, j));
    let all = (0..k).flat_map(|i| (i + 1..k).map(move |j| (i, j))).filter(|&(i, j)| open[i * k + j]);
    let (i, j) = all.rev().max_by(|a, b| worth(a.0, a.1).total_cmp(&worth(b.0, b.1)))?;
    let mut best = (vec![i], vec![j]);
    if means.clips > 1 && known.ganging {
        let pairs = open.iter().filter(|open| **open).count() / 2;
        let ground = Ground {
            k,
            chance: &chance,
            open: &open,
            clear: (0..k * k).map(|at| known.is_clear(groups[at / k][0], groups[at % k][0])).collect(),
            clips: means.clips,
            slack: (n * (n - 1) / 2).saturating_sub(known.made + pairs),
        };
        best = ground.gang(best);
    }
    Some(placed(known, groups, &best, heard))
}

/// Which wire of each group, and which group on red: so that chains grow at their ends, and what was silent in another
/// position is now tried the other way round.
fn placed(known: &Known, groups: &[Vec<usize>], (a, b): &Sides, heard: &dyn Fn(usize, usize) -> u32) -> Touch {
    let tails = |list: &[usize]| list.iter().map(|&g| known.ends(&groups[g]).1).collect::<Vec<usize>>();
    let heads = |list: &[usize]| list.iter().map(|&g| known.ends(&groups[g]).0).collect::<Vec<usize>>();
    let one = Touch { red: tails(a), black: heads(b) };
    let other = Touch { red: tails(b), black: heads(a) };
    let silences = |touch: &Touch| touch.pairs().map(|(red, black)| heard(red, black)).sum::<u32>();
    if silences(&other) < silences(&one) { other } else { one }
}
