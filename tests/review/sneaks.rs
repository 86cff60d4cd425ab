//! Sneak paths against exhaustive switching: on small drawn machines every setting is tried and every simple path from
//! battery plus to minus walked, by a search that knows nothing of volts.

use super::{found, of};
use ohmward::review::Finding;
use std::collections::BTreeSet;

/// Feed, ground, then junctions.
const FEED: usize = 0;
const GROUND: usize = 1;

/// A switch or a lamp between two nodes.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Piece {
    lamp: bool,
    a: usize,
    b: usize,
}

/// A machine drawn at random: lamps and switches between feed, ground and a few junctions.
fn drawn(seed: u64) -> Vec<Piece> {
    let mut rng = fastrand::Rng::with_seed(seed);
    let junctions = 2 + rng.usize(0..3);
    let mut pieces = Vec::new();
    for number in 0..3 + rng.usize(0..3) {
        let to = 2 + rng.usize(0..junctions);
        // The first switches feed junctions, later ones may join or ground them.
        let from = match number {
            0 | 1 => FEED,
            _ => [FEED, GROUND, 2 + rng.usize(0..junctions), 2 + rng.usize(0..junctions)][rng.usize(0..4)],
        };
        pieces.push(Piece { lamp: false, a: from, b: to });
    }
    for _ in 0..2 + rng.usize(0..3) {
        let from = 2 + rng.usize(0..junctions);
        let to = if rng.usize(0..3) > 0 { GROUND } else { 2 + rng.usize(0..junctions) };
        pieces.push(Piece { lamp: true, a: from, b: to });
    }
    pieces.retain(|piece| piece.a != piece.b);
    pieces
}

fn name(index: usize, piece: &Piece) -> String {
    format!("{}{index}", if piece.lamp { "lamp" } else { "sw" })
}

/// The wiring file of a drawn machine. Wires are called by the piece that they end at, so that each finding's site tells it.
fn wiring(pieces: &[Piece]) -> String {
    let mut parts = String::from("  battery: battery, 12 V, 60 Ah, here\n  F: fuse, 30 A, here\n");
    let mut wires = String::from(
        "  - battery.pos to F.in, red, 6 mm2, 0.2 m\n  - F.out to N0, red, 6 mm2, 0.2 m\n  - N1 to battery.neg, black, 6 mm2, 0.2 m\n",
    );
    for (index, piece) in pieces.iter().enumerate() {
        let name = name(index, piece);
        let (kind, a, b) = if piece.lamp { ("lamp, 21 W", "feed", "ground") } else { ("toggle switch", "a", "b") };
        parts.push_str(&format!("  {name}: {kind}, here\n"));
        wires.push_str(&format!("  - W-{name}-a: N{} to {name}.{a}, red, 2.5 mm2, 0.3 m\n", piece.a));
        wires.push_str(&format!("  - W-{name}-b: {name}.{b} to N{}, red, 2.5 mm2, 0.3 m\n", piece.b));
    }
    let top = pieces.iter().flat_map(|piece| [piece.a, piece.b]).max().unwrap_or(1);
    let sleeves: String = (0..=top.max(1)).map(|node| format!("  N{node}: crimp sleeve, here\n")).collect();
    format!("machine: Drawn\nplaces: {{here: easy}}\nparts:\n{parts}sleeves:\n{sleeves}wires:\n{wires}")
}

/// A step along a path: the piece, and whether it is passed from `a` to `b`.
type Step = (usize, bool);

