//! Made-up looms of any size and many shapes: what a seed draws, a tree of fuses, trunks, plugs, sleeves, switches, relays, loads
//! and shared grounds, with a few second paths.

use fastrand::Rng;
use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::schematic::{ControlInfo, Elem, Law, Node, Schematic, When};

/// The chassis' node.
pub const CHASSIS: Node = 2;
/// Controls that a loom's switches are spread over.
const CONTROLS: usize = 8;
/// States that are asked for.
pub const STATES: usize = 8;

/// A loom being made.
struct Loom {
    made: Schematic,
    rng: Rng,
}

/// A loom of about so many nodes, as this seed draws it.
pub fn of_size(size: usize, seed: u64) -> Schematic {
    let made = Schematic { nodes: ["minus", "plus", "chassis"].map(String::from).to_vec(), ..Schematic::default() };
    let mut loom = Loom { made, rng: Rng::with_seed(seed) };
    for control in 0..CONTROLS {
        let settings = ["off", "on"].map(String::from).to_vec();
        let info = ControlInfo { settings, ..ControlInfo::default() };
        loom.made.controls.insert(format!("switch{control}"), info);
    }
    // The more there is to feed, the larger the battery and its cables.
    let ohms = 0.01 * (300.0 / size as f64).min(1.0);
    loom.add("battery", 1, 0, Law::Source { volts: 12.6, ohms });
    loom.add("strap", 0, CHASSIS, Law::Resistor { ohms: ohms / 4.0 });
    let mut studs: Vec<Node> = Vec::new();
    let (mut feed, mut circuits) = (1, 0);
    while loom.made.nodes.len() + 16 < size {
        if circuits % 4 == 0 {
            // A fuse box with a cable of its own.
            feed = loom.node();
            loom.add("cable", 1, feed, Law::Resistor { ohms: 0.004 });
        }
        loom.circuit(feed, &mut studs, size);
        circuits += 1;
    }
    loom.made
}

impl Loom {
    /// What one fuse feeds: a trunk through a plug, sleeves along it, loads at each.
    fn circuit(&mut self, feed: Node, studs: &mut Vec<Node>, size: usize) {
        let fused = self.node();
        let amps = [10.0, 15.0, 20.0, 30.0][self.rng.usize(..4)];
        self.add("fuse", feed, fused, Law::Contact { ohms: 0.005, when: When::Fuse { amps, curve: 0 } });
        let mut sleeves: Vec<Node> = Vec::new();
        let mut trunk = fused;
        for _ in 0..self.rng.usize(1..5) {
            let end = self.wire_to_new(trunk);
            trunk = if self.rng.bool() { self.way(end) } else { end };
            sleeves.push(trunk);
            for _ in 0..self.rng.usize(1..4) {
                if self.made.nodes.len() + 12 >= size {
                    return;
                }
                let ground = self.ground(studs);
                let from = if self.rng.u8(..4) == 0 { sleeves[self.rng.usize(..sleeves.len())] } else { trunk };
                self.consumer(from, ground);
            }
        }
        // A ring feed now and then.
        if sleeves.len() > 2 && self.rng.u8(..4) == 0 {
            self.wire(sleeves[0], trunk);
        }
    }

    /// A ground point: a new one, or one that others have too; seldom one with a second way home.
    fn ground(&mut self, studs: &mut Vec<Node>) -> Node {
        if !studs.is_empty() && self.rng.u8(..4) != 0 {
            let last = studs.len().saturating_sub(4);
            return studs[self.rng.usize(last..studs.len())];
        }
        let stud = self.node();
        self.add("seat", stud, CHASSIS, Law::Resistor { ohms: 0.001 });
        if self.rng.u8(..6) == 0 {
            let other = studs.last().copied().unwrap_or(0);
            self.wire(stud, other);
        }
        studs.push(stud);
        stud
    }

