//! Tables other than part kinds.

use super::kind::{Argument, Repair};
use indexmap::IndexMap;

/// What the rules say of a joint (or a conductor, a mated contact, a seat).
#[derive(Clone, Debug, PartialEq, Default)]
pub struct JointData {
    /// Healthy resistance, ohm.
    pub ohms: f64,
    /// Standard deviation of its logarithm.
    pub spread: f64,
    /// Can a probe reach the conductor behind it, in place?
    pub probeable: bool,
    /// What can be wrong: `open`, `resistive`, `off`, `touching`.
    pub modes: IndexMap<String, LinkMode>,
    /// Repairs by name.
    pub repairs: IndexMap<String, Repair>,
    /// Where the figures come from.
    pub source: String,
}

/// A mode of a link.
#[derive(Clone, Debug, PartialEq)]
pub struct LinkMode {
    /// Prior weight.
    pub weight: f64,
    /// Severity, if any.
    pub argument: Option<Argument>,
    /// Repair name; the class is `repair:SITE`.
    pub repair: String,
    /// The trade's sentence, `{site}` filled in.
    pub text: String,
}

/// What the rules say of wire.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct WireData {
    /// Resistivity of copper at 20 C, ohm mm²/m (0.0172414, IEC 60028).
    pub resistivity: f64,
    /// How much its resistance grows for each degree above 20 C, of what it is there (0.00393, IEC 60028).
    pub per_kelvin: f64,
    /// Stranding and lay, times.
    pub lay: f64,
    /// Where the file gives no size, mm².
    pub default_area: f64,
    /// Where nothing tells a length, m.
    pub default_length: f64,
    /// ln-spread of a known length's resistance.
    pub spread: f64,
    /// ln-spread of a guessed length (factor 2 is about 0.35 as one sigma of a 95 % band).
    pub guessed_spread: f64,
    /// Modes of the conductor itself: open, resistive, touching (chassis or loom neighbour).
    pub modes: IndexMap<String, LinkMode>,
    /// Modes of neighbouring ways and plugs: bridged (touching), crossed, mirrored, shifted.
    pub plug_modes: IndexMap<String, LinkMode>,
    /// How the wires of a loom lie, and what a contact that chops does to them.
    pub loom: LoomData,
    /// Repairs by name.
    pub repairs: IndexMap<String, Repair>,
    /// Where the figures come from.
    pub source: String,
}

/// How the wires of a loom lie, and what a contact that chops does to them.
#[derive(Clone, Debug, PartialEq)]
pub struct LoomData {
    /// Between the middles of neighbours, m.
    pub apart: f64,
    /// Over the metal that the loom lies on, m.
    pub height: f64,
    /// To the wire that carries the return where there is no metal, m.
    pub return_apart: f64,
    /// Of insulation and air together, over air.
    pub permittivity: f64,
    /// Kick of a coil whose contact breaks, V.
    pub kick: f64,
    /// How long the current takes to break, s.
    pub edge: f64,
    /// Standard deviation of ln(what is picked up).
    pub scatter: f64,
    /// A line that ends in more ohms than this floats, ohm.
    pub floats_above: f64,
    /// The AC range sees no higher, Hz.
    pub bandwidth: f64,
    /// Where the figures come from.
    pub source: String,
}

impl Default for LoomData {
    fn default() -> Self {
        LoomData {
            apart: 0.003,
            height: 0.02,
            return_apart: 0.01,
            permittivity: 1.7,
            kick: 150.0,
            edge: 5e-6,
            scatter: 0.7,
            floats_above: 5e3,
            bandwidth: 1000.0,
            source: String::new(),
        }
    }
}

impl WireData {
    /// Ohms of a conductor of so many mm² and metres at 20 C.
    pub fn ohms(&self, area: f64, length: f64) -> f64 {
        self.resistivity * self.lay.max(1.0) * length / area
    }

    /// Resistance at a temperature over that at 20 C.
    pub fn warmed(&self, celsius: f64) -> f64 {
        (1.0 + self.per_kelvin * (celsius - 20.0)).max(0.1)
    }
}

/// A colour.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Colour {
    /// Plain word.
    pub name: String,
    /// Codes and other words: `BK`, `purple`. A code that two colours have (`BL`: black for one maker, blue for
    /// another) is ambiguous until the wiring file declares it.
    pub also: Vec<String>,
}

/// Prior weights.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Weights {
    /// Special suspects' prior mass: nothing-broken, not-in-file, wrong-reading.
    pub specials: IndexMap<String, f64>,
    /// Factor by proof mark: assumed, paper, beep, ok, not-fitted, capped.
    pub proof: IndexMap<String, f64>,
    /// Factor for sites in recent work.
    pub recent: f64,
    /// No site's product of factors goes above this.
    pub cap: f64,
    /// A second fault besides one: the chance that there is one anywhere, and beside the first (its plug, its ground point);
    /// the chance that a repair missed, where there are two.
    pub second: IndexMap<String, f64>,
    /// Minutes a wrong "not in this file" and "nothing broken" verdict costs.
    pub special_minutes: IndexMap<String, f64>,
}

