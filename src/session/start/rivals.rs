//! Assumptions under test: each machine that one other answer would make is told all that the chase is told, and
//! weighed by how well it agrees.
//!
//! A suspect is a fault of the wiring as it is written; a wiring that is written wrong is no fault of it. So each
//! other answer to an assumed question is a machine of its own, with all its suspects. Where one of them agrees much
//! better than the machine in force, the question is put with what speaks against the assumption.

use super::DONT_KNOW;
use crate::catalogue::Catalogue;
use crate::circuit::test::Test;
use crate::diagnosis::machine::Machine;
use crate::session::chase::{Chase, Told};
use crate::session::event::{Event, Input};
use crate::sketch::{Book, How, Plan};
use crate::text::span::Source;
use crate::wiring;

/// So many times better must another answer agree before somebody is asked; so many times worse before it is out.
const TIMES: f64 = 20.0;
/// A test that was skipped, at a point that a rival has not got: perhaps it was not found.
const NOT_FOUND: f64 = 3.0;
/// Machines told beside the chase, at most.
const MOST: usize = 8;

/// A machine that one other answer would make.
struct Rival {
    key: String,
    choice: String,
    /// ln of how usual it is beside the assumption.
    prior: f64,
    chase: Chase,
    /// The machine in force without the readings that mean nothing on the rival (a point that it has not got).
    own: Option<Chase>,
    missed: Vec<usize>,
    /// ln of how much better it agrees.
    better: f64,
}

/// A question that a contradiction puts.
#[derive(Clone, Debug, PartialEq)]
struct Doubt {
    key: String,
    better: String,
    event: Event,
}

/// The assumptions of a begun wiring file, while a chase runs on it.
pub struct Assumptions {
    book: Book,
    catalogue: Catalogue,
    plan: Plan,
    rivals: Vec<Rival>,
    fed: usize,
    doubt: Option<Doubt>,
}

fn chase(plan: &Plan, book: &Book, catalogue: &Catalogue) -> Option<Chase> {
    let source = Source::new("wiring.yaml", plan.text(book));
    let netlist = wiring::read(&source, catalogue).ok()?.netlist;
    Some(Chase::new(Machine::new(netlist, catalogue.clone())))
}

impl Assumptions {
    /// Those of a wiring file that nobody has changed since it was begun; none of any other.
    pub fn of(text: &str, book: &Book, catalogue: &Catalogue) -> Option<Assumptions> {
        let plan = Plan::untouched(book, text)?;
        let (book, catalogue) = (book.clone(), catalogue.clone());
        let mut out = Assumptions { book, catalogue, plan, rivals: Vec::new(), fed: 0, doubt: None };
        out.rivals = out.against();
        Some(out)
    }

    /// One machine for each other answer, the dearest questions first.
    fn against(&self) -> Vec<Rival> {
        let mut open: Vec<(f64, Plan, String, String, f64)> = Vec::new();
        for (key, (circuit, name, ask)) in self.plan.asks(&self.book) {
            let answer = self.plan.answer(&self.book, circuit, name, ask);
            let matters = self.plan.matters(&self.book, circuit, ask);
            if !matters || answer.how != How::Assumed || (ask.several && !self.plan.several(&self.book, name)) {
                continue;
            }
            let own = ask.choices.get(&answer.choice).map_or(1.0, |choice| choice.weight);
            for (choice, data) in ask.choices.iter().filter(|(choice, _)| **choice != answer.choice) {
                let plan = self.plan.with(&key, choice, How::Assumed);
                open.push((ask.worth, plan, key.clone(), choice.clone(), (data.weight / own).max(1e-3).ln()));
            }
        }
        open.sort_by(|a, b| b.0.total_cmp(&a.0));
        let rivals = open.into_iter().take(MOST).filter_map(|(_, plan, key, choice, prior)| {
            let chase = chase(&plan, &self.book, &self.catalogue)?;
            Some(Rival { key, choice, prior, chase, own: None, missed: Vec::new(), better: 0.0 })
        });
        rivals.collect()
    }

    /// Circuits and answers in force.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The wiring file as it should stand.
    pub fn text(&self) -> String {
        self.plan.text(&self.book)
    }

    /// Tells the other machines what the chase was told since.
    fn tell(&mut self, main: &mut Chase) {
        let told: Vec<Told> = main.told().to_vec();
        if told.len() < self.fed {
            // An answer was taken back.
            self.rivals = self.against();
            self.fed = 0;
        }
        if told.len() == self.fed {
            return;
        }
        let ours = main.chances().ln;
        for rival in &mut self.rivals {
            for (at, one) in told.iter().enumerate().skip(self.fed) {
                if !rival.chase.tell(one) {
                    rival.missed.push(at);
                    rival.own = None;
                }
            }
            let own = if rival.missed.is_empty() {
                ours
            } else {
                if rival.own.is_none() {
                    rival.own = chase(&self.plan, &self.book, &self.catalogue);
                    if let Some(own) = &mut rival.own {
                        let met = told.iter().enumerate().take(self.fed).filter(|(at, _)| !rival.missed.contains(at));
                        met.for_each(|(_, one)| {
                            own.tell(one);
                        });
                    }
                }
                let Some(own) = &mut rival.own else { continue };
                let met = told.iter().enumerate().skip(self.fed).filter(|(at, _)| !rival.missed.contains(at));
                met.for_each(|(_, one)| {
                    own.tell(one);
                });
                own.agreement()
            };
            rival.better = rival.chase.agreement() + rival.prior - own;
        }
        self.fed = told.len();
    }

