//! Which faults are planted in a drill.

use crate::circuit::fault::Fault;
use crate::circuit::injury::injure;
use crate::diagnosis::enumerate::{Suspects, enumerate};
use crate::diagnosis::machine::Machine;
use crate::diagnosis::presence::may_come_and_go;
use crate::diagnosis::visible::{Watcher, states};
use crate::pace::Work;

/// Draws tried for each fault wanted, at most.
const TRIES: usize = 200;

/// A fault to be planted.
#[derive(Clone, Debug)]
pub struct Planted {
    /// The fault.
    pub fault: Fault,
    /// Drawn by how likely it is, and alone.
    pub by_weight: bool,
}

/// P(a planted fault that comes and goes is there).
const DUTY: f64 = 0.5;

/// What can be planted: every fault looked for that shows, at its default severity, with its weight.
pub struct Pool {
    faults: Vec<Plant>,
}

struct Plant {
    fault: Fault,
    weight: f64,
    /// A fault of its kind may come and go.
    loose: bool,
}

impl Pool {
    /// All that shows on this machine, in a state that a person comes to.
    pub fn new(machine: &mut Machine) -> Pool {
        let suspects: Suspects = enumerate(machine, true);
        let near = states(machine);
        let watcher = Watcher::new(machine, near);
        let mut faults = Vec::new();
        machine.pace.begin(Work::Suspects, suspects.list.len());
        for (at, suspect) in suspects.list.iter().enumerate().filter(|(_, suspect)| !suspect.special()) {
            machine.pace.step();
            for member in &suspect.members {
                let Ok(injury) = injure(machine.sim.schematic(), &machine.netlist, &machine.catalogue, &member.fault)
                else {
                    continue;
                };
                if watcher.seen(machine, &injury) {
                    faults.push(Plant {
                        fault: member.fault.clone(),
                        weight: suspect.prior * member.share,
                        loose: may_come_and_go(&suspects, at),
                    });
                }
            }
        }
        Pool { faults }
    }

    /// Every one of them, in the order of the list.
    pub fn all(&self) -> Vec<Planted> {
        self.faults.iter().map(|plant| Planted { fault: plant.fault.clone(), by_weight: false }).collect()
    }

    /// So many: half drawn by how likely they are, half evenly over site and mode.
    pub fn draw(&self, count: usize, seed: u64) -> Vec<Planted> {
        if self.faults.is_empty() {
            return Vec::new();
        }
        let mut rng = fastrand::Rng::with_seed(seed);
        let total = self.total();
        (0..count)
            .map(|at| {
                let by_weight = at % 2 == 0;
                let index = if by_weight { self.by_weight(rng.f64() * total) } else { rng.usize(..self.faults.len()) };
                Planted { fault: self.faults[index].fault.clone(), by_weight }
            })
            .collect()
    }

    /// So many pairs of faults at two sites, both drawn by how likely they are.
    pub fn pairs(&self, count: usize, seed: u64) -> Vec<Planted> {
        let mut rng = fastrand::Rng::with_seed(seed);
        let total = self.total();
        let mut out = Vec::new();
        for _ in 0..count * TRIES {
            if out.len() == count || self.faults.len() < 2 {
                break;
            }
            let [one, other] = [(); 2].map(|()| self.by_weight(rng.f64() * total));
            let (one, other) = (&self.faults[one].fault, &self.faults[other].fault);
            if one.singles[0].site != other.singles[0].site {
                let fault = Fault { singles: one.singles.iter().chain(&other.singles).cloned().collect() };
                out.push(Planted { fault, by_weight: false });
            }
        }
        out
    }

    /// So many that come and go, drawn by how likely they are.
    pub fn loose(&self, count: usize, seed: u64) -> Vec<Planted> {
        let mut rng = fastrand::Rng::with_seed(seed);
        let total = self.total();
        let draws = std::iter::repeat_with(|| &self.faults[self.by_weight(rng.f64() * total)]);
        let tries = if self.faults.is_empty() { 0 } else { count * TRIES };
        let loose = draws.take(tries).filter(|plant| plant.loose).take(count);
        loose
            .map(|plant| {
                let mut fault = plant.fault.clone();
                fault.singles.iter_mut().for_each(|single| single.intermittent = Some(DUTY));
                Planted { fault, by_weight: false }
            })
            .collect()
    }

    fn total(&self) -> f64 {
        self.faults.iter().map(|plant| plant.weight).sum()
    }

    fn by_weight(&self, mut left: f64) -> usize {
        let at = self.faults.iter().position(|plant| {
            left -= plant.weight;
            left < 0.0
        });
        at.unwrap_or(self.faults.len() - 1)
    }
}
