//! By which settings every point comes to battery plus and to battery minus: found by structure, to be solved after.
//!
//! One search outward from the plus of every battery and one from the minus, over copper, fuses, diodes and contacts.
//! A contact asks for its control's setting; one that a coil moves asks for what feeds the coil. Each point keeps the
//! few cheapest ways, so that the search grows with the machine and not with its combinations.

use crate::circuit::schematic::{ControlId, Elem, ElementId, Law, Node, Schematic, When};
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

/// Settings that a way asks for; controls that it does not name do not matter to it.
pub type Asked = BTreeMap<ControlId, usize>;

/// Ways kept at a point.
const KEPT: usize = 5;
/// No more than this is no load, ohm.
const COPPER: f64 = 0.1;
/// A relay may be let in by a relay that a relay lets in.
const ROUNDS: usize = 3;

/// The cheapest ways of every node.
#[derive(Clone, Debug, Default)]
pub struct Ways {
    /// To a battery's plus.
    pub plus: Vec<Vec<Asked>>,
    /// To a battery's minus.
    pub minus: Vec<Vec<Asked>>,
}

impl Ways {
    /// Finds them, from the posts of these batteries (plus, minus).
    pub fn new(schematic: &Schematic, posts: &[(Node, Node)]) -> Ways {
        let plus: Vec<Node> = posts.iter().map(|post| post.0).collect();
        let minus: Vec<Node> = posts.iter().map(|post| post.1).collect();
        let mut at: Vec<Vec<ElementId>> = vec![Vec::new(); schematic.nodes.len()];
        for (id, element) in schematic.elements.iter().enumerate() {
            at[element.a].push(id);
            at[element.b].push(id);
        }
        let mut ways = Ways::default();
        let mut moved: BTreeMap<ElementId, Vec<Asked>> = BTreeMap::new();
        for _ in 0..ROUNDS {
            ways.plus = search(schematic, &at, &plus, true, &moved);
            ways.minus = search(schematic, &at, &minus, false, &moved);
            let mut now = BTreeMap::new();
            for (id, element) in schematic.elements.iter().enumerate().filter(|(_, e)| e.law.coil().is_some()) {
                let asked = ways.between(element.a, element.b);
                if !asked.is_empty() {
                    now.insert(id, asked);
                }
            }
            if now == moved {
                break;
            }
            moved = now;
        }
        ways
    }

    /// What has to be set for current between two nodes, either way round; cheapest first.
    pub fn between(&self, a: Node, b: Node) -> Vec<Asked> {
        let mut out: Vec<Asked> = Vec::new();
        for (p, m) in [(a, b), (b, a)] {
            for plus in &self.plus[p] {
                out.extend(self.minus[m].iter().filter_map(|minus| both(plus, minus)));
            }
        }
        out.sort_by(|x, y| cost(x).cmp(&cost(y)).then_with(|| x.cmp(y)));
        out.dedup();
        out.truncate(KEPT);
        out
    }
}

/// Do the two not contradict each other?
pub fn agree(one: &Asked, other: &Asked) -> bool {
    other.iter().all(|(control, setting)| one.get(control).is_none_or(|known| known == setting))
}

/// Both asked for at once, if they do not contradict each other.
pub fn both(one: &Asked, other: &Asked) -> Option<Asked> {
    let mut out = one.clone();
    for (&control, &setting) in other {
        if *out.entry(control).or_insert(setting) != setting {
            return None;
        }
    }
    Some(out)
}

/// Controls away from rest, then controls at all.
fn cost(asked: &Asked) -> (usize, usize) {
    (asked.values().filter(|&&setting| setting != 0).count(), asked.len())
}

/// Each control that one asks for the other asks for too.
fn within(one: &Asked, other: &Asked) -> bool {
    one.iter().all(|(control, setting)| other.get(control) == Some(setting))
}

/// What passing an element from `from` asks for besides; nothing where it does not pass.
fn passing(element: &Elem, forward: bool, asked: &Asked, moved: &BTreeMap<ElementId, Vec<Asked>>) -> Vec<Asked> {
    match &element.law {
        Law::Resistor { ohms } if element.part.is_none() || *ohms <= COPPER => vec![asked.clone()],
        Law::Interrupter { ohms, hertz, .. } if *ohms <= COPPER && *hertz < 3.0 => vec![asked.clone()],
        Law::Diode { .. } if forward => vec![asked.clone()],
        Law::Contact { ohms, when } if *ohms <= COPPER => match when {
            When::Always | When::Fuse { .. } => vec![asked.clone()],
            When::Setting { control, closed } => match asked.get(control) {
                Some(now) if closed.contains(now) => vec![asked.clone()],
                Some(_) => Vec::new(),
                None => closed
                    .iter()
                    .map(|&setting| asked.iter().map(|(c, s)| (*c, *s)).chain([(*control, setting)]).collect())
                    .collect(),
            },
            // At rest it is closed; whatever lets its coil in is another state's matter.
            When::Coil { make: false, .. } => vec![asked.clone()],
            When::Coil { coil, make: true } => {
                moved.get(coil).map_or_else(Vec::new, |ways| ways.iter().filter_map(|way| both(asked, way)).collect())
            }
        },
        _ => Vec::new(),
    }
}

/// A place on the way: what it has cost, which came first, the node, what was asked so far.
type Open = ((usize, usize), usize, Node, Asked);

fn search(
    schematic: &Schematic,
    at: &[Vec<ElementId>],
    starts: &[Node],
    from_plus: bool,
    moved: &BTreeMap<ElementId, Vec<Asked>>,
) -> Vec<Vec<Asked>> {
    let mut kept: Vec<Vec<Asked>> = vec![Vec::new(); schematic.nodes.len()];
    let mut open: BinaryHeap<Reverse<Open>> =
        starts.iter().map(|&node| Reverse(((0, 0), 0, node, Asked::new()))).collect();
    let mut count = 0;
    while let Some(Reverse((_, _, node, asked))) = open.pop() {
        if kept[node].len() >= KEPT || kept[node].iter().any(|known| within(known, &asked)) {
            continue;
        }
        kept[node].push(asked.clone());
        for &id in &at[node] {
            let element = &schematic.elements[id];
            let next = if element.a == node { element.b } else { element.a };
            // Seen from plus, current goes on from here; seen from minus, it comes from there.
            let forward = (element.a == node) == from_plus;
            for asked in passing(element, forward, &asked, moved) {
                if !kept[next].iter().any(|known| within(known, &asked)) {
                    count += 1;
                    open.push(Reverse((cost(&asked), count, next, asked)));
                }
            }
        }
    }
    kept
}
