//! What is no contact: diodes, and whatever shows ohms. Found in one position or in several, it is one thing.

use super::known::Known;

/// What was met between wires that no contact joins.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Between which two wires it may be (a diode: from, to): where it was met, contacts joined others to its ends.
    pub ends: Vec<(usize, usize)>,
    /// What it is.
    pub what: What,
    /// Positions in which it was met.
    pub met: Vec<usize>,
    /// Does it fit every position? Then it is there whatever the switch does.
    pub always: bool,
}

/// Kinds of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What {
    /// It passes from the first to the second only.
    Diode,
    /// A resistor, lamp or coil of so many ohms.
    Load(f64),
}

impl What {
    fn is_like(self, other: What) -> bool {
        match (self, other) {
            (What::Diode, What::Diode) => true,
            (What::Load(a), What::Load(b)) => near(a, b),
            _ => false,
        }
    }
}

/// Two readings of one thing.
fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 0.15 * a.max(b) + 0.5
}

/// Everything of the kind in these positions.
pub fn elements(positions: &[Known]) -> Vec<Element> {
    let mut out: Vec<Element> = Vec::new();
    for (at, known) in positions.iter().enumerate() {
        for found in of(known, at) {
            let both = |old: &Element| -> Vec<(usize, usize)> {
                let same = |&(a, b): &(usize, usize)| {
                    found.ends.contains(&(a, b)) || found.what != What::Diode && found.ends.contains(&(b, a))
                };
                old.ends.iter().copied().filter(same).collect()
            };
            let fits =
                |old: &&mut Element| old.what.is_like(found.what) && !old.met.contains(&at) && !both(old).is_empty();
            match out.iter_mut().find(fits) {
                Some(old) => {
                    old.ends = both(old);
                    old.met.push(at);
                }
                None => out.push(found),
            }
        }
    }
    for element in &mut out {
        let (met, what) = (element.met.clone(), element.what);
        let fits = |&(from, to): &(usize, usize)| {
            positions.iter().enumerate().all(|(at, known)| {
                met.contains(&at)
                    || known.are_joined(from, to)
                    || match what {
                        // Silence against its way is none of its own.
                        What::Diode => !parted(known, from, to),
                        What::Load(_) => !parted(known, from, to) && !parted(known, to, from),
                    }
            })
        };
        let ends: Vec<(usize, usize)> = element.ends.iter().copied().filter(fits).collect();
        element.always = !ends.is_empty();
        if element.always {
            element.ends = ends;
        }
    }
    out
}

/// Was it silent from one group to the other?
fn parted(known: &Known, from: usize, to: usize) -> bool {
    let of = |wire: usize| (0..known.wires()).filter(move |&other| known.are_joined(other, wire));
    of(from).any(|u| of(to).any(|v| known.pass(u, v) == Some(false) && known.load(u, v).is_none()))
}

/// Something between two groups of one position.
struct Between {
    groups: (usize, usize),
    what: What,
}

/// What one position shows.
fn of(known: &Known, at: usize) -> Vec<Element> {
    let groups = known.groups();
    let mut found: Vec<Between> = Vec::new();
    for (i, a) in groups.iter().enumerate() {
        for (j, b) in groups.iter().enumerate().filter(|(j, _)| *j != i) {
            let mut what = None;
            for (&u, &v) in a.iter().flat_map(|u| b.iter().map(move |v| (u, v))) {
                let (there, back) = (known.pass(u, v), known.pass(v, u));
                let one_way = back == Some(false) && known.load(v, u).is_none();
                match known.load(u, v) {
                    Some(_) if one_way => what = Some(What::Diode),
                    Some(ohms) if j > i || back.is_none() => what = Some(What::Load(ohms)),
                    None if there == Some(true) && one_way => what = Some(What::Diode),
                    _ => {}
                }
            }
            found.extend(what.map(|what| Between { groups: (i, j), what }));
        }
    }
    let element = |one: &Between| {
        let (from, to) = (&groups[one.groups.0], &groups[one.groups.1]);
        let ends = from.iter().flat_map(|&u| to.iter().map(move |&v| (u, v))).collect();
        Element { ends, what: one.what, met: vec![at], always: true }
    };
    found.iter().filter(|one| !is_through(one, &found)).map(element).collect()
}

/// Does it go through two others, so that it is none of its own?
fn is_through(one: &Between, all: &[Between]) -> bool {
    let (from, to) = one.groups;
    all.iter().any(|first| {
        let ways = [first.groups, (first.groups.1, first.groups.0)];
        ways.iter().filter(|way| way.0 == from && way.1 != to).any(|&(_, mid)| {
            all.iter().any(|second| match (one.what, first.what, second.what) {
                (What::Load(whole), What::Load(a), What::Load(b)) => {
                    (second.groups == (mid, to) || second.groups == (to, mid)) && near(whole, a + b)
                }
                (What::Diode, What::Diode, What::Diode) => first.groups.0 == from && second.groups == (mid, to),
                _ => false,
            })
        })
    })
}
