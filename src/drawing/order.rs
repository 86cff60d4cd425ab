//! Left and right: which column each edge stands in.
//!
//! Every edge has a column of its own but where one hangs straight under another; a hub is a level bar over all columns
//! of its edges. Seen so, current that branches never crosses anything; what comes together again may. The order in
//! which a hub's edges hang is changed, two neighbours at a time, as long as that leaves fewer crossings and shorter
//! bars.

use super::scene::{HubKind, Scene, What};

/// Neighbours are exchanged over the whole scene at most so many times.
const ROUNDS: usize = 12;
/// With more hubs than this nothing is tried: it would take minutes.
const TRIED: usize = 160;
/// A bar on a bar, a line through a bar, a column of bar: how bad.
const HEAP: f64 = 6.0;
const CROSSING: f64 = 3.0;
const LENGTH: f64 = 0.25;

/// Columns of a scene.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Columns {
    /// Of each edge.
    pub edge: Vec<usize>,
    /// Of each hub, where it was met first.
    pub hub: Vec<usize>,
    /// First and last column that each hub's bar reaches.
    pub bar: Vec<[usize; 2]>,
    /// How many there are.
    pub count: usize,
}

/// The best order found.
pub fn columns(scene: &Scene) -> Columns {
    let mut lists = lists(scene);
    let mut best = place(scene, &lists);
    if scene.hubs.len() > TRIED {
        return best;
    }
    let mut cost = worth(scene, &best);
    for _ in 0..ROUNDS {
        let before = cost;
        for hub in 0..lists.len() {
            for (one, other) in (0..lists[hub].len()).flat_map(|j| (0..j).map(move |i| (i, j))) {
                lists[hub].swap(one, other);
                let tried = place(scene, &lists);
                let now = worth(scene, &tried);
                if now + 1e-9 < cost {
                    (cost, best) = (now, tried);
                } else {
                    lists[hub].swap(one, other);
                }
            }
        }
        if before - cost < 1e-9 {
            break;
        }
    }
    best
}

/// Edges that hang from each hub: down or level. The battery's own comes first, level ones last.
fn lists(scene: &Scene) -> Vec<Vec<usize>> {
    let mut out = vec![Vec::new(); scene.hubs.len()];
    for (at, edge) in scene.edges.iter().enumerate() {
        out[edge.ends[0]].push(at);
        if edge.level {
            out[edge.ends[1]].push(at);
        }
    }
    for list in &mut out {
        list.sort_by_key(|&at| scene.edges[at].level);
    }
    out
}

/// Volts to sort by; what nothing holds is below all.
fn height(scene: &Scene, hub: usize) -> f64 {
    scene.hubs[hub].volts.unwrap_or(f64::NEG_INFINITY)
}

fn place(scene: &Scene, lists: &[Vec<usize>]) -> Columns {
    const NONE: usize = usize::MAX;
    let mut out =
        Columns { edge: vec![NONE; scene.edges.len()], hub: vec![NONE; scene.hubs.len()], ..Columns::default() };
    let mut roots: Vec<usize> = (0..scene.hubs.len()).collect();
    roots.sort_by(|&a, &b| height(scene, b).total_cmp(&height(scene, a)).then(a.cmp(&b)));
    let mut next = 0;
    for root in roots {
        if out.hub[root] != NONE {
            continue;
        }
        // Depth first without recursion: a machine may be one long string.
        let mut stack: Vec<(usize, usize, bool)> = Vec::new();
        out.hub[root] = next;
        next += 1;
        stack.push((root, 0, !is_metal(scene, root)));
        while let Some((hub, at, straight)) = stack.pop() {
            let Some(&edge) = lists[hub].get(at) else { continue };
            let other = scene.edges[edge].ends.into_iter().find(|&end| end != hub);
            let Some(other) = other.filter(|_| out.edge[edge] == NONE) else {
                stack.push((hub, at + 1, straight));
                continue;
            };
            let level = scene.edges[edge].level;
            let column = if straight && !level { out.hub[hub] } else { next };
            next = next.max(column + 1);
            out.edge[edge] = column;
            stack.push((hub, at + 1, straight && level));
            if out.hub[other] == NONE {
                out.hub[other] = if level { next } else { column };
                next = next.max(out.hub[other] + 1);
                stack.push((other, 0, !is_metal(scene, other)));
            }
        }
    }
    out.count = next;
    out.bar = out.hub.iter().map(|&column| [column, column]).collect();
    for (at, edge) in scene.edges.iter().enumerate() {
        for hub in edge.ends {
            let bar = &mut out.bar[hub];
            *bar = [bar[0].min(out.edge[at]), bar[1].max(out.edge[at])];
        }
    }
    out
}

/// Under metal hang the rings of its bolts, so nothing goes straight on there.
fn is_metal(scene: &Scene, hub: usize) -> bool {
    scene.hubs[hub].what == HubKind::Piece
}

/// How bad an order is.
fn worth(scene: &Scene, columns: &Columns) -> f64 {
    let mut sum = 0.0;
    for (hub, &[left, right]) in columns.bar.iter().enumerate() {
        sum += LENGTH * (right - left) as f64;
        let volts = height(scene, hub);
        for (at, edge) in scene.edges.iter().enumerate() {
            let column = columns.edge[at];
            if column <= left || column >= right || edge.ends.contains(&hub) || edge.level {
                continue;
            }
            let [high, low] = edge.ends.map(|end| height(scene, end));
            if high > volts && low < volts && !matches!(edge.what, What::Seat(_)) {
                sum += CROSSING;
            }
        }
        for (other, &[from, to]) in columns.bar.iter().enumerate().skip(hub + 1) {
            let same =
                scene.hubs[other].volts.map(super::scene::grains) == scene.hubs[hub].volts.map(super::scene::grains);
            if same && from < right && to > left {
                sum += HEAP;
            }
        }
    }
    sum
}