    /// After something was said or read: the question that a contradiction puts, if there is one.
    pub fn doubt(&mut self, main: &mut Chase, id: usize) -> Option<Event> {
        self.tell(main);
        // A complaint alone speaks against nothing.
        if main.skipped().is_empty() && !main.told().iter().any(|told| matches!(told, Told::Readings(..))) {
            return None;
        }
        let lacks = |rival: &Rival| {
            // The conductor behind a pin is found wherever the pin is.
            let end = |point: &String| {
                point.rsplit_once('.').is_some_and(|(wire, _)| main.machine().netlist.wires.contains_key(wire))
            };
            let there = |point: &String| end(point) || rival.chase.machine().netlist.point(point).is_some();
            let not_there = |test: &&Test| !test.red.iter().chain(&test.black).all(there);
            main.skipped().iter().filter(not_there).count() as f64 * NOT_FOUND.ln()
        };
        let (best, better) =
            self.rivals.iter().map(|rival| (rival, rival.better + lacks(rival))).max_by(|a, b| a.1.total_cmp(&b.1))?;
        if better < TIMES.ln() {
            return None;
        }
        let asks = self.plan.asks(&self.book);
        let (circuit, name, ask) = asks.get(&best.key)?;
        let assumed = self.plan.answer(&self.book, circuit, name, ask).choice;
        let say = |choice: &str| ask.choices.get(choice).map_or("", |choice| choice.say.as_str()).to_string();
        let is = self.book.sketches.get(*circuit).map_or("", |sketch| sketch.is.as_str());
        let names: Vec<&str> = (self.plan.circuits.iter())
            .filter_map(|circuit| self.book.sketches.get(circuit).map(|sketch| sketch.is.as_str()))
            .collect();
        let text = format!(
            "What was read speaks against \"{}\", which was assumed; it fits \"{}\" better. Look at it: {}",
            say(&assumed),
            say(&best.choice),
            ask.text.replace("<is>", is).replace("<all>", &names.join(" and "))
        );
        let choices = ask.choices.values().map(|choice| choice.say.clone()).chain([DONT_KNOW.into()]).collect();
        let event = Event::Question { id, text, choices };
        self.doubt = Some(Doubt { key: best.key.clone(), better: best.choice.clone(), event: event.clone() });
        Some(event)
    }

    /// The question that waits.
    pub fn waiting(&self) -> Option<&Event> {
        self.doubt.as_ref().map(|doubt| &doubt.event)
    }

    /// Takes the answer to the question that waits: what is to be kept of it, and whether the wiring is another now.
    pub fn answer(&mut self, choice: &str) -> Result<(Input, bool), String> {
        let Some(Doubt { key, better, event: Event::Question { text, choices, .. } }) = self.doubt.clone() else {
            return Err("no question is open".into());
        };
        let typed = choice.trim();
        let by_number = typed.parse::<usize>().ok().and_then(|n| choices.get(n.checked_sub(1)?));
        let known = choices.iter().find(|known| known.eq_ignore_ascii_case(typed)).or(by_number);
        let Some(known) = known else {
            return Err(format!("\"{typed}\" is none of: {}", choices.join(", ")));
        };
        let asks = self.plan.asks(&self.book);
        let Some((circuit, name, ask)) = asks.get(&key) else { return Err("this is not asked any more".into()) };
        let before = self.plan.answer(&self.book, circuit, name, ask).choice;
        let said = ask.choices.iter().find(|(_, choice)| choice.say == *known).map(|(choice, _)| choice.clone());
        let (now, how) = said.map_or((better, How::Fits), |choice| (choice, How::Said));
        let changed = now != before;
        self.plan = self.plan.with(&key, &now, how);
        self.doubt = None;
        self.rivals = self.against();
        self.fed = 0;
        Ok((Input::Told { key, question: text, answer: known.clone() }, changed))
    }

    /// At the end: assumptions with which nothing else agrees any more are proved. True if there is one.
    pub fn prove(&mut self, main: &mut Chase) -> bool {
        self.tell(main);
        if !main.told().iter().any(|told| matches!(told, Told::Readings(..))) {
            return false;
        }
        let asks: Vec<String> = self.plan.asks(&self.book).keys().cloned().collect();
        let mut any = false;
        for key in asks {
            let Some((circuit, name, ask)) = self.plan.asks(&self.book).get(&key).copied() else { continue };
            let beaten = self.rivals.iter().filter(|rival| rival.key == key && rival.better < -TIMES.ln()).count();
            if beaten > 0 && beaten + 1 == ask.choices.len() {
                let answer = self.plan.answer(&self.book, circuit, name, ask);
                self.plan = self.plan.with(&key, &answer.choice, How::Proven);
                any = true;
            }
        }
        any
    }
}
