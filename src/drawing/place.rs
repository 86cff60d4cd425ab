//! Where everything of one group stands: columns get their widths, hubs their heights.

use super::Picture;
use super::labels::Row;
use super::levels::{Need, STEP, Scale, UNHELD};
use super::measure::width;
use super::order::{Columns, columns};
use super::plugs;
use super::scene::{Bit, BitKind, GRAIN, HubKind, What, grains};
use super::symbols::{HALF, Symbol};
use crate::circuit::schematic::Node;
use petgraph::graph::NodeIndex;

/// Words stand so far right of their wire, and of a symbol.
pub const BESIDE: f64 = 10.0;
/// See [`BESIDE`].
pub const BESIDE_SYMBOL: f64 = 21.0;
/// Two bars of different volts are so far apart at least where one is over the other.
const APART: f64 = 13.0;
/// A hub's own words over and under its bar.
const WORDS: f64 = 15.0;
/// From what hangs lowest to what nothing holds: a line and its heading are between.
const UNDER: f64 = 48.0;
/// A bolt's shaft.
const SHAFT: f64 = 20.0;

/// What stands beside one edge or piece of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Block {
    /// Words.
    pub rows: Vec<Row>,
    /// The symbol, for elements.
    pub symbol: Option<Symbol>,
    /// Room for a plug's face over the words: width and height.
    pub face: [f64; 2],
    /// Ranks of suspects in it, with their chances.
    pub suspects: Vec<(usize, f64)>,
}

/// One group placed.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// Columns.
    pub columns: Columns,
    /// Of each column: left end, line, right end.
    pub lanes: Vec<[f64; 3]>,
    /// Of each hub: left and right end of its bar.
    pub bars: Vec<[f64; 2]>,
    /// Of each hub: the key of its height.
    pub keys: Vec<f64>,
    /// Of each edge: what stands beside it, one for each piece.
    pub blocks: Vec<Vec<Block>>,
    /// Of each edge: keys of its points, from its upper end to its lower.
    pub points: Vec<Vec<f64>>,
    /// Rings under each stud: the words of each, the first a heading.
    pub rings: Vec<Vec<(Row, Option<String>)>>,
    /// Heights.
    pub scale: Scale,
    /// Width and height.
    pub size: [f64; 2],
}

