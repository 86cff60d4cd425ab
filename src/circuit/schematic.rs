//! Elements between nodes, before any state or fault.

use crate::catalogue::kind::EngineMust;
use indexmap::IndexMap;

/// Index of a node.
pub type Node = usize;
/// Index of an element in [`Schematic::elements`].
pub type ElementId = usize;
/// Index of a control in [`Schematic::controls`].
pub type ControlId = usize;

/// The whole machine as elements between nodes.
#[derive(Clone, Debug, Default)]
pub struct Schematic {
    /// Node names. Points of the netlist come first, lower case, in graph order (so a
    /// `petgraph` node index is a node here); inner nodes of parts follow, named `_part.name`.
    pub nodes: Vec<String>,
    /// Elements. Netlist links come first, in graph order (an edge index is an element here), then parts' elements.
    pub elements: Vec<Elem>,
    /// Element name (`horn.coil`, `W7`, `W7.a`) to element.
    pub by_name: IndexMap<String, ElementId>,
    /// Part name to its elements.
    pub by_part: IndexMap<String, Vec<ElementId>>,
    /// Controls by name; `engine`, `oil-pressure`, `coolant` among them where a part uses them.
    pub controls: IndexMap<String, ControlInfo>,
    /// ln-spread of thresholds that a rating gives, where that says its own; of all others it is a tenth.
    pub thresholds: IndexMap<ElementId, f64>,
    /// The node that volts are counted from: battery minus (else the first node).
    pub zero: Node,
}

/// A control of the machine.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ControlInfo {
    /// Settings, the first at rest.
    pub settings: Vec<String>,
    /// Settings that must be held by hand.
    pub held: Vec<String>,
    /// Words to tell a person to set it, by setting.
    pub say: IndexMap<String, String>,
    /// What the engine has to be doing, by setting.
    pub engine: IndexMap<String, EngineMust>,
    /// Place of the part that it belongs to.
    pub place: Option<String>,
}

/// One element.
#[derive(Clone, Debug, PartialEq)]
pub struct Elem {
    /// `horn.coil`; for links their site: `W7`, `W7.a`, `P9.4`, `G1`.
    pub name: String,
    /// The part it belongs to; `None` for links.
    pub part: Option<String>,
    /// From.
    pub a: Node,
    /// To.
    pub b: Node,
    /// Current against volts.
    pub law: Law,
    /// Standard deviation of ln(main value).
    pub spread: f64,
}

