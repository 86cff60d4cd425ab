//! Layer 3: the wiring as it really is, as a graph of points and links.
//!
//! Built by [`crate::wiring`]; read by everything above. Knows nothing of what parts do inside:
//! a part is a name, a kind's name, ratings and pins. What lies between the pins is the catalogue's.

mod place;

use crate::text::quantity::Quantity;
use crate::text::span::Span;
use indexmap::IndexMap;
use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};

/// A whole machine. Every map is keyed by the name as written; names are unique without regard to case.
#[derive(Clone, Debug, Default)]
pub struct Netlist {
    /// The machine's name for people.
    pub title: String,
    /// Points and the copper between them. Parts' insides are not in it.
    pub graph: UnGraph<Point, Link>,
    /// Lower-case point name to its node: `horn.feed`, `p9a.4`, `w7.a`, `s4`, `g1`, `frame`; a pin's other names
    /// lead to its node too, so several keys may share one.
    pub points: IndexMap<String, NodeIndex>,
    /// Lower-case site name to its link: `w7`, `w7.a`, `p9.4`, `g1`.
    pub links: IndexMap<String, EdgeIndex>,
    /// Parts, feeds' fuses included (a feed `F3` is a part of kind `fuse` with pins `in` and `out`).
    pub parts: IndexMap<String, Part>,
    /// Wires and straps, those made from plug rows and from lists included.
    pub wires: IndexMap<String, Wire>,
    /// Plugs.
    pub plugs: IndexMap<String, Plug>,
    /// Sleeves (splices), those made from plug rows included.
    pub sleeves: IndexMap<String, Sleeve>,
    /// Ground points.
    pub grounds: IndexMap<String, Ground>,
    /// Feed names in the order written; each is also a part.
    pub feeds: Vec<String>,
    /// Chassis pieces.
    pub pieces: IndexMap<String, Piece>,
    /// Places.
    pub places: IndexMap<String, Place>,
    /// Looms.
    pub looms: IndexMap<String, Loom>,
    /// Metres between two places (lower case), both ways round, where the file tells them.
    pub runs: IndexMap<(String, String), f64>,
    /// What the person has to measure with.
    pub bench: Bench,
    /// Names of plugs, places, parts, wires worked on lately.
    pub recent: Vec<String>,
}

/// An electrical point.
#[derive(Clone, Debug)]
pub struct Point {
    /// Its name, as written.
    pub name: String,
    /// What it is.
    pub what: PointKind,
    /// Can a probe reach it with everything in place?
    pub probeable: bool,
    /// Its place, if known: a key of [`Netlist::places`].
    pub place: Option<String>,
}

/// What a point is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PointKind {
    /// A pin of a part.
    Pin {
        /// The part.
        part: String,
        /// The pin's name.
        pin: String,
    },
    /// The terminal in a cavity of a plug half.
    Way {
        /// The plug.
        plug: String,
        /// `'a'` or `'b'`.
        half: char,
        /// The way's name.
        way: String,
    },
    /// The conductor behind the terminal at a wire's end.
    Conductor {
        /// The wire.
        wire: String,
        /// `'a'` (the end named first) or `'b'`.
        end: char,
    },
    /// A sleeve.
    Sleeve,
    /// A ground stud.
    Stud,
    /// A chassis piece.
    Piece,
}

/// Copper between two points.
#[derive(Clone, Debug)]
pub struct Link {
    /// The site name of contract: `W7` (conductor), `W7.a` (joint at an end), `P9.4` (mated contact),
    /// `G1` (stud to its piece).
    pub site: String,
    /// What it is.
    pub what: LinkKind,
    /// Resistance at 20 C, ohm.
    pub ohms: f64,
    /// Standard deviation of ln(resistance).
    pub spread: f64,
}

/// What a link is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LinkKind {
    /// The copper of a wire, from `W.a` to `W.b`.
    Conductor,
    /// The joint at a wire's end, from the terminal to `W.a` or `W.b`.
    Joint(Joint),
    /// The mated contact of a plug's way, from `P9a.4` to `P9b.4`.
    Mated,
    /// A stud's seat on its chassis piece.
    Seat,
}

/// Kinds of joint; data about each stand in `rules/joints.yaml` under these names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Joint {
    /// crimped terminal
    Crimp,
    /// solder sleeve or soldered end
    Solder,
    /// ring terminal under a bolt
    Ring,
    /// battery clamp
    Clamp,
    /// crimped splice
    CrimpSleeve,
    /// twisted and taped
    Twist,
}

/// A component.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its name.
    pub name: String,
    /// The kind's name in the catalogue.
    pub kind: String,
    /// Ratings given in the file, by the rating's name in the kind.
    pub ratings: IndexMap<String, Quantity>,
    /// Its place.
    pub place: Option<String>,
    /// Pin name to point, in the kind's (or the switch table's) order.
    pub pins: IndexMap<String, NodeIndex>,
    /// A table of its own, if the file has one.
    pub table: Option<SwitchTable>,
    /// `not fitted`: the part is in the file but not on the machine yet.
    pub fitted: bool,
    /// Where it stands in the file.
    pub span: Span,
}

/// Which wires of a switch are joined in which setting.
#[derive(Clone, Debug, PartialEq)]
pub struct SwitchTable {
    /// The wires (pins), in order.
    pub wires: Vec<String>,
    /// Setting to groups of joined wires (each group at least two).
    pub settings: IndexMap<String, Vec<Vec<String>>>,
}

