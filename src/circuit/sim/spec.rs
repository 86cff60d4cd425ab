//! What is asked of the simulation, and what it answers.

use super::draws::Near;
use crate::circuit::injury::Change;
use crate::circuit::schematic::ElementId;

/// A state to solve: settings reached in an order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StateSpec {
    /// A setting index for each control, step by step; the last step is the one measured.
    pub steps: Vec<Vec<usize>>,
    /// What is open, bridged, fitted in every step.
    pub changes: Vec<Change>,
}

/// A factored and settled state of a [`super::Sim`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct StateId(pub(super) usize);

/// The circuit of a state under an injury, settled.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The quasi-static levels that it takes turns in; at least one.
    pub levels: Vec<Level>,
    /// Coils pulled in at the end (what flashes being closed), in ascending order.
    pub pulled: Vec<ElementId>,
    /// Fuses blown at the end, in ascending order. A fuse that was added (by a state's bridge, say) counts on from the
    /// schematic's elements, in the order of the additions.
    pub blown: Vec<ElementId>,
    /// Contacts found no rest: the configurations repeat.
    pub chatters: bool,
    /// Some fuse opened, or held, by so little that it could be the other way about.
    pub close: bool,
    /// Thresholds of coils and interrupters that were met, or not, by so little on the way that it could be the other
    /// way about.
    pub near: Vec<Near>,
    pub(super) state: StateId,
}

/// One quasi-static level.
#[derive(Clone, Debug)]
pub struct Level {
    /// Share of the time.
    pub share: f64,
    /// Every interrupter is closed.
    pub closed: bool,
    /// Interrupters of 3 Hz and more are closed.
    pub fast_closed: bool,
    /// Interrupters below 3 Hz are closed.
    pub slow_closed: bool,
    /// Pulse sources stand high.
    pub pulse_high: bool,
    /// Coils pulled in, in ascending order: a relay behind a flasher follows it.
    pub pulled: Vec<ElementId>,
    pub(super) field: Field,
    pub(super) set: super::config::Overrides,
    /// What field and set are told from: the state as it stands, or as it stood on its way there.
    pub(super) stand: usize,
}

/// The volts of a level, as little as is needed to compute any of them.
#[derive(Clone, Debug)]
pub(super) enum Field {
    /// Currents injected into the state's factored matrix.
    Ports(super::ports::Injected),
    /// All node volts of a solve of its own.
    Full(Box<super::full::Solved>),
}

impl Default for Field {
    fn default() -> Field {
        Field::Ports(super::ports::Injected::default())
    }
}

/// How long fuses hold: multiples of the rating against seconds, log-log between, constant I²t above.
#[derive(Clone, Debug, PartialEq)]
pub struct FuseCurve {
    /// Per cent of the rating, ascending.
    pub percent: Vec<f64>,
    /// Seconds at each.
    pub seconds: Vec<f64>,
    /// The curves of what lasts otherwise.
    pub others: Vec<FuseCurve>,
}

impl FuseCurve {
    /// Longest operating times of blade fuses: 135, 200, 350, 600 per cent open within 1800, 5, 0.5, 0.1 s (ISO 8820-3).
    pub fn blade() -> FuseCurve {
        FuseCurve { percent: vec![135.0, 200.0, 350.0, 600.0], seconds: vec![1800.0, 5.0, 0.5, 0.1], others: vec![] }
    }

    /// The curve of this number, see [`crate::circuit::schematic::When::Fuse`]; a number that nobody gave is the first.
    pub fn numbered(&self, curve: usize) -> &FuseCurve {
        curve.checked_sub(1).and_then(|at| self.others.get(at)).unwrap_or(self)
    }

    /// Seconds until a fuse opens at this multiple of its rating; infinite below the first row.
    pub fn seconds(&self, ratio: f64) -> f64 {
        let rows: Vec<(f64, f64)> =
            self.percent.iter().zip(&self.seconds).map(|(&percent, &seconds)| (percent / 100.0, seconds)).collect();
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return f64::INFINITY };
        if ratio < first.0 {
            return f64::INFINITY;
        }
        if ratio >= last.0 {
            return last.1 * (last.0 / ratio).powi(2);
        }
        let upper = rows.partition_point(|row| row.0 <= ratio);
        let ((r0, s0), (r1, s1)) = (rows[upper - 1], rows[upper]);
        let part = (ratio / r0).ln() / (r1 / r0).ln();
        s0 * ((s1 / s0).ln() * part).exp()
    }
}

impl From<&crate::catalogue::FuseTable> for FuseCurve {
    /// The curve of the rules in force.
    fn from(table: &crate::catalogue::FuseTable) -> FuseCurve {
        let others = table.curves.values().map(FuseCurve::from).collect();
        FuseCurve { percent: table.percent.clone(), seconds: table.seconds.clone(), others }
    }
}

/// What has been computed so far.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Steps of states factored and kept: one each, however many faults are solved in it.
    pub factorisations: usize,
    /// Numeric factorisations on the way to a healthy solution.
    pub settling: usize,
    /// Solutions in port space.
    pub port_solves: usize,
    /// Solutions with a matrix of their own: baseline, and what port space gave up.
    pub full_solves: usize,
    /// Solutions with a matrix of their own that ended at the limit of steps, not on a small step.
    pub unconverged: usize,
}
