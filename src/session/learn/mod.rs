//! Learning the table of an unknown switch or plug with a beeper, in few touches. Pure: answers in, the next question out.
//!
//! [`known`] draws the conclusions of a position's touches, [`prior`] says what switches are like, [`choose`] takes the
//! touch that is expected to tell most, [`element`] finds diodes and loads, [`table`] writes it all down. [`Learn`]
//! leads from the first question to the table and keeps every step, so that taking one back is forgetting it.
//!
//! ```
//! use ohmward::session::learn::{Heard, Learn, Start, Step, Wait};
//! let mut learn = Learn::new(Start { name: "push".into(), clips: 0, ..Start::default() });
//! for (key, answer) in [("plug", "none"), ("wires", "red, blue"), ("positions", "released, pressed"),
//!     ("held", "pressed"), ("safe", "yes"), ("tips", "beep")] {
//!     learn.answer(key, answer).unwrap();
//! }
//! while let Wait::Touch(ask) = learn.waiting().clone() {
//!     learn.take(if ask.position == 1 { Heard::Beep } else { Heard::Silent }).unwrap();
//! }
//! assert!(learn.table().rows().contains("pressed: [a, a]   # held"));
//! ```

pub mod choose;
pub mod element;
mod gang;
pub mod guess;
pub mod journal;
pub mod json;
pub mod known;
pub mod plug;
pub mod prior;
pub mod said;
pub mod setup;
pub mod table;
pub mod touch;

pub use choose::{Means, Why};
pub use table::Table;
pub use touch::{BEEP, CONTACT, Heard, Seen, Touch};

use known::{Known, made};
use prior::Past;
use setup::{Key, Question, Setup};

/// What is given before the first question.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Start {
    /// What the switch or plug is to be called.
    pub name: String,
    /// Clips to hold wires together.
    pub clips: usize,
    /// The beeper sounds at or below this, ohm; 0 stands for the usual.
    pub beep_below: f64,
    /// Only contacts are in it.
    pub contacts_only: bool,
}

/// One accepted answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// To a question before the first touch.
    Said(Key, String),
    /// Touches and what came of them, in a position.
    Seen(usize, Vec<Seen>),
    /// No number is shown where one was asked for.
    NoNumber,
}

/// A touch to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// The position.
    pub position: usize,
    /// The touch.
    pub touch: Touch,
    /// Why.
    pub why: Why,
    /// If it beeps, the ohms shown are wanted: it could be a load.
    pub ohms: bool,
    /// It beeped; only the number is wanted yet.
    pub number: bool,
    /// Touches made in this position.
    pub made: usize,
    /// Touches that are left in this position at most, if nothing contradicts itself.
    pub left: usize,
}

/// What is waited for.
#[derive(Clone, Debug, PartialEq)]
pub enum Wait {
    /// An answer to a question.
    Question(Question),
    /// A touch.
    Touch(Box<Ask>),
    /// Nothing: the table is whole.
    Done,
}

/// A switch or plug being learnt.
#[derive(Clone, Debug)]
pub struct Learn {
    start: Start,
    setup: Setup,
    steps: Vec<Step>,
    /// Touches of each position.
    seen: Vec<Vec<Seen>>,
    at: usize,
    wait: Wait,
}

impl Learn {
    /// Nothing is known yet.
    pub fn new(start: Start) -> Learn {
        Learn::again(start, Vec::new())
    }

    /// What these steps led to.
    pub fn again(start: Start, steps: Vec<Step>) -> Learn {
        let wait = Wait::Done;
        let mut learn = Learn { start, setup: Setup::default(), steps, seen: Vec::new(), at: 0, wait };
        for step in &learn.steps {
            match step {
                // A journal may come from another version: what it cannot use any more is asked again.
                Step::Said(key, text) => drop(learn.setup.answer(*key, text)),
                Step::Seen(position, seen) => {
                    learn.seen.resize(learn.setup.positions.len(), Vec::new());
                    let n = learn.setup.wires.len();
                    let fits = |seen: &&Seen| seen.touch.red.iter().chain(&seen.touch.black).all(|&wire| wire < n);
                    if let Some(all) = learn.seen.get_mut(*position) {
                        all.extend(seen.iter().filter(fits).cloned());
                        learn.at = learn.at.max(*position);
                    }
                }
                Step::NoNumber => {}
            }
        }
        learn.go_on();
        learn
    }

    /// What is waited for.
    pub fn waiting(&self) -> &Wait {
        &self.wait
    }

