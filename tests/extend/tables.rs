//! Sizes, amps and ohms of planned wires beside tables printed elsewhere (sources in the files' heads).

use super::{number, rows};
use ohmward::catalogue::Catalogue;
use ohmward::harness::extend::size::Need;
use ohmward::harness::extend::{Amps, Ask, Known, Stock, Strand, plan};
use ohmward::netlist::Joint;

/// Square millimetres of a gauge: ASTM B258, d = 0.127 · 92^((36 − n)/39) mm.
fn area(awg: &str) -> f64 {
    let n = match awg {
        "00" | "2/0" => -1.0,
        "000" | "3/0" => -2.0,
        "0000" | "4/0" => -3.0,
        awg => number(awg),
    };
    let diameter = 0.127 * 92f64.powf((36.0 - n) / 39.0);
    std::f64::consts::PI / 4.0 * diameter * diameter
}

const EASY: Need =
    Need { amps: 0.0, peak: 0.0, fuse: None, air: 30.0, length: 1.0, may_lose: f64::INFINITY, old: None };

/// Gauges of a table as sizes, rising.
fn gauges(names: impl Iterator<Item = String>) -> Vec<f64> {
    let mut sizes: Vec<f64> = names.map(|awg| area(&awg)).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.dedup();
    sizes
}

/// The 3 % table counts feet out and back together. Its K of 10.75 ohm circular mil a foot is 0.01787 ohm mm²/m; this
/// project's copper with its lay is 0.01810, so a cell within 1.3 % of the limit may ask for one size more here.
#[test]
fn sizes_by_drop_are_those_of_a_published_table_and_its_five_undersized_cells_are_not_followed() {
    let rules = Catalogue::builtin();
    let table = rows(include_str!("../reference/wire_size_3percent.csv"));
    let sizes = gauges(table.iter().map(|row| row[2].clone()));
    let ratio = rules.wire.resistivity * rules.wire.lay / (10.75 * 5.067_075e-4 / 0.3048);
    let (mut same, mut thicker) = (0, 0);
    for row in &table {
        let (feet, amps, published) = (number(&row[0]), number(&row[1]), area(&row[2]));
        let need = Need { peak: amps, length: feet * 0.3048, may_lose: 0.03 * 12.0, ..EASY };
        let Some((ours, _)) = need.thinnest(&sizes, &rules) else {
            // Nothing in the table is thick enough: then its own thickest has to lose too much.
            assert!(number(&row[3]) * ratio > 3.0, "{row:?}");
            thicker += 1;
            continue;
        };
        let volts = amps * rules.wire.ohms(ours, feet * 0.3048);
        assert!(volts <= 0.36 + 1e-9, "{row:?}: {volts}");
        if number(&row[3]) * ratio > 3.0 {
            assert!(ours > published * 1.001, "{row:?}: {ours} mm2 loses too much");
            thicker += 1;
        } else {
            assert!(ours <= published * 1.001, "{row:?}: {ours} mm2 is thicker than need be");
            same += usize::from((ours / published - 1.0).abs() < 1e-3);
        }
        if row[4] == "yes" {
            assert!(ours > published * 1.001, "{row:?} is undersized in the table");
        }
    }
    assert_eq!(table.len(), 104);
    assert!(same >= 80 && thicker >= 5, "{same} the same, {thicker} thicker");
}

#[test]
fn sizes_by_amps_change_at_the_published_amps() {
    let rules = Catalogue::builtin();
    let table = rows(include_str!("../reference/ampacity.csv"));
    let sizes = gauges(table.iter().map(|row| row[0].clone()));
    for row in &table {
        let (size, cool) = (area(&row[0]), number(&row[1]));
        let thinnest = |amps: f64, air: f64| Need { amps, air, ..EASY }.thinnest(&sizes, &rules).map(|found| found.0);
        assert!((thinnest(0.99 * cool, 30.0).unwrap() / size - 1.0).abs() < 0.01 || row[0] == "18", "{row:?}");
        assert!(thinnest(1.01 * cool, 30.0).is_none_or(|found| found > 1.01 * size), "{row:?}");
        // In an engine space the table has whole amps, rounded down.
        let warm = number(&row[2]);
        assert!(thinnest(0.96 * warm, 50.0).unwrap() <= size * 1.01, "{row:?}");
        assert!(thinnest(1.04 * warm, 50.0).is_none_or(|found| found > 1.01 * size), "{row:?}");
    }
}

fn strand(area: f64, by: f64, amps: f64) -> (Strand, Ask) {
    let strand = Strand {
        group: "P1a".into(),
        in_plug: true,
        way: "1".into(),
        what: String::new(),
        kinds: Vec::new(),
        old: Some("red".into()),
        old_area: None,
        old_length: None,
        beside: Vec::new(),
        before: 0.0,
        by,
        amps: Amps { good: amps, peak: amps, known: Known::Told, fuse: None },
        air: 30.0,
        may_lose: 0.18,
        site: None,
    };
    let stock = Stock::default();
    (strand, Ask { joint: Joint::CrimpSleeve, size: Some(area), slack: None, amps: Vec::new(), stock })
}

/// Copper of a planned row, ohm a metre.
fn ohm_a_metre(area: f64) -> f64 {
    let rules = Catalogue::builtin();
    let (strand, ask) = strand(area, 9.0, 1.0);
    let made = plan(&[strand], &ask, &rules);
    let row = &made.rows[0];
    (row.ohms - 2.0 * rules.joints["crimp-sleeve"].ohms) / row.length
}

#[test]
fn added_ohms_are_those_of_published_gauges_and_below_what_iec_60228_allows() {
    // Stranded wire is up to 5 % longer than the cable: lay (rules/wire.yaml).
    for row in rows(include_str!("../reference/awg.csv")) {
        if (-3.0..=20.0).contains(&number(&row[1])) {
            let ratio = 1000.0 * ohm_a_metre(area(&row[0])) / number(&row[2]);
            assert!((0.995..1.06).contains(&ratio), "{row:?}: {ratio}");
        }
    }
    for row in rows(include_str!("../reference/iec_60228.csv")) {
        let ratio = 1000.0 * ohm_a_metre(number(&row[0])) / number(&row[2]);
        assert!((0.85..1.0).contains(&ratio), "{row:?}: {ratio} of the longest that class 5 allows");
    }
}

/// A handbook sum: 8 A through 1.32 m of 1.5 mm², copper 0.0172414 · 1.05 ohm mm²/m.
#[test]
fn a_row_can_be_worked_out_by_hand() {
    let rules = Catalogue::builtin();
    let (strand, ask) = strand(1.5, 1.2, 8.0);
    let made = plan(&[strand], &ask, &rules);
    let row = &made.rows[0];
    // 1.2 m and 5 %, 5 mm, 8 mm, 40 mm: 1.313 m, rounded up.
    assert!((row.length - 1.32).abs() < 1e-9, "{}", row.length);
    let ohms = 0.017_241_4 * 1.05 * 1.32 / 1.5 + 2.0 * rules.joints["crimp-sleeve"].ohms;
    assert!((row.ohms - ohms).abs() < 1e-9 && (row.volts - 8.0 * ohms).abs() < 1e-9, "{row:?}");
}
