//! A plan as the text of a wiring file.

use super::{BASE, Block, Book, How, Plan, Sketch};
use indexmap::IndexMap;

/// What a row stands on: the questions that chose it.
struct Row {
    text: String,
    proof: How,
}

/// Rows gathered so far; the same row twice is one.
#[derive(Default)]
struct Rows {
    named: IndexMap<String, IndexMap<String, String>>,
    wires: Vec<(String, Vec<Row>)>,
    circuit_parts: Vec<String>,
    circuit_grounds: Vec<String>,
}

impl Plan {
    /// The wiring file.
    pub fn text(&self, book: &Book) -> String {
        let mut rows = Rows::default();
        for name in std::iter::once(BASE).chain(self.circuits.iter().map(String::as_str)) {
            if let Some(sketch) = book.sketches.get(name) {
                self.add(book, sketch, &mut rows);
            }
        }
        let mut out = self.header(book);
        out += "# What was not known is assumed: a row that ends in \"?\". Change any row; from then on it is your file.\n";
        out += "machine: My machine\n";
        out += "bench: {meter: [volts, ohms, beep], leads: 1 m}\n";
        for (section, comment) in [("chassis", "pieces of metal"), ("places", "how long it takes to get there")] {
            let rows = match section {
                "places" => places(book, &rows),
                _ => rows.named.get(section).cloned().unwrap_or_default(),
            };
            out += &map(section, comment, &rows);
        }
        for (section, comment) in
            [("parts", "kind, ratings, place"), ("switches", "same letter: joined"), ("sleeves", "")]
        {
            out += &map(section, comment, &rows.named.get(section).cloned().unwrap_or_default());
        }
        out += "\nwires:  # from to to, size, length, how sure: ? assumed, paper told or borne out by readings\n";
        for (comment, wires) in rows.wires.iter().filter(|(_, wires)| !wires.is_empty()) {
            out += &format!("  # {comment}\n");
            for row in wires {
                let proof = match row.proof {
                    How::Assumed | How::Fits => "\"?\"",
                    // (what readings bear out is where a wire goes, not that it is sound)
                    How::Said | How::Proven => "paper",
                };
                out += &format!("  - {}, {}\n", row.text, proof.trim_matches('"'));
            }
        }
        out += &map(
            "grounds",
            "what is bolted there ends there in wires",
            &rows.named.get("grounds").cloned().unwrap_or_default(),
        );
        out += &looms(&rows);
        let recent = self.recent_names(&rows);
        if !recent.is_empty() {
            out += &format!("\nrecent-work: [{}]\n", recent.join(", "));
        }
        out
    }

    fn recent_names(&self, rows: &Rows) -> Vec<String> {
        let mut out: Vec<String> = Vec::new();
        for what in &self.recent {
            let names = match what.as_str() {
                "circuits" => rows.circuit_parts.clone(),
                "grounds" => rows.circuit_grounds.clone(),
                name => vec![name.to_string()],
            };
            out.extend(names);
        }
        out.dedup();
        out
    }

    /// Adds the rows of a sketch that stand with these answers.
    fn add(&self, book: &Book, sketch: &Sketch, rows: &mut Rows) {
        let mut slots: IndexMap<String, (String, Option<&str>)> = IndexMap::new();
        slots.insert("me".into(), (sketch.name.clone(), None));
        slots.insert("at".into(), (sketch.at.clone(), None));
        let mut answers: IndexMap<&str, (String, How)> = IndexMap::new();
        for (name, ask) in &sketch.asks {
            let answer = self.answer(book, &sketch.name, name, ask);
            if let Some(choice) = ask.choices.get(&answer.choice) {
                for (slot, text) in &choice.slots {
                    slots.insert(slot.clone(), (text.clone(), Some(name)));
                }
            }
            answers.insert(name, (answer.choice, answer.how));
        }
        let fits = |block: &&Block| {
            block
                .when
                .iter()
                .all(|(ask, choices)| answers.get(ask.as_str()).is_some_and(|(own, _)| choices.contains(own)))
        };
        let mut heading = sketch.name.clone();
        for (name, (choice, how)) in &answers {
            let say = sketch.asks[*name].choices.get(choice).map_or("", |choice| choice.say.as_str());
            heading += &format!("; {name}: {say} ({})", how.words());
        }
        let mut wires = Vec::new();
        for block in sketch.rows.iter().filter(fits) {
            for (section, list) in &block.named {
                let into = rows.named.entry(section.clone()).or_default();
                for (name, row) in list {
                    let (name, row) = (fill(name, &slots).0, fill(row, &slots).0);
                    if sketch.name != BASE {
                        match section.as_str() {
                            "parts" if !rows.circuit_parts.contains(&name) => rows.circuit_parts.push(name.clone()),
                            "grounds" if !rows.circuit_grounds.contains(&name) => {
                                rows.circuit_grounds.push(name.clone())
                            }
                            _ => {}
                        }
                    }
                    let better = into.get(&name).is_none_or(|old| old == "alone");
                    if better {
                        into.insert(name, row);
                    }
                }
            }
            for wire in &block.wires {
                let (text, used) = fill(wire, &slots);
                let mut by: Vec<How> =
                    block.when.keys().filter_map(|ask| answers.get(ask.as_str())).map(|a| a.1).collect();
                by.extend(used.iter().filter_map(|ask| answers.get(*ask)).map(|a| a.1));
                let proof = match by.iter().all(|how| matches!(how, How::Said | How::Proven)) && !by.is_empty() {
                    false => How::Assumed,
                    true if by.contains(&How::Proven) => How::Proven,
                    true => How::Said,
                };
                let known = rows.wires.iter().flat_map(|(_, wires)| wires).chain(&wires).any(|row| row.text == text);
                if !known {
                    wires.push(Row { text, proof });
                }
            }
        }
        rows.wires.push((heading, wires));
    }
}