impl Picture<'_> {
    /// Places the group.
    pub fn layout(&self) -> Layout {
        let rules = self.rules();
        let columns = columns(&self.scene);
        let blocks: Vec<Vec<Block>> = (0..self.scene.edges.len()).map(|edge| self.blocks(edge)).collect();
        let rings: Vec<_> = (0..self.scene.hubs.len()).map(|hub| self.rings(hub)).collect();
        let lanes = self.lanes(&columns, &blocks, &rings);
        let bars = self.bars(&columns, &lanes);
        let reach = self.reach(&columns, &lanes, &bars);
        let keys = self.keys(&reach);
        let points: Vec<Vec<f64>> = (0..self.scene.edges.len()).map(|edge| self.points(edge, &keys)).collect();
        let mut needs = Vec::new();
        for (edge, known) in self.scene.edges.iter().enumerate() {
            if !known.level {
                for (block, two) in blocks[edge].iter().zip(points[edge].windows(2)) {
                    needs.push(Need { high: two[0], low: two[1], gap: self.room(block, blocks[edge].len() == 1) });
                }
            }
        }
        for one in 0..keys.len() {
            for other in 0..keys.len() {
                if keys[one] > keys[other] && over(reach[one], reach[other]) {
                    needs.push(Need { high: keys[one], low: keys[other], gap: APART });
                }
            }
        }
        needs.extend(self.hanging(&columns, &lanes, &blocks, &rings, &reach, &keys));
        // What nothing holds stands under all the rest, and under what hangs there.
        let feet = self.feet(&columns, &blocks, &rings, &keys);
        for &low in keys.iter().filter(|key| **key < UNHELD / 2.0) {
            let held = feet.iter().filter(|(_, key)| *key > UNHELD / 2.0);
            needs.extend(held.map(|&(below, high)| Need { high, low, gap: below + UNDER }));
        }
        let scale = Scale::new(keys.iter().copied(), &needs, rules.size("volt"), rules.size("tallest"));
        let mut height = scale.height();
        for (below, left) in feet {
            height = height.max(scale.y(left) + below);
        }
        let wide = lanes.last().map_or(0.0, |lane| lane[2]);
        Layout { columns, lanes, bars, keys, blocks, points, rings, scale, size: [wide, height + 8.0] }
    }

    /// What stands beside an edge.
    fn blocks(&self, edge: usize) -> Vec<Block> {
        let known = &self.scene.edges[edge];
        let mut out: Vec<Block> = match &known.what {
            What::Run(bits) => bits.iter().map(|bit| self.bit_block(bit)).collect(),
            What::Element(id) => {
                let (symbol, rows) = self.element_rows(*id, known);
                vec![Block { rows, symbol: Some(symbol), suspects: self.suspects_in(&[*id]), ..Block::default() }]
            }
            What::Seat(id) => {
                // A bolt that hangs under its metal has its rings beside the shaft: its wires go on below.
                let rows = self.rings(known.ends[1]).into_iter().map(|ring| ring.0).collect();
                vec![Block { rows, suspects: self.suspects_in(&[*id]), ..Block::default() }]
            }
            What::Gap(part) => {
                vec![Block { rows: self.gap_rows(part), symbol: Some(Symbol::Gap), ..Block::default() }]
            }
        };
        // What was met at an end stands first or last beside the edge that begins or ends there.
        let own = |hub: usize| {
            // Beside a bolt there is no room.
            let edges = || self.scene.edges.iter().enumerate().filter(|(_, edge)| !matches!(edge.what, What::Seat(_)));
            let first = edges().find(|(_, edge)| edge.ends[0] == hub && !edge.level);
            first.or_else(|| edges().find(|(_, edge)| edge.ends.contains(&hub))).map(|(at, _)| at)
        };
        for (which, hub) in known.ends.into_iter().enumerate() {
            if own(hub) == Some(edge) {
                let rows = self.met(self.scene.hubs[hub].node);
                if let Some(block) = if which == 0 { out.first_mut() } else { out.last_mut() } {
                    let at = if which == 0 { 0 } else { block.rows.len() };
                    block.rows.splice(at..at, rows);
                }
            }
        }
        out
    }

    fn bit_block(&self, bit: &Bit) -> Block {
        let mut rows = self.bit_rows(bit);
        // Points inside a run: what was met where this piece begins, and behind the terminals at its ends.
        let wire = match &bit.what {
            BitKind::Wire { name, .. } => self.machine.netlist.wires.get(name),
            BitKind::Way { .. } => None,
        };
        let mut inside: Vec<Node> = wire.map(|wire| wire.ends.map(|end| end.index()).to_vec()).unwrap_or_default();
        if !self.scene.hubs.iter().any(|hub| hub.node == bit.nodes[0]) {
            inside.push(bit.nodes[0]);
        }
        inside.retain(|node| self.scene.hubs.iter().all(|hub| hub.node != *node));
        rows.extend(inside.into_iter().flat_map(|node| self.met(node)));
        let face = match &bit.what {
            BitKind::Way { plug, way, .. } => self.small_face(plug, way, [0.0, 0.0]).1,
            BitKind::Wire { .. } => [0.0, 0.0],
        };
        Block { rows, face, suspects: self.suspects_in(&bit.links), symbol: None }
    }

    /// A plug's face in small, one way filled.
    pub fn small_face(&self, plug: &str, way: &str, at: [f64; 2]) -> (Vec<super::shape::Shape>, [f64; 2]) {
        let Some(known) = self.machine.netlist.plugs.get(plug) else { return (Vec::new(), [0.0, 0.0]) };
        let face = plugs::face(known, 'a', self.rows.get(plug));
        plugs::small(&face, way, at, self.rules().size("cell"))
    }

    fn met(&self, node: Node) -> Vec<Row> {
        self.marks.met.get(&node).into_iter().flatten().map(|text| Row::mark(text.clone())).collect()
    }

    /// What is under a bolt: each ring with the wire that it ends.
    fn rings(&self, hub: usize) -> Vec<(Row, Option<String>)> {
        let hub = &self.scene.hubs[hub];
        if hub.what != HubKind::Stud {
            return Vec::new();
        }
        let netlist = &self.machine.netlist;
        let node = NodeIndex::new(hub.node);
        let place = netlist.graph[node].place.as_ref().map_or_else(String::new, |place| format!(", {place}"));
        let elsewhere = Some(self.elsewhere(hub.node)).filter(|words| !words.is_empty());
        let elsewhere = elsewhere.map_or_else(String::new, |words| format!(", {words}"));
        let head = format!("{}{place}{elsewhere}", netlist.point_name(node));
        let mut out = vec![(Row { small: false, bold: true, ..Row::quiet(head) }, None)];
        for wire in netlist.wires.values() {
            for (here, there) in [(wire.from, wire.to), (wire.to, wire.from)] {
                if here == node {
                    out.push((Row::quiet(netlist.point_name(there)), Some(wire.colour.clone().unwrap_or_default())));
                }
            }
        }
        out
    }

    /// How tall the rings under a bolt are.
    fn rings_high(&self, rings: &[(Row, Option<String>)]) -> f64 {
        if rings.is_empty() { 0.0 } else { rings.len() as f64 * self.rules().size("row") + 12.0 }
    }

    /// Left end, line and right end of each column.
    fn lanes(&self, columns: &Columns, blocks: &[Vec<Block>], rings: &[Vec<(Row, Option<String>)>]) -> Vec<[f64; 3]> {
        let rules = self.rules();
        let mut left = vec![16.0f64; columns.count];
        let mut right = vec![14.0f64; columns.count];
        let mut lying = vec![false; columns.count];
        for (hub, known) in self.scene.hubs.iter().enumerate() {
            let words = self.hub_words(known);
            let wide = width(&words[0], rules.size("text"), true).max(width(&words[1], rules.size("small"), false));
            let at = columns.hub[hub];
            left[at] = left[at].max(wide + 13.0);
        }
        for (edge, known) in self.scene.edges.iter().enumerate() {
            let at = columns.edge[edge];
            let seat = matches!(known.what, What::Seat(_));
            for (row, _) in known.ends.iter().filter(|_| seat).flat_map(|&end| &rings[end]) {
                right[at] = right[at].max(self.wide(std::slice::from_ref(row)) + 24.0);
            }
            for block in &blocks[edge] {
                let beside = if block.symbol.is_some() || seat { BESIDE_SYMBOL + 4.0 } else { BESIDE + 4.0 };
                right[at] = right[at].max(self.wide(&block.rows).max(block.face[0]) + beside);
                let aside = block.symbol.is_some() || seat;
                left[at] = left[at].max(if aside && !block.suspects.is_empty() { 42.0 } else { 18.0 });
            }
            if known.level {
                lying[at] = true;
                let pieces = blocks[edge].len() as f64;
                right[at] = right[at].max(pieces * 30.0).max(2.0 * HALF + 24.0) + 6.0;
            }
        }
        let mut x = 0.0;
        let mut out = Vec::with_capacity(columns.count);
        for at in 0..columns.count {
            let line = x + if lying[at] { 0.0 } else { left[at] };
            out.push([x, line, line + right[at]]);
            x = line + right[at] + rules.size("lane");
        }
        out
    }

    /// Left and right ends of the hubs' bars.
    fn bars(&self, columns: &Columns, lanes: &[[f64; 3]]) -> Vec<[f64; 2]> {
        let mut out: Vec<[f64; 2]> = columns.hub.iter().map(|&at| [lanes[at][1], lanes[at][1]]).collect();
        for (edge, known) in self.scene.edges.iter().enumerate() {
            let lane = lanes[columns.edge[edge]];
            for hub in known.ends {
                let own = columns.hub[hub];
                let to = match (known.level, columns.edge[edge] > own) {
                    (false, _) => lane[1],
                    (true, true) => lane[0],
                    (true, false) => lane[2],
                };
                out[hub] = [out[hub][0].min(to), out[hub][1].max(to)];
            }
        }
        out
    }

    /// What a bar takes up at its height, its lying pieces with it.
    fn reach(&self, columns: &Columns, lanes: &[[f64; 3]], bars: &[[f64; 2]]) -> Vec<[f64; 2]> {
        let mut out: Vec<[f64; 2]> = bars.to_vec();
        for (edge, known) in self.scene.edges.iter().enumerate().filter(|(_, edge)| edge.level) {
            let reach = &mut out[known.ends[0]];
            reach[0] = reach[0].min(lanes[columns.edge[edge]][0]);
            reach[1] = reach[1].max(lanes[columns.edge[edge]][2]);
        }
        out
    }

    /// Keys of the hubs: volts to the grain; those that would lie on each other a step apart, metal last.
    fn keys(&self, reach: &[[f64; 2]]) -> Vec<f64> {
        let hubs = &self.scene.hubs;
        let base = |hub: usize| hubs[hub].volts.map_or(UNHELD, |volts| grains(volts) as f64 * GRAIN);
        let mut order: Vec<usize> = (0..hubs.len()).collect();
        order.sort_by(|&a, &b| {
            let metal = |hub: usize| hubs[hub].what == HubKind::Piece;
            base(b)
                .total_cmp(&base(a))
                .then(metal(a).cmp(&metal(b)))
                .then(reach[a][0].total_cmp(&reach[b][0]))
                .then(a.cmp(&b))
        });
        let mut out = vec![0.0; hubs.len()];
        let mut taken: Vec<(f64, usize, usize)> = Vec::new();
        for hub in order {
            let key = base(hub);
            let lies_on = |other: usize| over(reach[hub], reach[other]);
            let same = |level: usize, taken: &[(f64, usize, usize)]| {
                taken.iter().any(|&(known, at, other)| known == key && at == level && lies_on(other))
            };
            // A bolt's own metal is never over it.
            let least = if hubs[hub].what == HubKind::Piece {
                taken
                    .iter()
                    .filter(|(known, _, other)| *known == key && lies_on(*other))
                    .map(|t| t.1 + 1)
                    .max()
                    .unwrap_or(0)
            } else {
                0
            };
            let level = (least..).find(|&level| !same(level, &taken)).unwrap_or(least);
            taken.push((key, level, hub));
            out[hub] = key - level as f64 * STEP;
        }
        out
    }

    /// Keys of an edge's points, from its upper end to its lower, never rising.
    fn points(&self, edge: usize, keys: &[f64]) -> Vec<f64> {
        let known = &self.scene.edges[edge];
        let (high, low) = (keys[known.ends[0]], keys[known.ends[1]]);
        let mut out = vec![high];
        if let What::Run(bits) = &known.what {
            let count = bits.len() as f64;
            for (at, bit) in bits.iter().enumerate().take(bits.len().saturating_sub(1)) {
                let before = out[out.len() - 1];
                let even = high + (low - high) * (at + 1) as f64 / count;
                let volts = self.solved.at(bit.nodes[1]).filter(|_| low > UNHELD / 2.0).unwrap_or(even);
                // Rounding of the ends may leave no room: then in even steps.
                out.push(if volts < before && volts > low {
                    volts
                } else {
                    before + (low - before) / (count - at as f64)
                });
            }
        }
        out.push(low);
        out
    }

    /// Room that one piece wants.
    fn room(&self, block: &Block, alone: bool) -> f64 {
        let row = self.rules().size("row");
        let words = block.rows.len() as f64 * row + block.face[1] + 5.0;
        let symbol = if block.symbol.is_some() { 2.0 * HALF + 10.0 } else { 0.0 };
        let rings = if block.suspects.is_empty() { 0.0 } else { 24.0 * block.suspects.len() as f64 + 26.0 };
        let ends = if alone { 2.0 * WORDS } else { 20.0 };
        words.max(symbol).max(rings).max(if block.rows.is_empty() && block.symbol.is_none() { SHAFT } else { ends })
    }

    /// What hangs under bars: words of lying pieces, rings of bolts.
    fn hanging(
        &self,
        columns: &Columns,
        lanes: &[[f64; 3]],
        blocks: &[Vec<Block>],
        rings: &[Vec<(Row, Option<String>)>],
        reach: &[[f64; 2]],
        keys: &[f64],
    ) -> Vec<Need> {
        let mut out = Vec::new();
        let mut hang = |key: f64, lane: [f64; 3], gap: f64| {
            for (hub, &low) in keys.iter().enumerate() {
                if low < key && over(reach[hub], [lane[0], lane[2]]) {
                    out.push(Need { high: key, low, gap });
                }
            }
        };
        for (edge, known) in self.scene.edges.iter().enumerate() {
            if known.level {
                hang(keys[known.ends[0]], lanes[columns.edge[edge]], self.lying_high(&blocks[edge]) + APART);
            }
            if matches!(known.what, What::Seat(_)) {
                hang(keys[known.ends[1]], lanes[columns.edge[edge]], self.rings_high(&rings[known.ends[0]]) + WORDS);
            }
        }
        out
    }

    /// How far the words of a lying piece hang under it.
    pub fn lying_high(&self, blocks: &[Block]) -> f64 {
        let rows: f64 =
            blocks.iter().map(|block| block.rows.len() as f64 * self.rules().size("row") + block.face[1]).sum();
        rows + if blocks.iter().any(|block| block.symbol.is_some()) { HALF + 2.0 } else { 10.0 }
    }

    /// What hangs under which key, to know where the drawing ends.
    fn feet(
        &self,
        columns: &Columns,
        blocks: &[Vec<Block>],
        rings: &[Vec<(Row, Option<String>)>],
        keys: &[f64],
    ) -> Vec<(f64, f64)> {
        let mut out: Vec<(f64, f64)> = keys.iter().map(|&key| (WORDS, key)).collect();
        for (edge, known) in self.scene.edges.iter().enumerate().take(columns.edge.len()) {
            if known.level {
                out.push((self.lying_high(&blocks[edge]), keys[known.ends[0]]));
            }
            if matches!(known.what, What::Seat(_)) {
                out.push((self.rings_high(&rings[known.ends[0]]) + WORDS, keys[known.ends[1]]));
            }
        }
        out
    }
}

/// Does one reach over the other? Ends that meet do not; a bar that is a mere point counts where it lies inside.
fn over(one: [f64; 2], other: [f64; 2]) -> bool {
    let [a, b] =
        [one, other].map(|[left, right]| if right - left < 2.0 { [left - 1.0, right + 1.0] } else { [left, right] });
    a[0] < b[1] - 0.5 && b[0] < a[1] - 0.5
}