    /// A switch and what it feeds.
    fn consumer(&mut self, from: Node, ground: Node) {
        let before = self.wire_to_new(from);
        let after = self.node();
        let control = self.rng.usize(..CONTROLS);
        let when = When::Setting { control, closed: vec![1] };
        self.add("switch", before, after, Law::Contact { ohms: 0.005, when });
        let mut end = self.wire_to_new(after);
        for _ in 0..self.rng.usize(..3) {
            end = self.way(end);
        }
        let home = self.wire_to_new(ground);
        match self.rng.u8(..10) {
            0 => self.add("motor", end, home, Law::Motor { volts: 12.0, amps: 4.0, stall: 0.8 }),
            1 => {
                let inner = self.node();
                self.add("ballast", end, inner, Law::Resistor { ohms: 470.0 });
                self.add("led", inner, home, Law::Diode { saturation: 1e-18, emission: 1.8, series: 2.0 });
            }
            2 => {
                // A relay between the switch and a lamp fed from the trunk; a diode over its coil.
                let coil = self.made.elements.len();
                self.add("coil", end, home, Law::Coil { ohms: 85.0, pull_in: 7.0, drop_out: 3.0 });
                self.add("diode", home, end, Law::Diode { saturation: 1e-9, emission: 1.8, series: 0.05 });
                let feed = self.wire_to_new(from);
                let out = self.node();
                self.add("contact", feed, out, Law::Contact { ohms: 0.01, when: When::Coil { coil, make: true } });
                let lamp = self.wire_to_new(out);
                self.add("lamp", lamp, home, Law::Filament { volts: 12.0, amps: 4.5, cold: 0.08 });
            }
            3 => self.add("heater", end, home, Law::Resistor { ohms: 8.0 }),
            _ => {
                let amps = [0.15, 0.4, 1.75, 4.5][self.rng.usize(..4)];
                self.add("lamp", end, home, Law::Filament { volts: 12.0, amps, cold: 0.1 });
            }
        }
    }

    /// A mated way of a plug.
    fn way(&mut self, from: Node) -> Node {
        let to = self.node();
        self.add("way", from, to, Law::Resistor { ohms: 0.002 });
        to
    }

    fn node(&mut self) -> Node {
        self.made.nodes.push(format!("n{}", self.made.nodes.len()));
        self.made.nodes.len() - 1
    }

    fn add(&mut self, name: &str, a: Node, b: Node, law: Law) {
        self.made.elements.push(Elem { name: name.into(), part: None, a, b, law, spread: 0.1 });
    }

    /// A wire as it is: joint, conductor, joint.
    fn wire(&mut self, from: Node, to: Node) {
        let (a, b) = (self.node(), self.node());
        let ohms = 0.002 + 0.03 * self.rng.f64();
        self.add("joint", from, a, Law::Resistor { ohms: 0.001 });
        self.add("wire", a, b, Law::Resistor { ohms });
        self.add("joint", b, to, Law::Resistor { ohms: 0.001 });
    }

    fn wire_to_new(&mut self, from: Node) -> Node {
        let end = self.node();
        self.wire(from, end);
        end
    }
}

/// Settings of the states: nothing on, more and more on, all on.
pub fn states() -> Vec<Vec<usize>> {
    let on =
        |state: usize, control: usize| usize::from((5 * control + 3 * state) % STATES < state || state + 1 == STATES);
    (0..STATES).map(|state| (0..CONTROLS).map(|control| on(state, control)).collect()).collect()
}

/// Every link open and resistive, every wire touching the chassis as well, every part open.
pub fn faults(schematic: &Schematic) -> Vec<Injury> {
    let mut faults = Vec::new();
    for (id, element) in schematic.elements.iter().enumerate() {
        let mut one = |change: Change| faults.push(Injury { changes: vec![change], ..Injury::default() });
        one(Change::Law(id, Law::Open));
        let Law::Resistor { ohms } = element.law else { continue };
        if ["joint", "way", "seat", "wire", "cable", "strap"].contains(&element.name.as_str()) {
            one(Change::Law(id, Law::Resistor { ohms: ohms + 2.0 }));
        }
        if element.name == "wire" {
            let from = vec![(element.a, 0.5), (element.b, 0.5)];
            one(Change::Tie { from, to: vec![(CHASSIS, 1.0)], ohms: 0.05 + ohms / 4.0 });
        }
    }
    faults
}
