//! Who carries the current of a reading: why it reads what it does.

use crate::circuit::injury::{Change, Injury};
use crate::circuit::meter::{OHMS_SOURCE_OHMS, OHMS_SOURCE_VOLTS};
use crate::circuit::schematic::Law;
use crate::circuit::state::states_of;
use crate::circuit::test::{Instrument, Test};
use crate::diagnosis::machine::Machine;
use crate::review::scene::is_load;
use indexmap::IndexMap;

/// Parts named at most.
const NAMED: usize = 3;
/// A part that carries less of what the greatest carries is not named.
const SHARE: f64 = 0.1;
/// Less than this is nothing: with power on, and under a meter's own current, A.
const NOTHING: f64 = 1e-3;
const NOTHING_DEAD: f64 = 1e-6;

/// The parts that carry most in each placement of a test on the sound machine, with A; the meter's own current where
/// it is an ohms range.
pub fn carriers(machine: &mut Machine, test: &Test) -> Vec<Vec<(String, f64)>> {
    let specs = states_of(machine.sim.schematic(), &machine.netlist, test).unwrap_or_default();
    let node = |name: &Option<String>| Some(machine.netlist.point(name.as_ref()?)?.index());
    let mut injury = Injury::default();
    if let (Instrument::Ohms, Some(a), Some(b)) = (test.instrument, node(&test.red), node(&test.black)) {
        let law = Law::Source { volts: OHMS_SOURCE_VOLTS, ohms: OHMS_SOURCE_OHMS };
        injury.changes.push(Change::Add { a, b, law });
    }
    let nothing = if injury.changes.is_empty() { NOTHING } else { NOTHING_DEAD };
    let mut out = Vec::new();
    for spec in &specs {
        let state = machine.state(spec);
        let outcome = machine.sim.run(state, &injury);
        let mut by_part: IndexMap<&str, f64> = IndexMap::new();
        for (id, element) in machine.sim.schematic().elements.iter().enumerate() {
            let Some(part) = element.part.as_deref().filter(|_| is_load(&element.law) || is_diode(&element.law)) else {
                continue;
            };
            let mean = outcome.levels.iter().enumerate();
            let amps: f64 =
                mean.map(|(at, level)| level.share * machine.sim.element_amps(&outcome, at, id)).sum::<f64>().abs();
            let most = by_part.entry(part).or_default();
            *most = most.max(amps);
        }
        let mut list: Vec<(String, f64)> = by_part
            .into_iter()
            .filter(|(_, amps)| *amps > nothing)
            .map(|(part, amps)| (part.to_string(), amps))
            .collect();
        list.sort_by(|a, b| b.1.total_cmp(&a.1));
        let most = list.first().map_or(0.0, |(_, amps)| *amps);
        list.retain(|(_, amps)| *amps >= SHARE * most);
        list.truncate(NAMED);
        out.push(list);
    }
    out
}

fn is_diode(law: &Law) -> bool {
    matches!(law, Law::Diode { .. })
}
