//! What is taken for an injury that no current meets must leave every part what it got.

use crate::orchard_cart::cart;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::injury::{Injury, injure};
use ohmward::circuit::lower::lower;
use ohmward::circuit::sim::{FuseCurve, Sim};
use ohmward::circuit::state::state_of_settings;
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::machine::Machine;

#[test]
fn what_no_current_meets_leaves_the_circuit_as_it_is() {
    let machine = Machine::new(cart(), Catalogue::builtin());
    let suspects = enumerate(&machine, true);
    let mut sim = Sim::new(lower(&cart(), &Catalogue::builtin()), FuseCurve::blade());
    let on = |list: &[(&str, &str)]| list.iter().map(|(c, s)| (c.to_string(), s.to_string())).collect::<Vec<_>>();
    let (mut idle, mut met) = (0, 0);
    for settings in [
        on(&[]),
        on(&[("key", "on"), ("horn-push", "pressed"), ("engine", "idling")]),
        on(&[("key", "on"), ("turn", "left")]),
        on(&[("lights", "on"), ("brake", "pressed")]),
    ] {
        let Ok(spec) = state_of_settings(sim.schematic(), &settings) else { panic!("{settings:?}") };
        let state = sim.state(&spec);
        let healthy = sim.run(state, &Injury::default());
        for fault in suspects.list.iter().flat_map(|s| s.members.iter().take(1)).map(|m| &m.fault).step_by(3) {
            let Ok(injury) = injure(sim.schematic(), &machine.netlist, &machine.catalogue, fault) else { continue };
            if !sim.idle(&healthy, &injury) {
                met += 1;
                continue;
            }
            idle += 1;
            let hurt = sim.run(state, &injury);
            assert_eq!(hurt.levels.len(), healthy.levels.len(), "{fault} {settings:?}");
            for level in 0..healthy.levels.len() {
                for id in 0..sim.schematic().elements.len() {
                    let (now, then) = (sim.element_amps(&hurt, level, id), sim.element_amps(&healthy, level, id));
                    assert!((now - then).abs() < 1e-4, "{fault} {settings:?} {id}: {now} {then}");
                }
            }
        }
    }
    assert!(idle > 100 && met > 100, "{idle} idle, {met} met");
}