/// Current against volts of an element.
#[derive(Clone, Debug, PartialEq)]
pub enum Law {
    /// Absent.
    Open,
    /// ohm
    Resistor {
        /// ohm
        ohms: f64,
    },
    /// Another law in each setting of a control: a sender's ohms, an alternator's volts.
    By {
        /// control
        control: ControlId,
        /// one for each setting; what is beyond them is as the last
        laws: Vec<Law>,
    },
    /// I = amps·(V/volts)^0.55 near rated, blended into the cold resistance cold·volts/amps; finite slope at 0.
    Filament {
        /// rated V
        volts: f64,
        /// rated A
        amps: f64,
        /// cold ohms over hot ohms
        cold: f64,
    },
    /// Shockley with series resistance, at 27 °C; anode is a.
    Diode {
        /// A
        saturation: f64,
        /// emission coefficient
        emission: f64,
        /// ohm
        series: f64,
    },
    /// Resistance when closed, absent when open.
    Contact {
        /// ohm
        ohms: f64,
        /// what closes it
        when: When,
    },
    /// EMF behind ohms; plus is a.
    Source {
        /// V
        volts: f64,
        /// ohm
        ohms: f64,
    },
    /// A source that takes its charge through other ohms than it gives (a battery that something charges); plus is a.
    Cell {
        /// V
        volts: f64,
        /// ohm while it gives
        ohms: f64,
        /// ohm while it is charged
        charge: f64,
    },
    /// Stalled below a fifth of rated volts, above it the running current grows slowly with volts; monotone.
    Motor {
        /// rated V
        volts: f64,
        /// A at rated V
        amps: f64,
        /// ohm when stalled
        stall: f64,
    },
    /// A load or a contact that chops: `ohms` while closed, absent while open.
    Interrupter {
        /// ohm while closed
        ohms: f64,
        /// a second
        hertz: f64,
        /// share of the time closed
        duty: f64,
        /// volts across it (closed) below which it stays closed
        works_volts: f64,
        /// amps through it (closed) below which it stays closed
        works_amps: f64,
        /// rated volts, for showings
        volts: f64,
    },
    /// A relay's or solenoid's coil: a resistor whose volts move contacts.
    Coil {
        /// ohm
        ohms: f64,
        /// V
        pull_in: f64,
        /// V
        drop_out: f64,
    },
    /// A coil that another winding on the same core helps (a starter's hold-in and pull-in windings): what moves its
    /// contacts is volts over it plus `ratio` times volts over the other, so many ampere turns for so many volts.
    Solenoid {
        /// ohm
        ohms: f64,
        /// V
        pull_in: f64,
        /// V
        drop_out: f64,
        /// the other winding
        with: ElementId,
        /// its ampere turns a volt over this one's
        ratio: f64,
    },
    /// `low` or `high` volts behind ohms while the engine turns, `low` when it does not; plus is a.
    PulseSource {
        /// V
        low: f64,
        /// V; `None`: it lets go instead, and something else has to pull its line up
        high: Option<f64>,
        /// ohm
        ohms: f64,
        /// pulses a turn
        per_turn: f64,
    },
    /// A counting input: ohms between signal (a) and the gauge's ground (b), with its thresholds.
    PulseInput {
        /// ohm
        ohms: f64,
        /// V
        lower: f64,
        /// V
        upper: f64,
    },
}

impl Law {
    /// The law that holds in these settings, one for each control.
    pub fn standing(&self, settings: &[usize]) -> &Law {
        match self {
            Law::By { control, laws } => {
                let setting = settings.get(*control).copied().unwrap_or(0);
                laws.get(setting).or(laws.last()).map_or(&Law::Open, |law| law.standing(settings))
            }
            law => law,
        }
    }

    /// The same law with something done to it, in every setting.
    pub fn each(self, change: &impl Fn(Law) -> Law) -> Law {
        match self {
            Law::By { control, laws } => {
                Law::By { control, laws: laws.into_iter().map(|law| law.each(change)).collect() }
            }
            law => change(law),
        }
    }

    /// It gives current of its own: a battery, an alternator.
    pub fn feeds(&self) -> bool {
        match self {
            Law::Source { .. } | Law::Cell { .. } => true,
            Law::By { laws, .. } => laws.iter().any(Law::feeds),
            _ => false,
        }
    }

    /// A coil's pull-in and drop-out.
    pub fn coil(&self) -> Option<(f64, f64)> {
        match *self {
            Law::Coil { pull_in, drop_out, .. } | Law::Solenoid { pull_in, drop_out, .. } => Some((pull_in, drop_out)),
            _ => None,
        }
    }

    /// The winding that helps a coil, and how much a volt over it counts.
    pub fn helper(&self) -> Option<(ElementId, f64)> {
        match *self {
            Law::Solenoid { with, ratio, .. } => Some((with, ratio)),
            _ => None,
        }
    }
}

/// What closes a contact.
#[derive(Clone, Debug, PartialEq)]
pub enum When {
    /// Always closed.
    Always,
    /// Closed while the control stands in one of these settings (indices).
    Setting {
        /// control
        control: ControlId,
        /// settings
        closed: Vec<usize>,
    },
    /// Moved by a coil; `make`: closed when pulled in.
    Coil {
        /// the coil
        coil: ElementId,
        /// closed when pulled in
        make: bool,
    },
    /// A fuse: closed until it opens.
    Fuse {
        /// rating, A
        amps: f64,
        /// how long it lasts: 0 as a blade fuse does, else one of the other curves, counted from 1
        curve: usize,
    },
}
