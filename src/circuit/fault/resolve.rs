//! A fault's name in a machine: one canonical spelling, aliases resolved, every problem named.

use super::site::{self, Site};
use super::{Fault, Single, WRONG_READING, natural, pair};
use crate::catalogue::Catalogue;
use crate::circuit::test::figure;
use crate::netlist::{LinkKind, Netlist};
use crate::text::problem::Problem;
use crate::text::words::nearest;
use petgraph::graph::{EdgeIndex, NodeIndex};

/// Modes of copper that every machine knows, whatever the rules say of their weight.
pub const LINK_MODES: [&str; 5] = ["open", "resistive", "off", "elsewhere", "touching"];
/// Modes of a plug.
pub const PLUG_MODES: [&str; 3] = ["crossed", "mirrored", "shifted"];
/// Modes of two sites.
pub const PAIR_MODES: [&str; 3] = ["touching", "crossed", "coupled"];
/// What a touching has when nothing is said, ohm.
pub const TOUCHING_OHMS: f64 = 0.05;

/// Reads a fault's name and resolves it.
pub fn read(text: &str, netlist: &Netlist, catalogue: &Catalogue) -> Result<Fault, Vec<Problem>> {
    resolve(&Fault::parse(text).map_err(|problem| vec![problem])?, netlist, catalogue)
}

/// The same fault under its canonical name; every problem at once.
pub fn resolve(fault: &Fault, netlist: &Netlist, catalogue: &Catalogue) -> Result<Fault, Vec<Problem>> {
    let mut singles = Vec::new();
    let mut problems = Vec::new();
    for one in &fault.singles {
        match single(one, netlist, catalogue) {
            Ok(resolved) => singles.push(resolved),
            Err(problem) => problems.push(problem),
        }
    }
    if problems.is_empty() { Ok(Fault { singles }.sorted()) } else { Err(problems) }
}

/// One single under its canonical name.
pub fn single(one: &Single, netlist: &Netlist, catalogue: &Catalogue) -> Result<Single, Problem> {
    let resolver = Resolver { one, netlist, catalogue };
    if one.is_special() {
        return resolver.special();
    }
    match one.site.split_once('~') {
        Some((a, b)) => resolver.pair(a, b),
        None => resolver.lone(),
    }
}

/// Other names of the same single, for lists.
pub fn aliases(one: &Single, netlist: &Netlist) -> Vec<String> {
    let renamed = |site: String| Single { site, ..one.clone() }.to_string();
    if let Some((a, b)) = one.site.split_once('~') {
        let flipped = format!("{b}~{a}");
        return vec![renamed(flipped)];
    }
    match site::find(netlist, &one.site) {
        Some(Site::Link(edge)) if matches!(one.mode.as_str(), "open" | "resistive" | "off") => {
            site::link_aliases(netlist, edge).into_iter().map(renamed).collect()
        }
        Some(Site::Point(point)) if site::is_sleeve(netlist, point) => {
            let ends = site::ends_at(netlist, point);
            ends.into_iter().map(|(wire, which)| renamed(format!("{wire}.{which}"))).collect()
        }
        _ => Vec::new(),
    }
}

struct Resolver<'a> {
    one: &'a Single,
    netlist: &'a Netlist,
    catalogue: &'a Catalogue,
}

