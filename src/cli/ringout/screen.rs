//! Placements as screens of a few lines.

use crate::cli::paint::Paint;
use ohmward::session::ringout::job::End;
use ohmward::session::ringout::load::{say, should};
use ohmward::session::ringout::words::Words;
use ohmward::session::ringout::{Ring, Stage, Wait};

/// Width of the words before a line.
const LEAD: usize = 9;
/// Ways named one by one; of more the first and the last.
const NAMED: usize = 8;

fn row(lead: &str, text: &str) -> String {
    format!("  {lead:<LEAD$}{text}")
}

/// An end: where, colour, place.
fn end(end: &End) -> String {
    let colour = end.colour.as_ref().map(|colour| format!(" ({colour} wire)")).unwrap_or_default();
    let place = end.place.as_ref().map(|place| format!(", {place}")).unwrap_or_default();
    format!("{}{colour}{place}", end.at)
}

/// `5, 6, 7`; of many `5 to 12`.
fn names(ring: &Ring, ways: &[usize]) -> String {
    let name = |at: &usize| ring.job.ways[*at].name.clone();
    match ways {
        [first, .., last] if ways.len() > NAMED && ways.windows(2).all(|two| two[0] + 1 == two[1]) => {
            format!("{} to {}", name(first), name(last))
        }
        _ => ways.iter().map(name).collect::<Vec<_>>().join(", "),
    }
}

/// What is to be done now.
pub fn ask(ring: &Ring, paint: Paint) -> String {
    let words = Words::builtin();
    let count = ring.job.ways.len();
    let done = ring.known().iter().flatten().count();
    let head = |at: usize| {
        let left = paint.aside(&format!("{} of {count}", done + 1));
        format!("{}  {left}", paint.head(&format!("{}, way {}", ring.job.name, ring.job.ways[at].name)))
    };
    match ring.waiting() {
        Wait::Safe => {
            let loaded = matches!(ring.stage, Stage::Load { .. });
            let (lamp, fuse) = (format!("{} W", ring.lamp()), format!("{} A", words.figure("fuse")));
            let values = [("name", ring.job.name.as_str()), ("lamp", lamp.as_str()), ("fuse", fuse.as_str())];
            let [text, caution] = if loaded { ["safe-load", "caution-load"] } else { ["safe", "caution"] };
            let title = if loaded { "rung out under load" } else { "rung out" };
            [
                paint.head(&format!("{}: {count} ways {title}", ring.job.name)),
                row("first", &words.text(text, &values)),
                row("CAUTION", &paint.caution(&words.text(caution, &values))),
            ]
            .join("\n")
        }
        Wait::Bunches([one, other]) => [
            paint.head(&format!("{}: shorts, two bunches", ring.job.name)),
            row("red", &paint.place(&format!("ways {}, held together", names(ring, &one)))),
            row("black", &paint.place(&format!("ways {}, held together", names(ring, &other)))),
            row("should", "silent"),
        ]
        .join("\n"),
        Wait::Way { at, drag } => {
            let way = &ring.job.ways[at];
            let mut lines = vec![
                head(at),
                row("red", &paint.place(&end(&way.near))),
                row("black", &paint.place(&end(&way.far))),
                row("should", "beep"),
            ];
            if !drag.is_empty() {
                let which = if drag.len() == 1 { "way" } else { "ways" };
                lines.push(row(
                    "then",
                    &format!("red stays; drag black over {which} {} of {}: silent", names(ring, &drag), ring.job.name),
                ));
            }
            lines.join("\n")
        }
        Wait::Find { at, open } => [
            head(at),
            row("red", &paint.place(&end(&ring.job.ways[at].near))),
            row("black", &format!("over the other far ends, likeliest first: {}", far_ends(ring, at, &open))),
            row("say", "the way whose end beeps, or dead"),
        ]
        .join("\n"),
        Wait::Load(at) => {
            let way = &ring.job.ways[at];
            let should = should(way, ring.lamp());
            let mut lines = vec![
                head(at),
                row("lamp", "in the feed, lit"),
                row("red", &paint.place(&end(&way.near))),
                row("black", &paint.place(&end(&way.far))),
                row(
                    "should",
                    &format!("{}, up to {}", paint.value(&say(should.volts)), paint.value(&say(should.most))),
                ),
            ];
            if !way.fitted {
                lines.push(row("note", "its load is not fitted: proved end to end, not tried"));
            }
            lines.join("\n")
        }
        Wait::Pull => {
            [paint.head("Pull at every crimp and every pin, firmly"), row("say", "none, or the way that came out")]
                .join("\n")
        }
        Wait::Done => summary(ring, paint),
    }
}

/// Far ends in the order of the likeliest slip: the neighbours, the mirror's, alike colours, then the rest.
fn far_ends(ring: &Ring, at: usize, open: &[usize]) -> String {
    let ways = &ring.job.ways;
    let mirror = ways.len() - 1 - at;
    let rank = |far: &usize| {
        let neighbour = far.abs_diff(at) == 1;
        let alike = ways[*far].near.colour.is_some() && ways[*far].near.colour == ways[at].near.colour;
        (!alike, !neighbour, *far != mirror, *far)
    };
    let mut open = open.to_vec();
    open.sort_by_key(rank);
    let say = |far: &usize| match &ways[*far].far.colour {
        Some(colour) => format!("{} ({colour})", ways[*far].name),
        None => ways[*far].name.clone(),
    };
    open.iter().map(say).collect::<Vec<_>>().join(", ")
}

/// The prompt of what waits.
pub fn prompt(ring: &Ring) -> &'static str {
    match ring.waiting() {
        Wait::Safe => "done? (y)> ",
        Wait::Bunches(_) => "n if silent> ",
        Wait::Way { .. } => "as told? (y, n, 5=6, …)> ",
        Wait::Find { .. } => "which? (way, dead)> ",
        Wait::Load(_) => "volts> ",
        Wait::Pull => "came out? (none)> ",
        Wait::Done => "> ",
    }
}

/// How it went.
pub fn summary(ring: &Ring, paint: Paint) -> String {
    let good = ring.good().len();
    let mut lines =
        vec![paint.head(&format!("{}: {good} of {} ways as they should be", ring.job.name, ring.job.ways.len()))];
    lines.extend(ring.findings().iter().map(|finding| row("mend", &paint.fault(&finding.text))));
    let skipped: Vec<usize> = left_out(ring).into_iter().filter(|&at| !ring.job.ways[at].signal).collect();
    if !skipped.is_empty() {
        lines.push(row("open", &format!("left out: {}", names(ring, &skipped))));
    }
    let barred: Vec<usize> = (0..ring.job.ways.len()).filter(|&at| ring.job.ways[at].signal).collect();
    if !barred.is_empty() {
        lines.push(row(
            "open",
            &format!("a kill, signal or module pin hangs on it, so no 12 V: {}", names(ring, &barred)),
        ));
    }
    let waiting: Vec<usize> = (0..ring.job.ways.len()).filter(|&at| !ring.job.ways[at].fitted).collect();
    if !waiting.is_empty() {
        lines.push(row("open", &format!("not tried, their loads are not fitted: {}", names(ring, &waiting))));
    }
    lines.join("\n")
}

/// Ways that were left out.
pub fn left_out(ring: &Ring) -> Vec<usize> {
    let skipped = |at: &usize| ring.known()[*at].as_ref().is_some_and(|known| known.skipped);
    (0..ring.job.ways.len()).filter(skipped).collect()
}
