//! The names of faults: `W7.a:resistive(2)`, `P9:crossed(4,5)`, `W7~frame:touching + main-fuse:blown`.
//!
//! Here a name is only text with a shape; what it means in a machine, its one canonical spelling and its
//! aliases are [`resolve`]'s, what it does to the elements is [`crate::circuit::injury`]'s.

pub mod resolve;
pub mod site;

use crate::text::problem::Problem;
use std::cmp::Ordering;
use std::fmt;

/// One or more single faults at once; empty is the healthy machine.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fault {
    /// The singles, in canonical order.
    pub singles: Vec<Single>,
}

/// One fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Single {
    /// `W7`, `W7.a`, `horn`, `P9.4`, `W7~frame` (sorted by byte, runs of digits as numbers); empty for the specials.
    pub site: String,
    /// `open`, `resistive`, `stuck-closed`, …
    pub mode: String,
    /// Arguments as written: `2`, `G2`, `4`, `5`.
    pub args: Vec<String>,
    /// Duty of an intermittent fault.
    pub intermittent: Option<f64>,
}

/// Nothing is broken: the machine as it is described does this.
pub const NOTHING_BROKEN: &str = "nothing-broken";
/// The fault is in nothing that the file describes.
pub const NOT_IN_FILE: &str = "not-in-file";
/// Reading number N is wrong.
pub const WRONG_READING: &str = "wrong-reading";

/// Suspects that are no fault of a site.
pub const SPECIALS: [&str; 3] = [NOTHING_BROKEN, NOT_IN_FILE, WRONG_READING];

/// Modes whose arguments say which, not how much.
const NAMING: [&str; 6] = ["crossed", "shifted", "elsewhere", "wrong-type", "fed-from", "switches"];

impl Fault {
    /// The healthy machine.
    pub fn healthy() -> Fault {
        Fault::default()
    }

    /// Reads a name. Only its shape is looked at; [`resolve::resolve`] asks the machine.
    ///
    /// ```
    /// use ohmward::circuit::fault::Fault;
    /// let fault = Fault::parse("W12~W7:touching(0.2) + P9:crossed(5,4)").expect("a name");
    /// assert_eq!(fault.to_string(), "P9:crossed(4,5) + W7~W12:touching(0.2)");
    /// ```
    pub fn parse(text: &str) -> Result<Fault, Problem> {
        let mut singles = Vec::new();
        for one in split_outside(text, '+') {
            singles.push(Single::parse(one)?);
        }
        Ok(Fault { singles }.sorted())
    }

    /// The same, singles in canonical order, none twice.
    #[must_use]
    pub fn sorted(mut self) -> Fault {
        self.singles.sort_by(|a, b| natural(&a.to_string(), &b.to_string()));
        self.singles.dedup();
        self
    }

    /// The same fault: each single of one has its own in the other, see [`Single::same`]. Aliases are the same
    /// only after [`resolve::resolve`].
    pub fn same(&self, other: &Fault) -> bool {
        if self.singles.len() != other.singles.len() {
            return false;
        }
        let mut left: Vec<&Single> = other.singles.iter().collect();
        self.singles.iter().all(|single| match left.iter().position(|o| single.same(o)) {
            Some(at) => {
                left.swap_remove(at);
                true
            }
            None => false,
        })
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, single) in self.singles.iter().enumerate() {
            write!(f, "{}{single}", if i == 0 { "" } else { " + " })?;
        }
        Ok(())
    }
}

impl Single {
    /// A fault of this site, mode and arguments.
    pub fn new(site: impl Into<String>, mode: impl Into<String>, args: &[&str]) -> Single {
        let args = args.iter().map(ToString::to_string).collect();
        Single { site: site.into(), mode: mode.into(), args, intermittent: None }
    }

    /// Is it one of [`SPECIALS`]?
    pub fn is_special(&self) -> bool {
        self.site.is_empty()
    }

