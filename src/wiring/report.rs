//! What `check` lists of a netlist: sites with their lines, points with their places.

use crate::netlist::{LinkKind, Netlist};
use crate::text::span::{Source, Span};

/// A site that can fail.
#[derive(Clone, Debug, PartialEq)]
pub struct SiteInfo {
    /// Its name: `W7`, `W7.a`, `P9.4`, `G1`, `horn`.
    pub site: String,
    /// `wire`, `joint`, `way`, `ground`, `part`, `plug`, `sleeve`.
    pub what: &'static str,
    /// Line of the file, from 1.
    pub line: usize,
}

/// A point.
#[derive(Clone, Debug, PartialEq)]
pub struct PointInfo {
    /// Its name as written.
    pub name: String,
    /// Can a probe reach it in place?
    pub probeable: bool,
    /// Where it is.
    pub place: Option<String>,
}

/// Every site with the line it stands in: parts, plugs, sleeves, then links in the netlist's order.
pub fn sites(netlist: &Netlist, source: &Source) -> Vec<SiteInfo> {
    let site = |site: &str, what, span: Span| SiteInfo { site: site.to_owned(), what, line: source.line(span) };
    let mut out: Vec<SiteInfo> = netlist.parts.values().map(|part| site(&part.name, "part", part.span)).collect();
    out.extend(netlist.plugs.values().map(|plug| site(&plug.name, "plug", plug.span)));
    out.extend(netlist.sleeves.iter().map(|(name, sleeve)| site(name, "sleeve", sleeve.span)));
    for wire in netlist.wires.values() {
        for edge in wire.links {
            let link = &netlist.graph[edge];
            let what = if link.what == LinkKind::Conductor { "wire" } else { "joint" };
            out.push(site(&link.site, what, wire.span));
        }
    }
    for way in netlist.plugs.values().flat_map(|plug| plug.ways.values()) {
        out.push(site(&netlist.graph[way.link].site, "way", way.span));
    }
    out.extend(netlist.grounds.iter().map(|(name, ground)| site(name, "ground", ground.span)));
    out
}

/// Every point in the netlist's order.
pub fn points(netlist: &Netlist) -> Vec<PointInfo> {
    let info = |point: &crate::netlist::Point| PointInfo {
        name: point.name.clone(),
        probeable: point.probeable,
        place: point.place.clone(),
    };
    netlist.graph.node_weights().map(info).collect()
}