/// Every simple path from feed to ground with these switches closed.
fn paths(pieces: &[Piece], closed: u32) -> Vec<Vec<Step>> {
    fn go(
        pieces: &[Piece],
        closed: u32,
        at: usize,
        seen: &mut Vec<usize>,
        way: &mut Vec<Step>,
        out: &mut Vec<Vec<Step>>,
    ) {
        if at == GROUND {
            out.push(way.clone());
            return;
        }
        for (index, piece) in pieces.iter().enumerate() {
            if !piece.lamp && closed & (1 << index) == 0 {
                continue;
            }
            for (from, to, forward) in [(piece.a, piece.b, true), (piece.b, piece.a, false)] {
                if from == at && !seen.contains(&to) {
                    seen.push(to);
                    way.push((index, forward));
                    go(pieces, closed, to, seen, way, out);
                    way.pop();
                    seen.pop();
                }
            }
        }
    }
    let mut out = Vec::new();
    go(pieces, closed, FEED, &mut vec![FEED], &mut Vec::new(), &mut out);
    // With no lamp on the way it is a short: the fuse blows and nothing flows.
    if out.iter().any(|path| path.iter().all(|step| !pieces[step.0].lamp)) { Vec::new() } else { out }
}

/// Every setting of the switches.
fn settings(pieces: &[Piece]) -> Vec<u32> {
    let switches: Vec<usize> = (0..pieces.len()).filter(|&index| !pieces[index].lamp).collect();
    (0..1u32 << switches.len())
        .map(|bits| {
            switches.iter().enumerate().filter(|(at, _)| bits & (1 << at) != 0).map(|(_, index)| 1 << index).sum()
        })
        .collect()
}

/// The piece that a finding is told at.
fn piece_of(pieces: &[Piece], finding: &Finding) -> Option<usize> {
    let site = finding
        .site
        .strip_prefix("W-")
        .map_or(finding.site.as_str(), |rest| rest.trim_end_matches(['a', 'b']).trim_end_matches('-'));
    (0..pieces.len()).find(|&index| name(index, &pieces[index]) == site)
}

/// Lamps that a setting lights through one piece only: each has a path with no other lamp in it, and none past it.
fn lit_through(pieces: &[Piece], paths: &[Vec<Step>], piece: usize, forward: bool) -> BTreeSet<usize> {
    let through = |path: &&Vec<Step>| path.iter().any(|step| step.0 == piece);
    // It goes one way only: paths of both directions may cancel, and only volts tell.
    if paths.iter().filter(through).flatten().any(|step| *step == (piece, !forward)) {
        return BTreeSet::new();
    }
    (0..pieces.len())
        .filter(|&lamp| pieces[lamp].lamp && lamp != piece)
        .filter(|&lamp| {
            let mut own = paths.iter().filter(|path| path.iter().any(|step| step.0 == lamp)).peekable();
            let alone = |path: &Vec<Step>| path.iter().filter(|step| pieces[step.0].lamp).count() == 1;
            own.peek().is_some() && own.all(|path| alone(path) && path.contains(&(piece, forward)))
        })
        .collect()
}

#[test]
fn branches_that_exhaustive_switching_drives_both_ways_are_found_and_no_others() {
    let (mut reported, mut expected) = (0, 0);
    for seed in 0..300 {
        let pieces = drawn(seed);
        let all: Vec<Vec<Vec<Step>>> = settings(&pieces).into_iter().map(|closed| paths(&pieces, closed)).collect();
        let findings = found(&wiring(&pieces));
        let both = of(&findings, "sneak-both-ways");
        for finding in &both {
            reported += 1;
            // Current is a sum of simple paths: what flows either way has a path either way.
            let piece = piece_of(&pieces, finding).unwrap_or_else(|| panic!("seed {seed}: {finding:?}"));
            for forward in [true, false] {
                let drives = all.iter().flatten().any(|path| path.contains(&(piece, forward)));
                assert!(drives, "seed {seed}: {finding:?} in {pieces:?}");
            }
        }
        for piece in 0..pieces.len() {
            let lit = |forward: bool| -> BTreeSet<usize> {
                all.iter().flat_map(|paths| lit_through(&pieces, paths, piece, forward)).collect()
            };
            let (there, back) = (lit(true), lit(false));
            // One lamp that only one direction lights, whatever else the other may do to it.
            let shown =
                |lamps: &BTreeSet<usize>, others: &BTreeSet<usize>| lamps.iter().any(|lamp| !others.contains(lamp));
            if !pieces[piece].lamp && shown(&there, &back) && shown(&back, &there) {
                expected += 1;
                let names = |lamps: &BTreeSet<usize>| lamps.iter().map(|&l| name(l, &pieces[l])).collect::<Vec<_>>();
                let tells = |finding: &&Finding| {
                    [names(&there), names(&back)].iter().all(|side| side.iter().any(|lamp| finding.text.contains(lamp)))
                };
                assert!(
                    both.iter().copied().any(|finding| tells(&finding)),
                    "seed {seed}: {piece} {there:?} {back:?} {findings:#?} in {pieces:?}"
                );
            }
        }
    }
    assert!(reported > 20 && expected > 10, "{reported} reported, {expected} expected: the test tests nothing");
}

