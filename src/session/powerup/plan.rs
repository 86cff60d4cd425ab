//! The steps in which power is brought on, each with what a sound machine answers to it.

use super::facts::{Facts, Look};
use super::{Ask, Stage, Step, limited};
use crate::choice::allowed::{Refusal, refusal};
use crate::circuit::fault::Fault;
use crate::circuit::lower::ENGINE;
use crate::circuit::meter::{How, Observed, observe};
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::machine::Machine;
use crate::pace::Work;

/// The steps, and what is not tried.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// In the order in which they are taken.
    pub steps: Vec<Step>,
    /// What is not tried, and why.
    pub untried: Vec<String>,
}

/// Plans it; `lamp` is what stands in the minus lead at first, W, `None` for the small fuse.
pub fn plan(machine: &mut Machine, lamp: Option<f64>) -> Plan {
    let facts = Facts::of(machine);
    let mut plan = Plan { untried: facts.untried.clone(), ..Plan::default() };
    plan.steps.push(Step { stage: Stage::Safe, head: String::new(), ask: Ask::Do });
    if !facts.batteries.is_empty() {
        dead(machine, &facts, &mut plan);
        limited::steps(machine, &facts, lamp, &mut plan);
        full(machine, &facts, &mut plan);
    }
    machine.pace.begin(Work::Steps, facts.stopped.len());
    for look in &facts.stopped {
        machine.pace.step();
        looked(machine, &facts, look, Stage::Full, &mut plan);
    }
    cranked(machine, &facts, &mut plan);
    running(machine, &facts, &mut plan);
    plan
}

impl Plan {
    /// A step that this bench can take; one that it cannot is told among what is not tried.
    pub(super) fn push(&mut self, machine: &Machine, stage: Stage, head: String, test: Test) {
        match refusal(&machine.netlist, &test) {
            None => self.steps.push(Step { stage, head, ask: Ask::Read(Box::new(test)) }),
            Some(Refusal::Bench) => self.untried.push(format!("{head}: the bench has nothing for it")),
            Some(refused) => self.untried.push(format!("{head}: never done ({refused:?})")),
        }
    }
}

/// Every battery's minus off, as tests name it.
pub(super) fn all_off(facts: &Facts) -> Vec<String> {
    facts.batteries.iter().flat_map(|battery| battery.off.clone()).collect()
}

/// Ohms from plus to the loose minus, with the leads swapped where that makes a difference.
fn dead(machine: &mut Machine, facts: &Facts, plan: &mut Plan) {
    for (index, battery) in facts.batteries.iter().enumerate() {
        let on = facts.on(index);
        let mut test = Test {
            red: Some(battery.plus.clone()),
            black: battery.loose.first().cloned(),
            open: all_off(facts),
            ..Test::new(Instrument::Ohms, &Settings::new())
        };
        test.then.extend((!on.is_empty()).then_some(on));
        let swapped = Test { red: test.black.clone(), black: test.red.clone(), ..test.clone() };
        let differs = shown(machine, &test) != shown(machine, &swapped);
        plan.push(machine, Stage::Dead, format!("across the feed of {}", battery.part), test);
        if differs {
            plan.push(machine, Stage::Dead, format!("across the feed of {}, leads swapped", battery.part), swapped);
        }
    }
}

/// What the display would show, one a placement.
fn shown(machine: &mut Machine, test: &Test) -> Vec<String> {
    let say = |what: Observed| match what {
        Observed::Number { value, step, .. } => format!("{:.0}", value / step),
        other => format!("{other:?}"),
    };
    answers(machine, test).into_iter().map(say).collect()
}

/// What a sound machine answers to a test, one a placement.
pub(super) fn answers(machine: &mut Machine, test: &Test) -> Vec<Observed> {
    let Machine { sim, netlist, catalogue, .. } = machine;
    let answers = observe(sim, netlist, catalogue, test, &Fault::healthy(), How::Afresh);
    answers.unwrap_or_default().into_iter().map(|answer| answer.what).collect()
}

/// The value of an answer that is one.
pub(super) fn number(answer: Option<&Observed>) -> Option<f64> {
    match answer {
        Some(Observed::Number { value, .. }) => Some(*value),
        _ => None,
    }
}

