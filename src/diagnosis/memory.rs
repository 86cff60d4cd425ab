//! What lasts from one step of a chase to the next: a fuse that has blown stays so until somebody replaces it.

use crate::circuit::schematic::ElementId;
use crate::circuit::sim::StateId;
use std::collections::HashMap;
use std::rc::Rc;

/// Something that happened to the machine since its owner first complained.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Happened {
    /// It stood in this state for a while.
    Stood(StateId),
    /// These fuses were renewed.
    Renewed(Vec<ElementId>),
    /// Something was put right, and it did not cure.
    Mended,
}

/// A set of blown fuses, by its number; 0 is none.
pub type Blown = u16;

/// What happened, and what it left behind with each severity point.
#[derive(Debug, Default)]
pub struct Memory {
    history: Vec<Happened>,
    /// How much of the history lies before what is asked now.
    epoch: usize,
    /// By point: fuses that it has blown by itself, before anything happened.
    before: HashMap<u32, Blown>,
    /// By point: fuses blown after each step of the history, as far as it was needed.
    after: HashMap<u32, Vec<Blown>>,
    sets: Vec<Rc<Vec<ElementId>>>,
}

impl Memory {
    /// Appends to the history, and asks from its end.
    pub fn push(&mut self, happened: Happened) {
        // To stand where one has stood already blows nothing more.
        let since = self.history.iter().rposition(|h| !matches!(h, Happened::Stood(_))).map_or(0, |at| at + 1);
        if happened == Happened::Mended || !self.history[since..].contains(&happened) {
            self.history.push(happened);
        }
        self.epoch = self.history.len();
    }

    /// Steps so far.
    pub fn now(&self) -> usize {
        self.history.len()
    }

    /// Asks from after so many steps.
    pub fn go_to(&mut self, epoch: usize) {
        self.epoch = epoch.min(self.history.len());
    }

    /// What was last known of a point, and the steps that are still to be taken with it.
    pub fn known(&self, point: u32) -> (Blown, &[Happened]) {
        let done = self.after.get(&point).map_or(&[][..], |list| list);
        let before = self.before.get(&point).copied().unwrap_or(0);
        match done.get(..self.epoch) {
            Some(upto) => (upto.last().copied().unwrap_or(before), &[]),
            None => (done.last().copied().unwrap_or(before), &self.history[done.len()..self.epoch]),
        }
    }

    /// Steps that have been taken with a point.
    pub fn taken(&self, point: u32) -> usize {
        self.after.get(&point).map_or(0, Vec::len)
    }

    /// The step that is asked from.
    pub fn epoch(&self) -> usize {
        self.epoch
    }

    /// A point that is nothing but fuses blown, or that too: until they are renewed.
    pub fn begin(&mut self, point: u32, blown: Blown) {
        self.before.insert(point, blown);
    }

    /// Has it been said what the point has blown by itself?
    pub fn begun(&self, point: u32) -> bool {
        self.before.contains_key(&point)
    }

    /// The fuses of the next step of a point.
    pub fn learn(&mut self, point: u32, blown: Blown) {
        self.after.entry(point).or_default().push(blown);
    }

    /// The number of a set of fuses.
    pub fn number(&mut self, fuses: Vec<ElementId>) -> Blown {
        if fuses.is_empty() {
            return 0;
        }
        let at = self.sets.iter().position(|set| **set == fuses).unwrap_or_else(|| {
            self.sets.push(Rc::new(fuses));
            self.sets.len() - 1
        });
        // 65,535 different sets of fuses are not met; the last stands for all beyond.
        Blown::try_from(at + 1).unwrap_or(Blown::MAX)
    }

    /// The fuses of a number.
    pub fn fuses(&self, blown: Blown) -> Rc<Vec<ElementId>> {
        match usize::from(blown).checked_sub(1) {
            Some(at) => self.sets.get(at).cloned().unwrap_or_default(),
            None => Rc::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_point_is_taken_through_the_history_once() {
        let mut memory = Memory::default();
        memory.push(Happened::Renewed(vec![3]));
        memory.push(Happened::Renewed(vec![4]));
        assert_eq!(memory.known(7).1.len(), 2);
        let set = memory.number(vec![3, 4]);
        memory.learn(7, set);
        assert_eq!(memory.known(7), (set, &[Happened::Renewed(vec![4])][..]));
        memory.learn(7, 0);
        assert_eq!(memory.known(7), (0, &[][..]));
        memory.go_to(1);
        assert_eq!(memory.known(7), (set, &[][..]));
        memory.go_to(0);
        assert_eq!(memory.known(7), (0, &[][..]));
        assert_eq!(*memory.fuses(set), [3, 4]);
        assert!(memory.fuses(0).is_empty());
    }

    #[test]
    fn a_fuse_blown_by_itself_is_so_until_it_is_renewed() {
        let mut memory = Memory::default();
        let alone = memory.number(vec![3]);
        memory.begin(7, alone);
        assert!(memory.begun(7) && !memory.begun(8));
        assert_eq!(memory.known(7), (alone, &[][..]));
        memory.push(Happened::Renewed(vec![3]));
        assert_eq!(memory.known(7), (alone, &[Happened::Renewed(vec![3])][..]));
        memory.learn(7, 0);
        assert_eq!(memory.known(7), (0, &[][..]));
    }
}
