//! How hot wires, joints and contacts get, and what a hand says of it.
//!
//! Watts come from the solved circuit, kelvin a watt from `rules/heat.yaml`, kelvin of a wire by its amps from the table
//! of `rules/review.yaml`. What is meant to get hot (lamps, heaters, coils) is not counted: only copper, joints and
//! contacts say by their heat that something is wrong.

use super::fault::site::joint_key;
use super::injury::Change;
use super::lower::SEAT;
use super::schematic::{ElementId, Law, Node};
use super::showing::{View, Words, named, split};
use crate::catalogue::Showing;
use crate::catalogue::kind::Measure;
use crate::netlist::{LinkKind, Netlist, Part, Wire};
use crate::text::problem::Problem;
use petgraph::graph::EdgeIndex;
use petgraph::visit::EdgeRef;

/// What a hand says, from the coolest up.
pub const WORDS: [&str; 4] = ["cool", "warm", "hot", "smokes"];
/// The whole machine, where nobody can tell where the heat is.
pub const SOMEWHERE: &str = "somewhere";
/// Ohms more than a wire has of its own that make a spot of it, ohm.
const SPOT_OHMS: f64 = 1e-3;
/// What has more than this when sound is a winding behind a contact, and warm by its nature, ohm.
const CONTACT_OHMS: f64 = 0.2;

/// Is this a word of heat?
pub fn is_word(word: &str) -> bool {
    WORDS.contains(&word)
}

/// What a hand is laid on.
#[derive(Clone, Debug, Default)]
pub struct Touched<'a> {
    wires: Vec<&'a Wire>,
    /// Joints, mated contacts, seats.
    links: Vec<EdgeIndex>,
    parts: Vec<&'a Part>,
}

impl<'a> Touched<'a> {
    /// What this names: a part, plug or half of one, ground point, sleeve or wire, a place with all that is there, or
    /// [`SOMEWHERE`].
    ///
    /// # Errors
    ///
    /// Nothing here is called that.
    pub fn find(netlist: &'a Netlist, name: &str) -> Result<Touched<'a>, Problem> {
        let is = |known: &str| known.eq_ignore_ascii_case(name);
        let mut out = Touched::default();
        let mut points: Vec<Node> = Vec::new();
        let part = netlist.parts.values().find(|part| is(&part.name) && part.fitted);
        if let Some(part) = part {
            points.extend(part.pins.values().map(|pin| pin.index()));
            out.parts.push(part);
        } else if let Some(wire) = netlist.wires.values().find(|wire| is(&wire.name)) {
            out.wires.push(wire);
            out.links.extend([wire.links[0], wire.links[2]]);
            return Ok(out);
        } else if let Some(point) = stud_or_sleeve(netlist, name) {
            points.push(point);
        } else if let Some(halves) = halves(netlist, name) {
            points = halves;
        } else if let Some(place) = netlist.places.keys().find(|place| is(place)) {
            let here = |at: &Option<String>| at.as_deref().is_some_and(|at| at.eq_ignore_ascii_case(place));
            points.extend(netlist.graph.node_indices().filter(|n| here(&netlist.graph[*n].place)).map(|n| n.index()));
            out.parts.extend(netlist.parts.values().filter(|part| part.fitted && here(&part.place)));
        } else if is(SOMEWHERE) {
            points.extend(netlist.graph.node_indices().map(|n| n.index()));
            out.parts.extend(netlist.parts.values().filter(|part| part.fitted));
        } else {
            return Err(unknown(netlist, name));
        }
        points.sort_unstable();
        let among = |node: petgraph::graph::NodeIndex| points.binary_search(&node.index()).is_ok();
        out.wires.extend(netlist.wires.values().filter(|wire| among(wire.from) || among(wire.to)));
        let links = netlist.graph.edge_references().filter(|link| link.weight().what != LinkKind::Conductor);
        out.links.extend(links.filter(|link| among(link.source()) || among(link.target())).map(|link| link.id()));
        Ok(out)
    }
}

impl Touched<'_> {
    /// The points that its wires end at.
    pub fn ends(&self) -> Vec<Node> {
        self.wires.iter().flat_map(|wire| [wire.from.index(), wire.to.index()]).collect()
    }
}

