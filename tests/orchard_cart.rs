//! The built-in machine: it reads without a problem and is as large as it should be.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::lower::lower;
use ohmward::netlist::Netlist;
use ohmward::text::span::Source;
use ohmward::wiring;
use petgraph::visit::EdgeRef;

const FILE: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");

/// The cart's netlist.
pub fn cart() -> Netlist {
    let source = Source::new("wiring.yaml", FILE);
    match wiring::read(&source, &Catalogue::builtin()) {
        Ok(reading) => {
            assert!(
                reading.warnings.is_empty(),
                "{}",
                reading.warnings.iter().map(|p| p.render(&source)).collect::<String>()
            );
            reading.netlist
        }
        Err(problems) => panic!("{}", problems.iter().map(|p| p.render(&source)).collect::<String>()),
    }
}

#[test]
fn it_is_whole_and_of_the_size_it_should_be() {
    let cart = cart();
    let schematic = lower(&cart, &Catalogue::builtin());
    let unknowns = schematic.nodes.len() - 1;
    assert!((300..=600).contains(&unknowns), "{unknowns} unknowns");
    let ways: Vec<usize> = cart.plugs.values().map(|plug| plug.ways.len()).collect();
    assert_eq!(ways, [5, 9, 10]);
    assert!(cart.grounds.len() >= 4 && cart.pieces.len() == 2);
}

#[test]
fn rows_are_about_sixty() {
    // what a person types: a row a wire, a way, a ground point, a feed
    let section = |name: &str| {
        FILE.split(&format!("\n{name}:\n")).nth(1).map(|rest| {
            let body: Vec<&str> = rest.lines().take_while(|line| line.is_empty() || line.starts_with(' ')).collect();
            body.iter()
                .filter(|line| line.trim_start().starts_with("- ") || line.trim_start().starts_with(['G', 'F']))
                .count()
        })
    };
    let rows: usize = ["wires", "grounds", "feeds", "plugs"].iter().filter_map(|name| section(name)).sum();
    assert!((50..=80).contains(&rows), "{rows} rows");
}

#[test]
fn every_pin_has_a_wire() {
    let cart = cart();
    let bare: Vec<&str> = cart
        .parts
        .values()
        .flat_map(|part| part.pins.values())
        .filter(|pin| cart.graph.edges(**pin).next().is_none())
        .map(|pin| cart.point_name(*pin))
        .collect();
    assert!(bare.is_empty(), "no wire at {bare:?}");
}

#[test]
fn horn_and_rev_gauge_share_a_ground_point() {
    let cart = cart();
    let stud = cart.point("G2").unwrap();
    let wires: Vec<&str> = cart.graph.edges(stud).map(|edge| cart.graph[edge.id()].site.as_str()).collect();
    assert!(wires.len() > 4, "{wires:?}");
    assert!(cart.wires.contains_key("rev-gauge-ground_G2") && cart.wires.contains_key("S1_G2"));
}
