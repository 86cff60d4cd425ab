//! What a DC meter that takes no current shows between any two nodes, for asking of many pairs.

use super::Sim;
use super::spec::{Field, Outcome};
use crate::circuit::schematic::Node;

/// Volts of one level of the circuit, which holds for a share of the time.
#[derive(Clone, Debug, PartialEq)]
struct Turn {
    share: f64,
    volts: Vec<f64>,
    island: Vec<u32>,
}

/// Volts of all nodes of a solution.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Display {
    turns: Vec<Turn>,
}

impl Display {
    /// Mean volts of a over b. 0 where no path joins them: nothing but the meter does then.
    pub fn volts(&self, a: Node, b: Node) -> f64 {
        self.turns
            .iter()
            .filter(|turn| turn.island[a] == turn.island[b])
            .map(|turn| turn.share * (turn.volts[a] - turn.volts[b]))
            .sum()
    }

    /// The greatest volts that a lies off b in any of the levels, without their sign.
    pub fn greatest(&self, a: Node, b: Node) -> f64 {
        let joined = self.turns.iter().filter(|turn| turn.island[a] == turn.island[b]);
        joined.map(|turn| (turn.volts[a] - turn.volts[b]).abs()).fold(0.0, f64::max)
    }

    /// Does a path join the two at least now and then?
    pub fn joined(&self, a: Node, b: Node) -> bool {
        self.turns.iter().any(|turn| turn.island[a] == turn.island[b])
    }
}

impl Sim {
    /// Mean volts of all nodes over the levels that the circuit takes turns in.
    pub fn display(&self, outcome: &Outcome) -> Display {
        let nodes = 0..self.schematic().nodes.len();
        let mut turns: Vec<Turn> = Vec::with_capacity(outcome.levels.len());
        for (index, level) in outcome.levels.iter().enumerate() {
            let base = self.base(outcome, index);
            let island: Vec<u32> = match &level.field {
                Field::Ports(injected) => nodes.clone().map(|node| injected.joined(base, node)).collect(),
                Field::Full(solved) => nodes.clone().map(|node| solved.islands[node]).collect(),
            };
            let volts = self.potentials(outcome, index);
            // Levels that join the same nodes are one as far as means go.
            match turns.iter_mut().find(|turn| turn.island == island) {
                Some(turn) => {
                    let share = turn.share + level.share;
                    for (sum, v) in turn.volts.iter_mut().zip(&volts) {
                        *sum = (turn.share * *sum + level.share * v) / share.max(1e-12);
                    }
                    turn.share = share;
                }
                None => turns.push(Turn { share: level.share, volts, island }),
            }
        }
        Display { turns }
    }
}
