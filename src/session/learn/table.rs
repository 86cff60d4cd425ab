//! What was learnt: the table as the wiring file writes it, what is no contact, and what is odd.

use super::element::{Element, What, elements};
use super::guess::{Words, and};
use super::known::Known;
use super::plug::wire_side;
use super::setup::Setup;
use super::touch::BEEP;

/// What was learnt of a switch or plug.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// Its name.
    pub name: String,
    /// Its wires.
    pub wires: Vec<String>,
    /// Position by position.
    pub positions: Vec<Row>,
    /// Diodes and loads.
    pub elements: Vec<Element>,
    /// Ways of a plug by rows, as seen from the wire side with the latch up: which wire is there.
    pub plug: Vec<Vec<Option<usize>>>,
    /// Likely functions.
    pub guesses: Vec<String>,
    /// What is odd or was not tried.
    pub notes: Vec<String>,
    /// Touches that were made.
    pub touches: usize,
    /// Touches that all pairs would have taken, one way.
    pub all_pairs: usize,
}

/// One position.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Its name.
    pub name: String,
    /// A hand has to hold it.
    pub held: bool,
    /// Wires that are joined, two or more in a group; none if it was not finished.
    pub joined: Option<Vec<Vec<usize>>>,
}

impl Table {
    /// The table of what is known; `settled` positions are finished.
    pub fn of(name: &str, setup: &Setup, known: &[Known], settled: usize, touches: usize) -> Table {
        let n = setup.wires.len();
        let groups =
            |at: usize| -> Vec<Vec<usize>> { known[at].groups().into_iter().filter(|group| group.len() > 1).collect() };
        let done: Vec<Vec<Vec<usize>>> = (0..settled).map(groups).collect();
        let names: Vec<&str> = setup.positions.iter().map(|p| p.name.as_str()).collect();
        let positions = setup.positions.iter().enumerate();
        let mut table = Table {
            name: name.to_owned(),
            wires: setup.wires.clone(),
            positions: positions
                .map(|(at, p)| Row { name: p.name.clone(), held: p.held, joined: done.get(at).cloned() })
                .collect(),
            elements: elements(&known[..settled]),
            touches,
            all_pairs: n * n.saturating_sub(1) / 2 * settled,
            ..Table::default()
        };
        if settled == names.len() {
            table.guesses = Words::builtin().guess(&setup.wires, &names, &done);
        }
        let cell = |cell: usize| setup.cells.iter().position(|&c| c == cell);
        let rows = wire_side(&setup.rows, setup.view);
        table.plug = rows.into_iter().map(|row| row.into_iter().map(cell).collect()).collect();
        table.notes = notes(setup, known, &done);
        table
    }

    /// Is every position finished?
    pub fn is_whole(&self) -> bool {
        self.positions.iter().all(|row| row.joined.is_some())
    }

    /// Letters of a position: the same where joined, `.` where not.
    pub fn letters(&self, groups: &[Vec<usize>]) -> Vec<String> {
        let letter = |at: usize| {
            let one = |i: usize| char::from(b'a' + (i % 26) as u8);
            if at < 26 { one(at).to_string() } else { format!("{}{}", one(at / 26 - 1), one(at)) }
        };
        let of = |wire: usize| groups.iter().position(|group| group.contains(&wire));
        (0..self.wires.len()).map(|wire| of(wire).map_or_else(|| ".".to_owned(), letter)).collect()
    }

    /// The rows under `switches:`, without their indentation. Positions that were not finished are left out.
    pub fn rows(&self) -> String {
        let mut out = format!("{}:   # beep\n", self.name);
        for (at, row) in self.plug.iter().enumerate() {
            let ways: Vec<&str> = row.iter().map(|way| way.map_or("-", |wire| self.wires[wire].as_str())).collect();
            let which = if at == 0 { "wire side, latch up: " } else { "                     " };
            out += &format!("  # {which}{}\n", ways.join(" | "));
        }
        for line in self.met_elements() {
            out += &format!("  # {line}\n");
        }
        out += &format!("  wires: [{}]\n", self.wires.join(", "));
        for Row { name, held, joined } in &self.positions {
            if let Some(groups) = joined {
                let held = if *held { "   # held" } else { "" };
                out += &format!("  {name}: [{}]{held}\n", self.letters(groups).join(", "));
            }
        }
        out
    }

