//! Beside the fewest touches that there can be: the exact optimum by dynamic programming, and the entropy bound.

use super::switches::{Dice, Switch, usual};
use super::{begin, drive, honest};
use std::collections::HashMap;

/// Every way to part n wires into groups, each as the group of every wire.
fn partitions(n: usize) -> Vec<Vec<usize>> {
    let mut out = vec![vec![0]];
    for _ in 1..n {
        let longer = |part: Vec<usize>| {
            let next = part.iter().max().map_or(0, |most| most + 1);
            (0..=next).map(move |group| part.iter().copied().chain([group]).collect::<Vec<usize>>())
        };
        out = out.into_iter().flat_map(longer).collect();
    }
    out
}

/// Mean touches of the best plan, if `set` of the partitions are possible still.
struct Best<'a> {
    partitions: &'a [Vec<usize>],
    chance: &'a [f64],
    known: HashMap<u64, f64>,
}

impl Best<'_> {
    fn of(&mut self, set: u64) -> f64 {
        if set.count_ones() < 2 {
            return 0.0;
        }
        if let Some(&known) = self.known.get(&set) {
            return known;
        }
        let n = self.partitions[0].len();
        let mass = |set: u64| (0..self.chance.len()).filter(|i| set >> i & 1 == 1).map(|i| self.chance[i]).sum::<f64>();
        let all = mass(set);
        let mut best = f64::INFINITY;
        for (a, b) in (0..n).flat_map(|a| (0..a).map(move |b| (a, b))) {
            let beeps = |i: &usize| set >> i & 1 == 1 && self.partitions[*i][a] == self.partitions[*i][b];
            let yes = (0..self.partitions.len()).filter(beeps).fold(0, |set, i| set | 1u64 << i);
            let no = set & !yes;
            if yes == 0 || no == 0 {
                continue;
            }
            let p = mass(yes) / all;
            let part = |p: f64, set: u64, best: &mut Self| if p > 0.0 { p * best.of(set) } else { 0.0 };
            let value = 1.0 + if all > 0.0 { part(p, yes, self) + part(1.0 - p, no, self) } else { 0.0 };
            best = best.min(value);
        }
        self.known.insert(set, best);
        best
    }
}

fn switch_of(partition: &[usize]) -> Switch {
    let n = partition.len();
    let group = |g: usize| (0..n).filter(|&wire| partition[wire] == g).collect::<Vec<usize>>();
    let groups = (0..n).map(group).filter(|group| group.len() > 1).collect();
    Switch { wires: n, positions: vec![("x".into(), groups)], ..Switch::default() }
}

/// How often each partition comes up in positions that switch something on.
fn chances(n: usize, partitions: &[Vec<usize>]) -> Vec<f64> {
    let mut dice = Dice::new(11);
    let mut counts = vec![0.0; partitions.len()];
    let mut total = 0.0;
    while total < 4000.0 {
        let switch = usual(&mut dice);
        for at in (0..switch.positions.len()).filter(|_| switch.wires == n) {
            if !["off", "released"].contains(&switch.positions[at].0.as_str()) {
                let of = switch.group(at);
                let mut firsts: Vec<usize> = Vec::new();
                let mut plain = Vec::new();
                for group in of {
                    let known = firsts.iter().position(|&first| first == group);
                    plain.push(known.unwrap_or(firsts.len()));
                    if known.is_none() {
                        firsts.push(group);
                    }
                }
                counts[partitions.iter().position(|p| *p == plain).unwrap()] += 1.0;
                total += 1.0;
            }
        }
    }
    counts.iter().map(|count| count / total).collect()
}

#[test]
fn within_a_tenth_of_the_best_plan_there_is() {
    for n in 2..=5 {
        let partitions = partitions(n);
        // Bell's numbers: OEIS A000110.
        assert_eq!(partitions.len(), [1, 1, 2, 5, 15, 52][n]);
        let chance = chances(n, &partitions);
        let mut best = Best { partitions: &partitions, chance: &chance, known: HashMap::new() };
        let best = best.of((1u64 << partitions.len()) - 1);
        let mean: f64 = partitions
            .iter()
            .zip(&chance)
            .filter(|(_, p)| **p > 0.0)
            .map(|(partition, p)| {
                let switch = switch_of(partition);
                let mut learn = begin(&switch, 0, true);
                drive(&mut learn, |ask| honest(&switch, ask));
                p * learn.touches() as f64
            })
            .sum();
        let entropy: f64 = chance.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2()).sum();
        let all = (n * (n - 1) / 2) as f64;
        assert!(entropy <= best + 1e-9 && best <= mean + 1e-9 && mean <= all, "{n}: {entropy} {best} {mean}");
        assert!(mean <= best * 1.1, "{n} wires: {mean} touches where {best} would do");
    }
}

/// With enough clips, q wires none of which is joined are proved so in ceil(log2 q) touches: W. H. Kautz, Testing for
/// Faults in Wiring Networks, IEEE Trans. Computers C-23 (1974), 358-363 (cited from memory). Greedy
/// choice may take more, but far fewer than pairs.
#[test]
fn clips_spare_most_of_the_silences() {
    for (q, clips, most) in [(8, 8, 4), (16, 16, 6), (8, 2, 16)] {
        let mut switch = switch_of(&(0..q).collect::<Vec<usize>>());
        switch.positions[0].0 = "off".into();
        let mut learn = begin(&switch, clips, true);
        drive(&mut learn, |ask| honest(&switch, ask));
        let least = (q as f64).log2().ceil() as usize;
        assert!((least..=most).contains(&learn.touches()), "{q} wires, {clips} clips: {}", learn.touches());
    }
}
