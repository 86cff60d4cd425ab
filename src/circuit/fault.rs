//! The names of faults: `W7.a:resistive(2)`, `P9:crossed(4,5)`, `W7~frame:touching + main-fuse:blown`.

/// One or more single faults at once; empty is the healthy machine.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fault {
    /// The singles, in canonical order.
    pub singles: Vec<Single>,
}

/// One fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Single {
    /// `W7.a`, `horn`, `P9.4`, `W7~frame` (sorted by byte, runs of digits as numbers).
    pub site: String,
    /// `open`, `resistive`, `stuck-closed`, …
    pub mode: String,
    /// Arguments as written: `2`, `G2`, `4`, `5`.
    pub args: Vec<String>,
    /// Duty of an intermittent fault.
    pub intermittent: Option<f64>,
}
