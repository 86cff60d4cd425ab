//! What each hypothesis would answer to each test, with what is uncertain about it.

use super::compander::Compander;
use super::score::{Column, Row};
use crate::circuit::schematic::Node;
use crate::circuit::showing::Words;
use crate::circuit::sim::Display;
use crate::diagnosis::predict::said_of;
use std::rc::Rc;

/// Volts are told apart this finely, V: a tenth of the least that the parts' spread leaves uncertain.
const GRAIN: f64 = 0.002;

/// Distributions of outcomes, each kept once, and the columns that are made of them.
#[derive(Debug, Default)]
pub struct Columns {
    /// All distributions so far.
    pub rows: Vec<Row>,
    /// The row of each grain of volts, one past its index, 0 where there is none yet; by [`place`].
    volts: Vec<u32>,
}

/// Where a grain stands: 0, -1, 1, -2, 2 … by turns.
fn place(grain: i64) -> usize {
    usize::try_from(if grain < 0 { -2 * grain - 1 } else { 2 * grain }).unwrap_or(usize::MAX)
}

/// No meter here is asked for more, V.
const MOST: f64 = 1000.0;

impl Columns {
    /// Column of volts, one hypothesis each; nothing where all read the same.
    pub fn volts(&mut self, volts: &[f64]) -> Option<Column> {
        let low = volts.iter().copied().fold(f64::INFINITY, f64::min);
        let high = volts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if high - low < 2.0 * roughly(f64::midpoint(high, low)) {
            return None;
        }
        Some(volts.iter().map(|volts| self.row(*volts)).collect())
    }

    fn row(&mut self, value: f64) -> u32 {
        const COMPANDER: Compander = Compander { near_zero: 0.03, relative: 0.04 };
        let grain = (value.clamp(-MOST, MOST) / GRAIN).round();
        let at = place(grain as i64);
        if at >= self.volts.len() {
            self.volts.resize(at + 1, 0);
        }
        if self.volts[at] == 0 {
            let value = grain * GRAIN;
            self.rows.push(COMPANDER.spread(value, roughly(value)));
            self.volts[at] = self.rows.len() as u32;
        }
        self.volts[at] - 1
    }

    /// The word for a part, one hypothesis each, people's confusion of words included (`order` is the scale of
    /// its words); nothing where all show the same.
    pub fn words(&mut self, shown: &[Rc<Vec<Words>>], part: usize, order: &[String]) -> Option<Column> {
        let mut names: Vec<&str> = Vec::new();
        for word in shown.iter().flat_map(|words| words[part].iter().map(|(word, _)| word.as_str())) {
            if !names.contains(&word) {
                names.push(word);
            }
        }
        if names.len() < 2 {
            return None;
        }
        let mut known: Vec<(&Words, u32)> = Vec::new();
        let mut column = Vec::with_capacity(shown.len());
        for words in shown.iter().map(|words| &words[part]) {
            let row = known.iter().find(|(seen, _)| *seen == words).map(|(_, row)| *row);
            column.push(row.unwrap_or_else(|| {
                let heard = |said: &&str| words.iter().map(|(word, p)| p * said_of(order, said, word)).sum();
                let heard: Vec<f64> = names.iter().map(heard).collect();
                let all = heard.iter().sum::<f64>().max(1e-12);
                self.rows.push(Row::new((0..).zip(heard.iter().map(|p| p / all)).collect()));
                known.push((words, (self.rows.len() - 1) as u32));
                (self.rows.len() - 1) as u32
            }));
        }
        Some(column)
    }
}

/// Volts between two nodes, one hypothesis each.
pub fn between(displays: &[Rc<Display>], red: Node, black: Node) -> Vec<f64> {
    displays.iter().map(|display| display.volts(red, black)).collect()
}

/// How far a reading may lie off for the spread of the parts alone: between the ends of a divider the share
/// moves by x(1 − x) for each unit of ln(ohms) in it, and parts are within a sixth or so.
pub(super) fn roughly(volts: f64) -> f64 {
    const FULL: f64 = 12.6;
    const PARTS: f64 = 0.17;
    let share = (volts.abs() / FULL).clamp(0.0, 1.0);
    let inside = FULL * share * (1.0 - share) * PARTS;
    (0.03_f64.powi(2) + (0.015 * volts).powi(2) + inside * inside).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_that_no_meter_tells_apart_share_a_row() {
        let volts = [12.0, 12.0004, 3.0, 0.0];
        let mut columns = Columns::default();
        let column = columns.volts(&volts).unwrap();
        assert_eq!(column[0], column[1]);
        assert_ne!(column[0], column[2]);
        assert_ne!(column[2], column[3]);
        assert_eq!(columns.volts(&volts[..2]), None);
    }

    #[test]
    fn what_people_call_it_is_counted_in() {
        let order: Vec<String> = ["dark", "dim", "lit"].map(String::from).to_vec();
        let sure = |word: &str| Rc::new(vec![vec![(word.to_string(), 1.0)]]);
        let mut columns = Columns::default();
        let column = columns.words(&[sure("lit"), sure("dim"), sure("lit")], 0, &order).unwrap();
        assert_eq!(column[0], column[2]);
        let row = &columns.rows[column[0] as usize];
        let row = &row.outcomes;
        assert!((row.iter().map(|(_, p)| p).sum::<f64>() - 1.0).abs() < 1e-12);
        assert!(row[0].1 > 0.9 && row[1].1 > 0.02 && row[1].1 < 0.05, "{row:?}");
        assert_eq!(columns.words(&[sure("lit"), sure("lit")], 0, &order), None);
    }
}
