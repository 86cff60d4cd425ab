//! Made-up harnesses of any size: a battery, fused trunks, switched lamps through plugs, shared grounds.

use ohmward::circuit::schematic::{ControlInfo, Elem, Law, Node, Schematic, When};

/// The chassis' node.
pub const CHASSIS: Node = 2;

/// A harness of about so many nodes. The last node is a lamp's feed.
pub fn of_size(size: usize) -> Schematic {
    let mut made = Schematic { nodes: ["minus", "plus", "chassis"].map(String::from).to_vec(), ..Schematic::default() };
    add(&mut made, "battery", 1, 0, Law::Source { volts: 12.6, ohms: 0.01 });
    wire(&mut made, 0, 2);
    let (mut trunk, mut ground, mut lamps) = (1, 2, 0usize);
    while made.nodes.len() + 18 <= size.max(40) {
        if lamps % 8 == 0 {
            // A fuse and a trunk for the next eight, fed from the battery.
            let fuse = node(&mut made);
            let feed = wire_to_new(&mut made, 1);
            let law = Law::Contact { ohms: 0.005, when: When::Fuse { amps: 20.0, curve: 0 } };
            add(&mut made, &format!("fuse{lamps}"), feed, fuse, law);
            trunk = fuse;
        }
        if lamps % 4 == 0 {
            // A ground point for the next four.
            let stud = node(&mut made);
            add(&mut made, "seat", stud, CHASSIS, Law::Resistor { ohms: 0.001 });
            ground = stud;
        }
        let control = made.controls.len();
        let settings = ["off", "on"].map(String::from).to_vec();
        let info = ControlInfo { settings, ..ControlInfo::default() };
        made.controls.insert(format!("switch{lamps}"), info);
        let before = wire_to_new(&mut made, trunk);
        let after = node(&mut made);
        let when = When::Setting { control, closed: vec![1] };
        add(&mut made, &format!("switch{lamps}"), before, after, Law::Contact { ohms: 0.005, when });
        let half = wire_to_new(&mut made, after);
        let other = node(&mut made);
        add(&mut made, "way", half, other, Law::Resistor { ohms: 0.002 });
        // The lamp's own end last, so that the last node of all is a lamp's feed.
        let minus = wire_to_new(&mut made, ground);
        let plus = wire_to_new(&mut made, other);
        add(&mut made, &format!("lamp{lamps}"), plus, minus, Law::Filament { volts: 12.0, amps: 0.4, cold: 0.1 });
        lamps += 1;
    }
    made
}

/// Settings: nothing on, every third on, all on.
pub fn states(schematic: &Schematic) -> Vec<Vec<usize>> {
    let count = schematic.controls.len();
    vec![vec![0; count], (0..count).map(|n| usize::from(n % 3 == 0)).collect(), vec![1; count]]
}

fn node(made: &mut Schematic) -> Node {
    made.nodes.push(format!("n{}", made.nodes.len()));
    made.nodes.len() - 1
}

fn add(made: &mut Schematic, name: &str, a: Node, b: Node, law: Law) {
    made.elements.push(Elem { name: name.into(), part: None, a, b, law, spread: 0.1 });
}

/// A wire as it is: joint, conductor, joint.
fn wire(made: &mut Schematic, from: Node, to: Node) {
    let (a, b) = (node(made), node(made));
    add(made, "joint", from, a, Law::Resistor { ohms: 0.001 });
    add(made, "wire", a, b, Law::Resistor { ohms: 0.02 });
    add(made, "joint", b, to, Law::Resistor { ohms: 0.001 });
}

fn wire_to_new(made: &mut Schematic, from: Node) -> Node {
    let (a, b, end) = (node(made), node(made), node(made));
    add(made, "joint", from, a, Law::Resistor { ohms: 0.001 });
    add(made, "wire", a, b, Law::Resistor { ohms: 0.02 });
    add(made, "joint", b, end, Law::Resistor { ohms: 0.001 });
    end
}
