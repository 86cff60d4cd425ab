//! The meter as a person reads it out: the range named last, and what looks like a slip questioned once.

use ohmward::circuit::schematic::Law;
use ohmward::circuit::test::{Instrument, Reading, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::session::words::SymptomTable;
use ohmward::session::words::reading::{self, Asked};

/// Volts above the strongest source times this are questioned: a charging system goes no higher.
const ABOVE_SOURCE: f64 = 1.35;
/// Volts further below zero than this are questioned: red and black may be the other way round.
const BELOW_ZERO: f64 = -0.5;

/// What is remembered from one reading to the next.
pub struct Dial {
    table: SymptomTable,
    /// The range named last, by instrument, as a factor.
    scales: Vec<(Instrument, f64)>,
    /// The line that was questioned last.
    questioned: Option<String>,
}

impl Dial {
    /// Nothing has been read yet; answers in these words.
    pub fn new(table: SymptomTable) -> Dial {
        Dial { table, scales: Vec::new(), questioned: None }
    }

    /// The language of complaints and readings.
    pub fn table(&self) -> &SymptomTable {
        &self.table
    }

    /// The readings of a test from a typed line; `words` answer where a showing is asked for. What cannot be used, or
    /// looks like a slip, comes back in plain words; a doubtful line typed again is believed.
    pub fn read(
        &mut self,
        text: &str,
        machine: &Machine,
        test: &Test,
        words: &[String],
    ) -> Result<Vec<Reading>, String> {
        // (a hand finds nothing that works)
        let looked_at = test.part.as_ref().filter(|_| test.instrument == Instrument::Watch);
        let works = looked_at.and_then(|part| {
            let part = machine.netlist.parts.values().find(|p| p.name.eq_ignore_ascii_case(part))?;
            let kind = machine.catalogue.kind(&part.kind)?;
            kind.showings.iter().find_map(|showing| showing.works.clone())
        });
        let scale = self.scales.iter().find(|(i, _)| *i == test.instrument).map_or(1.0, |(_, scale)| *scale);
        let asked =
            Asked { instrument: test.instrument, count: 1 + test.then.len(), words, works: works.as_deref(), scale };
        let said =
            reading::read(text, &asked, &self.table).map_err(|why| format!("{why} (skip if you cannot tell)"))?;
        let doubt = said.readings.iter().find_map(|reading| doubt(reading, test.instrument, machine));
        if let Some(doubt) = doubt.filter(|_| !self.said_twice(text)) {
            return Err(doubt);
        }
        self.scales.retain(|(i, _)| *i != test.instrument);
        self.scales.push((test.instrument, said.scale));
        Ok(said.readings)
    }

    /// Was this very line questioned just before? If not it is now.
    fn said_twice(&mut self, line: &str) -> bool {
        let line = Some(line.trim().to_string());
        if self.questioned == line {
            self.questioned = None;
            return true;
        }
        self.questioned = line;
        false
    }
}

/// What looks like a slip at the meter.
fn doubt(reading: &Reading, instrument: Instrument, machine: &Machine) -> Option<String> {
    let Reading::Value { value, .. } = reading else { return None };
    if !matches!(instrument, Instrument::VoltsDc | Instrument::VoltsAc | Instrument::VoltsLoz) {
        return None;
    }
    let strongest = machine.sim.schematic().elements.iter().map(|element| strongest(&element.law)).fold(0.0, f64::max);
    let most = strongest * ABOVE_SOURCE;
    let again = "Type it again to keep it, or the right one.";
    if most > 0.0 && value.abs() > most {
        return Some(format!("{value} V is more than this machine has: is it millivolts (\"{value} mV\")? {again}"));
    }
    (*value < BELOW_ZERO).then(|| format!("{value} V: are red and black the other way round? {again}"))
}

/// Volts that an element can put out by itself, at most.
fn strongest(law: &Law) -> f64 {
    match law {
        Law::Source { volts, .. } | Law::Cell { volts, .. } => *volts,
        Law::PulseSource { high, .. } => high.unwrap_or(0.0),
        Law::By { laws, .. } => laws.iter().map(strongest).fold(0.0, f64::max),
        _ => 0.0,
    }
}
