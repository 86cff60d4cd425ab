//! Plain shapes for what lies inside parts, in the manner of IEC 60617: drawn upright about the origin, leads up and down.

use super::shape::{Anchor, At, Shape};
use crate::circuit::schematic::{Law, When};

/// What is drawn for an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Symbol {
    /// A box.
    Resistor,
    /// A box with a stroke: a winding that moves contacts.
    Coil,
    /// A circle with a cross.
    Lamp,
    /// A circle with a letter.
    Letter(char),
    /// A half round with its mouth.
    Horn,
    /// A contact, closed or open.
    Contact {
        /// It passes.
        closed: bool,
    },
    /// A box with a line through it.
    Fuse {
        /// It is whole.
        whole: bool,
    },
    /// Long and short plates.
    Battery,
    /// A triangle on a bar.
    Diode,
    /// A circle with a needle.
    Gauge,
    /// A box with dashes: nothing is there.
    Gap,
}

/// Half the height that a symbol takes.
pub const HALF: f64 = 16.0;

/// The symbol of a law. `needle`: it is the inside of a gauge; `here`: the element passes, it is whole.
pub fn of(law: &Law, needle: bool, here: bool) -> Symbol {
    match law {
        Law::Open => Symbol::Gap,
        _ if needle => Symbol::Gauge,
        Law::Resistor { .. } => Symbol::Resistor,
        Law::By { laws, .. } => laws.first().map_or(Symbol::Resistor, |law| of(law, needle, here)),
        Law::Filament { .. } => Symbol::Lamp,
        Law::Diode { .. } => Symbol::Diode,
        Law::Contact { when: When::Fuse { .. }, .. } => Symbol::Fuse { whole: here },
        Law::Contact { .. } => Symbol::Contact { closed: here },
        Law::Source { .. } | Law::Cell { .. } => Symbol::Battery,
        Law::Motor { .. } => Symbol::Letter('M'),
        Law::Interrupter { hertz, .. } if *hertz > 20.0 => Symbol::Horn,
        Law::Interrupter { .. } => Symbol::Letter('F'),
        Law::Coil { .. } | Law::Solenoid { .. } => Symbol::Coil,
        Law::PulseSource { .. } => Symbol::Letter('G'),
        Law::PulseInput { .. } => Symbol::Gauge,
    }
}

impl Symbol {
    /// Its shapes about a point, turned to lie if the wire lies there.
    pub fn shapes(self, [x, y]: At, lying: bool) -> Vec<Shape> {
        let turn = |[dx, dy]: At| if lying { [x + dy, y + dx] } else { [x + dx, y + dy] };
        let line = |points: &[At], width: f64| Shape::line(points.iter().map(|&at| turn(at)).collect(), width);
        let round = |radius: f64| Shape::Circle { at: [x, y], radius, fill: Some("paper"), ink: "ink", width: 1.8 };
        let boxed = |half: At| {
            let [w, h] = if lying { [half[1], half[0]] } else { half };
            Shape::Box {
                at: [x - w, y - h],
                size: [2.0 * w, 2.0 * h],
                round: 0.0,
                fill: Some("paper"),
                ink: "ink",
                width: 1.8,
            }
        };
        match self {
            Symbol::Resistor => vec![boxed([6.0, 12.0])],
            Symbol::Coil => vec![boxed([10.0, 8.0]), line(&[[-10.0, 8.0], [10.0, -8.0]], 1.4)],
            Symbol::Lamp => {
                let r = 11.0 * core::f64::consts::FRAC_1_SQRT_2;
                vec![round(11.0), line(&[[-r, -r], [r, r]], 1.6), line(&[[-r, r], [r, -r]], 1.6)]
            }
            Symbol::Letter(letter) => {
                vec![round(12.0), Shape::bold([x, y + 5.0], Anchor::Middle, 14.0, "ink", letter.to_string())]
            }
            Symbol::Horn => {
                vec![boxed([5.0, 9.0]), line(&[[5.0, -9.0], [14.0, -15.0], [14.0, 15.0], [5.0, 9.0]], 1.8)]
            }
            Symbol::Contact { closed } => {
                let tip = if closed { [0.0, -11.0] } else { [10.0, -11.0] };
                let mut out = vec![blank(turn([-4.0, -11.0]), turn([4.0, 11.0])), line(&[[0.0, 11.0], tip], 2.2)];
                for end in [[0.0, -11.0], [0.0, 11.0]] {
                    out.push(Shape::Circle { at: turn(end), radius: 2.6, fill: Some("paper"), ink: "ink", width: 1.6 });
                }
                out
            }
            Symbol::Fuse { whole } => {
                let mut out = vec![boxed([6.0, 13.0])];
                if whole {
                    out.push(line(&[[0.0, -13.0], [0.0, 13.0]], 1.4));
                } else {
                    out.push(line(&[[0.0, -13.0], [0.0, -5.0]], 1.4));
                    out.push(line(&[[0.0, 5.0], [0.0, 13.0]], 1.4));
                    out.push(line(&[[-4.0, 4.0], [4.0, -4.0]], 1.4));
                }
                out
            }
            Symbol::Battery => {
                let mut out = vec![blank(turn([-12.0, -9.0]), turn([12.0, 9.0]))];
                for (at, half, width) in [(-9.0, 12.0, 1.8), (-3.0, 6.0, 3.4), (3.0, 12.0, 1.8), (9.0, 6.0, 3.4)] {
                    out.push(line(&[[-half, at], [half, at]], width));
                }
                for stroke in [[[-20.0, -13.0], [-14.0, -13.0]], [[-17.0, -16.0], [-17.0, -10.0]]] {
                    out.push(line(&stroke, 1.6));
                }
                out
            }
            Symbol::Diode => vec![
                blank(turn([-2.0, -8.0]), turn([2.0, 8.0])),
                line(&[[-8.0, -7.0], [8.0, -7.0], [0.0, 7.0], [-8.0, -7.0]], 1.8),
                line(&[[-8.0, 7.0], [8.0, 7.0]], 2.2),
            ],
            Symbol::Gauge => vec![round(12.0), line(&[[-4.0, 7.0], [5.0, -7.0]], 2.0)],
            Symbol::Gap => {
                let dashed = |points: Vec<At>| Shape::Line {
                    points: points.into_iter().map(turn).collect(),
                    ink: "quiet",
                    width: 1.4,
                    dashed: true,
                };
                vec![
                    blank(turn([-8.0, -11.0]), turn([8.0, 11.0])),
                    dashed(vec![[-8.0, -11.0], [8.0, -11.0], [8.0, 11.0], [-8.0, 11.0], [-8.0, -11.0]]),
                ]
            }
        }
    }
}

/// A patch of paper over what lies beneath.
fn blank(a: At, b: At) -> Shape {
    let (left, top) = (a[0].min(b[0]), a[1].min(b[1]));
    let size = [(a[0] - b[0]).abs(), (a[1] - b[1]).abs()];
    Shape::Box { at: [left, top], size, round: 0.0, fill: Some("paper"), ink: "paper", width: 0.5 }
}
