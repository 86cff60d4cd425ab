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

/// Why a text is no quantity.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum QuantityError {
    /// There is no number at its start.
    NoNumber,
    /// `1,6 m`; holds what it should be, `1.6 m`.
    DecimalComma(String),
    /// The letters after the number are no unit known here.
    UnknownUnit(String),
    /// A wire gauge that is not in the table.
    Gauge,
    /// Below zero where only a size makes sense.
    Negative,
    /// Too large, infinite or not a number.
    NotFinite,
}

impl std::fmt::Display for QuantityError {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        match self {
            QuantityError::NoNumber => write!(f, "there is no number in it"),
            QuantityError::DecimalComma(fixed) => write!(f, "a decimal comma is read as two things: write {fixed}"),
            QuantityError::UnknownUnit(unit) => write!(f, "\"{unit}\" is no unit known here"),
            QuantityError::Gauge => write!(f, "there is no such wire gauge"),
            QuantityError::Negative => write!(f, "it is below zero"),
            QuantityError::NotFinite => write!(f, "it is no finite number"),
        }
    }
}

impl std::error::Error for QuantityError {}

/// Spellings and factors to the base unit. Spellings are matched as written first, then without regard to
/// case where no other row differs by case only (`mohm` and `Mohm` do).
#[rustfmt::skip]
const UNITS: &[(Unit, f64, &[&str])] = &[
    (Unit::Volt, 1.0, &["V", "volt", "volts", "vdc"]),
    (Unit::Volt, 1e-3, &["mV", "millivolt", "millivolts"]),
    (Unit::Volt, 1e3, &["kV"]),
    (Unit::Amp, 1.0, &["A", "amp", "amps", "ampere", "amperes"]),
    (Unit::Amp, 1e-3, &["mA", "milliamp", "milliamps"]),
    (Unit::Amp, 1e-6, &["uA", "µA", "μA"]),
    (Unit::Ohm, 1.0, &["ohm", "ohms", "Ω", "Ω", "R"]),
    (Unit::Ohm, 1e-3, &["mohm", "mohms", "mΩ", "mΩ", "milliohm", "milliohms"]),
    (Unit::Ohm, 1e3, &["k", "kohm", "kohms", "kΩ", "kΩ", "kilohm", "kilohms"]),
    (Unit::Ohm, 1e6, &["M", "Mohm", "Mohms", "MΩ", "MΩ", "megohm", "megohms"]),
    (Unit::Watt, 1.0, &["W", "watt", "watts"]),
    (Unit::Watt, 1e3, &["kW"]),
    (Unit::Metre, 1.0, &["m", "metre", "metres", "meter", "meters"]),
    (Unit::Metre, 1e-2, &["cm"]),
    (Unit::Metre, 1e-3, &["mm"]),
    (Unit::Metre, 0.3048, &["ft", "foot", "feet", "'", "′"]),
    (Unit::Metre, 0.0254, &["in", "inch", "inches", "\"", "″", "''"]),
    (Unit::SquareMillimetre, 1.0, &["mm2", "mm²", "mm^2", "sqmm", "qmm", "sq mm", "square mm"]),
    (Unit::AmpHour, 1.0, &["Ah", "amp hours", "amp-hours", "amp hour"]),
    (Unit::Hertz, 1.0, &["Hz", "hertz"]),
    (Unit::Hertz, 1e3, &["kHz"]),
    (Unit::Second, 1.0, &["s", "sec", "second", "seconds"]),
    (Unit::Second, 1e-3, &["ms"]),
    (Unit::Second, 1e-6, &["us", "µs", "μs"]),
    (Unit::Minute, 1.0, &["min", "mins", "minute", "minutes"]),
    (Unit::Minute, 60.0, &["h", "hour", "hours"]),
    (Unit::Celsius, 1.0, &["C", "°C", "degC", "deg C"]),
    (Unit::One, 1.0, &["", "x", "times"]),
    (Unit::One, 0.01, &["%", "percent"]),
];

/// Reads a quantity as people write it. A size is never negative, infinite or not a number.
///
/// ```
/// use ohmward::text::quantity::{parse, Unit};
/// assert_eq!(parse("4k7").unwrap().value, 4700.0);
/// let size = parse("10 AWG").unwrap();
/// assert!(size.unit == Unit::SquareMillimetre && (size.value - 5.26).abs() < 0.01);
/// ```
pub fn parse(text: &str) -> Result<Quantity, QuantityError> {
    let quantity = parse_signed(text)?;
    if quantity.value < 0.0 { Err(QuantityError::Negative) } else { Ok(quantity) }
}

