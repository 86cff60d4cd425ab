//! What a plan is made of.

use super::buy::Buy;
use super::order::Step;
use super::size::Why;
use super::stock::{Spool, Stock};
use crate::netlist::Joint;
use crate::wiring::edit::LongerSite;

/// Where a figure of amps comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Known {
    /// Solved, in this state.
    Solved(String),
    /// Somebody said so.
    Told,
    /// Nobody knows: what a part of this kind usually takes, by what the wire is for.
    Usual(String),
    /// Nobody knows, and it is a ground: what the others of the list carry together.
    Sum,
    /// Nobody knows: what its fuse is loaded to at most.
    Fuse,
    /// Nobody knows: taken for granted.
    Assumed,
}

/// What a wire carries.
#[derive(Clone, Debug, PartialEq)]
pub struct Amps {
    /// For good, A; 0 for what turns a starter.
    pub good: f64,
    /// At most, A.
    pub peak: f64,
    /// How that is known.
    pub known: Known,
    /// The fuse before it, A.
    pub fuse: Option<f64>,
}

/// A wire that is to be longer.
#[derive(Clone, Debug, PartialEq)]
pub struct Strand {
    /// The plug's half, `P9a`, or the part whose wire it is.
    pub group: String,
    /// Is the group a plug's half?
    pub in_plug: bool,
    /// The way, or the pin.
    pub way: String,
    /// What it is for, in the words of the file or the list.
    pub what: String,
    /// Kinds of parts at its ends.
    pub kinds: Vec<String>,
    /// Its own colour.
    pub old: Option<String>,
    /// Its own size, mm², if known.
    pub old_area: Option<f64>,
    /// Its own length, m, if known.
    pub old_length: Option<f64>,
    /// Wire added earlier that is taken out again, m.
    pub before: f64,
    /// How far its end moves, m.
    pub by: f64,
    /// Colours of wires of the group that stay as they are.
    pub beside: Vec<String>,
    /// What it carries.
    pub amps: Amps,
    /// The air around it, C.
    pub air: f64,
    /// Volts that the added wire may lose.
    pub may_lose: f64,
    /// Where it stands in the wiring file.
    pub site: Option<LongerSite>,
}

impl Strand {
    /// `P9a.4`, `horn.feed`.
    pub fn name(&self) -> String {
        format!("{}.{}", self.group, self.way)
    }
}

/// What is wanted beside the wires.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// What joins new to old.
    pub joint: Joint,
    /// This size for every wire, mm².
    pub size: Option<f64>,
    /// Slack as a share, if not that of the rules.
    pub slack: Option<f64>,
    /// What wires carry, by way or by `P9a.4`, A: takes the place of what is computed or taken for granted.
    pub amps: Vec<(String, f64)>,
    /// What is at hand.
    pub stock: Stock,
}

/// One wire of the schedule.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// What is made longer.
    pub strand: Strand,
    /// The length to be cut, m: way, slack, strip, once more.
    pub length: f64,
    /// Its size, mm².
    pub area: f64,
    /// What decided it.
    pub why: Why,
    /// A size was told and does not do, for this.
    pub lacks: Option<Why>,
    /// Its colour.
    pub new: Option<String>,
    /// Another wire of the group has that colour: a tape label at both ends.
    pub label: bool,
    /// The spool that it comes off; none: to be bought.
    pub spool: Option<usize>,
    /// Ohms added: copper at 20 C and both joints of the sleeve.
    pub ohms: f64,
    /// Volts lost in it with its peak amps.
    pub volts: f64,
}

/// Wires of one length.
#[derive(Clone, Debug, PartialEq)]
pub struct Cut {
    /// The length, m.
    pub length: f64,
    /// By spool (none: to be bought), colour and size: which wires.
    pub pieces: Vec<Pieces>,
}

/// Wires of one length off one spool.
#[derive(Clone, Debug, PartialEq)]
pub struct Pieces {
    /// The spool; none: to be bought.
    pub spool: Option<usize>,
    /// The colour.
    pub colour: Option<String>,
    /// The size, mm².
    pub area: f64,
    /// Names of the wires.
    pub wires: Vec<String>,
}

/// What is left of a spool.
#[derive(Clone, Debug, PartialEq)]
pub struct SpoolUse {
    /// The spool.
    pub spool: Spool,
    /// Metres cut off it.
    pub cut: f64,
    /// Metres left.
    pub left: f64,
    /// The rest is too short for anything.
    pub waste: bool,
}

/// A circuit with rules of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Warned {
    /// Its key in the rules.
    pub sort: String,
    /// What is said.
    pub text: String,
    /// Names of the wires.
    pub wires: Vec<String>,
    /// They are left out of the plan.
    pub stop: bool,
}

/// What a load loses before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// The part.
    pub part: String,
    /// The state in which it was looked at.
    pub state: String,
    /// Volts lost on the whole way, out and back, before.
    pub before: f64,
    /// And after.
    pub after: f64,
    /// What the rule allows, V.
    pub allowed: f64,
    /// Wires of the schedule on its way.
    pub wires: Vec<String>,
}

/// All of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// The schedule, by group.
    pub rows: Vec<Row>,
    /// The cut list, longest first.
    pub cuts: Vec<Cut>,
    /// Spools, those that were not touched too.
    pub spools: Vec<SpoolUse>,
    /// What has to be bought.
    pub buy: Buy,
    /// The order of work.
    pub steps: Vec<Step>,
    /// Circuits with rules of their own.
    pub warned: Vec<Warned>,
    /// What loads lose; empty without a wiring file.
    pub loads: Vec<Load>,
    /// What was taken for granted, and what does not come out as wished.
    pub notes: Vec<String>,
}

impl Plan {
    /// Is something not as it was asked for: wires left out, sizes too thin, drops above the rule?
    pub fn falls_short(&self) -> bool {
        self.warned.iter().any(|warned| warned.stop)
            || self.rows.iter().any(|row| row.lacks.is_some())
            || self.loads.iter().any(|load| load.after > load.allowed && load.after > load.before + 1e-3)
    }
}
