//! A plain list of a plug's pins: way, colour, what it is for, and what else somebody knows of it.
//!
//! With headings in any order and spelling, or without: then the first field of a row is its way and the others tell by
//! their content what they are. Every problem is told by its row.

use super::cells::{colour, figure, nothing};
use super::columns;
use super::row::Row;
use crate::catalogue::Catalogue;
use crate::text::csv::{self, Cell, SEPARATORS};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::text::span::Source;
use crate::wiring::colour::Colours;
use crate::wiring::fields::{Text, is_name};

/// One pin of a list.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pin {
    /// The plug.
    pub plug: String,
    /// The way.
    pub way: String,
    /// The wire's colour in plain words.
    pub colour: Option<String>,
    /// What it is for.
    pub what: String,
    /// Amps that it carries.
    pub amps: Option<f64>,
    /// The fuse before it, A.
    pub fuse: Option<f64>,
    /// The wire's size, mm².
    pub area: Option<f64>,
    /// Its length, m.
    pub length: Option<f64>,
    /// How far it moves, if not as far as the others, m.
    pub by: Option<f64>,
}

/// Pins of a list, and what was understood of its columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PinList {
    /// The pins.
    pub pins: Vec<Pin>,
    /// Column by column; what is not used says so.
    pub columns: Vec<String>,
}

/// Reads a list of pins. `plug` is the plug's name where the list does not say it; watts are amps at `volts`.
///
/// # Errors
///
/// Every problem, with its row.
pub fn pins(
    sheet: &Source,
    plug: &str,
    volts: f64,
    declared: &[(String, String)],
    catalogue: &Catalogue,
) -> Result<PinList, Vec<Problem>> {
    let mut known = catalogue.clone();
    for (holds, words) in &catalogue.extend.headings {
        let words_of = known.columns.headings.values_mut();
        // A heading means here what this list has it for.
        words_of.for_each(|also| also.retain(|word| !words.iter().any(|own| own.eq_ignore_ascii_case(word))));
        known.columns.headings.entry(holds.clone()).or_default().extend(words.iter().cloned());
    }
    known.columns.headings.retain(|holds, _| USED.contains(&holds.as_str()));
    let mut problems = Vec::new();
    let declared: Vec<(Text, Text)> = declared.iter().map(|(code, word)| (said(code), said(word))).collect();
    let colours = Colours::new(catalogue, &declared, &mut problems);
    let mut reader =
        Reader { plug, volts, colours: &colours, catalogue, problems: Vec::new(), out: PinList::default() };
    match columns::find(sheet, &known) {
        Ok(heads) if heads.columns.iter().any(|c| c.holds == "way" || c.holds == "old") => reader.sheet(&heads),
        _ => reader.plain(sheet),
    }
    let Reader { out, problems: mut found, .. } = reader;
    problems.append(&mut found);
    for (at, pin) in out.pins.iter().enumerate() {
        if out.pins[..at]
            .iter()
            .any(|other| other.plug.eq_ignore_ascii_case(&pin.plug) && other.way.eq_ignore_ascii_case(&pin.way))
        {
            let says = format!("way {} of {} stands twice", pin.way, pin.plug);
            problems.push(Problem::whole(says).help("look at the number moulded on the plug"));
        }
    }
    if problems.is_empty() { Ok(out) } else { Err(problems) }
}

/// What columns may hold.
const USED: [&str; 12] = ["plug", "way", "old", "what", "amps", "watts", "fuse", "size", "length", "by", "from", "to"];

struct Reader<'a> {
    plug: &'a str,
    volts: f64,
    colours: &'a Colours<'a>,
    catalogue: &'a Catalogue,
    problems: Vec<Problem>,
    out: PinList,
}