    /// All accepted answers.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// What was given at the start.
    pub fn start(&self) -> &Start {
        &self.start
    }

    /// What was said before the first touch.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Has this been said?
    pub fn has(&self, key: Key) -> bool {
        self.setup.has(key)
    }

    /// An answer to a question, asked or not yet asked.
    ///
    /// # Errors
    ///
    /// What is wrong with it; nothing has changed.
    pub fn answer(&mut self, key: &str, text: &str) -> Result<(), String> {
        let key = Key::of(key).ok_or_else(|| format!("there is no question \"{key:.40}\""))?;
        if self.setup.has(key) {
            return Err(format!("{} has been said; take it back first", key.word()));
        }
        self.setup.answer(key, text)?;
        self.steps.push(Step::Said(key, text.trim().to_owned()));
        self.go_on();
        Ok(())
    }

    /// What came of the touch that is waited for.
    ///
    /// # Errors
    ///
    /// No touch is waited for, or it cannot be so.
    pub fn take(&mut self, heard: Heard) -> Result<(), String> {
        let Wait::Touch(ask) = &self.wait else { return Err("no touch is waited for".into()) };
        if ask.number && matches!(heard, Heard::Beep | Heard::Skipped) {
            self.steps.push(Step::NoNumber);
        } else {
            let seen = Seen { touch: ask.touch.clone(), heard: self.plain(heard)? };
            let position = ask.position;
            self.see(position, vec![seen]);
        }
        self.go_on();
        Ok(())
    }

    /// What came of a touch of these two wires in the present position, asked for or not.
    ///
    /// # Errors
    ///
    /// It is not the time for touches, there are no such wires, or it cannot be so.
    pub fn met(&mut self, red: usize, black: usize, heard: Heard) -> Result<(), String> {
        let Wait::Touch(ask) = &self.wait else { return Err("no touch is waited for".into()) };
        let n = self.setup.wires.len();
        if red == black || red >= n || black >= n {
            return Err("two different wires are wanted".into());
        }
        let (position, heard) = (ask.position, self.plain(heard)?);
        self.see(position, vec![Seen { touch: Touch::pair(red, black), heard }]);
        self.go_on();
        Ok(())
    }

    /// All that is still open in the present position was tried and is silent.
    ///
    /// # Errors
    ///
    /// No touch is waited for.
    pub fn all_silent(&mut self) -> Result<(), String> {
        let Wait::Touch(ask) = &self.wait else { return Err("no touch is waited for".into()) };
        if ask.number || ask.why != Why::Find {
            return Err("this one by itself, please: it settles what the others said".into());
        }
        let (position, known) = (ask.position, self.known(self.at));
        let firsts: Vec<usize> = known.groups().iter().map(|group| group[0]).collect();
        let mut silent = Vec::new();
        for (i, &a) in firsts.iter().enumerate() {
            for &b in firsts[i + 1..].iter().filter(|&&b| known.is_open(a, b)) {
                silent.push(Seen { touch: Touch::pair(a, b), heard: Heard::Silent });
            }
        }
        self.see(position, silent);
        self.go_on();
        Ok(())
    }

    /// Takes the last answer back.
    ///
    /// # Errors
    ///
    /// There is none.
    pub fn back(&mut self) -> Result<(), String> {
        let mut steps = self.steps.clone();
        steps.pop().ok_or("there is nothing to take back")?;
        *self = Learn::again(self.start.clone(), steps);
        Ok(())
    }

    /// What a meter calls open is silence; nothing is below no ohms.
    fn plain(&self, heard: Heard) -> Result<Heard, String> {
        match heard {
            Heard::Ohms(ohms) if ohms.is_nan() || ohms < 0.0 => Err("ohms are a number from 0 up".into()),
            Heard::Ohms(ohms) if ohms > OVER => Ok(Heard::Silent),
            heard => Ok(heard),
        }
    }

    /// Does what shows so many ohms beep on this bench?
    pub fn beeps(&self, ohms: f64) -> bool {
        ohms <= if self.start.beep_below > 0.0 { self.start.beep_below } else { BEEP }
    }

    fn see(&mut self, position: usize, seen: Vec<Seen>) {
        self.seen[position].extend(seen.iter().cloned());
        self.steps.push(Step::Seen(position, seen));
    }

    fn means(&self) -> Means {
        Means { clips: self.start.clips, contacts_only: self.start.contacts_only }
    }

