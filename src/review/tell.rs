//! The words of a finding: `rules/review.yaml` has the sentences, here their braces are filled.

use super::scene::Scene;
use super::{Finding, Severity};
use crate::netlist::{Netlist, Wire};
use crate::text::span::Span;
use petgraph::graph::NodeIndex;

/// Names told at most in one list.
const NAMED: usize = 4;

/// Where a finding is told.
#[derive(Clone, Debug, Default)]
pub struct At {
    /// The site.
    pub site: String,
    /// Its place.
    pub place: Option<String>,
    /// Where it stands in the file.
    pub span: Option<Span>,
}

impl At {
    /// A part.
    pub fn part(netlist: &Netlist, name: &str) -> At {
        let part = netlist.parts.get(name);
        At { site: name.to_string(), place: part.and_then(|part| part.place.clone()), span: part.map(|part| part.span) }
    }

    /// A wire.
    pub fn wire(netlist: &Netlist, name: &str) -> At {
        let wire = netlist.wires.get(name);
        let place =
            wire.and_then(|wire| [wire.from, wire.to].into_iter().find_map(|end| netlist.graph[end].place.clone()));
        At { site: name.to_string(), place, span: wire.map(|wire| wire.span) }
    }

    /// A point: what it belongs to.
    pub fn point(netlist: &Netlist, point: NodeIndex) -> At {
        use crate::netlist::PointKind;
        let here = &netlist.graph[point];
        let mut at = match &here.what {
            PointKind::Pin { part, .. } => At::part(netlist, part),
            PointKind::Way { plug, way, .. } => {
                let span = netlist.plugs.get(plug).and_then(|plug| plug.ways.get(way)).map(|way| way.span);
                At { span, ..At::default() }
            }
            PointKind::Conductor { wire, .. } => At::wire(netlist, wire),
            PointKind::Sleeve => At { span: netlist.sleeves.get(&here.name).map(|s| s.span), ..At::default() },
            PointKind::Stud => At { span: netlist.grounds.get(&here.name).map(|g| g.span), ..At::default() },
            PointKind::Piece => At { span: netlist.pieces.get(&here.name).map(|p| p.span), ..At::default() },
        };
        at.site = here.name.clone();
        at.place = here.place.clone().or(at.place);
        at
    }
}

impl Scene<'_> {
    /// A finding in the words of the rules.
    pub fn finding(&self, severity: Severity, sort: &'static str, at: At, values: &[(&str, String)]) -> Finding {
        let words = self.machine.catalogue.review.findings.get(sort);
        let fill = |text: &str| {
            values.iter().fold(text.to_string(), |text, (key, value)| text.replace(&format!("{{{key}}}"), value))
        };
        Finding {
            severity,
            sort,
            site: at.site,
            place: at.place,
            span: at.span,
            text: words.map_or_else(|| sort.to_string(), |words| fill(&words.text)),
            cure: words.map_or_else(String::new, |words| fill(&words.cure)),
        }
    }

    /// A limit of the rules.
    pub fn limit(&self, name: &str) -> f64 {
        self.machine.catalogue.review.limit(name)
    }

    /// Is a part's kind in a list of the rules?
    pub fn listed(&self, list: &str, part: &str) -> bool {
        let kind = self.machine.netlist.parts.get(part).and_then(|part| self.machine.catalogue.kind(&part.kind));
        kind.is_some_and(|kind| self.machine.catalogue.review.lists(list, &kind.name))
    }
}

/// `a, b and c`; of many the first few and how many more.
pub fn list(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [few @ .., last] if names.len() <= NAMED + 1 => format!("{} and {last}", few.join(", ")),
        _ => format!("{} and {} more", names[..NAMED].join(", "), names.len() - NAMED),
    }
}

/// Volts as a meter on its 20 V range shows them, millivolts below a tenth.
pub fn volts(value: f64) -> String {
    if value.abs() < 0.0995 { format!("{:.0} mV", 1000.0 * value) } else { figure(value, "V") }
}

/// Amps.
pub fn amps(value: f64) -> String {
    figure(value, "A")
}

/// How hot a wire gets: copper glows from here on, and the rule by which it was told ends long before.
pub fn celsius(value: f64) -> String {
    const GLOWS: f64 = 600.0;
    if value < GLOWS { format!("{value:.0} C") } else { format!("{GLOWS:.0} C and more") }
}

/// Square millimetres.
pub fn area(value: f64) -> String {
    figure(value, "mm2")
}

/// Metres.
pub fn metres(value: f64) -> String {
    figure(value, "m")
}

/// So many per cent.
pub fn percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

fn figure(value: f64, unit: &str) -> String {
    let text = match value.abs() {
        size if size >= 19.95 => format!("{value:.0}"),
        size if size >= 1.995 => format!("{value:.1}"),
        _ => format!("{value:.2}"),
    };
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    format!("{text} {unit}")
}

/// `12 s`, `40 min`, `3 h`, from seconds.
pub fn time(seconds: f64) -> String {
    match seconds {
        s if s < 0.95 => format!("{s:.1} s"),
        s if s < 90.0 => format!("{s:.0} s"),
        s if s < 5400.0 => format!("{:.0} min", s / 60.0),
        s => format!("{:.0} h", s / 3600.0),
    }
}

/// A wire as one finds it: `black wire W7`.
pub fn wire(wire: &Wire) -> String {
    match &wire.colour {
        Some(colour) => format!("{colour} wire {}", wire.name),
        None => format!("wire {}", wire.name),
    }
}

/// Is or are, by how many.
pub fn are(count: usize) -> &'static str {
    if count == 1 { "is" } else { "are" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_as_a_person_says_them() {
        assert_eq!([volts(0.031), volts(0.5), volts(11.96)], ["31 mV", "0.5 V", "12 V"]);
        assert_eq!([amps(1.752), amps(83.4), area(2.5), metres(0.4)], ["1.75 A", "83 A", "2.5 mm2", "0.4 m"]);
        assert_eq!([time(0.11), time(12.4), time(2400.0), time(9000.0)], ["0.1 s", "12 s", "40 min", "2 h"]);
    }

    #[test]
    fn long_lists_are_cut_and_counted() {
        let names = |n: usize| (1..=n).map(|i| format!("W{i}")).collect::<Vec<_>>();
        assert_eq!(list(&names(2)), "W1 and W2");
        assert_eq!(list(&names(5)), "W1, W2, W3, W4 and W5");
        assert_eq!(list(&names(9)), "W1, W2, W3, W4 and 5 more");
    }
}
