//! Good inputs, spoilt by chance.

use super::{SMALL, lines, other_file, said, wiring_file};
use fastrand::Rng;

const ODD: [&str; 22] = [
    "\0",
    "\u{202e}",
    "\u{1b}[31m",
    "\"",
    "'",
    ": ",
    "- ",
    "{",
    "}",
    "[",
    "]",
    "&a ",
    "*a",
    "#",
    "1e999",
    "-0",
    "nan",
    "\r\n",
    "\t",
    "é",
    ".",
    ",",
];
const SHEET: &str = "from,to,colour,size,length,plug,way\nlamp.feed,horn.feed,brown,1.5 mm2,2 m,,\nhorn.ground,G1,black,1.5 mm2,0.5 m,P9,4\n";
const KIND: &str = include_str!("../../rules/kinds/horn.yaml");
const WORDS: [&str; 12] = [
    "the rev needle jumps when I press the horn",
    "the left turn signals flash fast when the brake is pressed, key on",
    "fuse F1 blows when I turn the lights on",
    "12.6 V 0.02",
    "jumps 2 to 5",
    "350 mV OL dim",
    "rev gauge ground to battery minus 0.35 V horn pressed",
    "horn2: horn, 3.5 A, nose",
    "remove lamp.ground\nlamp.ground to G1, black, 1.5 mm2, 1 m, beep",
    "y\ny\n5=6\n7 dead\n4+6\nall good\nback\nskip\n",
    "plug 3, 3\nseen wire side, latch up\nwires red, blue, -, green\npositions off, on*\nheld on\nsafe y\n\naaa",
    "change main-fuse: fuse, 30 A",
];
const SCRIPTS: [&str; 6] = [
    r#"{"instrument":"volts-dc","red":"rev-gauge.ground","black":"battery.neg","set":{"key":"on","horn-push":"pressed"},"after":[{"key":"start"}],"open":["P9"],"bridge":[["main-fuse.in","main-fuse.out","lamp 21 W"]],"fit":{"horn":"load(4)"},"disturb":{"how":"wiggle","at":"P9"}}"#,
    r#"{"instrument":"watch","part":"horn","change":{"horn-push":["released","pressed"]}}"#,
    "lamp-ground_G1:resistive(2) + main-fuse:blown",
    "{\"saw\":\"the lamp is dim\"}\n{\"reading\":{\"value\":0.35,\"unit\":\"V\"}}\n{\"skip\":true}\n{\"measured\":{\"test\":{\"instrument\":\"ohms\",\"red\":\"lamp.feed\",\"black\":\"G1\",\"open\":[\"battery\"]},\"reading\":{\"value\":\"OL\"}}}\n{\"back\":true}\n{\"cured\":true,\"blown\":[\"main-fuse\"]}",
    "{\"symptom\":{\"part\":\"lamp\",\"showing\":\"dark\",\"set\":{\"switch\":\"on\"},\"cured-by\":{\"set\":{\"switch\":\"off\"}}}}\n{\"fixed\":[\"lamp\"]}\n{\"was\":\"the lamp was dim\"}\n{\"stop\":true}",
    "{\"ohmward-trail\":1,\"number\":1,\"machine\":\"Bench\",\"wiring\":\"5e\",\"started\":\"2026-01-01T00:00:00+00:00\",\"complaint\":\"x\"}\n{\"at\":\"t\",\"input\":{\"skip\":true}}\n{\"at\":\"t\",\"end\":\"done\"}\n",
];

/// A good input with a few places spoilt.
fn spoilt(good: &str, rng: &mut Rng) -> Vec<u8> {
    let mut bytes = good.as_bytes().to_vec();
    for _ in 0..rng.usize(..5) {
        let (a, b) = (rng.usize(..=bytes.len()), rng.usize(..=bytes.len()));
        let (from, to) = (a.min(b), a.max(b).min(a.min(b) + 40));
        match rng.u8(..5) {
            0 => drop(bytes.drain(from..to)),
            1 => {
                let piece = bytes[from..to].to_vec();
                bytes.splice(from..from, piece);
            }
            2 => drop(bytes.splice(from..from, ODD[rng.usize(..ODD.len())].bytes())),
            3 if from < bytes.len() => bytes[from] = rng.u8(..),
            _ => bytes.truncate(if rng.u8(..4) == 0 { from } else { bytes.len() }),
        }
    }
    bytes
}

fn throw(rounds: usize, good: &[&str], seed: u64, at: impl Fn(&[u8])) {
    let mut rng = Rng::with_seed(seed);
    for _ in 0..rounds {
        let bytes = spoilt(good[rng.usize(..good.len())], &mut rng);
        // What was thrown is told where it goes wrong.
        let kept = bytes.clone();
        let thrown = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| at(&bytes)));
        assert!(thrown.is_ok(), "{:?}", String::from_utf8_lossy(&kept));
    }
}

/// The same for every reader that the first byte can choose.
fn throw_to_each(readers: u8, rounds: usize, good: &[&str], seed: u64, at: impl Fn(&[u8])) {
    for reader in 0..readers {
        throw(rounds, good, seed + u64::from(reader), |bytes| at(&[&[reader], bytes].concat()));
    }
}

#[test]
fn wiring_files_spoilt_by_chance_are_answered() {
    throw(400, &[SMALL], 1, wiring_file);
}

#[test]
fn other_files_spoilt_by_chance_are_answered() {
    throw_to_each(8, 60, &[KIND, SHEET, "spools:\n  - red 1.5 mm2 10 m\n"], 2, other_file);
}

#[test]
fn words_spoilt_by_chance_are_answered() {
    throw_to_each(7, 150, &WORDS, 3, said);
}

#[test]
fn scripts_spoilt_by_chance_are_answered() {
    throw_to_each(4, 60, &SCRIPTS, 4, lines);
}
