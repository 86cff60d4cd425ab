//! Numbers with units as people write them: `1.5 mm2`, `10 AWG`, `3 ft`, `4k7`, `0.02 ohm`, `12V`.

/// The units the program computes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unit {
    /// volts
    Volt,
    /// amps
    Amp,
    /// ohms
    Ohm,
    /// watts
    Watt,
    /// metres
    Metre,
    /// square millimetres of copper (AWG is turned into it)
    SquareMillimetre,
    /// amp hours
    AmpHour,
    /// hertz
    Hertz,
    /// seconds
    Second,
    /// minutes
    Minute,
    /// degrees Celsius
    Celsius,
    /// a bare number
    One,
}

impl Unit {
    /// The symbol used in JSON and on screens: `V`, `A`, `ohm`, `W`, `m`, `mm2`, `Ah`, `Hz`, `s`, `min`, `C`, empty.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Volt => "V",
            Unit::Amp => "A",
            Unit::Ohm => "ohm",
            Unit::Watt => "W",
            Unit::Metre => "m",
            Unit::SquareMillimetre => "mm2",
            Unit::AmpHour => "Ah",
            Unit::Hertz => "Hz",
            Unit::Second => "s",
            Unit::Minute => "min",
            Unit::Celsius => "C",
            Unit::One => "",
        }
    }
}

/// A value in the unit's SI base as named by [`Unit`] (millivolts become volts, feet become metres).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Quantity {
    /// The value.
    pub value: f64,
    /// Its unit.
    pub unit: Unit,
}