#[test]
fn lamps_that_exhaustive_switching_puts_in_series_are_found_and_no_others() {
    let (mut reported, mut expected) = (0, 0);
    let mut missed: Vec<String> = Vec::new();
    for seed in 1000..2500 {
        let pieces = drawn(seed);
        let all: Vec<Vec<Vec<Step>>> = settings(&pieces).into_iter().map(|closed| paths(&pieces, closed)).collect();
        let findings = found(&wiring(&pieces));
        let series = of(&findings, "sneak-series");
        let pair_of = |finding: &Finding| -> Vec<usize> {
            (0..pieces.len())
                .filter(|&index| pieces[index].lamp)
                .filter(|&index| finding.text.split([' ', ',', ':']).any(|word| word == name(index, &pieces[index])))
                .collect()
        };
        for finding in &series {
            reported += 1;
            let pair = pair_of(finding);
            let together =
                all.iter().flatten().any(|path| pair.iter().all(|lamp| path.iter().any(|step| step.0 == *lamp)));
            assert!(pair.len() == 2 && together, "seed {seed}: {finding:?} in {pieces:?}");
        }
        // Alone and at full light in some setting; in another, every path of the one goes through the other, and these
        // two are all that is in it.
        let alone = |lamp: usize| {
            all.iter().any(|paths| {
                let mut own = paths.iter().filter(|path| path.iter().any(|step| step.0 == lamp)).peekable();
                own.peek().is_some() && own.all(|path| path.iter().filter(|step| pieces[step.0].lamp).count() == 1)
            })
        };
        let lamps: Vec<usize> = (0..pieces.len()).filter(|&index| pieces[index].lamp).collect();
        for &one in &lamps {
            for &other in lamps.iter().filter(|&&other| other > one) {
                let in_series = all.iter().any(|paths| {
                    let mut own =
                        paths.iter().filter(|path| path.iter().any(|step| step.0 == one || step.0 == other)).peekable();
                    own.peek().is_some()
                        && own.all(|path| {
                            let in_it: Vec<usize> =
                                path.iter().map(|step| step.0).filter(|&s| pieces[s].lamp).collect();
                            in_it.len() == 2 && in_it.contains(&one) && in_it.contains(&other)
                        })
                });
                if in_series && alone(one) && alone(other) {
                    expected += 1;
                    if !series.iter().any(|finding| pair_of(finding) == [one, other]) {
                        missed.push(format!("seed {seed}: {one} {other}"));
                    }
                }
            }
        }
    }
    assert!(reported > 20 && expected > 10, "{reported} reported, {expected} expected: the test tests nothing");
    assert!(missed.is_empty(), "{} of {expected} missed: {missed:#?}", missed.len());
}

/// Two circuits with one tell-tale between them: joined straight, each lights the other's lamp; behind diodes none does.
const TURN: &str = "\
machine: Turn
places: {here: easy}
parts:
  battery: battery, 12 V, 30 Ah, here
  F: fuse, 10 A, here
  turn: turn switch, here
  left: lamp, 21 W, here
  right: lamp, 21 W, here
  tell: tell-tale, 2 W, here