    fn parse(text: &str) -> Result<Single, Problem> {
        let help = "write SITE:MODE, SITE:MODE(SIZE) or several joined by \" + \": W7.a:resistive(2)";
        let bad = |what: &str| Problem::whole(format!("\"{}\" is no fault: {what}", text.trim())).help(help);
        let (head, intermittent) = match split_once_outside(text, '/') {
            None => (text.trim(), None),
            Some((head, tail)) => {
                let (word, args) = call(tail).ok_or_else(|| bad("the part behind / cannot be read"))?;
                if word != "intermittent" {
                    return Err(bad("only /intermittent(DUTY) may follow"));
                }
                let duty = match args.as_slice() {
                    [] => Some(0.5),
                    [duty] => duty.parse::<f64>().ok().filter(|d| *d > 0.0 && *d < 1.0),
                    _ => None,
                };
                (head.trim(), Some(duty.ok_or_else(|| bad("the duty is a share between 0 and 1"))?))
            }
        };
        let (site, rest) = match head.split_once(':') {
            Some((site, rest)) => (site.trim(), rest),
            None => ("", head),
        };
        let (mode, mut args) = call(rest).ok_or_else(|| bad("brackets or mode cannot be read"))?;
        if head.contains(':') && site.is_empty() {
            return Err(bad("no site stands before the colon"));
        }
        if site.is_empty() && !SPECIALS.contains(&mode.as_str()) {
            return Err(bad("no mode is named"));
        }
        let allowed = |c: char| c.is_ascii_alphanumeric() || "-_.~".contains(c);
        if !site.chars().all(allowed) || site.split('~').any(str::is_empty) && !site.is_empty() {
            return Err(bad("the site is no name"));
        }
        let site = match site.split('~').collect::<Vec<_>>().as_slice() {
            [a, b] => pair(a, b),
            [one] => (*one).to_string(),
            _ => return Err(bad("at most two sites are joined by ~")),
        };
        if mode == "crossed" {
            args.sort_by(|a, b| natural(a, b));
        }
        Ok(Single { site, mode, args, intermittent })
    }

    /// Site and mode agree, and severities are within a factor 4 or not given on one side.
    pub fn same(&self, other: &Single) -> bool {
        if !self.site.eq_ignore_ascii_case(&other.site) || self.mode != other.mode {
            return false;
        }
        if self.args.is_empty() != other.args.is_empty() {
            return !matches!(self.mode.as_str(), "crossed" | "elsewhere" | "fed-from" | "switches")
                && (self.mode != "shifted" || self.args.iter().chain(&other.args).all(|n| n == "1"));
        }
        if NAMING.contains(&self.mode.as_str()) || self.is_special() {
            return self.args.len() == other.args.len()
                && self.args.iter().zip(&other.args).all(|(a, b)| a.eq_ignore_ascii_case(b));
        }
        let size = |s: &Single| s.args.first().and_then(|a| a.parse::<f64>().ok());
        match (size(self), size(other)) {
            (Some(a), Some(b)) => within(a, b, 4.0),
            _ => self.args == other.args,
        }
    }
}

impl fmt::Display for Single {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.site.is_empty() {
            write!(f, "{}:", self.site)?;
        }
        write!(f, "{}", self.mode)?;
        if !self.args.is_empty() {
            write!(f, "({})", self.args.join(","))?;
        }
        if let Some(duty) = self.intermittent {
            write!(f, "/intermittent({duty})")?;
        }
        Ok(())
    }
}

/// Two sites joined by `~`, in canonical order.
pub fn pair(a: &str, b: &str) -> String {
    if natural(a, b) == Ordering::Greater { format!("{b}~{a}") } else { format!("{a}~{b}") }
}

/// Order by byte, with runs of digits compared as numbers: `W7` before `W12`.
pub fn natural(a: &str, b: &str) -> Ordering {
    let (mut x, mut y) = (a.as_bytes(), b.as_bytes());
    loop {
        match (x.first(), y.first()) {
            (None, None) => return a.cmp(b),
            (None, _) => return Ordering::Less,
            (_, None) => return Ordering::Greater,
            (Some(p), Some(q)) if p.is_ascii_digit() && q.is_ascii_digit() => {
                let (m, n) = (digits(x), digits(y));
                let (u, v) = (trim_zeros(&x[..m]), trim_zeros(&y[..n]));
                let order = u.len().cmp(&v.len()).then_with(|| u.cmp(v));
                if order != Ordering::Equal {
                    return order;
                }
                (x, y) = (&x[m..], &y[n..]);
            }
            (Some(p), Some(q)) => {
                if p != q {
                    return p.cmp(q);
                }
                (x, y) = (&x[1..], &y[1..]);
            }
        }
    }
}

fn digits(bytes: &[u8]) -> usize {
    bytes.iter().take_while(|b| b.is_ascii_digit()).count()
}

fn trim_zeros(bytes: &[u8]) -> &[u8] {
    let zeros = bytes.iter().take_while(|b| **b == b'0').count();
    &bytes[zeros.min(bytes.len())..]
}

