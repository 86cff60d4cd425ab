//! Hands, leads and helpers: what a placement takes of the person who does it alone.

use super::minutes::Stand;
use crate::circuit::schematic::ControlInfo;
use crate::circuit::test::{Settings, Test};
use crate::netlist::Netlist;
use indexmap::IndexMap;

/// Hands of one person.
const HANDS: usize = 2;

/// What a placement asks for beyond one person with the leads as they are.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Effort {
    /// Somebody else has to hold or hold on.
    pub helper: bool,
    /// The two points lie farther apart than both leads reach: metres between their places.
    pub apart: Option<f64>,
}

/// Places of red and black, where they are known.
fn ends(netlist: &Netlist, test: &Test) -> [Option<String>; 2] {
    [&test.red, &test.black].map(|name| {
        let node = netlist.point(name.as_ref()?)?;
        netlist.graph[node].place.as_ref().map(|place| place.to_lowercase())
    })
}

/// Controls that have to be held while a reading is taken, with their places: the most at a time.
fn held<'a>(controls: &'a IndexMap<String, ControlInfo>, sets: &[Settings]) -> Vec<&'a ControlInfo> {
    let holds = |set: &Settings| -> Vec<&'a ControlInfo> {
        let now = set.iter().filter_map(|(control, setting)| controls.get(control).map(|info| (info, setting)));
        now.filter(|(info, setting)| info.held.contains(setting)).map(|(info, _)| info).collect()
    };
    sets.iter().map(holds).max_by_key(Vec::len).unwrap_or_default()
}

/// What a placement takes. A tip that no clip holds takes a hand where it is, and so does a control that springs back;
/// nobody's hands are in two places. Looking takes none.
pub fn effort(netlist: &Netlist, controls: &IndexMap<String, ControlInfo>, test: &Test) -> Effort {
    if test.instrument.is_sense() {
        return Effort::default();
    }
    let [red, black] = ends(netlist, test);
    let far = red.as_ref().zip(black.as_ref()).filter(|(red, black)| red != black);
    let apart = far.and_then(|(red, black)| netlist.runs.get(&(red.clone(), black.clone())).copied());
    let apart = apart.filter(|metres| *metres > 2.0 * netlist.bench.leads);
    let held = held(controls, &test.placements());
    // The clips go where no hand can be: on the tip that is farther from what is held.
    let at = held.iter().find_map(|info| info.place.as_ref()).map(|place| place.to_lowercase());
    let mut tips = [red, black];
    tips.sort_by_key(|tip| tip.is_some() && *tip == at);
    let by_hand = tips.get(netlist.bench.clips.min(tips.len())..).unwrap_or_default();
    let mut places: Vec<&String> = by_hand.iter().flatten().collect();
    let held_at: Vec<String> = held.iter().filter_map(|info| info.place.as_ref()).map(|p| p.to_lowercase()).collect();
    places.extend(&held_at);
    places.sort();
    places.dedup();
    let hands = by_hand.len() + held.len();
    // Holding alone is done every day; it is the tip in the other hand that needs it to be here.
    let helper = !by_hand.is_empty() && !held.is_empty() && (hands > HANDS || places.len() > 1);
    Effort { helper, apart }
}

/// Can it be done with this bench?
pub fn can(netlist: &Netlist, controls: &IndexMap<String, ControlInfo>, test: &Test) -> bool {
    netlist.bench.helper || !effort(netlist, controls, test).helper
}

/// Minutes that leads too short cost, from where the person stands: a wire that lengthens one, unless it is on already.
pub fn minutes(netlist: &Netlist, extend: f64, stand: &Stand, test: &Test) -> f64 {
    let apart = effort(netlist, &IndexMap::new(), test).apart;
    let same = stand.probes == [test.red.clone(), test.black.clone()];
    if apart.is_some() && !same { extend } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::circuit::test::Instrument;
    use crate::text::span::Source;
    use crate::wiring;

    const TRUCK: &str = "\
machine: Truck
bench: {meter: [volts], leads: 1 m, clips: CLIPS, helper: HELPER}
places: {cab: easy, tail: easy}
runs: {cab to tail: 5 m}
parts:
  battery: lead-acid battery, cab
  push: push switch, cab
  horn: horn, tail
wires:
  - battery.pos to push.a, red
  - push.b to horn.feed, red
  - horn.ground to battery.neg, black
";

    fn effort_with(clips: &str, helper: &str, red: &str) -> (Effort, bool) {
        let text = TRUCK.replace("CLIPS", clips).replace("HELPER", helper);
        let reading = wiring::read(&Source::new("wiring.yaml", text), &Catalogue::builtin()).unwrap();
        let held = ControlInfo { held: vec!["pressed".into()], place: Some("cab".into()), ..ControlInfo::default() };
        let controls: IndexMap<String, ControlInfo> = std::iter::once(("push".to_string(), held)).collect();
        let set = vec![("push".to_string(), "pressed".to_string())];
        let test =
            Test { red: Some(red.into()), black: Some("battery.neg".into()), ..Test::new(Instrument::VoltsDc, &set) };
        (effort(&reading.netlist, &controls, &test), can(&reading.netlist, &controls, &test))
    }

    #[test]
    fn nobody_holds_a_button_here_and_a_tip_there() {
        // Both tips clipped: one hand for the button.
        assert!(effort_with("2", "no", "horn.feed").1);
        // One clip, on the far tip; black in one hand, the button in the other.
        assert!(effort_with("1", "no", "horn.feed").1);
        // No clip: black at the cab, red at the tail, the button at the cab.
        assert_eq!((effort_with("0", "no", "horn.feed").1, effort_with("0", "yes", "horn.feed").1), (false, true));
        // No clip, all in one place: three things for two hands.
        assert!(!effort_with("0", "no", "push.b").1);
    }

    #[test]
    fn leads_of_a_metre_do_not_reach_five() {
        assert_eq!(effort_with("2", "no", "horn.feed").0.apart, Some(5.0));
        assert_eq!(effort_with("2", "no", "push.b").0.apart, None);
    }
}