impl Reader<'_> {
    /// A list with headings.
    fn sheet(&mut self, heads: &columns::Heads) {
        for told in heads.told() {
            let holds = told.holds.unwrap_or_else(|| "passed over".into());
            let holds = holds.replace("amps in amps", "amps").replace("watts in watts", "watts");
            let holds = if holds.starts_with("old") { "colour".to_owned() } else { holds };
            self.out.columns.push(format!("\"{}\": {holds}", told.heading));
        }
        for (number, cells) in &heads.rows {
            let row = Row { number: *number, cells, heads };
            let mut pin = Pin { plug: row.text("plug").unwrap_or_else(|| self.plug.to_owned()), ..Pin::default() };
            pin.way = row.text("way").map_or_else(|| (self.out.pins.len() + 1).to_string(), |way| plain(&way));
            pin.plug = plain(&pin.plug);
            pin.what = row.text("what").unwrap_or_else(|| {
                let ends = ["from", "to"].into_iter().filter_map(|end| row.text(end));
                ends.collect::<Vec<_>>().join(" to ")
            });
            pin.colour = self.cell(&row, "old", |this, cell| colour(cell, this.colours));
            let amps = self.cell(&row, "amps", |_, cell| amount(cell, row.unit("amps").or(Some("A")), Unit::Amp));
            let watts = self.cell(&row, "watts", |_, cell| amount(cell, row.unit("watts").or(Some("W")), Unit::Watt));
            pin.amps = amps.or(watts.map(|watts| watts / self.volts));
            // A column "load" may hold either.
            if let (None, Ok(found)) = (pin.amps, quantity::parse(&pin.what.replace(',', "."))) {
                pin.amps = match found.unit {
                    Unit::Amp => Some(found.value),
                    Unit::Watt => Some(found.value / self.volts),
                    _ => None,
                };
            }
            pin.fuse = self.cell(&row, "fuse", |_, cell| fuse(cell)).flatten();
            pin.area = self.cell(&row, "size", |_, cell| {
                figure(cell, row.unit("size"), Unit::SquareMillimetre).map(|text| value(&text))
            });
            pin.length = self
                .cell(&row, "length", |_, cell| figure(cell, row.unit("length"), Unit::Metre).map(|text| value(&text)));
            pin.by =
                self.cell(&row, "by", |_, cell| figure(cell, row.unit("by"), Unit::Metre).map(|text| value(&text)));
            self.names(&pin, *number);
            self.out.pins.push(pin);
        }
    }

    /// A cell that says something; its problem is told.
    fn cell<T>(&mut self, row: &Row, holds: &str, read: impl Fn(&Self, &Cell) -> Result<T, Problem>) -> Option<T> {
        let unsaid = |cell: &&Cell| !nothing(&cell.text, &self.catalogue.columns) && cell.text != "?";
        let cell = row.cell(holds).filter(unsaid)?;
        match read(self, cell) {
            Ok(value) => Some(value),
            Err(problem) => {
                self.problems.push(row.at(holds, problem));
                None
            }
        }
    }

    /// Rows as one types them: `4, black/white, horn, 3.5 A`.
    fn plain(&mut self, sheet: &Source) {
        let most = |separator: &char| {
            csv::read(sheet, *separator).map_or(0, |rows| rows.iter().filter(|(_, cells)| cells.len() > 1).count())
        };
        let separator = SEPARATORS.into_iter().rev().max_by_key(most).unwrap_or(',');
        let rows = match csv::read(sheet, separator) {
            Ok(rows) => rows,
            Err(problem) => return self.problems.push(problem),
        };
        for (number, cells) in rows {
            let cells = match cells.iter().filter(|cell| !cell.text.is_empty()).collect::<Vec<_>>()[..] {
                [one] => self.spoken(one),
                _ => cells,
            };
            let cells: Vec<&Cell> = cells.iter().filter(|cell| !cell.text.is_empty()).collect();
            if cells.first().is_some_and(|cell| cell.text.starts_with('#')) {
                continue;
            }
            let mut pin = Pin { plug: self.plug.to_owned(), ..Pin::default() };
            let Some((first, rest)) = cells.split_first() else { continue };
            // A row that begins with its colour has the number of its place in the list.
            let rest = if self.is_colour(first) { &cells } else { rest };
            pin.way = if self.is_colour(first) { (self.out.pins.len() + 1).to_string() } else { plain(&first.text) };
            for cell in rest {
                if let Err(mut problem) = self.field(&mut pin, cell) {
                    problem.text = format!("row {number}: {}", problem.text);
                    self.problems.push(problem);
                }
            }
            self.names(&pin, number);
            self.out.pins.push(pin);
        }
    }

    /// Is it a colour in words? A letter or two is a way's name sooner.
    fn is_colour(&self, cell: &Cell) -> bool {
        cell.text.chars().count() > 2 && colour(cell, self.colours).is_ok()
    }

    /// A row with nothing between its fields but blanks: `4 black/white horn 3.5 A`.
    fn spoken(&self, row: &Cell) -> Vec<Cell> {
        let cell = |text: String| Cell { text, span: row.span };
        if row.text.starts_with('#') {
            return vec![row.clone()];
        }
        let words: Vec<&str> = row.text.split_whitespace().collect();
        let mut out: Vec<Cell> = Vec::new();
        let mut what: Vec<&str> = Vec::new();
        let mut at = 0;
        while at < words.len() {
            if at == 0 && self.is_colour(&cell(words[0].to_owned())) {
                out.push(cell((self.out.pins.len() + 1).to_string()));
            } else if at == 0 {
                out.push(cell(words[0].to_owned()));
                at = 1;
                continue;
            }
            // The longest run of words that is a colour, a figure or a fuse is a field; the rest is what it is for.
            let field = (1..=3.min(words.len() - at)).rev().find(|&count| {
                let text = words[at..at + count].join(" ");
                let fuse = text.to_lowercase().strip_prefix("fuse ").is_some_and(|rest| quantity::parse(rest).is_ok());
                let figure = text.starts_with(|c: char| c.is_ascii_digit() || c == '.')
                    && quantity::parse(&text).is_ok_and(|q| q.unit != Unit::One);
                let first = what.is_empty() && out.len() == 1;
                fuse || figure || first && colour(&cell(text), self.colours).is_ok()
            });
            match field {
                Some(count) => {
                    out.push(cell(words[at..at + count].join(" ")));
                    at += count;
                }
                None => {
                    what.push(words[at]);
                    at += 1;
                }
            }
        }
        if !what.is_empty() {
            out.push(cell(what.join(" ")));
        }
        out
    }

    /// A field of a typed row, by its content.
    fn field(&self, pin: &mut Pin, cell: &Cell) -> Result<(), Problem> {
        let lower = cell.text.to_lowercase();
        if nothing(&cell.text, &self.catalogue.columns) || lower == "?" {
            return Ok(());
        }
        if let Some(rest) = lower.strip_prefix("fuse ").or_else(|| lower.strip_suffix(" fuse")) {
            let fuse = Cell { text: rest.trim().to_owned(), span: cell.span };
            pin.fuse = self::fuse(&fuse)?;
            return Ok(());
        }
        if cell.text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-')) || lower.starts_with("awg") {
            let found = quantity::parse(&cell.text.replace(',', ".")).map_err(|error| {
                Problem::at(cell.span, format!("\"{}\": {error}", cell.text))
                    .help("amps: 3.5 A; watts: 21 W; size: 1.5 mm2; how far: 1.2 m")
            })?;
            let slot = match found.unit {
                Unit::Amp => &mut pin.amps,
                Unit::SquareMillimetre => &mut pin.area,
                Unit::Metre => &mut pin.by,
                Unit::Watt => {
                    pin.amps = Some(found.value / self.volts);
                    return Ok(());
                }
                unit => {
                    let says = match unit {
                        Unit::One => format!("\"{}\" has no unit", cell.text),
                        unit => format!("\"{}\" is in {}: nothing of a pin", cell.text, unit.symbol()),
                    };
                    return Err(
                        Problem::at(cell.span, says).help("amps: 3.5 A; watts: 21 W; size: 1.5 mm2; how far: 1.2 m")
                    );
                }
            };
            if slot.is_some() {
                let says = format!("\"{}\" is a second figure in {}", cell.text, found.unit.symbol());
                return Err(Problem::at(cell.span, says).help("one of a kind; the fuse is written: fuse 10 A"));
            }
            *slot = Some(found.value);
            return Ok(());
        }
        if pin.colour.is_none() {
            match colour(cell, self.colours) {
                Ok(word) => {
                    pin.colour = Some(word);
                    return Ok(());
                }
                // Letters of a maker have to be told; any other word is what the wire is for.
                Err(problem) if problem.help.as_deref().is_some_and(|help| help.contains("--code")) => {
                    return Err(problem);
                }
                Err(_) => {}
            }
        }
        if !pin.what.is_empty() {
            pin.what.push_str(", ");
        }
        pin.what.push_str(&cell.text);
        Ok(())
    }

    fn names(&mut self, pin: &Pin, number: usize) {
        for (what, name) in [("plug", &pin.plug), ("way", &pin.way)] {
            if !is_name(name) {
                let says = format!("row {number}: \"{name}\" is no name for a {what}");
                self.problems.push(
                    Problem::whole(says)
                        .help("letters, digits, - and _; a row begins with its way: 4, black/white, horn, 3.5 A"),
                );
            }
        }
    }
}