/// Fills `<name>`; also which questions the names came from. A slot may name another one.
fn fill<'a>(text: &str, slots: &IndexMap<String, (String, Option<&'a str>)>) -> (String, Vec<&'a str>) {
    let mut text = text.to_string();
    let mut used = Vec::new();
    // Slots that name slots that name slots are deep enough.
    for _ in 0..4 {
        let Some((slot, (value, ask))) = slots.iter().find(|(slot, _)| text.contains(&format!("<{slot}>"))) else {
            break;
        };
        text = text.replace(&format!("<{slot}>"), value);
        used.extend(*ask);
    }
    (text, used)
}

/// The places that rows name.
fn places(book: &Book, rows: &Rows) -> IndexMap<String, String> {
    let named = |place: &str| {
        rows.named.values().flat_map(|rows| rows.values()).any(|row| row.split(',').any(|field| field.trim() == place))
    };
    book.places.iter().filter(|(place, _)| named(place)).map(|(place, reach)| (place.clone(), reach.clone())).collect()
}

/// More wires than this in one loom are too many pairs that could touch: then each circuit has a loom of its own.
const ONE_LOOM: usize = 20;

/// What lies side by side, and on the frame: where something can chafe through or couple. Thick cables lie alone.
fn looms(rows: &Rows) -> String {
    let mut seen: IndexMap<String, usize> = IndexMap::new();
    let mut by_circuit: Vec<(String, Vec<String>)> = Vec::new();
    for (heading, wires) in &rows.wires {
        let circuit = heading.split(';').next().unwrap_or_default();
        let mut names = Vec::new();
        for row in wires {
            let ends = row.text.split(',').next().unwrap_or_default();
            let name = ends.trim().replace(" to ", "_").replace('.', "-");
            let again = seen.entry(name.clone()).and_modify(|count| *count += 1).or_insert(1);
            let name = if *again > 1 { format!("{name}-{again}") } else { name };
            if circuit != BASE && !row.text.contains("6 mm2") && !row.text.contains(", 0.") {
                names.push(name);
            }
        }
        if !names.is_empty() {
            by_circuit.push((circuit.to_string(), names));
        }
    }
    if by_circuit.iter().map(|(_, names)| names.len()).sum::<usize>() <= ONE_LOOM {
        let all = by_circuit.into_iter().flat_map(|(_, names)| names).collect();
        by_circuit = vec![("main".to_string(), all)];
    }
    let mut out = String::from("\nlooms:  # what runs side by side, and the metal that it lies on\n");
    for (circuit, names) in by_circuit {
        out += &format!("  loom-{circuit}:\n    lies-on: frame\n    wires:\n");
        names.iter().for_each(|name| out += &format!("      - {name}\n"));
    }
    out
}

/// A section of named rows.
fn map(section: &str, comment: &str, rows: &IndexMap<String, String>) -> String {
    if rows.is_empty() {
        return String::new();
    }
    let comment = if comment.is_empty() { String::new() } else { format!("  # {comment}") };
    let mut out = format!("\n{section}:{comment}\n");
    for (name, row) in rows {
        out += &format!("  {name}: {row}\n");
    }
    out
}
