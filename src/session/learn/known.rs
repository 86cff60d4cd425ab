//! What is known of one position, worked out afresh from all its touches.
//!
//! Joined is an equivalence: what beeps makes groups, and one silence between two groups parts all their wires. A beep
//! says that current passes from red to black, no more: it may be a diode. So a group counts as proved once each of
//! its wires passes to each other along beeps; one touch from the end of a chain back to its beginning does that.

use super::touch::{Heard, Seen, Touch};

/// What is known of one position.
#[derive(Clone, Debug)]
pub struct Known {
    n: usize,
    /// What a touch of one wire on red and one on black gave, or would give.
    pass: Vec<Option<bool>>,
    /// Ohms met that no contact has.
    load: Vec<Option<f64>>,
    /// How often it was looked at.
    looks: Vec<u32>,
    skipped: Vec<bool>,
    /// Beeps of several wires held together of which it is not known which wires it was.
    gangs: Vec<(Touch, u32)>,
    /// What is left of a gang's beep only if a link tried one way is no diode: to be touched by itself in the end.
    assumed: Vec<(usize, usize)>,
    group: Vec<usize>,
    /// What does not fit together and has been looked at twice: it comes and goes.
    pub loose: Vec<(usize, usize)>,
    /// What does not fit together and has to be looked at again.
    pub doubt: Option<Doubt>,
    /// Wires may be held together.
    pub ganging: bool,
    /// Touches made.
    pub made: usize,
}

/// Touches that contradict each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// To be made again.
    pub again: Touch,
    /// Silent between these,
    pub silent: (usize, usize),
    /// though these beep one after the other. Empty: a beep of wires held together was it.
    pub chain: Vec<usize>,
}

impl Known {
    /// What these touches tell of a position with so many wires.
    pub fn of(n: usize, seen: &[Seen]) -> Known {
        let mut known = Known {
            n,
            pass: vec![None; n * n],
            load: vec![None; n * n],
            looks: vec![0; n * n],
            skipped: vec![false; n * n],
            gangs: Vec::new(),
            assumed: Vec::new(),
            group: (0..n).collect(),
            loose: Vec::new(),
            doubt: None,
            ganging: true,
            made: made(seen),
        };
        for (at, one) in seen.iter().enumerate() {
            known.add(one, is_number(seen, at));
        }
        known.settle();
        known
    }

    fn add(&mut self, seen: &Seen, number: bool) {
        let single = seen.touch.one();
        if seen.heard == Heard::Skipped {
            match single {
                Some((red, black)) => self.skipped[red * self.n + black] = true,
                None => self.ganging = false,
            }
            return;
        }
        if let Some((red, black)) = single {
            let at = red * self.n + black;
            self.pass[at] = Some(seen.heard.is_contact());
            self.load[at] = seen.heard.load();
            self.looks[at] += u32::from(!number);
            return;
        }
        let count = self.gangs.iter().find(|(touch, _)| *touch == seen.touch).map_or(1, |(_, count)| count + 1);
        self.gangs.retain(|(touch, _)| *touch != seen.touch);
        if seen.heard.load().is_some() {
            // No contact, and which of them it is cannot be told so.
            self.ganging = false;
        } else if seen.heard == Heard::Silent {
            for (red, black) in seen.touch.pairs() {
                self.pass[red * self.n + black] = Some(false);
                self.looks[red * self.n + black] += 1;
            }
        } else {
            self.gangs.push((seen.touch.clone(), count));
        }
    }

    /// Draws every conclusion; what contradicts itself is a doubt, or loose if it was looked at twice.
    fn settle(&mut self) {
        loop {
            self.conclude();
            self.doubt = self.contradiction();
            match &self.doubt {
                Some(doubt) if self.settled(&doubt.again) => {
                    let (red, black) = doubt.silent;
                    if doubt.chain.is_empty() {
                        // The wires held together beeped and none of them does alone: nothing to go by.
                        self.gangs.retain(|(touch, _)| !touch.pairs().any(|pair| pair == (red, black)));
                    } else {
                        self.pass[red * self.n + black] = None;
                        self.skipped[red * self.n + black] = true;
                    }
                    self.loose.push((red, black));
                }
                _ => return,
            }
        }
    }

    /// Has this been looked at often enough?
    fn settled(&self, touch: &Touch) -> bool {
        match touch.one() {
            Some((red, black)) => self.looks[red * self.n + black] > 1 || self.was_skipped(red, black),
            None => !self.ganging || self.gangs.iter().any(|(gang, count)| gang == touch && *count > 1),
        }
    }

    fn conclude(&mut self) {
        loop {
            self.regroup();
            let only = self.gangs.iter().find_map(|(gang, _)| {
                let open = self.candidates(gang);
                (open.len() == 1 && !self.explained(gang)).then(|| (open[0], self.untold(gang).len() > 1))
            });
            let Some(((red, black), assumed)) = only else { return };
            self.pass[red * self.n + black] = Some(true);
            if assumed {
                self.assumed.push((red, black));
            }
        }
    }

