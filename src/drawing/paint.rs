//! One placed group as shapes: bars and wires first, words in front.

use super::Picture;
use super::labels::Row;
use super::place::{BESIDE, BESIDE_SYMBOL, Block, Layout};
use super::plugs;
use super::scene::{Bit, BitKind, HubKind, What};
use super::shape::{Anchor, At, Shape};
use super::symbols::HALF;
use crate::netlist::PointKind;
use petgraph::graph::NodeIndex;

/// A bar of metal reaches so far beyond its bolts.
const BEYOND: f64 = 14.0;
/// Radius of a suspect's ring.
const RING: f64 = 10.0;

/// Shapes by how far in front they are.
#[derive(Default)]
struct Sheet {
    under: Vec<Shape>,
    wires: Vec<Shape>,
    marks: Vec<Shape>,
    words: Vec<Shape>,
    front: Vec<Shape>,
}

impl Picture<'_> {
    /// The group's shapes, its upper left corner at the origin.
    pub fn shapes(&self, layout: &Layout) -> Vec<Shape> {
        let mut sheet = Sheet::default();
        for hub in 0..self.scene.hubs.len() {
            self.hub(layout, hub, &mut sheet);
        }
        for (edge, known) in self.scene.edges.iter().enumerate() {
            if known.level {
                self.lying(layout, edge, &mut sheet);
            } else {
                self.standing(layout, edge, &mut sheet);
            }
        }
        [sheet.under, sheet.wires, sheet.marks, sheet.words, sheet.front].concat()
    }

    fn hub(&self, layout: &Layout, hub: usize, sheet: &mut Sheet) {
        let known = &self.scene.hubs[hub];
        let y = layout.scale.y(layout.keys[hub]);
        let [left, right] = layout.bars[hub];
        let metal = known.what == HubKind::Piece;
        if metal {
            sheet.under.push(Shape::line(vec![[left - BEYOND, y], [right + BEYOND, y]], 6.0));
        } else if right - left > 0.5 {
            sheet.under.push(Shape::line(vec![[left, y], [right, y]], 2.4));
        }
        if !matches!(known.what, HubKind::Stud | HubKind::Piece) {
            for (edge, other) in self.scene.edges.iter().enumerate().filter(|(_, edge)| !edge.level) {
                if other.ends.contains(&hub) {
                    sheet.marks.push(dot([layout.lanes[layout.columns.edge[edge]][1], y], 2.6));
                }
            }
        }
        let x = layout.lanes[layout.columns.hub[hub]][1] - 10.0;
        let [over, under] = self.hub_words(known);
        // Beside the shaft of a bolt that hangs under its metal are its rings.
        let hangs = known.what == HubKind::Stud
            && self.scene.edges.iter().any(|edge| matches!(edge.what, What::Seat(_)) && edge.ends[1] == hub);
        let over_y = if metal {
            y - 7.0
        } else if hangs {
            y + 14.0
        } else {
            y - 4.0
        };
        let (text, small) = (self.rules().size("text"), self.rules().size("small"));
        if !over.is_empty() {
            sheet.words.push(Shape::bold([x, over_y], Anchor::End, text, "ink", over));
        }
        if !under.is_empty() {
            let y = if hangs {
                y + 26.0
            } else if metal {
                y + 14.0
            } else {
                y + 11.0
            };
            sheet.words.push(Shape::text([x, y], Anchor::End, small, "quiet", under));
        }
    }

    /// An upright edge.
    fn standing(&self, layout: &Layout, edge: usize, sheet: &mut Sheet) {
        let known = &self.scene.edges[edge];
        let x = layout.lanes[layout.columns.edge[edge]][1];
        let ys: Vec<f64> = layout.points[edge].iter().map(|&key| layout.scale.y(key)).collect();
        let blocks = &layout.blocks[edge];
        match &known.what {
            What::Run(bits) => {
                for ((bit, block), two) in bits.iter().zip(blocks).zip(ys.windows(2)) {
                    let middle = (two[0] + two[1]) / 2.0;
                    self.copper(bit, [[x, two[0]], [x, two[1]]], sheet);
                    self.beside(bit, block, [x, middle], sheet);
                    self.suspects(block, [x, middle], sheet);
                }
                for (bit, y) in bits.iter().skip(1).zip(&ys[1..]) {
                    self.between(bit, [x, *y], sheet);
                }
            }
            What::Element(_) | What::Gap(_) => {
                let Some(block) = blocks.first() else { return };
                let (top, bottom) = (ys[0], ys[ys.len() - 1]);
                let middle = [x, self.clear(layout, edge, block, [top, bottom])];
                let dashed = matches!(known.what, What::Gap(_));
                sheet.wires.push(Shape::Line { points: vec![[x, top], [x, bottom]], ink: "ink", width: 1.8, dashed });
                if let Some(symbol) = block.symbol {
                    sheet.marks.extend(symbol.shapes(middle, false));
                }
                self.rows(&block.rows, [x + BESIDE_SYMBOL, middle[1] - self.half(block)], sheet);
                self.suspects(block, [x - 24.0, middle[1]], sheet);
            }
            What::Seat(_) => self.bolt(layout, edge, x, [ys[0], ys[ys.len() - 1]], sheet),
        }
    }

    /// Where along an upright edge its symbol and words stand: in the middle, or as near to it as no bar runs through them.
    fn clear(&self, layout: &Layout, edge: usize, block: &Block, [top, bottom]: [f64; 2]) -> f64 {
        let middle = (top + bottom) / 2.0;
        let x = layout.lanes[layout.columns.edge[edge]][1];
        let (left, right) = (x - HALF, x + BESIDE_SYMBOL + self.wide(&block.rows));
        let half = self.half(block).max(HALF) + 3.0;
        let bars: Vec<f64> = (0..layout.bars.len())
            .filter(|hub| !self.scene.edges[edge].ends.contains(hub))
            .filter(|&hub| layout.bars[hub][0] < right && layout.bars[hub][1] > left)
            .map(|hub| layout.scale.y(layout.keys[hub]))
            .collect();
        let free = |y: &f64| bars.iter().all(|bar| (bar - y).abs() > half);
        let (from, to) = (top + half.max(HALF + 5.0), bottom - half.max(HALF + 5.0));
        let steps = (((to - from) / 4.0).max(0.0)) as usize;
        let places = (0..=steps).map(|at| from + 4.0 * at as f64).filter(|y| *y <= to);
        let near = places.filter(free).min_by(|a, b| (a - middle).abs().total_cmp(&(b - middle).abs()));
        if free(&middle) { middle } else { near.unwrap_or(middle) }
    }

    /// Half the height of a block's words.
    fn half(&self, block: &Block) -> f64 {
        (block.rows.len() as f64 * self.rules().size("row") + block.face[1]) / 2.0
    }

    /// A wire or a contact from one place to another.
    fn copper(&self, bit: &Bit, [from, to]: [At; 2], sheet: &mut Sheet) {
        let part = |share: f64| [from[0] + (to[0] - from[0]) * share, from[1] + (to[1] - from[1]) * share];
        match &bit.what {
            BitKind::Wire { name, broken } => {
                let colour = self.machine.netlist.wires.get(name).and_then(|wire| wire.colour.clone());
                let wire = |points: Vec<At>| Shape::Wire { points, colour: colour.clone() };
                if *broken {
                    sheet.wires.extend([wire(vec![from, part(0.35)]), wire(vec![part(0.65), to])]);
                    let [x, y] = part(0.5);
                    for turn in [-1.0, 1.0] {
                        sheet.front.push(Shape::Line {
                            points: vec![[x - 6.0, y - 6.0 * turn], [x + 6.0, y + 6.0 * turn]],
                            ink: "mark",
                            width: 2.6,
                            dashed: false,
                        });
                    }
                } else {
                    sheet.wires.push(wire(vec![from, to]));
                }
            }
            BitKind::Way { way, broken, .. } => {
                sheet.wires.push(Shape::Line { points: vec![from, to], ink: "ink", width: 2.4, dashed: *broken });
                sheet.marks.extend(plugs::mark(part(0.5), way));
            }
        }
    }

    /// The sleeve at which a piece begins.
    fn between(&self, bit: &Bit, [x, y]: At, sheet: &mut Sheet) {
        let Some(point) = self.machine.netlist.graph.node_weight(NodeIndex::new(bit.nodes[0])) else { return };
        if point.what == PointKind::Sleeve {
            sheet.marks.push(Shape::Box {
                at: [x - 5.5, y - 3.5],
                size: [11.0, 7.0],
                round: 1.5,
                fill: Some("quiet"),
                ink: "ink",
                width: 1.2,
            });
            if !point.name.ends_with("-sleeve") {
                let size = self.rules().size("small");
                sheet.words.push(Shape::text([x - 8.0, y + 4.0], Anchor::End, size, "quiet", point.name.clone()));
            }
        }
    }

    /// Words of a piece to its right, a plug's face over them.
    fn beside(&self, bit: &Bit, block: &Block, [x, y]: At, sheet: &mut Sheet) {
        let left = if matches!(bit.what, BitKind::Way { .. }) { x + BESIDE + 5.0 } else { x + BESIDE };
        let top = y - self.half(block);
        if let BitKind::Way { plug, way, .. } = &bit.what {
            sheet.marks.extend(self.small_face(plug, way, [left, top]).0);
        }
        self.rows(&block.rows, [left, top + block.face[1]], sheet);
    }

    /// Words from a corner on.
    fn rows(&self, rows: &[Row], [x, y]: At, sheet: &mut Sheet) {
        for (at, row) in rows.iter().enumerate() {
            let foot = y + (at as f64 + 0.77) * self.rules().size("row");
            sheet.words.push(self.row(row, [x, foot]));
        }
    }

    fn row(&self, row: &Row, at: At) -> Shape {
        let (size, text) = (self.letters(row), row.text.clone());
        Shape::Text { at, anchor: Anchor::Start, size, bold: row.bold, ink: row.ink, text }
    }

    /// Ranks in rings: the likelier the thicker.
    fn suspects(&self, block: &Block, [x, y]: At, sheet: &mut Sheet) {
        let top = y - 12.0 * block.suspects.len().saturating_sub(1) as f64;
        for (at, (rank, p)) in block.suspects.iter().enumerate() {
            let at = [x, top + 24.0 * at as f64];
            let width = 1.0 + 5.0 * p.clamp(0.0, 1.0);
            // The ring grows inwards no further than its number.
            sheet.front.push(Shape::Circle {
                at,
                radius: RING + width / 2.0 - 1.0,
                fill: Some("paper"),
                ink: "mark",
                width,
            });
            let foot = [at[0], at[1] + 4.0];
            sheet.front.push(Shape::bold(foot, Anchor::Middle, 11.5, "mark", rank.to_string()));
        }
    }

    /// A stud through its metal, and the rings under it.
    fn bolt(&self, layout: &Layout, edge: usize, x: f64, [top, bottom]: [f64; 2], sheet: &mut Sheet) {
        let known = &self.scene.edges[edge];
        let hangs = self.scene.hubs[known.ends[0]].what == HubKind::Piece;
        let (head, stud) = if hangs { (bottom, known.ends[1]) } else { (top, known.ends[0]) };
        let rings = &layout.rings[stud];
        let row = self.rules().size("row");
        let first = if hangs { (top + bottom) / 2.0 - rings.len() as f64 * row / 2.0 } else { bottom + 8.0 };
        let foot = if hangs { bottom } else { first + rings.len() as f64 * row };
        sheet.wires.push(Shape::Line { points: vec![[x, top], [x, foot]], ink: "quiet", width: 4.0, dashed: false });
        sheet.marks.push(Shape::Box {
            at: [x - 8.0, head - 4.0],
            size: [16.0, 8.0],
            round: 1.0,
            fill: Some("faint"),
            ink: "ink",
            width: 1.6,
        });
        for (at, (words, ring)) in rings.iter().enumerate() {
            let y = first + (at as f64 + 0.5) * row;
            if let Some(colour) = ring {
                let colour = Some(colour.clone()).filter(|colour| !colour.is_empty());
                sheet.marks.push(Shape::Swatch { at: [x, y], radius: 6.5, colour, ring: true });
            }
            sheet.words.push(self.row(words, [x + 12.0, y + 4.0]));
        }
        for block in &layout.blocks[edge] {
            self.suspects(block, [if hangs { x - 24.0 } else { x }, (top + bottom) / 2.0], sheet);
        }
    }

    /// An edge whose ends have the same volts: it lies, its words hang under it.
    fn lying(&self, layout: &Layout, edge: usize, sheet: &mut Sheet) {
        let known = &self.scene.edges[edge];
        let column = layout.columns.edge[edge];
        let [from, _, to] = layout.lanes[column];
        let ys = known.ends.map(|hub| layout.scale.y(layout.keys[hub]));
        let left = known.ends.map(|hub| layout.columns.hub[hub] < column);
        let y = ys[0];
        // The other end may stand a step higher or lower.
        let side = if left[0] && !left[1] { to } else { from };
        if left[0] == left[1] {
            sheet.wires.push(Shape::line(vec![[to, ys[0]], [to, ys[1]], [from, ys[1]]], 1.8));
        } else if (ys[0] - ys[1]).abs() > 0.05 {
            sheet.wires.push(Shape::line(vec![[side, ys[0]], [side, ys[1]]], 1.8));
        }
        let blocks = &layout.blocks[edge];
        let mut hang = y + 8.0;
        match &known.what {
            What::Run(bits) => {
                let turned = !left[0] && left[1];
                let piece = (to - from) / bits.len().max(1) as f64;
                let mut order: Vec<(&Bit, &Block)> = bits.iter().zip(blocks).collect();
                if turned {
                    order.reverse();
                }
                for (at, (bit, block)) in order.iter().enumerate() {
                    let start = from + piece * at as f64;
                    self.copper(bit, [[start, y], [start + piece, y]], sheet);
                    if at > 0 {
                        let node = bit.nodes[usize::from(turned)];
                        self.between(&Bit { nodes: [node, node], ..(*bit).clone() }, [start, y], sheet);
                    }
                    self.suspects(block, [start + piece / 2.0, y], sheet);
                    if let BitKind::Way { plug, way, .. } = &bit.what {
                        sheet.marks.extend(self.small_face(plug, way, [from + 4.0, hang]).0);
                        hang += block.face[1];
                    }
                    self.rows(&block.rows, [from + 4.0, hang], sheet);
                    hang += block.rows.len() as f64 * self.rules().size("row");
                }
            }
            What::Element(_) | What::Gap(_) | What::Seat(_) => {
                let middle = [(from + to) / 2.0, y];
                let dashed = matches!(known.what, What::Gap(_));
                sheet.wires.push(Shape::Line { points: vec![[from, y], [to, y]], ink: "ink", width: 1.8, dashed });
                for block in blocks {
                    if let Some(symbol) = block.symbol {
                        sheet.marks.extend(symbol.shapes(middle, true));
                    }
                    self.rows(&block.rows, [from + 4.0, y + HALF], sheet);
                    self.suspects(block, [middle[0] - 26.0, y], sheet);
                }
            }
        }
    }
}

fn dot(at: At, radius: f64) -> Shape {
    Shape::Circle { at, radius, fill: Some("ink"), ink: "ink", width: 0.5 }
}
