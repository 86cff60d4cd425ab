//! Switches that there could be, all invented, and what a beeper says on them.

use ohmward::session::learn::{Heard, Touch};

/// A small generator of numbers, so that every run is the same.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x2545_f491_4f6c_dd1d)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 11
    }

    /// 0 to n - 1.
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }

    pub fn chance(&mut self, p: f64) -> bool {
        (self.next() as f64 / (1u64 << 53) as f64) < p
    }
}

/// A switch as it is.
#[derive(Clone, Debug, Default)]
pub struct Switch {
    pub wires: usize,
    /// Name, groups of joined wires (two or more in each).
    pub positions: Vec<(String, Vec<Vec<usize>>)>,
    /// From, to: whatever the position.
    pub diodes: Vec<(usize, usize)>,
    pub loads: Vec<(usize, usize, f64)>,
}

impl Switch {
    /// Which group each wire is in.
    pub fn group(&self, position: usize) -> Vec<usize> {
        let mut of: Vec<usize> = (0..self.wires).collect();
        for group in &self.positions[position].1 {
            let least = group.iter().map(|&w| of[w]).min().unwrap_or(0);
            for &wire in group {
                let was = of[wire];
                of.iter_mut().filter(|g| **g == was).for_each(|g| *g = least);
            }
        }
        of
    }

    /// What the meter says; a number where something else than a contact is met.
    pub fn hear(&self, position: usize, touch: &Touch) -> Heard {
        let mut of = self.group(position);
        for side in [&touch.red, &touch.black] {
            let held: Vec<usize> = side.iter().map(|&w| of[w]).collect();
            let to = of[side[0]];
            of.iter_mut().filter(|g| held.contains(g)).for_each(|g| *g = to);
        }
        let (red, black) = (of[touch.red[0]], of[touch.black[0]]);
        let mut reached = vec![red];
        let mut at = 0;
        while at < reached.len() {
            let here = reached[at];
            for &(from, to) in &self.diodes {
                if of[from] == here && !reached.contains(&of[to]) {
                    reached.push(of[to]);
                }
            }
            at += 1;
        }
        if reached.contains(&black) {
            return Heard::Beep;
        }
        match self.ohms(&of, red, black) {
            Some(ohms) => Heard::Ohms(ohms),
            None => Heard::Silent,
        }
    }

    /// Ohms through the loads: node volts with 1 A into red, black at 0 V, by elimination.
    fn ohms(&self, of: &[usize], red: usize, black: usize) -> Option<f64> {
        let n = self.wires;
        let mut a = vec![vec![0.0; n + 1]; n];
        for (i, row) in a.iter_mut().enumerate() {
            row[i] = 1e-12;
        }
        for &(u, v, ohms) in &self.loads {
            let (u, v) = (of[u], of[v]);
            if u != v {
                a[u][u] += 1.0 / ohms;
                a[v][v] += 1.0 / ohms;
                a[u][v] -= 1.0 / ohms;
                a[v][u] -= 1.0 / ohms;
            }
        }
        a[red][n] = 1.0;
        a[black][black] += 1e9;
        for i in 0..n {
            let pivot = a[i].clone();
            for row in a.iter_mut().skip(i + 1) {
                let f = row[i] / pivot[i];
                row.iter_mut().zip(&pivot).for_each(|(x, p)| *x -= f * p);
            }
        }
        let mut volts = vec![0.0; n];
        for i in (0..n).rev() {
            let sum: f64 = (i + 1..n).map(|j| a[i][j] * volts[j]).sum();
            volts[i] = (a[i][n] - sum) / a[i][i];
        }
        (volts[red] < 1e6).then_some(volts[red])
    }
}

fn position(name: &str, groups: &[&[usize]]) -> (String, Vec<Vec<usize>>) {
    (name.to_owned(), groups.iter().map(|group| group.to_vec()).collect())
}