    fn regroup(&mut self) {
        self.group = (0..self.n).collect();
        for a in 0..self.n {
            for b in 0..self.n {
                let (from, to) = (self.group[a], self.group[b]);
                if from != to && self.link(a, b) {
                    let least = from.min(to);
                    self.group.iter_mut().filter(|g| **g == from || **g == to).for_each(|g| *g = least);
                }
            }
        }
    }

    /// Does a beep stand between them, as far as is known a contact's?
    fn link(&self, a: usize, b: usize) -> bool {
        let way = |a, b| self.pass(a, b) == Some(true) && self.pass(b, a) != Some(false);
        way(a, b) || way(b, a)
    }

    /// Is one of a beeping gang's pairs known to be what it beeped through?
    fn explained(&self, gang: &Touch) -> bool {
        gang.pairs().any(|(red, black)| self.pass(red, black) == Some(true) || self.load(red, black).is_some())
    }

    /// Pairs of a beeping gang that may be it: first those that may be contacts.
    fn candidates(&self, gang: &Touch) -> Vec<(usize, usize)> {
        let open = self.untold(gang);
        let free: Vec<_> = open.iter().copied().filter(|&(a, b)| !self.are_apart(a, b)).collect();
        if free.is_empty() { open } else { free }
    }

    /// Pairs of a gang of which nothing is known by themselves.
    fn untold(&self, gang: &Touch) -> Vec<(usize, usize)> {
        gang.pairs().filter(|&(red, black)| self.pass(red, black).is_none() && !self.was_skipped(red, black)).collect()
    }

    /// The open pairs of the beeping gang that is nearest to being told.
    pub fn pending(&self) -> Option<Vec<(usize, usize)>> {
        let open = self.gangs.iter().filter(|(gang, _)| !self.explained(gang)).map(|(gang, _)| self.candidates(gang));
        open.filter(|open| !open.is_empty()).min_by_key(Vec::len)
    }

    fn contradiction(&self) -> Option<Doubt> {
        for (gang, _) in &self.gangs {
            if !self.explained(gang) && self.candidates(gang).is_empty() {
                let pairs: Vec<_> = gang.pairs().collect();
                let again = std::iter::once(gang.clone()).chain(pairs.iter().map(|&(a, b)| Touch::pair(a, b)));
                let again = again.into_iter().find(|touch| !self.settled(touch)).unwrap_or_else(|| gang.clone());
                return Some(Doubt { again, silent: pairs[0], chain: Vec::new() });
            }
        }
        for from in 0..self.n {
            let silent = |&to: &usize| to != from && self.pass(from, to) == Some(false) && self.are_joined(from, to);
            for to in (0..self.n).filter(silent) {
                if let Some(chain) = self.chain(from, to, |a, b| self.pass(a, b) == Some(true) && self.link(a, b)) {
                    let links = chain.windows(2).map(|link| Touch::pair(link[0], link[1]));
                    let again = std::iter::once(Touch::pair(from, to)).chain(links);
                    let first = Touch::pair(from, to);
                    let again = again.into_iter().find(|touch| !self.settled(touch)).unwrap_or(first);
                    return Some(Doubt { again, silent: (from, to), chain });
                }
            }
        }
        None
    }

    /// The shortest chain of steps from one wire to another.
    fn chain(&self, from: usize, to: usize, step: impl Fn(usize, usize) -> bool) -> Option<Vec<usize>> {
        let mut back: Vec<Option<usize>> = vec![None; self.n];
        let mut todo = std::collections::VecDeque::from([from]);
        back[from] = Some(from);
        while let Some(at) = todo.pop_front() {
            if at == to {
                let mut chain = vec![to];
                let mut last = to;
                while last != from {
                    last = back[last]?;
                    chain.push(last);
                }
                chain.reverse();
                return Some(chain);
            }
            for (next, back) in back.iter_mut().enumerate() {
                if back.is_none() && step(at, next) {
                    *back = Some(at);
                    todo.push_back(next);
                }
            }
        }
        None
    }

    /// What a touch of these two gave.
    pub fn pass(&self, red: usize, black: usize) -> Option<bool> {
        self.pass[red * self.n + black]
    }

    /// Ohms met from one to the other that no contact has.
    pub fn load(&self, red: usize, black: usize) -> Option<f64> {
        self.load[red * self.n + black]
    }

    /// How often this touch was made.
    pub fn looks(&self, red: usize, black: usize) -> u32 {
        self.looks[red * self.n + black]
    }

    /// Was this touch passed over?
    pub fn was_skipped(&self, red: usize, black: usize) -> bool {
        self.skipped[red * self.n + black]
    }

    /// How many wires.
    pub fn wires(&self) -> usize {
        self.n
    }