/// Within a factor, the rounding of written figures allowed for.
fn within(a: f64, b: f64, factor: f64) -> bool {
    if a == b {
        return true;
    }
    let ratio = a / b;
    ratio > 0.0 && ratio < factor * (1.0 + 1e-9) && ratio > (1.0 - 1e-9) / factor
}

/// `mode(a,b)` into its word, lower case, and its arguments; `None` if the brackets do not match.
fn call(text: &str) -> Option<(String, Vec<String>)> {
    let text = text.trim();
    let (word, args) = match text.split_once('(') {
        None => (text, Vec::new()),
        Some((word, rest)) => {
            let inner = rest.strip_suffix(')')?;
            if inner.contains(['(', ')']) {
                return None;
            }
            let args = inner.split(',').map(|a| a.trim().to_string()).collect::<Vec<_>>();
            if args.iter().any(String::is_empty) {
                return None;
            }
            (word.trim_end(), args)
        }
    };
    let fine = !word.is_empty() && word.chars().all(|c| c.is_ascii_alphanumeric() || c == '-');
    fine.then(|| (word.to_lowercase(), args))
}

/// Splits at a character that stands outside brackets.
fn split_outside(text: &str, at: char) -> Vec<&str> {
    let mut parts = Vec::new();
    let mut rest = text;
    while let Some((head, tail)) = split_once_outside(rest, at) {
        parts.push(head);
        rest = tail;
    }
    parts.push(rest);
    parts
}

fn split_once_outside(text: &str, at: char) -> Option<(&str, &str)> {
    let mut depth = 0usize;
    for (i, c) in text.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth = depth.saturating_sub(1),
            c if c == at && depth == 0 => return Some((&text[..i], &text[i + c.len_utf8()..])),
            _ => {}
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(text: &str) -> Fault {
        Fault::parse(text).unwrap_or_else(|problem| panic!("{text}: {}", problem.text))
    }

    #[test]
    fn every_name_of_the_contract_comes_back_as_written() {
        for text in [
            "W7~frame:touching",
            "W7~W12:touching",
            "P9.4~P9.5:touching(0.2)",
            "P9:crossed(4,5)",
            "P9:mirrored",
            "P9:shifted(1)",
            "W7.b~W12.b:crossed",
            "W7.b:off",
            "W7:elsewhere(G2)",
            "W7~W12:coupled",
            "horn-push:stuck-closed",
            "lamp:wrong-type(led)",
            "main-fuse:wrong-rating(30)",
            "battery:weak(0.2)",
            "G1:resistive(0.3)/intermittent(0.4)",
            "W7.a:open + main-fuse:blown",
            "nothing-broken",
            "not-in-file",
            "wrong-reading(3)",
        ] {
            assert_eq!(name(text).to_string(), text);
        }
    }

    #[test]
    fn order_is_by_byte_with_numbers_as_numbers() {
        assert_eq!(name("frame~W7:touching").to_string(), "W7~frame:touching");
        assert_eq!(name("W12~W7:touching").to_string(), "W7~W12:touching");
        assert_eq!(name("P9:crossed(10, 9)").to_string(), "P9:crossed(9,10)");
        assert_eq!(name("main-fuse:blown+W7~frame:touching").to_string(), "W7~frame:touching + main-fuse:blown");
        assert_eq!(natural("W007", "W7"), Ordering::Less);
    }

    #[test]
    fn severities_within_a_factor_four_are_the_same_fault() {
        let same = |a: &str, b: &str| name(a).same(&name(b));
        assert!(same("G1:resistive(0.3)", "g1:resistive(1.2)"));
        assert!(!same("G1:resistive(0.3)", "G1:resistive(1.3)"));
        assert!(same("G1:resistive", "G1:resistive(5)"));
        assert!(!same("G1:open", "G1:resistive"));
        assert!(!same("P9:crossed(4,5)", "P9:crossed(4,6)"));
        assert!(same("P9:shifted", "P9:shifted(1)"));
        assert!(!same("W7:open", "W7:open + W8:open"));
        assert!(same("W8:open + W7:resistive(1)", "W7:resistive(2) + W8:open"));
    }

    #[test]
    fn what_is_no_name_is_refused() {
        for text in [
            "",
            "horn",
            ":open",
            "horn:",
            "a~b~c:touching",
            "W7:open(",
            "W7:open)",
            "W7:resistive()",
            "W7:open/now",
            "W7:open/intermittent(2)",
            "~W7:touching",
            "W 7:open",
        ] {
            assert!(Fault::parse(text).is_err(), "{text}");
        }
    }
}
