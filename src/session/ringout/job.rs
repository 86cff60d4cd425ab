//! What is to be rung out: ways with the end named first and the end that it should go to.

use crate::netlist::{Netlist, Plug, PointKind, Proof};
use petgraph::graph::NodeIndex;
use petgraph::unionfind::UnionFind;

/// An end of a way.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct End {
    /// Where it is, in words: `P9a way 4`, `horn-push.a`.
    pub at: String,
    /// Colour of the wire there.
    pub colour: Option<String>,
    /// Its place.
    pub place: Option<String>,
    /// The part whose pin it is.
    pub part: Option<String>,
}

/// A way.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Way {
    /// Its name: `4`.
    pub name: String,
    /// Where red goes.
    pub near: End,
    /// Where black goes.
    pub far: End,
    /// Ways of one number are one net by the wiring, so that they beep together.
    pub net: usize,
    /// A kill, signal or module pin hangs on it: no 12 V goes there.
    pub signal: bool,
    /// Its load is there; else it is proved end to end and not tried.
    pub fitted: bool,
    /// ohm, all joints in it, as far as the file knows.
    pub ohms: f64,
    /// Standard deviation of that, ohm.
    pub spread: f64,
}

/// All ways of one end, in the order of the plug.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Job {
    /// What it is called: `P9a`, `8 ways`.
    pub name: String,
    /// The ways.
    pub ways: Vec<Way>,
}

/// Halves of a plug that got new wire, else the first.
pub fn halves(netlist: &Netlist, plug: &Plug) -> Vec<char> {
    let longer = |half: &char| {
        let new = |way: &String| netlist.wires.contains_key(&format!("{}{half}-{way}-new", plug.name));
        plug.ways.keys().any(new)
    };
    let found: Vec<char> = ['a', 'b'].into_iter().filter(longer).collect();
    if found.is_empty() { vec!['a'] } else { found }
}

impl Job {
    /// So many ways, each straight through.
    pub fn straight(count: usize) -> Job {
        let end = |end: &str, way: usize| End { at: format!("{end}, way {way}"), ..End::default() };
        let way = |way: usize| Way {
            name: way.to_string(),
            near: end("this end", way),
            far: end("the other end", way),
            net: way,
            fitted: true,
            ..Way::default()
        };
        Job { name: format!("{count} ways"), ways: (1..=count).map(way).collect() }
    }

    /// A half of a plug, unplugged: from its cavities to where their wires end.
    pub fn half(netlist: &Netlist, plug: &Plug, half: char) -> Job {
        let index = usize::from(half == 'b');
        let nets = copper(netlist, Some(plug));
        let name = format!("{}{half}", plug.name);
        let mut ways = Vec::new();
        for way in plug.ways.keys() {
            let Some(run) = run(netlist, plug, way, index) else { continue };
            let near = End {
                at: format!("{name}, way {way}, wire side"),
                colour: run.first_colour.clone(),
                place: plug.places[index].clone(),
                part: None,
            };
            let mut far = end(netlist, run.end);
            far.colour.clone_from(&run.last_colour);
            ways.push(Way {
                name: way.clone(),
                near,
                far,
                net: nets.find(plug.ways[way].halves[index].index()),
                signal: false,
                fitted: fitted(netlist, &run),
                ohms: run.ohms,
                spread: run.spread,
            });
        }
        Job { name, ways }
    }

    /// A plug that is joined and mated: each way from end to end.
    pub fn whole(netlist: &Netlist, plug: &Plug) -> Job {
        let mut ways = Vec::new();
        let nets = copper(netlist, None);
        let signals = signals(netlist);
        for (way, info) in &plug.ways {
            let (Some(a), Some(b)) = (run(netlist, plug, way, 0), run(netlist, plug, way, 1)) else { continue };
            let link = &netlist.graph[info.link];
            let square = |x: f64| x * x;
            let spread = (square(a.spread) + square(b.spread) + square(link.ohms * link.spread)).sqrt();
            let (mut near, mut far) = (end(netlist, a.end), end(netlist, b.end));
            near.colour.clone_from(&a.last_colour);
            far.colour.clone_from(&b.last_colour);
            let fitted = fitted(netlist, &a) && fitted(netlist, &b);
            let signal = signals.iter().any(|pin| nets.equiv(pin.index(), info.halves[0].index()));
            ways.push(Way {
                name: way.clone(),
                near,
                far,
                net: ways.len(),
                signal,
                fitted,
                ohms: a.ohms + b.ohms + link.ohms,
                spread,
            });
        }
        Job { name: plug.name.clone(), ways }
    }

