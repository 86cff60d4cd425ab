//! Lamps that may flash: what can be said of one is more than what its kind shows by itself.

use super::chase::Chase;
use super::event::Expected;
use crate::circuit::test::{Settings, Test};

/// What a lamp does on a flasher, at the rate it should and otherwise.
const FLASHES: [&str; 3] = ["flashing", "slow-flash", "fast-flash"];

/// The words that answer a look, with those of a lamp that flashes where the sound machine has something turn on and off by
/// itself in one of its settings, or one of the suspects would have.
pub(super) fn with_flashes(chase: &mut Chase, test: &Test, expect: &[Expected], mut words: Vec<String>) -> Vec<String> {
    let lamp = words.iter().any(|word| word == "lit");
    let told =
        |expected: &Expected| expected.values.iter().any(|value| FLASHES.contains(&value.replace(' ', "-").as_str()));
    let flashes = lamp && (expect.iter().any(told) || test.placements().iter().any(|set| swings(chase, set)));
    if flashes {
        words.extend(FLASHES.map(String::from));
    }
    words
}

/// Does something in the sound machine turn on and off by itself in these settings?
fn swings(chase: &mut Chase, set: &Settings) -> bool {
    let Some(state) = chase.state(set) else { return false };
    let healthy = chase.runs.healthy(&chase.machine, state);
    healthy.levels.iter().any(|level| !level.slow_closed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::circuit::test::Instrument;
    use crate::diagnosis::machine::Machine;
    use crate::text::span::Source;
    use crate::wiring;

    const CART: &str = include_str!("../../rules/machines/orchard-cart/wiring.yaml");

    #[test]
    fn a_lamp_on_a_flasher_may_be_said_to_flash_and_another_not() {
        let rules = Catalogue::builtin();
        let cart = wiring::read(&Source::new("wiring.yaml", CART), &rules).unwrap().netlist;
        let mut chase = Chase::new(Machine::new(cart, rules));
        let mut words = |set: [(&str, &str); 2], expect: &[Expected]| {
            let test = Test::new(Instrument::Watch, &set.map(|(c, s)| (c.to_string(), s.to_string())).to_vec());
            with_flashes(&mut chase, &test, expect, ["dark", "dim", "lit"].map(String::from).to_vec())
        };
        let flash = |words: Vec<String>| words.iter().any(|word| word == "flashing");
        assert!(flash(words([("key", "on"), ("turn", "left")], &[])));
        assert!(!flash(words([("key", "on"), ("lights", "on")], &[])));
        let back_fed = Expected { fault: String::new(), title: String::new(), values: vec!["slow flash".into()] };
        assert!(flash(words([("key", "on"), ("lights", "on")], &[back_fed])));
    }
}
