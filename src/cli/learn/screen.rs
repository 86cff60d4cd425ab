//! Questions and touches as screens of a few lines, the table as a page.

use crate::cli::paint::Paint;
use ohmward::session::learn::{Ask, Learn, Table, Why};

/// A touch to be made. `fresh` is the first of its position.
pub fn ask(learn: &Learn, ask: &Ask, fresh: bool, paint: Paint) -> String {
    let setup = learn.setup();
    let names = |list: &[usize]| {
        let names: Vec<&str> = list.iter().map(|&wire| setup.wires[wire].as_str()).collect();
        let held = if names.len() > 1 { " (held together)" } else { "" };
        format!("{}{held}", paint.place(&names.join(" + ")))
    };
    let position = &setup.positions[ask.position];
    let mut lines = Vec::new();
    if fresh {
        let how = if position.held { "bring it there and HOLD it at every touch" } else { "set it there" };
        let of = format!("position {} of {}", ask.position + 1, setup.positions.len());
        lines.push(format!("{} {}: {how}", paint.head(&position.name), paint.aside(&format!("({of})"))));
    }
    let why = why(learn, ask);
    if !why.is_empty() {
        lines.push(format!("  {why}"));
    }
    let held = if position.held { format!(", {} held", position.name) } else { String::new() };
    let count = paint.aside(&format!("touch {}, {} more at most", ask.made + 1, ask.left.saturating_sub(1)));
    if !ask.number {
        let (red, black) = (names(&ask.touch.red), names(&ask.touch.black));
        lines.push(format!("  red lead on {red}, black lead on {black}{held}  {count}"));
    }
    lines.join("\n")
}

fn why(learn: &Learn, ask: &Ask) -> String {
    let wires = &learn.setup().wires;
    match &ask.why {
        _ if ask.number => "The ohms on the display? It could be a lamp or a coil. Enter: none are shown".into(),
        Why::Find => String::new(),
        Why::Which => "One of these is it:".into(),
        Why::Swap => "Leads the other way round (a diode passes one way only):".into(),
        Why::Link => "Something in this group passes one way only. This link, leads the other way round:".into(),
        Why::Number => "Leads the other way round: the same ohms?".into(),
        Why::Again(doubt) if doubt.chain.is_empty() => {
            "These do not fit together: several held together beeped, none does by itself. Once more:".into()
        }
        Why::Again(doubt) => {
            let chain: Vec<&str> = doubt.chain.iter().map(|&wire| wires[wire].as_str()).collect();
            let (a, b) = (&wires[doubt.silent.0], &wires[doubt.silent.1]);
            format!("{a} and {b} are silent, yet {} beep one after the other. Once more:", chain.join(", "))
        }
    }
}

/// The prompt of a touch.
pub fn prompt(ask: &Ask) -> &'static str {
    match (ask.number, ask.ohms) {
        (true, _) => "ohms> ",
        (_, true) => "ohms, silent> ",
        _ => "beep, silent> ",
    }
}

/// The table and what is to be said of it.
pub fn page(table: &Table, paint: Paint) -> String {
    let mut lines = vec![paint.head("switches:")];
    lines.extend(table.rows().lines().map(|line| format!("  {line}")));
    let saved = if table.touches < table.all_pairs {
        format!("{} touches; all pairs are {}", table.touches, table.all_pairs)
    } else {
        format!("{} touches", table.touches)
    };
    lines.push(paint.aside(&saved));
    for guess in &table.guesses {
        lines.push(format!("  guess    {guess} (common practice, not proved)"));
    }
    for element in table.met_elements() {
        lines.push(format!("  no contact  {}", paint.fault(&element)));
    }
    for note in &table.notes {
        lines.push(format!("  look at  {note}"));
    }
    lines.join("\n")
}