    /// What is known of a position.
    pub fn known(&self, position: usize) -> Known {
        Known::of(self.setup.wires.len(), self.seen.get(position).map_or(&[], Vec::as_slice))
    }

    /// The next question, or touch, or the end.
    fn go_on(&mut self) {
        self.seen.resize(self.setup.positions.len(), Vec::new());
        if let Some(question) = self.setup.ask() {
            self.wait = Wait::Question(question);
            return;
        }
        if let Some(number) = self.number() {
            self.wait = Wait::Touch(Box::new(number));
            return;
        }
        while self.at < self.setup.positions.len() {
            if let Some(ask) = self.ask(self.at) {
                self.wait = Wait::Touch(Box::new(ask));
                return;
            }
            self.at += 1;
        }
        self.wait = Wait::Done;
    }

    /// The last touch beeped and its number is wanted.
    fn number(&self) -> Option<Ask> {
        let Some(Step::Seen(position, seen)) = self.steps.last() else { return None };
        let [Seen { touch, heard: Heard::Beep }] = seen.as_slice() else { return None };
        let (red, black) = touch.one()?;
        let before = seen.len();
        let all = self.seen.get(*position)?;
        if !self.wants_ohms(red, black, &all[..all.len() - before], *position) {
            return None;
        }
        let known = self.known(*position);
        Some(Ask {
            position: *position,
            touch: touch.clone(),
            why: Why::Number,
            ohms: true,
            number: true,
            made: made(all),
            left: choose::most_left(&known, self.means()),
        })
    }

    fn ask(&self, position: usize) -> Option<Ask> {
        let known = self.known(position);
        let n = self.setup.wires.len();
        let of = |at: usize| (self.known(at).groups(), self.setup.positions[at].rest);
        let past = Past {
            before: (0..position).map(of).collect(),
            rest: self.setup.positions[position].rest,
            left: self.setup.positions.len() - 1 - position,
        };
        let mut silent = vec![0u32; n * n];
        for seen in self.seen[..position].iter().flatten().filter(|seen| seen.heard == Heard::Silent) {
            seen.touch.pairs().for_each(|(red, black)| silent[red * n + black] += 1);
        }
        let (touch, why) = choose::next(&known, &past, self.means(), &|red, black| silent[red * n + black])?;
        let ohms = touch.one().is_some_and(|(red, black)| {
            why == Why::Number || self.wants_ohms(red, black, &self.seen[position], position)
        });
        let made = made(&self.seen[position]);
        Some(Ask { position, ohms, number: false, made, left: choose::most_left(&known, self.means()), touch, why })
    }

    /// Could what beeps there be a load? Not if it was silent in some position or showed a contact's ohms; but where
    /// something of few ohms is about, whatever beeps may beep through it.
    fn wants_ohms(&self, red: usize, black: usize, here: &[Seen], position: usize) -> bool {
        if self.start.contacts_only {
            return false;
        }
        let all = || self.seen[..position].iter().flatten().chain(here);
        let beeping = |ohms: f64| ohms > CONTACT && self.beeps(ohms);
        if all().any(|seen| matches!(seen.heard, Heard::Ohms(ohms) if beeping(ohms))) {
            return true;
        }
        let same = |seen: &&Seen| seen.touch.pairs().any(|pair| pair == (red, black) || pair == (black, red));
        let told = |seen: &Seen| match seen.heard {
            Heard::Silent => true,
            Heard::Ohms(ohms) => ohms <= CONTACT && seen.touch.one().is_some(),
            Heard::Beep | Heard::Skipped => false,
        };
        // A group's way back needs no number: each of its links gave one, unless nobody has touched it by itself.
        let known = Known::of(self.setup.wires.len(), here);
        let looked = known.pass(black, red) != Some(true) || known.looks(black, red) > 0;
        let way_back = known.are_joined(red, black) && looked;
        !way_back && !all().filter(same).any(told)
    }

    /// Touches made so far.
    pub fn touches(&self) -> usize {
        self.seen.iter().map(|seen| made(seen)).sum()
    }

    /// What is known so far.
    pub fn table(&self) -> Table {
        let known: Vec<Known> = (0..self.setup.positions.len()).map(|at| self.known(at)).collect();
        let settled = if self.wait == Wait::Done { known.len() } else { self.at };
        Table::of(&self.start.name, &self.setup, &known, settled, self.touches())
    }
}

/// Ohms above this are what a meter calls open.
const OVER: f64 = 40.0e6;
