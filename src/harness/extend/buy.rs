//! What is needed beside wire, by plug and by size, and what of it has to be bought.

use super::{Ask, Row};
use crate::catalogue::Catalogue;
use crate::catalogue::extend::Takes;
use crate::netlist::Joint;

/// Terminals and seals of one plug's half or part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Needed {
    /// The half or part.
    pub group: String,
    /// Terminals by the sizes that they take: name, how many.
    pub terminals: Vec<(String, usize)>,
    /// Seals, if the plug has them: one a wire.
    pub seals: usize,
    /// Sleeves: name, how many.
    pub sleeves: Vec<(String, usize)>,
}

/// A line of the list to buy.
#[derive(Clone, Debug, PartialEq)]
pub struct ToBuy {
    /// What.
    pub what: String,
    /// How many are needed, spare ones included.
    pub needed: usize,
    /// How many are at hand.
    pub have: usize,
}

impl ToBuy {
    /// How many have to be bought.
    pub fn missing(&self) -> usize {
        self.needed.saturating_sub(self.have)
    }
}

/// Wire to be bought: colour, size (mm²), metres, wires.
pub type WireToBuy = (Option<String>, f64, f64, usize);

/// What is needed and what has to be bought.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Buy {
    /// By plug's half or part.
    pub groups: Vec<Needed>,
    /// Wire for which no spool is at hand.
    pub wire: Vec<WireToBuy>,
    /// Sleeves, with spare ones.
    pub sleeves: Vec<ToBuy>,
    /// Terminals, with spare ones.
    pub terminals: Vec<ToBuy>,
    /// Tape labels: two for each wire that stays double.
    pub labels: usize,
    /// Wires whose old end is thinner or thicker than its sleeve takes.
    pub misfits: Vec<String>,
}

impl Buy {
    /// Is anything to be bought?
    pub fn any(&self) -> bool {
        !self.wire.is_empty() || self.sleeves.iter().chain(&self.terminals).any(|line| line.missing() > 0)
    }
}

/// Counts it.
pub fn buy(rows: &[Row], ask: &Ask, rules: &Catalogue) -> Buy {
    let mut out = Buy::default();
    let solder = ask.joint == Joint::Solder;
    // The colours are those of crimp sleeves.
    let sold = |takes: &Takes| Takes { name: format!("for {} to {} mm2", takes.from, takes.to), ..takes.clone() };
    let sleeves: Vec<Takes> =
        rules.extend.sleeves.iter().map(|takes| if solder { sold(takes) } else { takes.clone() }).collect();
    for row in rows {
        let name = &row.strand.group;
        if out.groups.last().is_none_or(|group| group.group != *name) {
            out.groups.push(Needed { group: name.clone(), ..Needed::default() });
        }
        let Some(group) = out.groups.last_mut() else { continue };
        count(&mut group.terminals, &takes(&rules.extend.terminals, row.area, None).0);
        group.seals += usize::from(row.strand.in_plug);
        if ask.joint != Joint::Twist {
            let (name, fits) = takes(&sleeves, row.area, row.strand.old_area);
            count(&mut group.sleeves, &name);
            if !fits {
                out.misfits.push(row.strand.name());
            }
        }
        out.labels += 2 * usize::from(row.label);
        if row.spool.is_none() {
            let same = |line: &&mut WireToBuy| line.0 == row.new && line.1 == row.area;
            match out.wire.iter_mut().find(same) {
                Some(line) => {
                    line.2 += row.length;
                    line.3 += 1;
                }
                None => out.wire.push((row.new.clone(), row.area, row.length, 1)),
            }
        }
    }
    let spare = |count: usize| count + ((rules.extend.limit("spare") * count as f64).ceil() as usize).max(1);
    for group in &out.groups {
        add(&mut out.sleeves, &group.sleeves);
        add(&mut out.terminals, &group.terminals);
    }
    for (lines, have, what) in [
        (&mut out.sleeves, &ask.stock.sleeves, if solder { "solder sleeve" } else { "crimp sleeve" }),
        (&mut out.terminals, &ask.stock.terminals, "terminal"),
    ] {
        for line in lines {
            line.needed = spare(line.needed);
            line.have = have.get(&line.what).copied().unwrap_or(0);
            line.what = format!("{what}, {}", line.what);
        }
    }
    out
}

fn count(list: &mut Vec<(String, usize)>, name: &str) {
    match list.iter_mut().find(|(known, _)| known == name) {
        Some((_, count)) => *count += 1,
        None => list.push((name.to_owned(), 1)),
    }
}

fn add(lines: &mut Vec<ToBuy>, list: &[(String, usize)]) {
    for (name, count) in list {
        match lines.iter_mut().find(|line| line.what == *name) {
            Some(line) => line.needed += count,
            None => lines.push(ToBuy { what: name.clone(), needed: *count, have: 0 }),
        }
    }
}

/// What takes this wire, and the old one too if it can be had; does it?
fn takes(list: &[Takes], area: f64, old: Option<f64>) -> (String, bool) {
    let holds = |takes: &&Takes, area: f64| area >= takes.from * 0.97 && area <= takes.to * 1.03;
    let both = list.iter().find(|takes| holds(takes, area) && old.is_none_or(|old| holds(takes, old)));
    let thick = area.max(old.unwrap_or(0.0));
    let found = both.or_else(|| list.iter().find(|takes| holds(takes, thick))).or(list.last());
    (found.map_or_else(String::new, |takes| takes.name.clone()), both.is_some())
}