/// As [`parse`], a minus kept (temperatures, reversed volts).
pub fn parse_signed(text: &str) -> Result<Quantity, QuantityError> {
    let text = text.trim();
    if let Some(area) = gauge(text)? {
        return Ok(Quantity { value: area, unit: Unit::SquareMillimetre });
    }
    let (sign, body) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (-1.0, rest.trim_start()),
        None => (1.0, text.strip_prefix('+').unwrap_or(text)),
    };
    let digits = number_len(body);
    if digits == 0 {
        let word = body.trim_start_matches('.').split_whitespace().next().unwrap_or("").to_lowercase();
        return Err(if ["nan", "inf", "infinity"].contains(&word.as_str()) {
            QuantityError::NotFinite
        } else {
            QuantityError::NoNumber
        });
    }
    let (number, rest) = body.split_at(digits);
    let value: f64 = number.parse().map_err(|_| QuantityError::NoNumber)?;
    if let Some(decimals) = rest.strip_prefix(',')
        && decimals.starts_with(|c: char| c.is_ascii_digit())
    {
        return Err(QuantityError::DecimalComma(format!("{}{number}.{decimals}", if sign < 0.0 { "-" } else { "" })));
    }
    let unit = rest.trim();
    let quantity = match infix(number, unit).or_else(|| find_unit(unit).map(|(unit, factor)| (unit, value * factor))) {
        Some((unit, value)) => Quantity { value: sign * value, unit },
        None => Quantity { value: sign * compound(value, unit)?, unit: Unit::Metre },
    };
    if quantity.value.is_finite() { Ok(quantity) } else { Err(QuantityError::NotFinite) }
}

/// Length of the number at the start: digits, a point, digits, an exponent with digits.
fn number_len(text: &str) -> usize {
    let bytes = text.as_bytes();
    let run = |from: usize| bytes[from.min(bytes.len())..].iter().take_while(|b| b.is_ascii_digit()).count();
    let whole = run(0);
    let mut len = whole;
    if bytes.get(len) == Some(&b'.') {
        let decimals = run(len + 1);
        if whole + decimals == 0 {
            return 0;
        }
        len += 1 + decimals;
    }
    if len > 0 && matches!(bytes.get(len), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(len + 1), Some(b'+' | b'-')));
        let exponent = run(len + 1 + sign);
        if exponent > 0 {
            len += 1 + sign + exponent;
        }
    }
    len
}

/// `4k7`, `2R2`, `1M5`: the letter stands for the point, the way resistors are marked (IEC 60062).
fn infix(whole: &str, rest: &str) -> Option<(Unit, f64)> {
    let letter = rest.chars().next()?;
    let factor = match letter {
        'R' => 1.0,
        'k' | 'K' => 1e3,
        'M' => 1e6,
        _ => return None,
    };
    let decimals = &rest[1..];
    let plain = |s: &str| !s.is_empty() && s.bytes().all(|b| b.is_ascii_digit());
    if !plain(whole) || !plain(decimals) {
        return None;
    }
    format!("{whole}.{decimals}").parse::<f64>().ok().map(|value| (Unit::Ohm, value * factor))
}

fn find_unit(word: &str) -> Option<(Unit, f64)> {
    let rows = || UNITS.iter().flat_map(|(unit, factor, names)| names.iter().map(move |name| (*unit, *factor, *name)));
    if let Some((unit, factor, _)) = rows().find(|row| row.2 == word) {
        return Some((unit, factor));
    }
    let lower = word.to_lowercase();
    let mut loose = rows().filter(|row| row.2.to_lowercase() == lower).map(|row| (row.0, row.1));
    let first = loose.next()?;
    // m and M, milli and mega, differ by case only: an odd spelling of either is not guessed.
    loose.all(|other| other == first).then_some(first)
}

/// The second half of `6 ft 3 in`, `6' 3"`.
fn compound(first: f64, rest: &str) -> Result<f64, QuantityError> {
    let unknown = || QuantityError::UnknownUnit(rest.to_owned());
    let split = rest.find(|c: char| c.is_ascii_digit()).ok_or_else(unknown)?;
    let (unit, second) = rest.split_at(split);
    match (find_unit(unit.trim()), parse(second)) {
        (Some((Unit::Metre, factor)), Ok(Quantity { value, unit: Unit::Metre })) => Ok(first * factor + value),
        _ => Err(unknown()),
    }
}