fn stud_or_sleeve(netlist: &Netlist, name: &str) -> Option<Node> {
    let stud = netlist.grounds.iter().find(|(known, _)| known.eq_ignore_ascii_case(name)).map(|(_, g)| g.point);
    let sleeve = || netlist.sleeves.iter().find(|(known, _)| known.eq_ignore_ascii_case(name)).map(|(_, s)| s.point);
    stud.or_else(sleeve).map(|point| point.index())
}

/// The cavities of a plug, or of one half of it.
fn halves(netlist: &Netlist, name: &str) -> Option<Vec<Node>> {
    let lower = name.to_lowercase();
    let named = |name: &str| netlist.plugs.values().find(|plug| plug.name.eq_ignore_ascii_case(name));
    let of = |wanted: &[usize], name: &str| {
        let ways = named(name)?.ways.values();
        Some(ways.flat_map(|way| wanted.iter().map(|half| way.halves[*half].index())).collect())
    };
    of(&[0, 1], &lower).or_else(|| of(&[0], lower.strip_suffix('a')?)).or_else(|| of(&[1], lower.strip_suffix('b')?))
}

fn unknown(netlist: &Netlist, name: &str) -> Problem {
    let names = netlist.parts.keys().chain(netlist.plugs.keys()).chain(netlist.wires.keys());
    let names = names.chain(netlist.grounds.keys()).chain(netlist.sleeves.keys()).chain(netlist.places.keys());
    let problem = Problem::whole(format!("nothing that a hand could be laid on is called {name}"));
    match crate::text::words::nearest(name, names.map(String::as_str)) {
        Some(near) => problem.help(format!("nearest: {near}")),
        None => problem,
    }
}