/// Minutes.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Minutes {
    /// By doing: read, move, range, setting, hold, unplug, bridge, watch, ask, start-engine.
    pub by: IndexMap<String, f64>,
    /// Factor over which a place's reach is paid once and stays open.
    pub source: String,
}

/// A fault pattern in the trade's terms; the test that earns the name is computed by [`crate::diagnosis`].
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Pattern {
    /// `shared-ground`
    pub name: String,
    /// For people: `shared ground`.
    pub title: String,
    /// Name of the computed test: shared-return, back-path, signal-swing, series-drop, no-path, low-path, exchanged, source, part.
    pub test: String,
    /// Threshold of the test, in its unit.
    pub above: f64,
    /// The sentence, with `{…}` for computed figures.
    pub text: String,
    /// The sentence where no current flows, if that needs another.
    pub quiet: Option<String>,
    /// Its source.
    pub source: String,
}

/// How to use an instrument.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Procedure {
    /// Range and sockets: `meter on 20 V DC, black in COM, red in V`.
    pub set_up: String,
    /// What to watch for.
    pub hint: String,
    /// Said at the step.
    pub caution: Option<String>,
    /// Its source.
    pub source: String,
}

/// A circuit as people call it.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Circuit {
    /// Other words for it.
    pub say: Vec<String>,
    /// Parts of these kinds are its own.
    pub kinds: Vec<String>,
    /// Parts with one of these words in their name are its own.
    pub named: Vec<String>,
    /// Switches of these names are its own.
    pub switches: Vec<String>,
    /// Its source.
    pub source: String,
}

/// What helps after a finding, by what the fault is.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Aftermath {
    /// `ground-run`, `feed-run`, `touching`, `crossed`.
    pub after: IndexMap<String, After>,
    /// Ratings of fuses that shops have, A, rising.
    pub fuses: Vec<f64>,
}

/// What helps after one sort of finding.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct After {
    /// A stopgap until the repair is done, if there is an honest one; `{…}` for what is computed.
    pub tonight: Option<String>,
    /// Where the same slip may sit.
    pub elsewhere: Option<String>,
    /// Its source.
    pub source: String,
}

/// Words of spreadsheets.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Columns {
    /// Headings by what the column holds.
    pub headings: IndexMap<String, Vec<String>>,
    /// Words of the proof column by proof mark.
    pub proof: IndexMap<String, Vec<String>>,
    /// Ends that are the metal of the machine.
    pub ground: Vec<String>,
    /// Cells that say that there is nothing.
    pub nothing: Vec<String>,
}

/// Something never proposed.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Danger {
    /// Name of the computed rule: see `choice::allowed`.
    pub rule: String,
    /// Why, in plain words.
    pub why: String,
    /// What is proposed in its place.
    pub instead: Option<String>,
    /// Its source.
    pub source: String,
}

/// How long fuses last.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct FuseTable {
    /// Per cent of the rating, rising.
    pub percent: Vec<f64>,
    /// Longest seconds to open at each, falling.
    pub seconds: Vec<f64>,
    /// Other curves by name, for what lasts otherwise than a blade fuse.
    pub curves: IndexMap<String, FuseTable>,
    /// The factor by which real fuses scatter about the table (1.5: as ln-spread ln 1.5).
    pub factor: f64,
    /// Where the figures come from.
    pub source: String,
}

impl FuseTable {
    /// Seconds until a fuse opens at `ratio` times its rated amps.
    ///
    /// Straight lines on log-log paper between the points; below the first point it never opens; above the last
    /// one I²t is constant (adiabatic).
    pub fn time_to_open(&self, ratio: f64) -> f64 {
        let at = 100.0 * ratio.abs();
        let (Some(&first), Some(&last)) = (self.percent.first(), self.percent.last()) else {
            return f64::INFINITY;
        };
        if at.is_nan() || at < first {
            return f64::INFINITY;
        }
        let upper = self.percent.partition_point(|&p| p <= at);
        if upper >= self.percent.len() {
            let end = self.seconds[self.percent.len() - 1];
            return end * (last / at) * (last / at);
        }
        let (x0, x1) = (libm::log(self.percent[upper - 1]), libm::log(self.percent[upper]));
        let (y0, y1) = (libm::log(self.seconds[upper - 1]), libm::log(self.seconds[upper]));
        libm::exp(y0 + (y1 - y0) * (libm::log(at) - x0) / (x1 - x0))
    }
}