/// A way or plug as a name: `pin 4` is 4, `A.1` is A-1.
fn plain(text: &str) -> String {
    let lower = text.trim().to_lowercase();
    let head = ["pin ", "way ", "cavity ", "no. ", "no "].iter().find(|head| lower.starts_with(**head));
    let rest = text.trim().get(head.map_or(0, |head| head.len())..).unwrap_or("").trim().trim_start_matches('#');
    let dashed: String = rest.chars().map(|c| if matches!(c, '.' | '/' | '\\') { '-' } else { c }).collect();
    dashed.trim_matches('-').to_owned()
}

/// A figure in this unit, with that of its heading where it has none.
fn amount(cell: &Cell, unit: Option<&str>, wanted: Unit) -> Result<f64, Problem> {
    let text = cell.text.trim().replace(',', ".");
    let example = if wanted == Unit::Watt { "21 W" } else { "3.5 A" };
    let wrong = |says: String| Problem::at(cell.span, says).help(format!("write it like this: {example}"));
    let found = quantity::parse(&text).map_err(|error| wrong(format!("\"{}\": {error}", cell.text)))?;
    let found = match (found.unit, unit) {
        (Unit::One, Some(unit)) => {
            quantity::parse(&format!("{text} {unit}")).map_err(|error| wrong(format!("\"{}\": {error}", cell.text)))?
        }
        _ => found,
    };
    if found.unit != wanted {
        return Err(wrong(format!("\"{}\" is in {}, not in {}", cell.text, found.unit.symbol(), wanted.symbol())));
    }
    Ok(found.value)
}

