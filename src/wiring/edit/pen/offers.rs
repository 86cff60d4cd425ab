//! Words that a line can be made of, for completion.

use super::super::Draft;
use super::{SECTIONS, VERBS};

/// Words that rows of this file are made of: verbs, sections, names, pins, kinds, colours, proof marks.
pub fn words(draft: &Draft) -> Vec<String> {
    let (net, catalogue) = (draft.netlist(), draft.catalogue());
    let mut out: Vec<String> = VERBS.iter().map(|row| row.0.to_owned()).collect();
    out.extend(SECTIONS.iter().flat_map(|(one, many)| [(*one).to_owned(), format!("{many}:")]));
    let point = |point: &crate::netlist::Point| {
        // The conductor behind a terminal is no end of a wire.
        !matches!(point.what, crate::netlist::PointKind::Conductor { .. })
    };
    out.extend(net.graph.node_weights().filter(|p| point(p)).map(|p| p.name.clone()));
    let named = net.parts.keys().chain(net.plugs.keys()).chain(net.wires.keys()).chain(net.places.keys());
    out.extend(named.chain(net.looms.keys()).cloned());
    out.extend(net.plugs.values().flat_map(|plug| plug.ways.keys().map(|way| format!("{}.{way}", plug.name))));
    out.extend(catalogue.kinds.keys().cloned());
    out.extend(catalogue.kinds.values().flat_map(|kind| kind.also.iter().cloned()));
    out.extend(catalogue.colours.iter().map(|colour| colour.name.clone()));
    let fixed =
        ["paper", "beep", "ok", "not fitted", "capped", "same", "crimp sleeve", "solder sleeve", "twist and tape"];
    out.extend(fixed.map(String::from));
    out
}
