//! A part taken out whose two wires are joined in its place: an interlock that a machine has not.

use super::super::fields::Text;
use super::super::raw;
use super::hang::is_load;
use super::remove;
use super::renamed::{ends, follow, names, rename};
use super::rows::add_row;
use crate::catalogue::{Catalogue, ElementType};
use crate::netlist::Netlist;
use crate::text::problem::Problem;
use crate::text::span::Source;
use crate::text::yaml::{self, Node};

/// A switch or the like with two wires: what gives or takes current would be shorted, a fuse would protect no more.
pub(super) fn can_be_joined(net: &Netlist, catalogue: &Catalogue, part: &str) -> bool {
    let Some(part) = net.parts.get(part) else { return false };
    let Some(kind) = catalogue.kind(&part.kind) else { return false };
    let contact = |what| matches!(what, ElementType::Contact | ElementType::Resistor);
    let switches = kind.elements.values().any(|element| element.what == ElementType::Contact);
    part.pins.len() == 2
        && !net.feeds.contains(&part.name)
        && switches
        && !kind.is_fuse()
        && !is_load(kind)
        && kind.elements.values().all(|element| contact(element.what))
}

/// Puts a sleeve in the place of a part with two pins.
pub(super) fn join(source: &mut Source, tree: &Node, catalogue: &Catalogue, part: &str) -> Result<(), Problem> {
    let (file, _) = raw::read(source, tree);
    let (net, ..) = super::super::lower::lower(source, catalogue, &file);
    let Some(part) = net.parts.values().find(|known| known.name.eq_ignore_ascii_case(part)) else {
        return Err(Problem::whole(format!("there is no part \"{part}\"")));
    };
    if !can_be_joined(&net, catalogue, &part.name) {
        let help = "only the two wires of a switch or the like can be joined in its place";
        return Err(Problem::whole(format!("the wires of {} cannot be joined in its place", part.name)).help(help));
    }
    let sleeve = format!("{}-joined", part.name);
    let own = |text: &&Text| text.text.split_once('.').is_some_and(|(head, _)| head.eq_ignore_ascii_case(&part.name));
    let spans = ends(&file).into_iter().filter(own).map(|text| (text.span, sleeve.clone())).collect();
    rename(source, spans);
    let place = part.place.as_ref().map_or(String::new(), |place| format!(", {place}"));
    for section in ["switches", "parts"] {
        let tree = yaml::parse(source)?;
        if section == "parts" || super::rows::named(&tree, section, &part.name).is_ok() {
            remove::row(source, &tree, section, &part.name)?;
        }
    }
    let tree = yaml::parse(source)?;
    add_row(&mut source.text, &tree, "sleeves", &format!("{sleeve}: crimp sleeve{place}"));
    follow(source, catalogue, &names(&net, |_| false))
}