/// American wire gauge as mm²: `10 AWG`, `10 ga`, `AWG 10`, `2/0 AWG`, `00 AWG`.
fn gauge(text: &str) -> Result<Option<f64>, QuantityError> {
    let lower = text.to_lowercase();
    let word = ["awg", "gauge", "ga"].iter().find_map(|word| {
        let rest = lower.strip_suffix(word).or_else(|| lower.strip_prefix(word))?;
        Some(rest.trim().trim_start_matches('#').trim_start())
    });
    let Some(number) = word.filter(|n| n.starts_with(|c: char| c.is_ascii_digit() || c == '-')) else {
        return Ok(None);
    };
    let unknown = || QuantityError::Gauge;
    let n = if let Some(zeros) = number.strip_suffix("/0") {
        1.0 - zeros.parse::<f64>().map_err(|_| unknown())?
    } else if number.len() > 1 && number.bytes().all(|b| b == b'0') {
        1.0 - number.len() as f64
    } else {
        number.parse::<f64>().map_err(|_| unknown())?
    };
    if !(-3.0..=50.0).contains(&n) || n.fract() != 0.0 {
        return Err(unknown());
    }
    // ASTM B258: the diameter falls by the 39th root of 92 a number, 36 being 0.127 mm.
    let diameter = 0.127 * libm::pow(92.0, (36.0 - n) / 39.0);
    Ok(Some(std::f64::consts::FRAC_PI_4 * diameter * diameter))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(text: &str, value: f64, unit: Unit) {
        match parse(text) {
            Ok(q) => assert!(q.unit == unit && (q.value - value).abs() <= 1e-9 * value.abs(), "{text}: {q:?}"),
            Err(e) => panic!("{text}: {e}"),
        }
    }

    #[test]
    fn as_people_write_them() {
        for text in ["1.6 m", "1.6m", "160 cm", "1600mm", "1.6 metres"] {
            reads(text, 1.6, Unit::Metre);
        }
        for text in ["3 ft", "3'", "36 in", "36\"", "2 ft 12 in", "2' 12\"", "3 feet"] {
            reads(text, 0.9144, Unit::Metre);
        }
        for text in ["1.5 mm2", "1.5mm²", "1.5 mm^2", "1.5 sq mm", "1.5 MM2"] {
            reads(text, 1.5, Unit::SquareMillimetre);
        }
        for text in ["4k7", "4.7k", "4.7 kohm", "4700 ohm", "4.7kΩ", "4K7", "4700R", "4.7 KOHM"] {
            reads(text, 4700.0, Unit::Ohm);
        }
        reads("4700", 4700.0, Unit::One);
        for text in ["0.02 ohm", "20 mohm", "20 mΩ", ".02 Ω", "20 milliohm", "2e-2 ohm", "0R02"] {
            reads(text, 0.02, Unit::Ohm);
        }
        reads("1M5", 1.5e6, Unit::Ohm);
        reads("10 Mohm", 1e7, Unit::Ohm);
        reads("12V", 12.0, Unit::Volt);
        reads("12 v", 12.0, Unit::Volt);
        reads("350 mV", 0.35, Unit::Volt);
        reads("3.5 A", 3.5, Unit::Amp);
        reads("21 W", 21.0, Unit::Watt);
        reads("14 Ah", 14.0, Unit::AmpHour);
        reads("3 min", 3.0, Unit::Minute);
        reads("1 h", 60.0, Unit::Minute);
        reads("400 Hz", 400.0, Unit::Hertz);
        reads("5 s", 5.0, Unit::Second);
        reads("90 C", 90.0, Unit::Celsius);
        reads("90 °C", 90.0, Unit::Celsius);
        reads("85 %", 0.85, Unit::One);
    }

    /// Areas of solid wire by ASTM B258, as printed in wire tables (mm², three figures).
    #[test]
    fn gauges_agree_with_the_printed_table() {
        for (text, area) in [
            ("2/0 AWG", 67.4),
            ("00 awg", 67.4),
            ("4 AWG", 21.2),
            ("10 AWG", 5.26),
            ("AWG 14", 2.08),
            ("#18 ga", 0.823),
        ] {
            let q = parse(text).unwrap();
            assert!(q.unit == Unit::SquareMillimetre && (q.value / area - 1.0).abs() < 0.005, "{text}: {q:?}");
        }
        assert!(parse("99 AWG").is_err());
        assert!(parse("1.5 AWG").is_err());
    }

    #[test]
    fn what_is_no_quantity_is_named() {
        assert_eq!(parse("1,6 m"), Err(QuantityError::DecimalComma("1.6 m".into())));
        assert_eq!(parse("-3 A"), Err(QuantityError::Negative));
        assert_eq!(parse("red"), Err(QuantityError::NoNumber));
        assert_eq!(parse(""), Err(QuantityError::NoNumber));
        assert_eq!(parse("nan ohm"), Err(QuantityError::NotFinite));
        assert_eq!(parse("inf V"), Err(QuantityError::NotFinite));
        assert_eq!(parse("1e999 V"), Err(QuantityError::NotFinite));
        assert_eq!(parse("5 bananas"), Err(QuantityError::UnknownUnit("bananas".into())));
        // Milli or mega: a spelling that could be either is not guessed.
        assert!(parse("5 MOHM").is_err());
        assert_eq!(parse_signed("-0.3 V").map(|q| q.value), Ok(-0.3));
    }

    proptest::proptest! {
        #[test]
        fn never_panics_and_never_yields_nonsense(text in "[-−+0-9.,eEkKMRΩmV'\"/ agwAWGin²µ°]{0,14}") {
            if let Ok(q) = parse(&text) {
                proptest::prop_assert!(q.value.is_finite() && q.value >= 0.0);
            }
        }
    }
}
