//! Points that rows name otherwise than before, and the wires that are called by their ends.

use super::super::fields::Text;
use super::super::raw::{self, File};
use crate::catalogue::Catalogue;
use crate::netlist::Netlist;
use crate::text::problem::Problem;
use crate::text::span::{Source, Span};
use crate::text::splice;
use crate::text::yaml;

/// Every text of a row that names a point.
pub(super) fn ends(file: &File) -> Vec<&Text> {
    let wires = file.wires.iter().flat_map(|wire| [&wire.from, &wire.to]);
    let ways = file.plugs.iter().flat_map(|plug| &plug.ways).flat_map(|way| [&way.from, &way.to]);
    let grounds = file.grounds.iter().flat_map(|ground| &ground.items);
    let feeds = file.feeds.iter().flat_map(|feed| &feed.items);
    wires.chain(ways).flatten().chain(grounds.chain(feeds).map(|item| &item.point)).collect()
}

/// Writes other names at these places.
pub(super) fn rename(source: &mut Source, mut names: Vec<(Span, String)>) {
    names.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
    for (span, name) in names {
        splice::replace(&mut source.text, span, &name);
    }
}

/// Looms and recent work call a wire by its ends. These are its names as they were, in the order of the file.
pub(super) fn follow(source: &mut Source, catalogue: &Catalogue, before: &[String]) -> Result<(), Problem> {
    let tree = yaml::parse(source)?;
    let (file, _) = raw::read(source, &tree);
    let (net, ..) = super::super::lower::lower(source, catalogue, &file);
    if net.wires.len() != before.len() {
        // Then the check tells of a name that leads nowhere.
        return Ok(());
    }
    let now =
        |old: &str| before.iter().zip(net.wires.keys()).find(|(b, _)| b.eq_ignore_ascii_case(old)).map(|(_, n)| n);
    let lists = file.looms.iter().map(|loom| &loom.wires).chain([&file.recent]);
    let named: Vec<(Span, String)> =
        lists.flatten().filter_map(|text| Some((text.span, now(&text.text)?.clone()))).collect();
    rename(source, named);
    Ok(())
}

/// The names of a netlist's wires, those that are gone left out.
pub(super) fn names(net: &Netlist, gone: impl Fn(&str) -> bool) -> Vec<String> {
    net.wires.keys().filter(|name| !gone(name)).cloned().collect()
}
