//! Spreadsheets in and out: what is exported comes in as the same wiring, and sheets as people have them are understood.

use crate::machines::{all, built};
use ohmward::catalogue::Catalogue;
use ohmward::netlist::Netlist;
use ohmward::text::problem::Problem;
use ohmward::text::span::Source;
use ohmward::wiring::edit::Draft;
use ohmward::wiring::sheet::{How, Import, Options, export, import};
use proptest::prelude::*;

fn draft<'c>(text: &str, rules: &'c Catalogue) -> Draft<'c> {
    Draft::open(Source::new("wiring.yaml", text), rules).unwrap_or_else(|refusal| panic!("{:?}", refusal.problems))
}

fn told(problems: &[Problem], sheet: &Source) -> String {
    problems.iter().map(|problem| problem.render(sheet)).collect()
}

fn take<'c>(text: &str, draft: &Draft<'c>, options: &Options) -> Result<Import<'c>, String> {
    let sheet = Source::new("t.csv", text);
    import(&sheet, draft, options).map_err(|problems| told(&problems, &sheet))
}

/// All that a netlist says, but where it is written.
fn facts(net: &Netlist) -> String {
    let text = format!("{net:#?}");
    let lines: Vec<&str> = text.lines().collect();
    let place = |line: &str| {
        let line = line.trim();
        line.starts_with("span: Span")
            || line.starts_with("start: ")
            || line.starts_with("end: ") && line.ends_with(',') && line[5..line.len() - 1].parse::<usize>().is_ok()
    };
    lines.into_iter().filter(|line| !place(line)).collect::<Vec<_>>().join("\n")
}

#[test]
fn what_is_exported_comes_in_as_the_same_wiring() {
    for built in all() {
        let csv = export(&built.wiring).unwrap();
        assert!(csv.lines().count() > 40, "{}", built.name);
        let empty = draft("machine: x\n", &built.catalogue);
        let taken = take(&csv, &empty, &Options::default()).unwrap_or_else(|e| panic!("{}: {e}", built.name));
        assert!(taken.draft.problems().is_empty());
        assert!(taken.columns.iter().all(|column| column.holds.is_some()), "{:?}", taken.columns);
        let (now, was) = (facts(taken.draft.netlist()), facts(&built.net));
        if let Some((n, (a, b))) = now.lines().zip(was.lines()).enumerate().find(|(_, (a, b))| a != b) {
            panic!("{}: line {n} of its netlist is {a} and was {b}", built.name);
        }
        // And again into what is there: nothing changes.
        let again = take(&csv, &taken.draft, &Options::default()).unwrap_or_else(|e| panic!("{}: {e}", built.name));
        assert_eq!(facts(again.draft.netlist()), now, "{}", built.name);
    }
}

const BENCH: &str = "\
machine: Bench  # mine
places: {dash: easy}
parts:
  battery: battery, dash
  horn: horn, 4 A, dash
  main-fuse: fuse, 10 A, dash
wires:
  - battery.pos to main-fuse.in, red, 1 m  # thick
grounds:
  G1: dash
";

fn rows(text: &str) -> Vec<String> {
    let rules = Catalogue::builtin();
    let taken = take(text, &draft(BENCH, &rules), &Options::default()).unwrap_or_else(|e| panic!("{text}\n{e}"));
    assert!(taken.draft.text().contains("red, 1 m  # thick") || text.contains("battery"), "{}", taken.draft.text());
    taken.rows.into_iter().filter(|row| row.number.is_some()).map(|row| row.row).collect()
}