/// Volts at the posts with nothing between.
fn full(machine: &mut Machine, facts: &Facts, plan: &mut Plan) {
    for (index, battery) in facts.batteries.iter().enumerate() {
        let on = facts.on(index);
        let test = Test {
            red: Some(battery.plus.clone()),
            black: Some(battery.minus.clone()),
            then: (!on.is_empty()).then_some(on).into_iter().collect(),
            ..Test::new(Instrument::VoltsDc, &Settings::new())
        };
        plan.push(machine, Stage::Full, format!("{} on", battery.part), test);
    }
}

/// A look at the whole machine in a state, then volts at the dearest load of each fuse that carries its most there.
fn looked(machine: &mut Machine, facts: &Facts, look: &Look, stage: Stage, plan: &mut Plan) {
    let watch = Test::new(Instrument::Watch, &look.set);
    if let Some(refused) = refusal(&machine.netlist, &watch) {
        plan.untried
            .push(format!("{}: the bench does not allow it ({refused:?})", crate::review::scene::told(&look.set)));
        return;
    }
    let head = crate::review::scene::told(&look.set);
    plan.steps.push(Step { stage, head, ask: Ask::Look { set: look.set.clone(), shows: look.shows.clone() } });
    let looks = if stage == Stage::Full { &facts.stopped } else { &facts.running };
    let least = machine.catalogue.powerup.limit("worth-a-reading");
    for (fuse, load) in &look.loads {
        let amps = |look: &Look| look.fuses.get(fuse).copied().unwrap_or(0.0);
        let most = looks.iter().map(amps).fold(0.0, f64::max);
        // The first of the states in which it carries its most.
        let first = looks.iter().find(|other| amps(other) >= most);
        if load.amps < least || first.is_none_or(|first| first.set != look.set) {
            continue;
        }
        let test = Test {
            red: Some(load.high.clone()),
            black: Some(load.low.clone()),
            ..Test::new(Instrument::VoltsDc, &look.set)
        };
        let same = plan.steps.iter_mut().find(|step| matches!(&step.ask, Ask::Read(known) if **known == test));
        match same {
            Some(step) => step.head = format!("{fuse} and {}", step.head),
            None => plan.push(machine, stage, format!("{fuse} under load, at {}", load.part), test),
        }
    }
}

/// Volts lost in each leg of the starter's circuit, and the volts that are left.
fn cranked(machine: &mut Machine, facts: &Facts, plan: &mut Plan) {
    let Some(battery) = facts.batteries.first() else { return };
    for crank in &facts.cranks {
        let load = &crank.load;
        let legs = [
            ("left at the battery", &battery.plus, &battery.minus),
            ("lost on the plus side", &battery.plus, &load.high),
            ("lost on the minus side", &load.low, &battery.minus),
        ];
        for (what, red, black) in legs.into_iter().filter(|(_, red, black)| red != black) {
            let test = Test {
                red: Some(red.clone()),
                black: Some(black.clone()),
                ..Test::new(Instrument::VoltsDc, &crank.set)
            };
            plan.push(machine, Stage::Crank, format!("{} turns: volts {what}", load.part), test);
        }
        let cables = crank.cables.iter().map(|(cable, _)| cable.clone()).collect::<Vec<_>>();
        let cranked = plan.steps.iter().any(|step| step.stage == Stage::Crank);
        if cranked && !cables.is_empty() {
            plan.steps.push(Step {
                stage: Stage::Crank,
                head: "cables that must stay cool".into(),
                ask: Ask::Feel(crank.cables.clone()),
            });
        }
    }
}

/// Charging, and what is only seen with the engine running.
fn running(machine: &mut Machine, facts: &Facts, plan: &mut Plan) {
    let idles =
        machine.sim.schematic().controls.get(ENGINE).is_some_and(|info| info.settings.iter().any(|s| s == "idling"));
    let charges = machine.catalogue.powerup.limit("charges");
    for (index, battery) in facts.batteries.iter().enumerate().filter(|_| idles) {
        let on = facts.on(index);
        let mut set = on.clone();
        set.push((ENGINE.into(), "idling".into()));
        let at = |set: &Settings| Test {
            red: Some(battery.plus.clone()),
            black: Some(battery.minus.clone()),
            ..Test::new(Instrument::VoltsDc, set)
        };
        let volts = |machine: &mut Machine, set: &Settings| number(answers(machine, &at(set)).first());
        let (before, after) = (volts(machine, &on), volts(machine, &set));
        if let (Some(before), Some(after)) = (before, after)
            && after > before + charges
        {
            plan.push(machine, Stage::Running, format!("{} is charged", battery.part), at(&set));
        }
    }
    for look in &facts.running {
        looked(machine, facts, look, Stage::Running, plan);
    }
}