    /// The groups, each with its wires in order, in the order of their first wires.
    pub fn groups(&self) -> Vec<Vec<usize>> {
        let mut out: Vec<Vec<usize>> = Vec::new();
        for wire in 0..self.n {
            match out.iter_mut().find(|group| self.group[group[0]] == self.group[wire]) {
                Some(group) => group.push(wire),
                None => out.push(vec![wire]),
            }
        }
        out
    }

    /// Are these in one group?
    pub fn are_joined(&self, a: usize, b: usize) -> bool {
        self.group[a] == self.group[b]
    }

    /// Has a silence parted their groups?
    pub fn are_apart(&self, a: usize, b: usize) -> bool {
        self.group[a] != self.group[b] && self.between(a, b, |known, u, v| known.pass(u, v) == Some(false))
    }

    /// Is it not known of these groups, and may it still be asked?
    pub fn is_open(&self, a: usize, b: usize) -> bool {
        self.group[a] != self.group[b]
            && !self.between(a, b, |known, u, v| known.pass(u, v) == Some(false) || known.was_skipped(u, v))
    }

    /// Are their groups apart, and nothing between them that is known to pass?
    pub fn is_clear(&self, a: usize, b: usize) -> bool {
        self.are_apart(a, b)
            && !self.between(a, b, |known, u, v| known.pass(u, v) == Some(true) || known.load(u, v).is_some())
    }

    fn between(&self, a: usize, b: usize, test: impl Fn(&Known, usize, usize) -> bool) -> bool {
        let of = |wire: usize| (0..self.n).filter(move |&other| self.group[other] == self.group[wire]);
        of(a).any(|u| of(b).any(|v| test(self, u, v) || test(self, v, u)))
    }

    /// Wires of a group from which all others of it can be reached along beeps, or else that reach the most; and the
    /// wire at the other end: where a chain begins and where it ends.
    pub fn ends(&self, group: &[usize]) -> (usize, usize) {
        let reach = |from: usize, forward: bool| {
            let step = |a: usize, b: usize| {
                self.link(a, b) && if forward { self.pass(a, b) } else { self.pass(b, a) } == Some(true)
            };
            group.iter().filter(|&&to| self.chain(from, to, step).is_some()).count()
        };
        let best = |forward: bool, not: Option<usize>| {
            let free = group.iter().copied().filter(|&wire| group.len() == 1 || Some(wire) != not);
            free.rev().max_by_key(|&wire| reach(wire, forward)).unwrap_or(group[0])
        };
        let head = best(true, None);
        (head, best(false, Some(head)))
    }

    /// Does each wire of a group pass to each other?
    pub fn is_proved(&self, group: &[usize]) -> bool {
        let step = |a: usize, b: usize| self.link(a, b) && self.pass(a, b) == Some(true);
        group.iter().all(|&a| group.iter().all(|&b| self.chain(a, b, step).is_some()))
    }

    /// A link that nobody has touched by itself: it was what was left of wires held together. To be tried the other
    /// way, or as it is if something else could have beeped for it.
    pub fn untouched_link(&self, group: &[usize]) -> Option<(usize, usize)> {
        let unsure = |&&(a, b): &&(usize, usize)| group.contains(&a) && group.contains(&b) && self.looks(a, b) == 0;
        if let Some(&pair) = self.assumed.iter().find(unsure) {
            return Some(pair);
        }
        let mut all = group.iter().flat_map(|&a| group.iter().map(move |&b| (a, b)));
        all.find(|&(a, b)| {
            self.pass(a, b) == Some(true)
                && self.looks(a, b) == 0
                && self.pass(b, a).is_none()
                && !self.was_skipped(b, a)
        })
        .map(|(a, b)| (b, a))
    }

    /// A silence inside a group, where a link of it may be a diode: a link that was only tried one way, to be tried the other.
    pub fn suspect_link(&self, group: &[usize]) -> Option<(usize, usize)> {
        for &from in group {
            for &to in group.iter().filter(|&&to| to != from && self.pass(from, to) == Some(false)) {
                let chain = self.chain(from, to, |a, b| self.link(a, b))?;
                let open: Vec<(usize, usize)> = chain
                    .windows(2)
                    .map(|link| (link[0], link[1]))
                    .filter(|&(a, b)| self.pass(a, b).is_none() && !self.was_skipped(a, b))
                    .collect();
                if !open.is_empty() {
                    return Some(open[open.len() / 2]);
                }
            }
        }
        None
    }
}

/// Is this only the number of the beep before it, read from the same touch?
pub fn is_number(seen: &[Seen], at: usize) -> bool {
    let Some(before) = at.checked_sub(1).and_then(|before| seen.get(before)) else { return false };
    before.touch == seen[at].touch && before.heard == Heard::Beep && matches!(seen[at].heard, Heard::Ohms(_))
}

/// Touches: a number read from one that beeped is none of its own.
pub fn made(seen: &[Seen]) -> usize {
    (0..seen.len()).filter(|&at| !is_number(seen, at) && seen[at].heard != Heard::Skipped).count()
}