impl Resolver<'_> {
    fn problem(&self, text: impl std::fmt::Display) -> Problem {
        Problem::whole(format!("{}: {text}", self.one))
    }

    fn special(&self) -> Result<Single, Problem> {
        let numbered = self.one.mode == WRONG_READING;
        let fine = match self.one.args.as_slice() {
            [] => true,
            [n] if numbered => n.parse::<usize>().is_ok_and(|n| n > 0),
            _ => false,
        };
        if fine {
            Ok(self.one.clone())
        } else {
            Err(self.problem("the brackets hold the reading's number").help("write wrong-reading(3)"))
        }
    }

    fn unknown(&self, name: &str) -> Problem {
        let names = site::names(self.netlist);
        let problem = self.problem(format!("nothing is called {name}"));
        match nearest(name, names.iter().map(String::as_str)) {
            Some(near) => problem.help(format!("nearest: {near}")),
            None => problem,
        }
    }

    fn no_mode(&self, known: &[&str]) -> Problem {
        let problem = self.problem(format!("no such mode as {}", self.one.mode));
        match nearest(&self.one.mode, known.iter().copied()) {
            Some(near) => problem.help(format!("nearest: {near}")),
            None if known.is_empty() => problem,
            None => problem.help(format!("known here: {}", known.join(", "))),
        }
    }

    /// Under another site name.
    fn at(&self, site: impl Into<String>) -> Single {
        Single { site: site.into(), ..self.one.clone() }
    }

    /// The sizes are one figure at most, written plainly.
    fn sized(&self, units: &[&str], mut single: Single) -> Result<Single, Problem> {
        match single.args.as_mut_slice() {
            [] => Ok(single),
            [size] => match figure(&size.to_lowercase(), units).filter(|v| *v >= 0.0) {
                Some(value) => {
                    *size = value.to_string();
                    Ok(single)
                }
                None => Err(self.problem(format!("{size} is no size")).help("write a number: resistive(0.3)")),
            },
            _ => Err(self.problem("one size is enough")),
        }
    }

    fn bare(&self, single: Single) -> Result<Single, Problem> {
        if single.args.is_empty() {
            Ok(single)
        } else {
            Err(self.problem(format!("{} takes nothing in brackets", single.mode)))
        }
    }

    fn lone(&self) -> Result<Single, Problem> {
        match site::find(self.netlist, &self.one.site) {
            None => Err(self.unknown(&self.one.site)),
            Some(Site::Part(part)) => self.part(&part),
            Some(Site::Plug(plug)) => self.plug(&plug),
            Some(Site::Link(edge)) => self.link(edge),
            Some(Site::Point(point)) => self.link(self.joint_at(point)?),
        }
    }

    /// The joint that a terminal's name stands for: the end crimped there, or the first in a sleeve.
    fn joint_at(&self, point: NodeIndex) -> Result<EdgeIndex, Problem> {
        let name = self.netlist.point_name(point);
        let ends = site::ends_at(self.netlist, point);
        if self.netlist.pieces.values().any(|piece| piece.point == point) {
            return Err(self
                .problem(format!("{name} is a piece of metal"))
                .help(format!("name what touches it: W7~{name}:touching")));
        }
        match ends.as_slice() {
            [] => Err(self.problem(format!("no wire ends at {name}"))),
            [first, rest @ ..] if rest.is_empty() || site::is_sleeve(self.netlist, point) => {
                site::end(self.netlist, *first).map(|(joint, _, _)| joint).ok_or_else(|| self.unknown(name))
            }
            _ => {
                let list: Vec<String> = ends.iter().map(|(wire, which)| format!("{wire}.{which}")).collect();
                Err(self
                    .problem(format!("{} ends are at {name}", list.len()))
                    .help(format!("name one: {}", list.join(", "))))
            }
        }
    }

    fn link(&self, edge: EdgeIndex) -> Result<Single, Problem> {
        let link = &self.netlist.graph[edge];
        match self.one.mode.as_str() {
            "open" => self.bare(self.at(site::canonical_link(self.netlist, edge))),
            "resistive" => self.sized(&["ohms", "ohm"], self.at(site::canonical_link(self.netlist, edge))),
            "off" if matches!(link.what, LinkKind::Joint(_)) => self.bare(self.at(link.site.clone())),
            "off" => {
                Err(self.problem("a wire's end can be off").help(format!("name an end: {0}.a or {0}.b", link.site)))
            }
            "elsewhere" => self.elsewhere(edge),
            "touching" => {
                let site = &link.site;
                Err(self
                    .problem("touching needs two sites")
                    .help(format!("write {site}~frame:touching or {site}~W12:touching")))
            }
            "coupled" => {
                let site = &link.site;
                Err(self.problem("two wires are coupled").help(format!("write {site}~W12:coupled")))
            }
            _ => Err(self.no_mode(&LINK_MODES)),
        }
    }

    fn not_yet(&self) -> Problem {
        self.problem(format!("{} is not computed yet", self.one.mode)).help("leave it out; nearest that is: touching")
    }

    fn elsewhere(&self, edge: EdgeIndex) -> Result<Single, Problem> {
        let link = &self.netlist.graph[edge];
        let site = match (link.what, site::end_of(self.netlist, edge)) {
            (LinkKind::Conductor, _) => link.site.clone(),
            // The end named last is what a wire's own name moves.
            (_, Some((wire, 'b'))) => wire.to_string(),
            (_, Some(_)) => link.site.clone(),
            _ => return Err(self.problem("only a wire can end elsewhere")),
        };
        let [target] = self.one.args.as_slice() else {
            return Err(self.problem("the brackets hold the point where it ends").help("write W7:elsewhere(G2)"));
        };
        let Some(point) = self.netlist.point(target) else {
            let names = self.netlist.points.values().map(|&p| self.netlist.point_name(p));
            let problem = self.problem(format!("no point is called {target}"));
            return Err(match nearest(target, names) {
                Some(near) => problem.help(format!("nearest: {near}")),
                None => problem.help("write W7:elsewhere(G2)"),
            });
        };
        Ok(Single { site, args: vec![self.netlist.point_name(point).to_string()], ..self.one.clone() })
    }

    fn part(&self, name: &str) -> Result<Single, Problem> {
        let part = &self.netlist.parts[name];
        if !part.fitted {
            return Err(self.problem(format!("{name} is not fitted")));
        }
        let Some(kind) = self.catalogue.kind(&part.kind) else {
            return Err(self.problem(format!("no kind is called {}", part.kind)));
        };
        let Some(mode) = kind.modes.get(&self.one.mode) else {
            if matches!(self.one.mode.as_str(), "fed-from" | "switches") {
                return Err(self.not_yet());
            }
            let known: Vec<&str> = kind.modes.keys().map(String::as_str).collect();
            return Err(self.no_mode(&known));
        };
        let mut single = self.at(name);
        if let Some(word) = &mode.word {
            return match single.args.as_slice() {
                [] => {
                    single.args.push(word.clone());
                    Ok(single)
                }
                [one] if one.eq_ignore_ascii_case(word) => {
                    single.args = vec![word.clone()];
                    Ok(single)
                }
                _ => Err(self.problem(format!("the brackets hold {word}"))),
            };
        }
        match &mode.argument {
            None => self.bare(single),
            Some(argument) => {
                let symbol = argument.unit.symbol().to_lowercase();
                let units: &[&str] = if symbol.is_empty() { &[] } else { &[symbol.as_str()] };
                self.sized(units, single)
            }
        }
    }

    fn plug(&self, name: &str) -> Result<Single, Problem> {
        let plug = &self.netlist.plugs[name];
        let mut single = self.at(name);
        match self.one.mode.as_str() {
            "mirrored" => self.bare(single),
            "shifted" => match single.args.as_slice() {
                [] => Ok(single),
                [by] => match by.parse::<i64>() {
                    Ok(n) if n != 0 && n.unsigned_abs() < plug.ways.len() as u64 => {
                        single.args = vec![n.to_string()];
                        Ok(single)
                    }
                    _ => Err(self.problem(format!("{name} cannot be shifted by {by}")).help("write shifted(1)")),
                },
                _ => Err(self.problem("one number is enough").help("write shifted(1)")),
            },
            "crossed" => {
                let [a, b] = single.args.as_slice() else {
                    return Err(self.problem("two ways are crossed").help(format!("write {name}:crossed(4,5)")));
                };
                let way = |text: &String| {
                    plug.ways.keys().find(|way| way.eq_ignore_ascii_case(text)).cloned().ok_or_else(|| {
                        let ways: Vec<&str> = plug.ways.keys().map(String::as_str).collect();
                        self.problem(format!("{name} has no way {text}")).help(format!("its ways: {}", ways.join(", ")))
                    })
                };
                let mut ways = vec![way(a)?, way(b)?];
                if ways[0] == ways[1] {
                    return Err(self.problem("a way cannot be crossed with itself"));
                }
                ways.sort_by(|a, b| natural(a, b));
                single.args = ways;
                Ok(single)
            }
            "open" | "resistive" => {
                let first = plug.ways.keys().next().map_or("1", String::as_str);
                Err(self
                    .problem("a whole plug has no such fault")
                    .help(format!("name a way: {name}.{first}:{}", self.one.mode)))
            }
            _ => Err(self.no_mode(&PLUG_MODES)),
        }
    }

    fn pair(&self, a: &str, b: &str) -> Result<Single, Problem> {
        match self.one.mode.as_str() {
            "touching" => {
                let (a, b) = (self.tap(a)?, self.tap(b)?);
                if a == b {
                    return Err(self.problem("a site cannot touch itself"));
                }
                self.sized(&["ohms", "ohm"], self.at(pair(&a, &b)))
            }
            "crossed" => {
                let ((a, at_a), (b, at_b)) = (self.wire_end(a)?, self.wire_end(b)?);
                if a == b {
                    return Err(self.problem("an end cannot be crossed with itself"));
                }
                let single = self.bare(self.at(pair(&a, &b)))?;
                Ok(match (self.half_b(at_a), self.half_b(at_b)) {
                    (Some((plug, x)), Some((other, y))) if plug == other && x != y => {
                        let mut args = vec![x.to_string(), y.to_string()];
                        args.sort_by(|a, b| natural(a, b));
                        Single { site: plug.to_string(), args, ..single }
                    }
                    _ => single,
                })
            }
            "coupled" => {
                let (a, b) = (self.wire(a)?, self.wire(b)?);
                if a == b {
                    return Err(self.problem("a wire cannot be coupled with itself"));
                }
                self.bare(self.at(pair(&a, &b)))
            }
            _ => Err(self.no_mode(&PAIR_MODES)),
        }
    }

    /// The canonical name of one side of a touching.
    fn tap(&self, name: &str) -> Result<String, Problem> {
        if let Some(point) = self.netlist.point(name) {
            let way =
                self.netlist.plugs.values().flat_map(|plug| plug.ways.values()).find(|way| way.halves.contains(&point));
            return Ok(match way {
                Some(way) => self.netlist.graph[way.link].site.clone(),
                None => self.netlist.point_name(point).to_string(),
            });
        }
        match site::find(self.netlist, name) {
            Some(Site::Link(edge)) => Ok(self.netlist.graph[edge].site.clone()),
            Some(Site::Part(part)) => {
                let pins: Vec<String> =
                    self.netlist.parts[&part].pins.keys().map(|pin| format!("{part}.{pin}")).collect();
                Err(self
                    .problem(format!("{part} touches with one of its pins"))
                    .help(format!("name it: {}", pins.join(", "))))
            }
            Some(Site::Plug(plug)) => Err(self
                .problem(format!("{plug} touches with one of its ways"))
                .help(format!("write {plug}.1~{plug}.2:touching"))),
            Some(Site::Point(point)) => Ok(self.netlist.point_name(point).to_string()),
            None => Err(self.unknown(name)),
        }
    }

    /// The canonical name of a wire's copper.
    fn wire(&self, name: &str) -> Result<String, Problem> {
        match site::find(self.netlist, name) {
            None => Err(self.unknown(name)),
            Some(Site::Link(edge)) if self.netlist.graph[edge].what == LinkKind::Conductor => {
                Ok(self.netlist.graph[edge].site.clone())
            }
            Some(_) => Err(self.problem(format!("{name} is no wire")).help("write W7~W12:coupled")),
        }
    }

    /// A wire's end named by itself, by its cavity or pin, or (half b) by its way; with its terminal.
    fn wire_end(&self, name: &str) -> Result<(String, NodeIndex), Problem> {
        let edge = match site::find(self.netlist, name) {
            None => return Err(self.unknown(name)),
            Some(Site::Point(point)) => self.joint_at(point)?,
            Some(Site::Link(edge)) => match self.netlist.graph[edge].what {
                LinkKind::Mated => {
                    let cavity =
                        self.netlist.plugs.values().flat_map(|plug| plug.ways.values()).find(|way| way.link == edge);
                    self.joint_at(cavity.map(|way| way.halves[1]).ok_or_else(|| self.unknown(name))?)?
                }
                _ => edge,
            },
            Some(Site::Part(_) | Site::Plug(_)) => {
                return Err(self.problem(format!("{name} is no wire's end")).help("write W7.b~W12.b:crossed"));
            }
        };
        let end = site::end_of(self.netlist, edge);
        match end.and_then(|end| site::end(self.netlist, end)) {
            Some((_, terminal, _)) => Ok((self.netlist.graph[edge].site.clone(), terminal)),
            None => {
                Err(self.problem(format!("{name} is no wire's end")).help(format!("name an end: {name}.a or {name}.b")))
            }
        }
    }

    fn half_b(&self, terminal: NodeIndex) -> Option<(&str, &str)> {
        self.netlist.plugs.iter().find_map(|(plug, data)| {
            data.ways.iter().find(|(_, way)| way.halves[1] == terminal).map(|(way, _)| (plug.as_str(), way.as_str()))
        })
    }
}