    /// Index of a way by its name, without regard to case.
    pub fn find(&self, name: &str) -> Option<usize> {
        self.ways.iter().position(|way| way.name.eq_ignore_ascii_case(name.trim()))
    }
}

/// Kinds that 12 V on a pin of theirs destroys, but for the pins that feed and ground them.
const DELICATE: [&str; 4] = ["module", "pulse gauge", "pickup", "magneto"];
const HARMLESS: [&str; 4] = ["feed", "ground", "pos", "neg"];

/// Points that get no 12 V: kill, signal and module pins.
fn signals(netlist: &Netlist) -> Vec<NodeIndex> {
    let delicate = |kind: &str| DELICATE.iter().any(|word| kind.contains(word));
    let parts = netlist.parts.values().filter(|part| delicate(&part.kind));
    let pins = parts.flat_map(|part| part.pins.iter());
    pins.filter(|(pin, _)| !HARMLESS.contains(&pin.as_str())).map(|(_, &node)| node).collect()
}

/// What copper joins with a plug parted, if one is, and every part unplugged.
fn copper(netlist: &Netlist, plug: Option<&Plug>) -> UnionFind<usize> {
    let mut union = UnionFind::new(netlist.graph.node_count());
    for edge in netlist.graph.edge_indices() {
        if let Some((a, b)) = netlist.graph.edge_endpoints(edge)
            && !plug.is_some_and(|plug| plug.ways.values().any(|way| way.link == edge))
        {
            union.union(a.index(), b.index());
        }
    }
    union
}

/// The wires of one half of a way, from its cavity outward.
struct Run {
    end: NodeIndex,
    first_colour: Option<String>,
    last_colour: Option<String>,
    wires: Vec<String>,
    ohms: f64,
    spread: f64,
}

fn run(netlist: &Netlist, plug: &Plug, way: &str, half: usize) -> Option<Run> {
    let info = plug.ways.get(way)?;
    let (first, _) = info.crimped[half].as_ref()?;
    let mut run = Run {
        end: info.halves[half],
        first_colour: None,
        last_colour: None,
        wires: Vec::new(),
        ohms: 0.0,
        spread: 0.0,
    };
    let sleeve = format!("{}{}-{way}-sleeve", plug.name, if half == 0 { 'a' } else { 'b' });
    let mut next = netlist.wires.get(first);
    let mut square = 0.0;
    while let Some(wire) = next.take() {
        run.end = if wire.from == run.end { wire.to } else { wire.from };
        for &edge in &wire.links {
            let link = &netlist.graph[edge];
            run.ohms += link.ohms;
            square += (link.ohms * link.spread).powi(2);
        }
        run.first_colour = run.first_colour.or_else(|| wire.colour.clone());
        run.last_colour.clone_from(&wire.colour);
        run.wires.push(wire.name.clone());
        if netlist.point_name(run.end).eq_ignore_ascii_case(&sleeve) {
            let at = |wire: &&crate::netlist::Wire| wire.from == run.end || wire.to == run.end;
            next = netlist.wires.values().find(|wire| at(wire) && !run.wires.contains(&wire.name));
        }
    }
    run.spread = square.sqrt();
    Some(run)
}

/// Is what it goes to there?
fn fitted(netlist: &Netlist, run: &Run) -> bool {
    let waits = |name: &String| {
        netlist.wires.get(name).is_some_and(|wire| matches!(wire.proof, Proof::NotFitted | Proof::Capped))
    };
    let part = match &netlist.graph[run.end].what {
        PointKind::Pin { part, .. } => netlist.parts.get(part).is_none_or(|part| part.fitted),
        _ => true,
    };
    part && !run.wires.iter().any(waits)
}

fn end(netlist: &Netlist, node: NodeIndex) -> End {
    let point = &netlist.graph[node];
    let part = match &point.what {
        PointKind::Pin { part, .. } => Some(part.clone()),
        _ => None,
    };
    End { at: point.name.clone(), colour: None, place: point.place.clone(), part }
}