/// A wire.
#[derive(Clone, Debug)]
pub struct Wire {
    /// Its name.
    pub name: String,
    /// The terminal it starts from.
    pub from: NodeIndex,
    /// The terminal it ends at.
    pub to: NodeIndex,
    /// Conductor points `W.a`, `W.b`.
    pub ends: [NodeIndex; 2],
    /// Joint at a, conductor, joint at b.
    pub links: [EdgeIndex; 3],
    /// Colour in plain words, if known.
    pub colour: Option<String>,
    /// Copper, mm².
    pub area: f64,
    /// False where the file gives no size and the usual one was taken.
    pub area_known: bool,
    /// Length, m.
    pub length: f64,
    /// False where the length was guessed (spread 2×).
    pub length_known: bool,
    /// How sure the row is.
    pub proof: Proof,
    /// Where it stands in the file.
    pub span: Span,
}

/// How sure a row is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Proof {
    /// assumed
    Assumed,
    /// as on paper; also what a row that says nothing is
    #[default]
    Paper,
    /// proved by beep
    Beep,
    /// tried under load
    Loaded,
    /// load not fitted yet
    NotFitted,
    /// end capped
    Capped,
}

/// A plug and socket pair.
#[derive(Clone, Debug)]
pub struct Plug {
    /// Its name.
    pub name: String,
    /// What it carries, in the user's words.
    pub is: Option<String>,
    /// Place of half a, half b.
    pub places: [Option<String>; 2],
    /// Way name to its points and links, in row order.
    pub ways: IndexMap<String, Way>,
    /// Where it stands in the file.
    pub span: Span,
}

/// One way of a plug.
#[derive(Clone, Debug)]
pub struct Way {
    /// `P9a.4`, `P9b.4`.
    pub halves: [NodeIndex; 2],
    /// The mated contact `P9.4`.
    pub link: EdgeIndex,
    /// The wire crimped into half a's cavity, half b's cavity, with its end (`'a'`/`'b'`).
    pub crimped: [Option<(String, char)>; 2],
    /// Where it stands in the file.
    pub span: Span,
}

/// A splice.
#[derive(Clone, Debug)]
pub struct Sleeve {
    /// Its point.
    pub point: NodeIndex,
    /// What it is.
    pub joint: Joint,
    /// Its place.
    pub place: Option<String>,
    /// Where it stands in the file.
    pub span: Span,
}

/// A ground stud.
#[derive(Clone, Debug)]
pub struct Ground {
    /// The stud.
    pub point: NodeIndex,
    /// The piece it is bolted to (a key of [`Netlist::pieces`]).
    pub on: String,
    /// The seat `G1`.
    pub link: EdgeIndex,
    /// Its place.
    pub place: Option<String>,
    /// Where it stands in the file.
    pub span: Span,
}

/// A piece of metal that carries ground current.
#[derive(Clone, Debug)]
pub struct Piece {
    /// Its point.
    pub point: NodeIndex,
    /// Where it stands in the file.
    pub span: Span,
}

/// A place and what it takes to get there.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Place {
    /// Minutes to get at it.
    pub minutes: f64,
    /// What must come off first.
    pub first: Option<String>,
    /// How warm its wires are while the machine works, C; `None`: as published resistances are, 20 C.
    pub warm: Option<f64>,
}

/// Wires that run together.
#[derive(Clone, Debug, Default)]
pub struct Loom {
    /// Wires in it (plugs are expanded to the wires of their ways).
    pub wires: Vec<String>,
    /// Length of the run, m.
    pub run: Option<f64>,
    /// The piece it lies on.
    pub lies_on: Option<String>,
}

/// What the person has at hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Bench {
    /// Instruments of the contract at hand.
    pub meter: Vec<String>,
    /// Length of the leads, m.
    pub leads: f64,
    /// Clips at hand.
    pub clips: usize,
    /// Test lamp, watts.
    pub test_lamp: Option<f64>,
    /// Is there a helper?
    pub helper: bool,
    /// What cannot be done: settings (`engine running`), plain words kept as written.
    pub cannot: Vec<String>,
    /// Volts ranges' input resistance, ohm.
    pub volts_ohms: f64,
    /// The beeper sounds at or below this, ohm.
    pub beep_below: f64,
}

impl Default for Bench {
    fn default() -> Self {
        Bench {
            meter: ["volts-dc", "ohms", "beep"].map(String::from).to_vec(),
            leads: 1.0,
            clips: 2,
            test_lamp: None,
            helper: false,
            cannot: Vec::new(),
            volts_ohms: 10.0e6,
            beep_below: 50.0,
        }
    }
}

impl Netlist {
    /// The point of this name, without regard to case.
    pub fn point(&self, name: &str) -> Option<NodeIndex> {
        self.points.get(&name.to_lowercase()).copied()
    }

    /// The name of a point.
    pub fn point_name(&self, node: NodeIndex) -> &str {
        &self.graph[node].name
    }

    /// The link of a site name (conductor, joint, mated contact, seat), without regard to case.
    pub fn link(&self, site: &str) -> Option<EdgeIndex> {
        self.links.get(&site.to_lowercase()).copied()
    }
}
