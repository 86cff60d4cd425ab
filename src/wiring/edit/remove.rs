//! Rows taken out of a text: one by its name, a wire's, or all that falls with a part.

use super::super::fields::Text;
use super::super::raw;
use super::hang::Fallen;
use super::renamed::{self, follow, rename};
use super::rows::{add_row, named, pair, tidy, whole};
use crate::catalogue::Catalogue;
use crate::netlist::Netlist;
use crate::text::problem::Problem;
use crate::text::span::{Source, Span};
use crate::text::splice;
use crate::text::yaml::{self, Node};
use petgraph::graph::NodeIndex;

/// Takes a named row out of its section.
pub(super) fn row(source: &mut Source, tree: &Node, section: &str, name: &str) -> Result<(), Problem> {
    let (key, node) = named(tree, section, name)?;
    let span = whole(&source.text, key, node);
    splice::remove(&mut source.text, &[span]);
    clean(source)
}

/// Takes a wire's row or list item out.
pub(super) fn wire(source: &mut Source, tree: &Node, catalogue: &Catalogue, wire: &str) -> Result<(), Problem> {
    let (file, _) = raw::read(source, tree);
    let (net, ..) = super::super::lower::lower(source, catalogue, &file);
    let Some(wire) = net.wires.values().find(|known| known.name.eq_ignore_ascii_case(wire)) else {
        return Err(Problem::whole(format!("there is no wire \"{wire}\"")));
    };
    let mut spans = vec![wire.span];
    spans.extend(mentions(&file, |name| name.eq_ignore_ascii_case(&wire.name)));
    splice::remove(&mut source.text, &spans);
    clean(source)
}

/// The text without what falls.
pub(super) fn fallen(source: &Source, net: &Netlist, catalogue: &Catalogue, gone: &Fallen) -> Result<Source, Problem> {
    let mut source = source.clone();
    let tree = yaml::parse(&source)?;
    let (file, _) = raw::read(&source, &tree);
    let mut spans: Vec<Span> = gone.wires.iter().filter_map(|wire| net.wires.get(wire)).map(|wire| wire.span).collect();
    spans.extend(gone.ways.iter().filter_map(|(plug, way)| Some(net.plugs.get(plug)?.ways.get(way)?.span)));
    let plugs: Vec<&str> = net
        .plugs
        .values()
        .filter(|plug| plug.ways.keys().all(|way| gone.ways.contains(&(plug.name.clone(), way.clone()))))
        .filter(|plug| !plug.ways.is_empty())
        .map(|plug| plug.name.as_str())
        .collect();
    let looms: Vec<&str> = net
        .looms
        .iter()
        .filter(|(_, loom)| !loom.wires.is_empty() && loom.wires.iter().all(|wire| gone.wires.contains(wire)))
        .map(|(name, _)| name.as_str())
        .collect();
    let parts = || gone.parts.iter().map(String::as_str);
    let mut rows: Vec<(&str, &str)> = Vec::new();
    for section in ["parts", "feeds", "switches"] {
        rows.extend(parts().map(|part| (section, part)));
    }
    rows.extend(gone.sleeves.iter().map(|name| ("sleeves", name.as_str())));
    rows.extend(gone.grounds.iter().map(|name| ("grounds", name.as_str())));
    rows.extend(plugs.iter().map(|name| ("plugs", *name)));
    rows.extend(looms.iter().map(|name| ("looms", *name)));
    for (section, name) in rows {
        if let Some((key, node)) = pair(&tree, section).and_then(|(_, node)| pair(node, name)) {
            spans.push(whole(&source.text, key, node));
        }
    }
    let is = |set: &indexmap::IndexSet<String>, name: &str| set.iter().any(|known| known.eq_ignore_ascii_case(name));
    spans.extend(mentions(&file, |name| {
        is(&gone.parts, name)
            || is(&gone.wires, name)
            || is(&gone.sleeves, name)
            || is(&gone.grounds, name)
            || plugs.iter().any(|plug| plug.eq_ignore_ascii_case(name))
    }));
    let sleeves = joints(net, &file, gone);
    let inside = |span: Span| spans.iter().any(|out| span.start >= out.start && span.end <= out.end);
    // Names first, from the back with the rows, so that no place moves before its turn.
    let mut names: Vec<(Span, String)> = sleeves.iter().flat_map(|(_, _, at)| at.clone()).collect();
    names.retain(|(span, _)| !inside(*span));
    let mut moved = spans.clone();
    for (span, name) in &names {
        let more = name.len() as isize - (span.end - span.start) as isize;
        for (_, now) in spans.iter().zip(&mut moved).filter(|(out, _)| out.start >= span.end) {
            now.start = now.start.saturating_add_signed(more);
            now.end = now.end.saturating_add_signed(more);
        }
    }
    rename(&mut source, names);
    splice::remove(&mut source.text, &moved);
    clean(&mut source)?;
    for (name, place, _) in &sleeves {
        let tree = yaml::parse(&source)?;
        let place = place.as_ref().map_or(String::new(), |place| format!(", {place}"));
        add_row(&mut source.text, &tree, "sleeves", &format!("{name}: crimp sleeve{place}"));
    }
    if !sleeves.is_empty() {
        follow(&mut source, catalogue, &renamed::names(net, |wire| gone.wires.contains(wire)))?;
    }
    Ok(source)
}

/// A sleeve's name, its place, and where its name is to be written.
type Joint = (String, Option<String>, Vec<(Span, String)>);

/// Sleeves in the place of pins where wires stay joined.
fn joints(net: &Netlist, file: &raw::File, gone: &Fallen) -> Vec<Joint> {
    let joint = |&pin: &NodeIndex| {
        let name = net.point_name(pin).replace('.', "-");
        let here = |text: &&Text| net.point(&text.text) == Some(pin);
        let at = renamed::ends(file).into_iter().filter(here).map(|text| (text.span, name.clone())).collect();
        (name, net.graph[pin].place.clone(), at)
    };
    gone.joints.iter().map(joint).collect()
}

/// Who names this in a list of its own: looms, and recent work (no owner).
pub(super) fn listed(file: &raw::File, name: &str) -> Vec<(&'static str, Option<String>)> {
    let names = |list: &[Text]| list.iter().any(|text| text.is(name));
    let looms = file.looms.iter().filter(|loom| names(&loom.wires)).map(|loom| ("looms", Some(loom.name.text.clone())));
    looms.chain(names(&file.recent).then_some(("recent-work", None))).collect()
}

/// Where looms and recent work name something.
fn mentions(file: &raw::File, wanted: impl Fn(&str) -> bool) -> Vec<Span> {
    let lists = file.looms.iter().map(|loom| &loom.wires).chain([&file.recent]);
    lists.flatten().filter(|text: &&Text| wanted(&text.text)).map(|text| text.span).collect()
}

/// Takes out what holds nothing any more.
fn clean(source: &mut Source) -> Result<(), Problem> {
    let tree = yaml::parse(source)?;
    tidy(source, &tree);
    Ok(())
}