    /// Diodes and loads in words.
    pub fn met_elements(&self) -> Vec<String> {
        let told = |element: &Element| {
            let met: Vec<&str> = element.met.iter().map(|&p| self.positions[p].name.as_str()).collect();
            let where_ = if element.always { String::new() } else { format!(", in {} only", and(&met)) };
            let lead = if element.what == What::Diode { " (red lead)" } else { "" };
            let end = |&(from, to): &(usize, usize)| format!("{}{lead} to {}", self.wires[from], self.wires[to]);
            let ends: Vec<String> = element.ends.iter().take(4).map(end).collect();
            let more = if element.ends.len() > ends.len() { " or others" } else { "" };
            let ends = format!("from {}{more}", ends.join(" or "));
            match element.what {
                What::Diode => format!("diode: passes {ends}{where_}"),
                // Nothing fixed: a contact has to do with it.
                What::Load(ohms) if !element.always && ohms <= BEEP => {
                    format!("{} ohm {ends}{where_}: a dirty contact, or a lamp or coil behind one", figure(ohms))
                }
                What::Load(ohms) => format!("{} ohm {ends}{where_}: resistor, lamp or coil", figure(ohms)),
            }
        };
        self.elements.iter().map(told).collect()
    }

    /// Rows that make it a part of a machine: the part, its diodes and resistors as parts of their own with their wires.
    /// Section and row. `taken` are names in use.
    pub fn part_rows(&self, kind: &str, taken: &dyn Fn(&str) -> bool) -> Vec<(&'static str, String)> {
        let mut out = vec![("parts", format!("{}: {kind}", self.name))];
        let mut wires = Vec::new();
        let pin = |wire: usize| format!("{}.{}", self.name, self.wires[wire].replace(['/', ' '], "-"));
        // Where it may be in one of several places, it is told and not drawn.
        for element in self.elements.iter().filter(|element| element.always && element.ends.len() == 1) {
            let (what, pins) = match element.what {
                What::Diode => ("diode", ["anode", "cathode"]),
                What::Load(_) => ("load", ["a", "b"]),
            };
            let used = |name: &str| {
                taken(name) || out.iter().any(|(_, row): &(&str, String)| row.starts_with(&format!("{name}:")))
            };
            let free = (1..).map(|n| format!("{}-{what}-{n}", self.name)).find(|name| !used(name));
            let name = free.unwrap_or_default();
            out.push((
                "parts",
                match element.what {
                    What::Diode => format!("{name}: diode"),
                    What::Load(ohms) => format!("{name}: resistor, {} ohm", figure(ohms)),
                },
            ));
            let ends = [pin(element.ends[0].0), pin(element.ends[0].1)];
            wires.push(("wires", format!("{} to {name}.{}, 0.05 m, beep", ends[0], pins[0])));
            wires.push(("wires", format!("{name}.{} to {}, 0.05 m, beep", pins[1], ends[1])));
        }
        out.append(&mut wires);
        out.push(("switches", self.rows().trim_end().to_owned()));
        out
    }
}

/// Three figures.
pub fn figure(value: f64) -> String {
    if !value.is_finite() || value <= 0.0 {
        return "0".into();
    }
    let power = value.log10().floor() as i32;
    if power > 2 {
        let scale = 10f64.powi(power - 2);
        return format!("{:.0}", (value / scale).round() * scale);
    }
    format!("{value:.*}", (2 - power).clamp(0, 3) as usize)
}

/// What is odd.
fn notes(setup: &Setup, known: &[Known], done: &[Vec<Vec<usize>>]) -> Vec<String> {
    let name = |wire: usize| setup.wires[wire].as_str();
    let mut out = Vec::new();
    for (known, position) in known.iter().zip(&setup.positions) {
        for &(a, b) in &known.loose {
            out.push(format!(
                "{} and {} in {}: they beep through others and not by themselves, or the other way round: a worn or dirty contact?",
                name(a),
                name(b),
                position.name
            ));
        }
    }
    for (at, known) in known.iter().enumerate().take(done.len()) {
        let n = setup.wires.len();
        let skipped = (0..n)
            .flat_map(|a| (0..n).map(move |b| (a, b)))
            .filter(|&(a, b)| known.was_skipped(a, b) && !known.loose.contains(&(a, b)));
        for (a, b) in skipped {
            let text = if known.are_joined(a, b) { "only one way round" } else { "not" };
            if known.are_joined(a, b) || !known.are_apart(a, b) {
                out.push(format!("{} and {} in {}: {text} tried", name(a), name(b), setup.positions[at].name));
            }
        }
    }
    if done.len() == setup.positions.len() && done.len() > 1 {
        let never = |wire: &usize| !done.iter().flatten().any(|group| group.contains(wire));
        let dead: Vec<&str> = (0..setup.wires.len()).filter(never).map(name).collect();
        if !dead.is_empty() {
            out.push(format!(
                "{}: joined with nothing in any position: broken, spare, or a load's own wire",
                and(&dead)
            ));
        }
        for at in 1..done.len() {
            if done[at] == done[at - 1] {
                let (one, other) = (&setup.positions[at - 1].name, &setup.positions[at].name);
                out.push(format!("{one} and {other} are alike: did the switch move, is one of them held?"));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_three() {
        for (value, text) in [
            (0.0, "0"),
            (0.25, "0.250"),
            (6.03, "6.03"),
            (12.34, "12.3"),
            (470.2, "470"),
            (4699.8, "4700"),
            (1.0e6, "1000000"),
        ] {
            assert_eq!(figure(value), text);
        }
    }
}
