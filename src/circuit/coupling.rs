//! What wires of one loom do to each other: mutual inductance and capacitance from where they lie.
//!
//! Here stand the formulas; [`pickup`] puts them into a solved circuit. Nothing of it reaches a DC meter.
//!
//! Wide-spacing formulas of Paul, *Introduction to Electromagnetic Compatibility*, chapter 9 (from memory, checked by
//! the worked figures in `tests/circuit/coupling.rs`):
//!
//! - over metal: l = 2e-7 ln(2h/r), m = 1e-7 ln(1 + 4h²/s²)
//! - with a wire that carries the return: l = 2e-7 ln(d²/(r r0)), m = 2e-7 ln(d1 d2/(s r0))
//! - capacitance by C = µ ε L⁻¹, which is exact in one and the same stuff all round

pub mod pickup;

/// µ0, H/m.
pub const MU: f64 = 4.0e-7 * std::f64::consts::PI;
/// ε0, F/m.
pub const EPSILON: f64 = 8.854_187_8e-12;

/// Two wires that lie side by side, and what their current comes back through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lie {
    /// Radii of the copper, m.
    pub radius: [f64; 2],
    /// Between their middles, m.
    pub apart: f64,
    /// What carries the return.
    pub back: Back,
}

/// What carries the return.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Back {
    /// Flat metal so far below either wire, m.
    Metal {
        /// m
        height: [f64; 2],
    },
    /// Another wire.
    Wire {
        /// its radius, m
        radius: f64,
        /// from the middle of either wire to its own, m
        away: [f64; 2],
    },
}

/// What a metre of two wires has.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PerMetre {
    /// Inductance of each wire with the return, H/m.
    pub own: [f64; 2],
    /// Mutual inductance, H/m.
    pub mutual: f64,
    /// Capacitance between the wires, F/m.
    pub between: f64,
    /// Capacitance of each wire to the return, F/m.
    pub to_back: [f64; 2],
}

impl Lie {
    /// Per metre of run, `permittivity` being that of what lies around the copper over that of air. Wires that would
    /// lie inside each other are taken as touching.
    pub fn per_metre(&self, permittivity: f64) -> PerMetre {
        let [a, b] = self.radius.map(|r| r.max(1e-6));
        let apart = self.apart.max(a + b);
        let (own, mutual) = match self.back {
            Back::Metal { height } => {
                let [x, y] = [height[0].max(a), height[1].max(b)];
                let own = [2.0e-7 * libm::log(2.0 * x / a), 2.0e-7 * libm::log(2.0 * y / b)];
                (own, 1.0e-7 * libm::log1p(4.0 * x * y / (apart * apart)))
            }
            Back::Wire { radius, away } => {
                let r0 = radius.max(1e-6);
                let [x, y] = [away[0].max(a + r0), away[1].max(b + r0)];
                let own = [2.0e-7 * libm::log(x * x / (a * r0)), 2.0e-7 * libm::log(y * y / (b * r0))];
                (own, 2.0e-7 * libm::log(x * y / (apart * r0)).max(0.0))
            }
        };
        // C = µ ε L⁻¹, the terms off the diagonal being minus what lies between.
        let around = MU * EPSILON * permittivity;
        let determinant = (own[0] * own[1] - mutual * mutual).max(1e-3 * own[0] * own[1]);
        let between = around * mutual / determinant;
        let to_back = [around * own[1] / determinant - between, around * own[0] / determinant - between];
        PerMetre { own, mutual, between, to_back: to_back.map(|c| c.max(0.0)) }
    }
}

/// Radius of a round conductor of so many mm², m.
pub fn radius(mm2: f64) -> f64 {
    (mm2.max(0.0) / std::f64::consts::PI).sqrt() * 1e-3
}

/// Volts that a current puts into a wire beside it while it changes by `amps` in `seconds`.
pub fn induced(mutual: f64, amps: f64, seconds: f64) -> f64 {
    mutual * amps / seconds.max(1e-12)
}

/// Highest volts over `ohms` at the end of a ramp of `volts` in `seconds` that reaches them through `farad`, with
/// `beside` farad over the ohms themselves. Infinite ohms leave the divider of the two capacitances.
pub fn ramped(farad: f64, beside: f64, ohms: f64, volts: f64, seconds: f64) -> f64 {
    let all = farad + beside;
    if all <= 0.0 {
        return 0.0;
    }
    // volts · farad/all · (τ/t)(1 − e^(−t/τ)), which tends to the divider for slow τ and to R C dV/dt for quick.
    let ratio = seconds / (ohms * all);
    let share = if ratio < 1e-9 { 1.0 } else { -libm::expm1(-ratio) / ratio };
    volts * farad / all * share
}

/// A line of two wires, short against the wavelength and weakly coupled: a source behind ohms with a load drives the
/// one, the other ends in ohms near the source and far from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShortLine {
    /// Mutual inductance of the run, H.
    pub mutual: f64,
    /// Capacitance between the wires of the run, F.
    pub between: f64,
    /// Ohms of the source.
    pub source: f64,
    /// Ohms of its load.
    pub load: f64,
    /// Ohms at the near end of the other wire.
    pub near: f64,
    /// Ohms at its far end.
    pub far: f64,
}

impl ShortLine {
    /// Volts at the near and at the far end for a volt of the source, at so many hertz: what inductance does and what
    /// capacitance does add at the near end and oppose each other at the far end.
    pub fn ends(&self, hertz: f64) -> [f64; 2] {
        let omega = std::f64::consts::TAU * hertz;
        let (round, loop_) = (self.source + self.load, self.near + self.far);
        let by_amps = omega * self.mutual / round;
        let by_volts = omega * self.between * self.near * self.far / loop_ * self.load / round;
        [self.near / loop_ * by_amps + by_volts, (by_volts - self.far / loop_ * by_amps).abs()]
    }

    /// What ohms in a return that both share add for a volt of the source, at any frequency and at none.
    pub fn shared_return(&self, ohms: f64) -> f64 {
        self.near / (self.near + self.far) * ohms / (self.source + self.load)
    }
}