sleeves: {S1: \"crimp sleeve, here\", S2: \"crimp sleeve, here\", S3: \"crimp sleeve, here\"}
wires:
  - battery.pos to F.in, red, 4 mm2, 0.2 m
  - F.out to turn.in, red, 1.5 mm2, 0.2 m
  - turn.left to S1, blue, 1.5 mm2, 0.2 m
  - turn.right to S2, green, 1.5 mm2, 0.2 m
  - S1 to left.feed, blue, 1.5 mm2, 0.2 m
  - S2 to right.feed, green, 1.5 mm2, 0.2 m
  - JOIN
  - S3 to tell.feed, pink, 1.5 mm2, 0.2 m
  - left.ground to battery.neg, black, 1.5 mm2, 0.2 m
  - right.ground to battery.neg, black, 1.5 mm2, 0.2 m
  - tell.ground to battery.neg, black, 1.5 mm2, 0.2 m
";

#[test]
fn a_tell_tale_joined_to_two_circuits_lights_both_and_diodes_keep_them_apart() {
    let straight =
        found(&TURN.replace("- JOIN", "- S1 to S3, pink, 1.5 mm2, 0.1 m\n  - S2 to S3, pink, 1.5 mm2, 0.1 m"));
    let both = of(&straight, "sneak-both-ways");
    assert_eq!(both.len(), 1, "{straight:#?}");
    assert!(["left", "right", "turn left", "turn right"].iter().all(|word| both[0].text.contains(word)), "{both:?}");
    let diodes = TURN.replace("- JOIN", "- S1 to D1.anode, pink, 1.5 mm2, 0.1 m\n  - D1.cathode to S3, pink, 1.5 mm2, 0.1 m\n  - S2 to D2.anode, pink, 1.5 mm2, 0.1 m\n  - D2.cathode to S3, pink, 1.5 mm2, 0.1 m");
    let apart = found(&diodes.replace("  tell: tell-tale", "  D1: diode, here\n  D2: diode, here\n  tell: tell-tale"));
    assert!(of(&apart, "sneak-both-ways").is_empty() && of(&apart, "sneak-series").is_empty(), "{apart:#?}");
    // A tell-tale between the two feeds is driven both ways by design, and lights no lamp.
    let between = TURN
        .replace("  - JOIN\n", "")
        .replace("S3 to tell.feed", "S1 to tell.feed")
        .replace("tell.ground to battery.neg", "tell.ground to S2")
        .replace(", S3: \"crimp sleeve, here\"", "");
    assert!(of(&found(&between), "sneak-both-ways").is_empty());
}

#[test]
fn two_lamps_that_have_lost_their_common_ground_draw_through_each_other() {
    // The tell-tale is at home behind the right lamp's switch; both lamps meet at S3 and have lost its ground.
    let text = |ground: &str| {
        TURN.replace("  - JOIN\n", ground)
            .replace("S3 to tell.feed", "S2 to tell.feed")
            .replace("left.ground to battery.neg", "left.ground to S3")
            .replace("right.ground to battery.neg", "right.ground to S3")
    };
    let lost = found(
        &text("  - lever.b to battery.neg, black, 1.5 mm2, 0.2 m\n  - S3 to lever.a, black, 1.5 mm2, 0.2 m\n")
            .replace("  turn: turn switch, here\n", "  turn: turn switch, here\n  lever: toggle switch, here\n"),
    );
    let series = of(&lost, "sneak-series");
    assert!(series.iter().any(|one| one.text.contains("turn left") && one.text.contains("tell lit")), "{lost:#?}");
    let sound = found(&text("  - S3 to battery.neg, black, 1.5 mm2, 0.2 m\n"));
    assert!(of(&sound, "sneak-series").is_empty(), "{sound:#?}");
}