/// The amps of a fuse, `10`, `15 A`, `F3 10 A`; a name alone tells none.
fn fuse(cell: &Cell) -> Result<Option<f64>, Problem> {
    let words: Vec<&str> =
        cell.text.split_whitespace().filter(|word| word.contains(|c: char| c.is_ascii_digit())).collect();
    match words.iter().rfind(|word| word.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-'))) {
        Some(_) if words.len() == 1 => amount(cell, Some("A"), Unit::Amp).map(Some),
        Some(figure) => amount(&Cell { text: (*figure).to_owned(), span: cell.span }, Some("A"), Unit::Amp).map(Some),
        None => Ok(None),
    }
}

/// A figure that has been checked.
fn value(text: &str) -> f64 {
    quantity::parse(text).map_or(0.0, |q| q.value)
}

fn said(text: &str) -> Text {
    Text { text: text.to_owned(), ..Text::default() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<PinList, Vec<Problem>> {
        pins(&Source::new("pins.csv", text), "plug", 12.0, &[], &Catalogue::builtin())
    }

    #[test]
    fn lists_with_headings_in_peoples_spelling() {
        let list = read("Pin;Wire colour;Circuit;Current (A);Fuse\n1;BLK/WHT;horn;3,5;10\n2;Red;feed;;15 A\n").unwrap();
        let first = &list.pins[0];
        assert_eq!(
            (first.way.as_str(), first.colour.as_deref(), first.what.as_str()),
            ("1", Some("black/white"), "horn")
        );
        assert_eq!(
            (first.amps, first.fuse, list.pins[1].amps, list.pins[1].fuse),
            (Some(3.5), Some(10.0), None, Some(15.0))
        );
        let list = read("cavity,color,function,watts,gauge,longer by\nA,green,stop lamp,21,16 AWG,4 ft\n").unwrap();
        let pin = &list.pins[0];
        assert_eq!(pin.amps, Some(1.75));
        assert!((pin.area.unwrap() - 1.309).abs() < 1e-3 && (pin.by.unwrap() - 1.2192).abs() < 1e-9);
    }

    #[test]
    fn lists_without_headings_are_read_by_their_content() {
        let list = read(
            "# my plug\n1, orange, turn left, 21 W\n2, black/white, horn, 3.5 A, fuse 10 A\n3, brown\n4, none, spare\n",
        )
        .unwrap();
        assert_eq!(list.pins.len(), 4);
        assert_eq!((list.pins[1].amps, list.pins[1].fuse, list.pins[1].what.as_str()), (Some(3.5), Some(10.0), "horn"));
        assert_eq!(list.pins[0].amps, Some(1.75));
        assert_eq!(list.pins[3].colour, None);
    }

    #[test]
    fn ways_and_uses_as_people_write_them() {
        let list = read("Pin #,Wire Color,From,To,Max Current\nPin 4,Blk/Wht,horn,frame,3.5\nA.1,red,key,fuse box,\n")
            .unwrap();
        let [first, second] = list.pins.as_slice() else { panic!("{list:?}") };
        assert_eq!((first.way.as_str(), first.what.as_str(), first.amps), ("4", "horn to frame", Some(3.5)));
        assert_eq!((second.way.as_str(), second.amps), ("A-1", None));
        let list = read("cavity,colour,load\n1,red,21 W\n2,blue,horn\n").unwrap();
        assert_eq!((list.pins[0].amps, list.pins[1].what.as_str()), (Some(1.75), "horn"));
    }

    #[test]
    fn rows_with_blanks_only_are_understood_too() {
        let list = read("1 black/white horn 3.5 A\n2 light blue left turn lamp 21 W fuse 10 A\n3 brown\n").unwrap();
        let first = &list.pins[0];
        assert_eq!(
            (first.colour.as_deref(), first.what.as_str(), first.amps),
            (Some("black/white"), "horn", Some(3.5))
        );
        let second = &list.pins[1];
        assert_eq!((second.colour.as_deref(), second.what.as_str()), (Some("light blue"), "left turn lamp"));
        assert_eq!((second.amps, second.fuse), (Some(1.75), Some(10.0)));
        assert_eq!(list.pins[2].colour.as_deref(), Some("brown"));
        // Who has no numbers begins with the colour: the rows are counted.
        for rows in ["orange horn 3.5 A\nblack/white ground\n", "orange, horn, 3.5 A\nblack/white, ground\n"] {
            let list = read(rows).unwrap();
            let second = &list.pins[1];
            assert_eq!((list.pins[0].way.as_str(), list.pins[0].colour.as_deref()), ("1", Some("orange")));
            assert_eq!(
                (second.way.as_str(), second.colour.as_deref(), second.what.as_str()),
                ("2", Some("black/white"), "ground")
            );
        }
    }

    #[test]
    fn a_fuse_is_told_by_its_amps_and_its_name_alone_tells_nothing() {
        let list = read("pin,colour,fuse\n1,red,F3\n2,blue,F3 10A\n3,green,7.5\n4,grey,15 A\n").unwrap();
        let fuses: Vec<Option<f64>> = list.pins.iter().map(|pin| pin.fuse).collect();
        assert_eq!(fuses[..4], [None, Some(10.0), Some(7.5), Some(15.0)]);
    }

    #[test]
    fn every_problem_comes_with_its_row() {
        let problems = read("pin,colour,amps\n1,red,3 V\n1,bluw,2 A\n2,BL,1\n").unwrap_err();
        let told: String = problems.iter().map(|p| format!("{}\n", p.text)).collect();
        for says in ["row 2, column \"amps\"", "row 3, column \"colour\"", "row 4, column \"colour\"", "stands twice"] {
            assert!(told.contains(says), "{says}: {told}");
        }
        let problems = read("1, red, 5\n2, blue, 3 V\n").unwrap_err();
        assert_eq!(problems.len(), 2, "{problems:#?}");
    }
}