/// A switch of a usual make.
pub fn usual(dice: &mut Dice) -> Switch {
    let mut switch = match dice.below(6) {
        0 => key(dice),
        1 => Switch {
            wires: 3,
            positions: if dice.chance(0.5) {
                vec![position("off", &[]), position("on", &[&[0, 1, 2][..2 + dice.below(2)]])]
            } else {
                vec![position("off", &[]), position("low", &[&[0, 1]]), position("high", &[&[0, 2]])]
            },
            ..Switch::default()
        },
        2 => cluster(dice),
        3 => poles(dice),
        4 => Switch {
            wires: 4 + dice.below(2),
            positions: vec![position("off", &[&[0, 1]]), position("run", &[]), position("start", &[&[2, 3]])],
            ..Switch::default()
        },
        _ => rotary(dice),
    };
    if switch.wires == 5 && switch.positions[1].0 == "run" {
        switch.positions[1].1 = vec![vec![2, 4]];
        switch.positions[2].1 = vec![vec![2, 3, 4]];
    }
    shuffle(&mut switch, dice);
    switch
}

/// Feed, accessories, ignition, start, park, lights.
fn key(dice: &mut Dice) -> Switch {
    let wires = 3 + dice.below(4);
    let mut positions = vec![position("off", &[])];
    if wires > 4 && dice.chance(0.5) {
        positions.push(position("park", &[&[0, 4]]));
    }
    let on: Vec<usize> = (0..wires).filter(|&w| w != 3).collect();
    positions.push(("on".into(), vec![on]));
    if wires > 3 {
        positions.push(position("start", &[if dice.chance(0.5) { &[0, 1, 3] } else { &[0, 1, 2, 3] }]));
    }
    Switch { wires, positions, ..Switch::default() }
}

/// Turn signals with a horn push, a dip switch or both in one housing.
fn cluster(dice: &mut Dice) -> Switch {
    let mut switch = Switch { wires: 3, ..Switch::default() };
    switch.positions = vec![position("off", &[]), position("left", &[&[0, 1]]), position("right", &[&[0, 2]])];
    if dice.chance(0.6) {
        switch.positions.push(("horn".into(), vec![vec![switch.wires, switch.wires + 1]]));
        switch.wires += 2;
    }
    if dice.chance(0.5) {
        let dip = switch.wires;
        switch.wires += 3;
        for (_, groups) in &mut switch.positions {
            groups.push(vec![dip, dip + 1]);
        }
        switch.positions.push(("high".into(), vec![vec![dip, dip + 2]]));
    }
    switch
}

/// One to three poles that change over, or only make.
fn poles(dice: &mut Dice) -> Switch {
    let count = 1 + dice.below(3);
    let three = dice.chance(0.6);
    let per = if three { 3 } else { 2 };
    let of = |at: usize| (0..count).map(|pole| vec![pole * per, pole * per + at]).collect::<Vec<_>>();
    let rest = if three { of(2) } else { Vec::new() };
    Switch {
        wires: count * per,
        positions: vec![("released".into(), rest), ("pressed".into(), of(1))],
        ..Switch::default()
    }
}

/// One wire to one of several others.
fn rotary(dice: &mut Dice) -> Switch {
    let ways = 2 + dice.below(4);
    let mut positions = vec![position("off", &[])];
    let adds = dice.chance(0.3);
    for way in 1..=ways {
        let group = if adds { (0..=way).collect() } else { vec![0, way] };
        positions.push((way.to_string(), vec![group]));
    }
    Switch { wires: ways + 1, positions, ..Switch::default() }
}

/// Any groups in one to four positions, now and then with diodes and loads: no maker's, but possible.
pub fn any(dice: &mut Dice, wires: usize) -> Switch {
    let positions = (0..1 + dice.below(4))
        .map(|at| {
            let kinds = 1 + dice.below(wires);
            let mut groups: Vec<Vec<usize>> = vec![Vec::new(); kinds];
            (0..wires).for_each(|wire| groups[dice.below(kinds)].push(wire));
            groups.retain(|group| group.len() > 1);
            (format!("p{at}"), groups)
        })
        .collect();
    Switch { wires, positions, ..Switch::default() }
}

/// The wires in another order: nothing may hang on it.
fn shuffle(switch: &mut Switch, dice: &mut Dice) {
    let mut order: Vec<usize> = (0..switch.wires).collect();
    for i in (1..order.len()).rev() {
        order.swap(i, dice.below(i + 1));
    }
    for (_, groups) in &mut switch.positions {
        groups.iter_mut().flatten().for_each(|wire| *wire = order[*wire]);
    }
}