#[test]
fn sheets_as_people_have_them() {
    // Semicolons, a mark at the start, decimal comma, units in the headings, title rows, order of their own.
    let text = "\u{feff}My loom;;;\r\n\r\nLänge;Colour;Length (cm);From;Gauge (mm²);To\r\n;RED/WHT;120;Main fuse out;1,5;horn.feed\r\n;Blk;80;Horn;2,5;Ground\r\n";
    assert_eq!(
        rows(text),
        ["main-fuse.out to horn.feed, red/white, 1.5 mm2, 120 cm", "Horn.ground to frame, black, 2.5 mm2, 80 cm, ?"]
            .map(|row| row.replace("Horn", "horn"))
    );
    // Tabs, pins in columns of their own, AWG without a word in the cells, feet and inches.
    let text = "From\tPin\tTo\tPin\tAWG\tLength\tNotes\nmain-fuse\tout\thorn\t+\t16\t3 ft\tbehind the tank\nhorn\tground\tG1\t\t14\t8 in\t\n";
    assert_eq!(rows(text), ["main-fuse.out to horn.feed, 16 AWG, 3 ft", "horn.ground to G1, 14 AWG, 8 in"]);
    // A plug's sheet: the plug named once; none where no wire is.
    let text = "Connector,Cavity,Old color,New color,From,To,Tested\nP7,1,red,same,main-fuse.out,horn.feed,yes\n,2,blk,white,horn.ground,G1,no\n,3,,,,-,\n";
    assert_eq!(
        rows(text),
        [
            "1, red, same, main-fuse.out, horn.feed, ok",
            "2, black, white, horn.ground, G1, ?",
            "3, none, same, none, none"
        ]
    );
}

#[test]
fn what_is_there_is_changed_where_it_says_something_else() {
    let rules = Catalogue::builtin();
    let text = "from,to,colour,length\nbattery.pos,main-fuse.in,red,1 m\n";
    let taken = take(text, &draft(BENCH, &rules), &Options::default()).unwrap();
    assert_eq!((taken.rows[0].how, taken.draft.text()), (How::There, BENCH));
    let text = "from,to,colour,length\nbattery.pos,main-fuse.in,blue,2 m\nmain-fuse.out,horn.feed,,\n";
    let taken = take(text, &draft(BENCH, &rules), &Options::default()).unwrap();
    let expected = BENCH.replace("red, 1 m  # thick\n", "blue, 2 m  # thick\n  - main-fuse.out to horn.feed\n");
    assert_eq!((taken.rows[0].how, taken.rows[1].how, taken.draft.text()), (How::Changed, How::New, expected.as_str()));
}

