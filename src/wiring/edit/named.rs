//! Parts by what a person calls them: a name of the file, a circuit in plain words, a kind.

use super::hang::is_load;
use crate::catalogue::tables::Circuit;
use crate::catalogue::{Catalogue, Kind};
use crate::netlist::{Netlist, Part};
use crate::text::problem::Problem;
use crate::text::words::{nearest, singular};
use indexmap::IndexSet;

/// What a phrase names.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// The parts.
    pub parts: IndexSet<String>,
    /// A whole circuit was meant: what lives by these parts is meant too.
    pub circuit: bool,
}

/// The parts that a phrase names.
///
/// # Errors
///
/// Nothing of the machine is called so.
pub fn named(net: &Netlist, catalogue: &Catalogue, phrase: &str) -> Result<Named, Problem> {
    let phrase = phrase.trim();
    let name = phrase.replace(' ', "-");
    let part = |name: &str| net.parts.keys().find(|known| known.eq_ignore_ascii_case(name)).cloned();
    let circuit = catalogue
        .circuits
        .iter()
        .find(|(key, circuit)| alike(key, phrase) || circuit.say.iter().any(|say| alike(say, phrase)));
    let own = |circuit: &Circuit| -> IndexSet<String> {
        let kind = |kind: &str| circuit.kinds.iter().any(|known| known.eq_ignore_ascii_case(kind));
        let called =
            |name: &str| name.split(['-', '_']).any(|w| circuit.named.iter().any(|n| n.eq_ignore_ascii_case(w)));
        // By name, what is there for its own sake: its switches go with it if they switch nothing else.
        let load = |part: &Part| catalogue.kind(&part.kind).is_some_and(is_load);
        let switch = |name: &str| circuit.switches.iter().any(|known| known.eq_ignore_ascii_case(name));
        let own = |part: &&Part| kind(&part.kind) || load(part) && called(&part.name) || switch(&part.name);
        let parts = net.parts.values().filter(own);
        parts.map(|part| part.name.clone()).collect()
    };
    if let Some(part) = part(&name) {
        // "bilge pump" may be a part and a circuit: both are meant.
        let mut parts = IndexSet::from([part]);
        parts.extend(circuit.map(|(_, circuit)| own(circuit)).unwrap_or_default());
        return Ok(Named { parts, circuit: circuit.is_some() });
    }
    let kind = catalogue.kind(phrase).or_else(|| catalogue.kind(singular(phrase)));
    let of_kind =
        |kind: &Kind| net.parts.values().filter(|part| part.kind == kind.name).map(|part| part.name.clone()).collect();
    let found = match (circuit, kind) {
        (Some((_, circuit)), _) => Named { parts: own(circuit), circuit: true },
        (None, Some(kind)) => Named { parts: of_kind(kind), circuit: false },
        (None, None) => Named { parts: IndexSet::new(), circuit: false },
    };
    if !found.parts.is_empty() {
        return Ok(found);
    }
    let says = format!("nothing of this machine is called \"{phrase}\"");
    let words = catalogue.circuits.iter().filter(|(_, circuit)| !own(circuit).is_empty());
    let known: Vec<&str> = words.map(|(key, _)| key.as_str()).chain(net.parts.keys().map(String::as_str)).collect();
    let near = nearest(&name, known.iter().copied()).or_else(|| nearest(phrase, known.iter().copied()));
    Err(Problem::whole(says).help(match near {
        Some(near) => format!("nearest: {near}"),
        None => format!("it has: {}", known.join(", ")),
    }))
}

/// The same words, in one number or the other.
fn alike(a: &str, b: &str) -> bool {
    let bare = |text: &str| singular(&text.to_lowercase().replace('-', " ")).to_owned();
    bare(a) == bare(b)
}
