//! Faults that come and go: what is met while nothing stirs them, and what the least and the greatest of a reading are
//! while the place is wiggled.

use super::{Observation, Observed};
use crate::catalogue::Catalogue;
use crate::circuit::fault::resolve::{aliases, resolve};
use crate::circuit::fault::{Fault, Single};
use crate::circuit::showing::Words;
use crate::netlist::Netlist;

/// A fault's two faces, and how it takes turns with them.
pub(super) struct Faces {
    /// Every part of it there.
    pub present: Fault,
    /// What comes and goes gone.
    pub absent: Fault,
    /// Share of the time that it is there.
    duty: f64,
    /// The test stirs it: both faces are met while one reads.
    stirred: bool,
}

impl Faces {
    /// `None` for a fault that is always there.
    pub fn of(
        fault: &Fault,
        stirred_by: Option<&(String, String)>,
        netlist: &Netlist,
        rules: &Catalogue,
    ) -> Option<Faces> {
        let coming: Vec<&Single> = fault.singles.iter().filter(|single| single.intermittent.is_some()).collect();
        // Where several come and go they are taken to do so together: one stirring moves them all.
        let duty = coming.iter().filter_map(|single| single.intermittent).reduce(f64::min)?;
        let steady = |single: &Single| Single { intermittent: None, ..single.clone() };
        let stirred =
            stirred_by.is_some_and(|(how, at)| coming.iter().any(|single| stirs(how, at, single, netlist, rules)));
        Some(Faces {
            present: Fault { singles: fault.singles.iter().map(steady).collect() },
            absent: Fault { singles: fault.singles.iter().filter(|s| s.intermittent.is_none()).cloned().collect() },
            duty,
            stirred,
        })
    }

    /// One answer of both.
    pub fn joined(&self, present: Observation, absent: Observation) -> Observation {
        let likely = if self.duty >= 0.5 { &present } else { &absent };
        let mix = |a: f64, b: f64| self.duty * a + (1.0 - self.duty) * b;
        let what = match (&present.what, &absent.what) {
            (Observed::Showing(a), Observed::Showing(b)) => Observed::Showing(mixed(a, b, self.duty)),
            (Observed::Beeps(a), Observed::Beeps(b)) => Observed::Beeps(mix(*a, *b)),
            (a, b) => match (span(a), span(b)) {
                (Some(a), Some(b)) if self.stirred => {
                    let (from, to, step) = (a.0.min(b.0), a.1.max(b.1), a.2.max(b.2));
                    if to - from > step { Observed::Range { from, to } } else { likely.what.clone() }
                }
                _ => wide(&likely.what, &present.what, &absent.what),
            },
        };
        Observation {
            what,
            floating: likely.floating,
            blown: present.blown.clone(),
            chatters: present.chatters || absent.chatters,
        }
    }
}

/// The likelier reading, its limits wide enough for the other.
fn wide(likely: &Observed, one: &Observed, other: &Observed) -> Observed {
    match (likely, one, other) {
        (
            Observed::Number { value, step, .. },
            Observed::Number { low: a, high: b, .. },
            Observed::Number { low: c, high: d, .. },
        ) => Observed::Number { value: *value, step: *step, low: a.min(*c), high: b.max(*d) },
        _ => likely.clone(),
    }
}

/// From, to and the display's step.
fn span(what: &Observed) -> Option<(f64, f64, f64)> {
    match *what {
        Observed::Number { value, step, .. } => Some((value, value, step)),
        Observed::Range { from, to } => Some((from, to, 0.0)),
        _ => None,
    }
}

fn mixed(present: &Words, absent: &Words, duty: f64) -> Words {
    let mut words: Words = present.iter().map(|(word, p)| (word.clone(), p * duty)).collect();
    for (word, p) in absent {
        match words.iter_mut().find(|(known, _)| known == word) {
            Some((_, sum)) => *sum += p * (1.0 - duty),
            None => words.push((word.clone(), p * (1.0 - duty))),
        }
    }
    words
}

/// Does this (`wiggle`, `bump` … at that place) reach the fault's site? Bumps and steering shake everything; all else what
/// is named: a plug with its ways, a place with everything that is there.
pub fn stirs(how: &str, at: &str, single: &Single, netlist: &Netlist, rules: &Catalogue) -> bool {
    if matches!(how, "bump" | "steer") {
        return true;
    }
    let steady = Fault { singles: vec![Single { intermittent: None, ..single.clone() }] };
    let canonical = resolve(&steady, netlist, rules).ok().and_then(|mut fault| fault.singles.pop());
    let mut names: Vec<String> = vec![single.site.clone()];
    if let Some(canonical) = canonical {
        names.extend(aliases(&canonical, netlist).iter().filter_map(|name| Some(name.split_once(':')?.0.to_owned())));
        names.push(canonical.site);
    }
    if netlist.is_place(at) {
        return names.iter().flat_map(|name| name.split('~')).any(|name| netlist.is_at(name, at));
    }
    let at = at.to_lowercase();
    let half = at.strip_suffix(['a', 'b']).unwrap_or(&at);
    let plug = netlist.plugs.keys().any(|plug| plug.eq_ignore_ascii_case(&at) || plug.eq_ignore_ascii_case(half));
    names.iter().flat_map(|name| name.split('~')).any(|name| {
        let name = name.to_lowercase();
        name == at
            || name.strip_prefix(&at).is_some_and(|rest| if plug { part_of(rest) } else { rest.starts_with('.') })
    })
}

/// Plug `P9` holds `P9.4`, `P9a.4`, `P9b-4-old.a`; it does not hold `P90`. (A part `stalk` holds no wire that is called
/// `stalk-out_G2`.)
fn part_of(rest: &str) -> bool {
    let rest = rest.strip_prefix(['a', 'b']).unwrap_or(rest);
    rest.is_empty() || rest.starts_with(['.', '-'])
}
