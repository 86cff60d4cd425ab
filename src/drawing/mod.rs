//! Drawings of the machine: height on the page is volts, feed at the top, ground as a bar at the foot.
//!
//! - [`state`]: which state is drawn, solved; [`circuits`]: which elements belong together
//! - [`scene`]: hubs that hold volts, and what lies between them
//! - [`order`]: left and right; [`levels`]: heights; [`place`]: where everything stands
//! - [`labels`], [`symbols`], [`plugs`]: words and shapes; [`paint`]: all of it as shapes; [`svg`]: shapes as text
//! - [`charts`]: plugs for the tool box; [`path`]: one circuit from feed to ground, for a terminal
//!
//! A hub is a level bar, what lies between two hubs stands upright in a column of its own between their heights: a
//! visibility representation (Tamassia and Tollis, 1986) with volts as the numbers that it wants.

pub mod charts;
pub mod circuits;
pub mod labels;
pub mod levels;
pub mod measure;
pub mod order;
pub mod page;
pub mod paint;
pub mod path;
pub mod place;
pub mod plugs;
pub mod scene;
pub mod shape;
pub mod state;
pub mod svg;
pub mod symbols;

use crate::catalogue::DrawRules;
use crate::circuit::lower::SEAT;
use crate::circuit::schematic::{ElementId, Node};
use crate::diagnosis::machine::Machine;
use indexmap::IndexMap;
use plugs::Rows;
use scene::Scene;
use state::Solved;

/// What a chase adds to a drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Marks {
    /// Suspects, the likeliest first.
    pub suspects: Vec<Suspected>,
    /// What was met, by the node that red was on: words to write there.
    pub met: IndexMap<Node, Vec<String>>,
}

/// A suspect on a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspected {
    /// What it is, for people.
    pub title: String,
    /// Its chance.
    pub p: f64,
    /// Elements that it sits in.
    pub elements: Vec<ElementId>,
}

/// One group of circuits on its way to the page.
pub struct Picture<'a> {
    /// The machine.
    pub machine: &'a Machine,
    /// It, solved.
    pub solved: &'a Solved,
    /// What is drawn.
    pub scene: Scene,
    /// Other groups that a node is drawn in too, by their numbers.
    pub others: IndexMap<Node, Vec<usize>>,
    /// What a chase adds.
    pub marks: &'a Marks,
    /// Rows of plugs.
    pub rows: &'a Rows,
}

impl Picture<'_> {
    /// How a drawing looks.
    pub fn rules(&self) -> &DrawRules {
        &self.machine.catalogue.draw
    }

    /// Is the element only the seat of a fault in series with another?
    pub fn is_seat(&self, id: ElementId) -> bool {
        self.machine.sim.schematic().elements[id].name.ends_with(SEAT)
    }

    /// `also in 2, 3`, or nothing.
    pub fn elsewhere(&self, node: Node) -> String {
        let Some(groups) = self.others.get(&node) else { return String::new() };
        let bands = groups.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        self.rules().word("goes-on").replace("{bands}", &bands)
    }

    /// Ranks and chances of the suspects that sit in any of these elements.
    pub fn suspects_in(&self, elements: &[ElementId]) -> Vec<(usize, f64)> {
        let list = self.marks.suspects.iter().enumerate();
        list.filter(|(_, suspect)| suspect.elements.iter().any(|id| elements.contains(id)))
            .map(|(at, suspect)| (at + 1, suspect.p))
            .collect()
    }
}
