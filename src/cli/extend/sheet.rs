//! The schedule as comma-separated values, a row a wire.

use ohmward::harness::extend::{Known, Plan, Row};
use ohmward::text::csv::quoted;

const HEADINGS: [&str; 17] = [
    "plug",
    "way",
    "what",
    "old",
    "new",
    "tape label",
    "size mm2",
    "size by",
    "cut length m",
    "moves m",
    "amps",
    "amps known by",
    "fuse A",
    "spool",
    "added ohm",
    "lost V",
    "too thin",
];

/// All rows.
pub fn of(plan: &Plan) -> String {
    let mut out = format!("{}\n", HEADINGS.join(","));
    for row in &plan.rows {
        out.push_str(&cells(row, plan).iter().map(|cell| quoted(cell)).collect::<Vec<_>>().join(","));
        out.push('\n');
    }
    out
}

fn cells(row: &Row, plan: &Plan) -> [String; 17] {
    let strand = &row.strand;
    let colour = |colour: &Option<String>| colour.clone().unwrap_or_default();
    let spool = row.spool.map_or_else(
        || "to buy".to_owned(),
        |at| {
            let spool = &plan.spools[at].spool;
            format!("{} {} mm2 {} m", spool.colour, round(spool.area), round(spool.length))
        },
    );
    [
        strand.group.clone(),
        strand.way.clone(),
        strand.what.clone(),
        colour(&strand.old),
        colour(&row.new),
        if row.label { "yes" } else { "" }.to_owned(),
        round(row.area),
        row.why.word().to_owned(),
        round(row.length),
        round(strand.by),
        round(strand.amps.peak),
        known(&strand.amps.known),
        strand.amps.fuse.map_or_else(String::new, round),
        spool,
        round(row.ohms),
        round(row.volts),
        row.lacks.map_or_else(String::new, |why| why.word().to_owned()),
    ]
}

/// How a figure of amps is known.
pub fn known(known: &Known) -> String {
    match known {
        Known::Solved(state) => format!("solved: {state}"),
        Known::Told => "told".into(),
        Known::Usual(kind) => format!("usual for a {kind}"),
        Known::Sum => "all others together".into(),
        Known::Fuse => "80 % of the fuse".into(),
        Known::Assumed => "taken for granted".into(),
    }
}

/// At most five decimals.
fn round(value: f64) -> String {
    let text = format!("{value:.5}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
