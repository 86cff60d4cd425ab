//! Power brought on as JSON, for scripts: events out, answers in.

use super::{AGAIN, Ask, CHASE, GO_ON, NONE, PowerUp, Wait, Went, YES};
use crate::session::event::Input;
use serde_json::{Value, json};

/// An answer that a script gives: an input of a chase, or one of the words of a step.
///
/// # Errors
///
/// What cannot be used, in a sentence.
pub fn input(value: &Value, power: &PowerUp) -> Result<Input, String> {
    if value.get("ok").and_then(Value::as_bool) == Some(true) {
        let feel = power.step().is_some_and(|step| matches!(step.ask, Ask::Feel(_)));
        return Ok(Input::Choice(if feel { NONE } else { YES }.into()));
    }
    Input::from_json(value, power.asked())
}

impl PowerUp {
    /// What waits, as an event.
    pub fn event(&mut self, id: usize) -> Value {
        let mut event = match self.waiting().clone() {
            Wait::Step(at) => self.event_of(at),
            Wait::Wrong { step, text, stop } => json!({
                "event": "wrong", "step": step + 1, "text": text, "power-off": stop,
                "choices": [AGAIN, GO_ON, CHASE],
            }),
            Wait::Done => {
                let mut done = self.summary();
                done["event"] = json!("done");
                done
            }
        };
        event["id"] = json!(id);
        event
    }

    /// A step, as an event.
    pub fn event_of(&mut self, at: usize) -> Value {
        let Some(step) = self.plan.steps.get(at).cloned() else { return Value::Null };
        let words = self.machine().catalogue.powerup.stages.get(step.stage.word()).cloned().unwrap_or_default();
        let mut event = json!({
            "event": "step", "step": at + 1, "steps": self.plan.steps.len(),
            "stage": step.stage.word(), "text": step.head, "stop": words.stop, "caution": words.caution,
        });
        match &step.ask {
            Ask::Do => event["do"] = json!(words.first),
            Ask::Read(test) => {
                event["test"] = test.to_json();
                let expect = self.expected(at).iter().map(|answer| answer.to_json(test.instrument)).collect();
                event["expect"] = Value::Array(expect);
            }
            Ask::Look { set, shows } => {
                event["set"] = set.iter().map(|(c, s)| (c.clone(), json!(s))).collect();
                event["shows"] = shows.iter().map(|(part, words)| (part.clone(), json!(words))).collect();
            }
            Ask::Feel(cables) => {
                event["cables"] = cables.iter().map(|(cable, amps)| (cable.clone(), json!(amps.round()))).collect();
            }
        }
        event
    }

    /// How it went.
    pub fn summary(&self) -> Value {
        let count = |wanted: &dyn Fn(&Went) -> bool| self.taken().iter().filter(|taken| wanted(&taken.went)).count();
        json!({
            "steps": self.plan.steps.len(),
            "well": count(&|went| *went == Went::Well),
            "wrong": count(&|went| matches!(went, Went::Wrong(_))),
            "left-out": count(&|went| *went == Went::Skipped),
            "open": self.open_points(),
        })
    }
}
