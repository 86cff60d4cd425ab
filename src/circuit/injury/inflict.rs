//! A fault's name into changes of elements: the contract's semantics of each mode, exactly.

use super::{Change, Injury, part};
use crate::catalogue::Catalogue;
use crate::circuit::fault::resolve::{self, TOUCHING_OHMS};
use crate::circuit::fault::site::{self, Site, WireEnd};
use crate::circuit::fault::{Fault, Single};
use crate::circuit::schematic::{ElementId, Law, Node, Schematic};
use crate::netlist::{LinkKind, Netlist};
use crate::text::problem::Problem;
use indexmap::IndexMap;
use petgraph::graph::{EdgeIndex, NodeIndex};

/// Series ohms of a `resistive` for which neither name nor rules give a size.
const RESISTIVE_OHMS: f64 = 2.0;
/// Nothing touches with less, ohm.
const LEAST_OHMS: f64 = 1e-6;

/// What a fault does; its name is resolved first, so aliases will do.
pub fn injure(
    schematic: &Schematic,
    netlist: &Netlist,
    catalogue: &Catalogue,
    fault: &Fault,
) -> Result<Injury, Problem> {
    let fault = resolve::resolve(fault, netlist, catalogue).map_err(|mut problems| problems.swap_remove(0))?;
    injure_canonical(schematic, netlist, catalogue, &fault, &[])
}

/// What a fault does in a state that opens or fits something (`held`: the state's own changes): what is out of the
/// machine, or known to be good, the fault leaves alone.
pub fn injure_in(
    schematic: &Schematic,
    netlist: &Netlist,
    catalogue: &Catalogue,
    fault: &Fault,
    held: &[Change],
) -> Result<Injury, Problem> {
    let fault = resolve::resolve(fault, netlist, catalogue).map_err(|mut problems| problems.swap_remove(0))?;
    injure_canonical(schematic, netlist, catalogue, &fault, held)
}

/// As [`injure_in`], for a name that is canonical already; faster where thousands are made.
pub fn injure_canonical(
    schematic: &Schematic,
    netlist: &Netlist,
    catalogue: &Catalogue,
    fault: &Fault,
    held: &[Change],
) -> Result<Injury, Problem> {
    let held = held.iter().filter_map(|change| match change {
        Change::Law(id, law) => Some((*id, law.clone())),
        _ => None,
    });
    let held: IndexMap<ElementId, Law> = held.collect();
    let laws = held.clone();
    let mut wound = Wound { schematic, netlist, catalogue, injury: Injury::default(), laws, held };
    // What changes a wire comes before what touches it: a touching divides the wire as it then is.
    let late = |single: &&Single| single.site.contains('~') && single.mode == "touching";
    for single in fault.singles.iter().filter(|s| !late(s)).chain(fault.singles.iter().filter(late)) {
        if !single.is_special() {
            wound.single(single)?;
        }
    }
    Ok(wound.injury)
}

/// The changes made so far.
pub(super) struct Wound<'a> {
    pub(super) schematic: &'a Schematic,
    pub(super) netlist: &'a Netlist,
    pub(super) catalogue: &'a Catalogue,
    pub(super) injury: Injury,
    laws: IndexMap<ElementId, Law>,
    held: IndexMap<ElementId, Law>,
}