impl View<'_> {
    /// What a hand says of it: a word of [`WORDS`].
    pub fn touched(&self, on: &Touched<'_>) -> Words {
        let rules = &self.catalogue.heat;
        let showing = Showing {
            by: Measure::VoltsRatio { of: String::new() },
            words: WORDS.map(String::from).to_vec(),
            at: ["warm", "hot", "smokes"].map(|word| rules.limit(word)).to_vec(),
            spread: vec![rules.limit("spread"); 3],
            works: None,
            needle: false,
        };
        named(&showing, &split(&showing, self.kelvin(on)))
    }

    /// Kelvin above the air of the hottest of these, after the time for which such a state lasts.
    pub fn kelvin(&self, on: &Touched<'_>) -> f64 {
        let rules = &self.catalogue.heat;
        let volts: Vec<Vec<f64>> =
            (0..self.outcome.levels.len()).map(|level| self.sim.all_volts(self.outcome, level)).collect();
        let ties = self.ties(&volts);
        let per_watt = |what: LinkKind| rules.limit(joint_key(what).unwrap_or("spot"));
        let joint = |&link: &EdgeIndex| {
            let what = self.netlist.graph[link].what;
            self.ohms(link.index()).map_or(0.0, |ohms| self.square(&volts, link.index(), ohms) * ohms * per_watt(what))
        };
        let joints = on.links.iter().map(joint);
        let wires = on.wires.iter().map(|wire| self.wire_kelvin(wire, &volts, &ties));
        let parts = on.parts.iter().map(|part| self.contact_watts(part) * rules.limit("contact"));
        joints.chain(wires).chain(parts).fold(0.0, f64::max) * rules.reached(self.by_hand())
    }

    /// Ohms of a link as it is now; `None` where it is parted.
    fn ohms(&self, link: ElementId) -> Option<f64> {
        match *self.law(link) {
            Law::Resistor { ohms } => Some(ohms.max(1e-9)),
            _ => None,
        }
    }

    /// Mean square amps of a link.
    fn square(&self, volts: &[Vec<f64>], link: ElementId, ohms: f64) -> f64 {
        let element = &self.sim.schematic().elements[link];
        let amps = |volts: &Vec<f64>| (volts[element.a] - volts[element.b]) / ohms;
        let levels = self.outcome.levels.iter().zip(volts);
        levels.map(|(level, volts)| level.share * amps(volts) * amps(volts)).sum()
    }

    /// What touches what, with the root mean square amps and the watts there.
    fn ties(&self, volts: &[Vec<f64>]) -> Vec<Tied<'_>> {
        let over = |taps: &[(Node, f64)], volts: &[f64]| taps.iter().map(|&(n, w)| w * volts[n]).sum::<f64>();
        let changes = self.spec.changes.iter().chain(&self.injury.changes);
        let mut out = Vec::new();
        for change in changes {
            let Change::Tie { from, to, ohms } = change else { continue };
            let levels = self.outcome.levels.iter().zip(volts);
            let square: f64 =
                levels.map(|(level, volts)| level.share * ((over(from, volts) - over(to, volts)) / ohms).powi(2)).sum();
            out.push(Tied { ends: [from, to], amps: square.sqrt(), watts: square * ohms });
        }
        out
    }

    /// Kelvin of a wire: of its copper, of a bad spot in it, of where something touches it.
    fn wire_kelvin(&self, wire: &Wire, volts: &[Vec<f64>], ties: &[Tied<'_>]) -> f64 {
        let link = wire.links[1];
        let spot = self.catalogue.heat.limit("spot");
        let here = |tied: &&Tied<'_>| {
            let end = |node: petgraph::graph::NodeIndex, taps: &[(Node, f64)]| taps.iter().any(|t| t.0 == node.index());
            tied.ends.iter().any(|taps| wire.ends.iter().any(|node| end(*node, taps)))
        };
        let (mut amps, mut touching) = (0.0, 0.0);
        for tied in ties.iter().filter(here) {
            // What leaves the wire half way flows in one half more, in the other less than the mean of both.
            amps += tied.amps / 2.0;
            touching = f64::max(touching, tied.watts);
        }
        let mut own = 0.0;
        if let Some(ohms) = self.ohms(link.index()) {
            let square = self.square(volts, link.index(), ohms);
            amps += square.sqrt();
            let more = ohms - self.netlist.graph[link].ohms;
            own = if more > SPOT_OHMS { square * more } else { 0.0 };
        }
        let copper = self.catalogue.review.ampacity.celsius(wire.area, 0.0, amps);
        f64::max(copper, f64::max(own, touching) * spot)
    }

    /// Watts in the contacts of a part.
    fn contact_watts(&self, part: &Part) -> f64 {
        let schematic = self.sim.schematic();
        let own = schematic.by_part.get(&part.name).into_iter().flatten();
        let contact = |id: &&ElementId| {
            let sound = &schematic.elements[**id];
            matches!(sound.law, Law::Contact { ohms, .. } if ohms <= CONTACT_OHMS) || sound.name.ends_with(SEAT)
        };
        let watts = |&id: &ElementId| {
            let levels = self.outcome.levels.iter().enumerate();
            let at = |level| {
                self.sim.element_volts(self.outcome, level, id) * self.sim.element_amps(self.outcome, level, id)
            };
            levels.map(|(index, level)| level.share * at(index).abs()).sum::<f64>()
        };
        let bridges: f64 = self.injury.changes.iter().map(|change| self.bridge_watts(part, change)).sum();
        bridges + own.filter(contact).map(watts).sum::<f64>()
    }

    /// Watts in what bridges two pins of a part: a coin in a socket.
    fn bridge_watts(&self, part: &Part, change: &Change) -> f64 {
        let &Change::Add { a, b, law: Law::Resistor { ohms } } = change else { return 0.0 };
        let pin = |node: Node| part.pins.values().any(|pin| pin.index() == node);
        if !(pin(a) && pin(b)) {
            return 0.0;
        }
        let levels = self.outcome.levels.iter().enumerate();
        let volts = |level| self.sim.volts(self.outcome, level, a, b);
        levels.map(|(index, level)| level.share * volts(index) * volts(index)).sum::<f64>() / ohms.max(1e-9)
    }

    /// Is something held by hand in this state?
    fn by_hand(&self) -> bool {
        let controls = &self.sim.schematic().controls;
        let steps = self.spec.steps.last().into_iter().flatten().zip(controls.values());
        steps.into_iter().any(|(&at, info)| info.settings.get(at).is_some_and(|setting| info.held.contains(setting)))
    }
}

/// Two sides that touch.
struct Tied<'a> {
    ends: [&'a [(Node, f64)]; 2],
    /// root mean square
    amps: f64,
    watts: f64,
}
