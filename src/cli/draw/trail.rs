//! What a drawing takes from the trail of a chase: its parts, its suspects, its readings.

use crate::cli::Context;
use crate::cli::chase::driver::Driver;
use crate::cli::error::Failure;
use crate::cli::journal::Trails;
use crate::cli::load;
use ohmward::circuit::heat::{SOMEWHERE, Touched};
use ohmward::circuit::schematic::{ElementId, Node};
use ohmward::circuit::test::{Reading, Settings, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::diagnosis::net::nets;
use ohmward::diagnosis::suspect::What;
use ohmward::drawing::{Marks, Suspected};
use ohmward::netlist::Netlist;
use ohmward::notes;
use ohmward::session::chase::Told as Heard;
use ohmward::session::{Chase, name};

/// Suspects drawn at most.
const DRAWN: usize = 6;
/// None is drawn that is less likely than this.
const LEAST: f64 = 0.01;

/// What a trail came to.
pub struct Told {
    /// `chase 3: the horn is dead`.
    pub about: String,
    /// Parts that show what is complained of.
    pub parts: Vec<String>,
    /// The state of the complaint.
    pub set: Settings,
    suspects: Vec<Suspected>,
    met: Vec<(Test, Vec<Reading>)>,
}

/// Feeds a trail again and looks at what it came to; number 0 is the newest.
pub fn read(number: u32, context: &mut Context) -> Result<Told, Failure> {
    let trails = Trails::beside(&context.wiring);
    let number = match number {
        0 => *trails.numbers()?.last().ok_or_else(|| {
            Failure::hinted("there are no trails yet", "begin one with: ohmward chase \"what is wrong\"")
        })?,
        number => number,
    };
    let journal = trails.read(number)?;
    let mut driver =
        Driver::new(Chase::new(load::load(&context.wiring)?.machine()).speaking(load::words(&context.wiring)?), None);
    for lost in driver.replay(&journal.entries) {
        context.out.say(format!("({lost})"));
    }
    let chase = &driver.chase;
    let (mut parts, mut set, mut met) = (Vec::new(), Settings::new(), Vec::new());
    for told in chase.told() {
        match told {
            Heard::Symptom(symptom) => {
                for part in about(chase.machine(), &symptom.part) {
                    if !parts.contains(&part) {
                        parts.push(part);
                    }
                }
                if set.is_empty() {
                    set.clone_from(&symptom.set);
                    // A change is drawn as it ends.
                    if let Some((control, [_, to])) = &symptom.change {
                        set.retain(|(name, _)| name != control);
                        set.push((control.clone(), to.clone()));
                    }
                }
            }
            Heard::Readings(test, readings) => met.push(((**test).clone(), readings.clone())),
            Heard::Tried(_) => {}
        }
    }
    let words = journal.header.complaint.clone();
    let about = if words.is_empty() { format!("chase {number}") } else { format!("chase {number}: {words}") };
    Ok(Told { about, parts, set, suspects: suspects(chase), met })
}

/// The likeliest suspects, with the elements that they sit in.
fn suspects(chase: &Chase) -> Vec<Suspected> {
    let (machine, suspects) = (chase.machine(), chase.suspects());
    let mut order: Vec<usize> = (0..suspects.list.len()).collect();
    let p = |at: usize| chase.chances().suspects.get(at).copied().unwrap_or(0.0);
    order.sort_by(|&a, &b| p(b).total_cmp(&p(a)).then(a.cmp(&b)));
    order.retain(|&at| p(at) >= LEAST);
    let one = |at: usize| {
        let suspect = &suspects.list[at];
        let elements: Vec<ElementId> = match &suspect.what {
            What::Series(index) => suspects.segments[*index].links.iter().map(|link| link.index()).collect(),
            _ => {
                let sites = suspect.members.iter().flat_map(|member| &member.fault.singles);
                sites
                    .flat_map(|single| single.site.split('~'))
                    .flat_map(|site| super::elements_of(machine, site))
                    .collect()
            }
        };
        Suspected { title: name::suspect(machine, suspects, suspect), p: p(at), elements }
    };
    order.into_iter().take(DRAWN).map(one).collect()
}

impl Told {
    /// Suspects and readings as marks; what was read in several settings stands in one line.
    pub fn marks(&self, netlist: &Netlist) -> Marks {
        let mut marks = Marks { suspects: self.suspects.clone(), ..Marks::default() };
        for (test, readings) in &self.met {
            let said =
                readings.iter().map(|reading| notes::said(reading, test.instrument)).collect::<Vec<_>>().join(", ");
            let (red, black) = (test.red.as_deref(), test.black.as_deref());
            let Some(node) = red.and_then(|red| netlist.point(red)) else { continue };
            let to = black.map_or_else(String::new, |black| format!(" to {black}"));
            marks.met.entry(node.index() as Node).or_default().push(format!("met {said}{to}"));
        }
        marks
    }
}

/// Parts at what gets hot that are drawn, at most: a page has room for so many circuits.
const ABOUT: usize = 4;

/// The part that something is said of; of a plug, a wire or a place, what shows something on the same copper.
fn about(machine: &Machine, said_of: &str) -> Vec<String> {
    let netlist = &machine.netlist;
    if netlist.parts.contains_key(said_of) {
        return vec![said_of.to_string()];
    }
    let Some(on) = Touched::find(netlist, said_of).ok().filter(|_| said_of != SOMEWHERE) else { return Vec::new() };
    let nets = nets(netlist);
    // (on the ground's copper hangs everything)
    let pieces: Vec<usize> = netlist.pieces.values().map(|piece| nets.of[piece.point.index()]).collect();
    let mut own: Vec<usize> = on.ends().into_iter().map(|end| nets.of[end]).collect();
    own.retain(|net| !pieces.contains(net));
    let points = |net: usize| nets.of.iter().filter(|other| **other == net).count();
    let smallest = |part: &String| {
        let pins = netlist.parts.get(part).into_iter().flat_map(|part| part.pins.values());
        pins.map(|pin| nets.of[pin.index()]).filter(|net| own.contains(net)).map(points).min()
    };
    // What has a wire of its own there comes before what hangs on a feed that many share.
    let mut hangs: Vec<(usize, String)> =
        machine.shown().into_iter().filter_map(|part| Some((smallest(&part)?, part))).collect();
    hangs.sort_by_key(|(points, _)| *points);
    hangs.into_iter().take(ABOUT).map(|(_, part)| part).collect()
}