impl Wound<'_> {
    /// The element's law as it is by now.
    pub(super) fn law(&self, element: ElementId) -> &Law {
        self.laws.get(&element).unwrap_or(&self.schematic.elements[element].law)
    }

    /// The state has taken it out, or put a good one in.
    pub(super) fn is_held(&self, element: ElementId) -> bool {
        self.held.contains_key(&element)
    }

    pub(super) fn set(&mut self, element: ElementId, law: Law) {
        if self.is_held(element) {
            return;
        }
        self.laws.insert(element, law.clone());
        self.injury.changes.push(Change::Law(element, law));
    }

    pub(super) fn add(&mut self, a: Node, b: Node, law: Law) {
        self.injury.changes.push(Change::Add { a, b, law });
    }

    fn single(&mut self, single: &Single) -> Result<(), Problem> {
        let lost = || Problem::whole(format!("{single}: no such site"));
        if let Some((a, b)) = single.site.split_once('~') {
            return match single.mode.as_str() {
                "touching" => self.touching(single, a, b).ok_or_else(lost),
                "crossed" => self.exchanged(a, b).ok_or_else(lost),
                "coupled" => self.coupled(a, b).ok_or_else(lost),
                _ => Err(Problem::whole(format!("{single}: not computed"))),
            };
        }
        if self.netlist.parts.contains_key(&single.site) {
            return part::inflict(self, single);
        }
        if self.netlist.plugs.contains_key(&single.site) {
            return self.plug(single).ok_or_else(lost);
        }
        let edge = self.edge(&single.site).ok_or_else(lost)?;
        match single.mode.as_str() {
            "open" | "off" => self.set(edge.index(), Law::Open),
            "resistive" => self.resistive(single, edge)?,
            "elsewhere" => self.elsewhere(single, edge).ok_or_else(lost)?,
            _ => return Err(Problem::whole(format!("{single}: not computed"))),
        }
        Ok(())
    }

    /// The link of a canonical name: the link's own, or a sleeve's.
    fn edge(&self, name: &str) -> Option<EdgeIndex> {
        if let Some(&element) = self.schematic.by_name.get(name)
            && element < self.netlist.graph.edge_count()
        {
            return Some(EdgeIndex::new(element));
        }
        match self.netlist.sleeves.get(name) {
            Some(sleeve) => site::sleeve_link(self.netlist, sleeve.point),
            None => match site::find(self.netlist, name)? {
                Site::Link(edge) => Some(edge),
                _ => None,
            },
        }
    }

    fn resistive(&mut self, single: &Single, edge: EdgeIndex) -> Result<(), Problem> {
        let what = self.netlist.graph[edge].what;
        let modes = match site::joint_key(what) {
            Some(key) => self.catalogue.joints.get(key).map(|joint| &joint.modes),
            None => Some(&self.catalogue.wire.modes),
        };
        let argument = modes.and_then(|modes| modes.get("resistive")).and_then(|mode| mode.argument.as_ref());
        let more = size(single)?.unwrap_or_else(|| argument.map_or(RESISTIVE_OHMS, |a| a.default));
        if let Law::Resistor { ohms } = *self.law(edge.index()) {
            self.set(edge.index(), Law::Resistor { ohms: ohms + more });
        }
        Ok(())
    }

    fn elsewhere(&mut self, single: &Single, edge: EdgeIndex) -> Option<()> {
        let target = self.netlist.point(single.args.first()?)?;
        let end = match self.netlist.graph[edge].what {
            LinkKind::Conductor => (single.site.as_str(), 'b'),
            _ => site::end_of(self.netlist, edge)?,
        };
        self.moved(end, Some(target))
    }

    /// The wire's end leaves its terminal and lands on another one, or on none.
    fn moved(&mut self, end: WireEnd<'_>, to: Option<NodeIndex>) -> Option<()> {
        let (joint, _, conductor) = site::end(self.netlist, end)?;
        let law = self.law(joint.index()).clone();
        self.set(joint.index(), Law::Open);
        if let Some(to) = to
            && law != Law::Open
        {
            self.add(conductor.index(), to.index(), law);
        }
        Some(())
    }

    fn exchanged(&mut self, a: &str, b: &str) -> Option<()> {
        let netlist = self.netlist;
        let end = |edge| site::end_of(netlist, edge);
        let (a, b) = (end(self.edge(a)?)?, end(self.edge(b)?)?);
        let (_, at_a, _) = site::end(netlist, a)?;
        let (_, at_b, _) = site::end(netlist, b)?;
        self.moved(a, Some(at_b))?;
        self.moved(b, Some(at_a))
    }

    /// Conductors of half b's cavities change places; one that is shifted out of the plug hangs loose.
    fn plug(&mut self, single: &Single) -> Option<()> {
        let netlist = self.netlist;
        let plug = netlist.plugs.get(&single.site)?;
        let count = plug.ways.len();
        let cavity = |index: usize| plug.ways.get_index(index).map(|(_, way)| way.halves[1]);
        let mut moves: Vec<(usize, Option<usize>)> = Vec::new();
        match single.mode.as_str() {
            "crossed" => {
                let [a, b] = single.args.as_slice() else { return None };
                let (a, b) = (plug.ways.get_index_of(a)?, plug.ways.get_index_of(b)?);
                moves.extend([(a, Some(b)), (b, Some(a))]);
            }
            "mirrored" => {
                moves.extend((0..count).map(|i| (i, Some(count - 1 - i))).filter(|(from, to)| Some(*from) != *to));
            }
            "shifted" => {
                let by = single.args.first().map_or(Some(1), |n| n.parse::<i64>().ok())?;
                let to = |i: usize| usize::try_from(i as i64 + by).ok().filter(|to| *to < count);
                moves.extend((0..count).map(|i| (i, to(i))));
            }
            _ => return None,
        }
        // Which ends sit where is read before any of them moves.
        let ends: Vec<(Vec<WireEnd<'_>>, Option<NodeIndex>)> = moves
            .into_iter()
            .map(|(from, to)| {
                let ends = cavity(from).map_or_else(Vec::new, |terminal| site::ends_at(netlist, terminal));
                (ends, to.and_then(cavity))
            })
            .collect();
        for (ends, to) in ends {
            for end in ends {
                self.moved(end, to)?;
            }
        }
        Some(())
    }

    fn touching(&mut self, single: &Single, a: &str, b: &str) -> Option<()> {
        let ohms = size(single).ok()?.unwrap_or(TOUCHING_OHMS);
        let ((from, more), (to, still_more)) = (self.tap(a)?, self.tap(b)?);
        self.injury.changes.push(Change::Tie { from, to, ohms: (ohms + more + still_more).max(LEAST_OHMS) });
        Some(())
    }

    fn coupled(&mut self, a: &str, b: &str) -> Option<()> {
        let pair = [self.edge(a)?.index(), self.edge(b)?.index()];
        self.injury.coupled.push(pair);
        Some(())
    }

    /// Where something touches a site: a point, or the middle of a conductor or contact. The middle of R ohms
    /// looks from outside like half of each end behind R/4.
    fn tap(&self, name: &str) -> Option<(Vec<(Node, f64)>, f64)> {
        if let Some(point) = self.netlist.point(name) {
            return Some((vec![(point.index(), 1.0)], 0.0));
        }
        let edge = self.edge(name)?;
        let element = &self.schematic.elements[edge.index()];
        match self.law(edge.index()) {
            Law::Resistor { ohms } => Some((vec![(element.a, 0.5), (element.b, 0.5)], ohms / 4.0)),
            // A wire that is parted as well touches with the stump of its first end.
            _ => Some((vec![(element.a, 1.0)], self.netlist.graph[edge].ohms / 2.0)),
        }
    }
}

/// The size in the brackets, if one is given.
pub(super) fn size(single: &Single) -> Result<Option<f64>, Problem> {
    match single.args.first() {
        None => Ok(None),
        Some(text) => match text.parse::<f64>() {
            Ok(value) if value.is_finite() && value >= 0.0 => Ok(Some(value)),
            _ => Err(Problem::whole(format!("{single}: {text} is no size"))),
        },
    }
}