#[test]
fn parts_that_are_not_there_get_the_kind_that_their_name_says() {
    let rules = Catalogue::builtin();
    let text = "from,to\nmain-fuse.out,left head lamp +\nleft head lamp,gnd\nmain-fuse.out,radio box\n";
    let text = text.replace("radio box", "mystery box.feed");
    let taken = take(&text, &draft(BENCH, &rules), &Options::default()).unwrap_or_else(|e| panic!("{e}"));
    let kinds: Vec<&str> = taken.draft.netlist().parts.values().map(|part| part.kind.as_str()).collect();
    assert!(kinds.contains(&"unknown module") && kinds.len() == 5, "{kinds:?}");
    // A number behind a name counts parts; one of two digits may be a pin, and that is told. The fuse is in the circuit.
    let text = "from,to\nbattery +,Fuse 1\nFuse 1,Horn Button 2\nHorn Button 2,lamp relay 86\n";
    let taken = take(text, &draft(BENCH, &rules), &Options::default()).unwrap_or_else(|e| panic!("{e}"));
    let rows: Vec<&str> = taken.rows.iter().filter(|row| row.number.is_some()).map(|row| row.row.as_str()).collect();
    assert_eq!(
        rows,
        ["battery.pos to Fuse-1.in, ?", "Fuse-1.out to Horn-Button-2.a, ?", "Horn-Button-2.b to lamp-relay.86, ?"]
    );
    let again = take(text, &taken.draft, &Options::default()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(again.draft.text(), taken.draft.text());
    let error = take("from,to\nECU.17,horn.feed\n", &draft(BENCH, &rules), &Options::default()).unwrap_err();
    assert!(error.contains("ohmward wire \"ECU: KIND") && error.contains("row 2, column \"from\""), "{error}");
}

#[test]
fn every_problem_is_told_by_row_and_column() {
    let rules = Catalogue::builtin();
    let text = "From;To;Colour;Size;Length;Proof\nhorn.fed;G1;red;1,5 mm2;1 m;\nhorn.ground;G1;blak;1,5;2 kg;\nmain-fuse.out;;BL;;;maybe\nG9;horn.feed;;;;\n";
    let error = take(text, &draft(BENCH, &rules), &Options::default()).unwrap_err();
    for says in [
        "line 2: row 2, column \"From\": horn has no pin \"fed\"",
        "nearest: feed",
        "row 3, column \"Colour\": \"blak\"",
        "row 3, column \"Size\": \"1,5\" has no unit",
        "row 3, column \"Length\"",
        "row 4, column \"To\": a wire has two ends",
        "row 4, column \"Colour\": the code BL",
        "--code BL=black",
        "row 4, column \"Proof\": \"maybe\" is no proof mark",
    ] {
        assert!(error.contains(says), "{says}\n{error}");
    }
    // What only the wiring itself shows is told at its cell too.
    let text = "from,to,colour\nhorn.ground,G1,red\nhorn.feed,horn.feed,red\n";
    let error = take(text, &draft(BENCH, &rules), &Options::default()).unwrap_err();
    assert!(error.contains("row 3, column \"") && error.contains("begins and ends"), "{error}");
    for (text, says) in [
        ("", "headings"),
        ("a wire\nanother\n", "headings"),
        ("from,to\n\"a,b\n", "never closed"),
        ("section,name,row\nwibble,x,y\n", "no section"),
        ("way,old,new,from,to\n1,red,same,horn.feed,G1\n", "--plug"),
    ] {
        let error = take(text, &draft(BENCH, &rules), &Options::default()).unwrap_err();
        assert!(error.contains(says), "{text:?}: {error}");
    }
    let options = Options { plug: Some("P3".into()), colours: vec![("BL".into(), "blue".into())] };
    let taken = take("way,old,new,from,to\n1,BL,same,horn.feed,G1\n", &draft(BENCH, &rules), &options).unwrap();
    let way = &taken.draft.netlist().wires["P3a-1-old"];
    assert_eq!(way.colour.as_deref(), Some("blue"));
}

/// Cells that a sheet may have, sound and not.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(String::new()),
        prop::sample::select(vec![
            "horn.feed",
            "horn",
            "G1",
            "gnd",
            "main-fuse.out",
            "red",
            "1,5",
            "2 m",
            "ok",
            "P1",
            "1",
            "none",
            "# x",
            "a: b",
            "\"",
            "[x"
        ])
        .prop_map(String::from),
        "[ -~]{0,8}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn any_sheet_is_taken_whole_or_refused_with_its_problems(
        heads in prop::sample::subsequence(vec!["from", "to", "colour", "size (mm2)", "length", "plug", "way", "old", "new", "proof", "note", "name", "section", "row"], 2..8),
        body in prop::collection::vec(prop::collection::vec(cell(), 8), 0..5),
    ) {
        let rules = Catalogue::builtin();
        let before = draft(BENCH, &rules);
        let line = |cells: &[String]| cells.iter().map(|c| ohmward::text::csv::quoted(c)).collect::<Vec<_>>().join(",");
        let heads: Vec<String> = heads.into_iter().map(String::from).collect();
        let text = std::iter::once(line(&heads)).chain(body.iter().map(|row| line(row))).collect::<Vec<_>>().join("\n");
        match take(&text, &before, &Options::default()) {
            Ok(taken) => {
                prop_assert!(taken.draft.problems().is_empty());
                // What was there by name is there still.
                for part in before.netlist().parts.keys() {
                    prop_assert!(taken.draft.netlist().parts.contains_key(part), "{}", taken.draft.text());
                }
            }
            Err(said) => prop_assert!(!said.is_empty()),
        }
    }
}

#[test]
fn a_machine_of_ours_survives_a_spreadsheet_of_theirs() {
    // Columns turned round, semicolons, and the file that it came from as the target.
    let built = built("verge-mower");
    let csv = export(&built.wiring).unwrap();
    let sheet = Source::new("t.csv", csv.as_str());
    let rows = ohmward::text::csv::read(&sheet, ',').unwrap();
    let turned: String = rows
        .iter()
        .map(|(_, row)| {
            row.iter().rev().map(|cell| ohmward::text::csv::quoted(&cell.text)).collect::<Vec<_>>().join(";") + "\r\n"
        })
        .collect();
    let whole = draft(&built.wiring.text, &built.catalogue);
    let taken = take(&turned, &whole, &Options::default()).unwrap_or_else(|e| panic!("{e}"));
    assert_eq!(facts(taken.draft.netlist()), facts(&built.net));
    for line in built.wiring.text.lines().filter(|line| line.trim_start().starts_with('#')) {
        assert!(taken.draft.text().contains(line), "{line}");
    }
}
