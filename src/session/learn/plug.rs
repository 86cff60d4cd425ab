//! A plug seen from one side, kept as seen from the other.
//!
//! Whoever looks at the mating face sees left and right exchanged against the wire side; whoever holds the latch down
//! sees it turned by half. Ways are kept as seen from the wire side with the latch up, as the rest of the program shows
//! plugs.

/// How somebody looks at a plug.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct View {
    /// At the mating face, not at the wires.
    pub face: bool,
    /// The latch is down.
    pub down: bool,
}

impl View {
    /// `wire side, latch up`, `face down`.
    ///
    /// # Errors
    ///
    /// It says neither side, or both.
    pub fn read(text: &str) -> Result<View, String> {
        let lower = text.to_lowercase();
        let words: Vec<&str> = lower.split(|c: char| !c.is_ascii_alphanumeric()).filter(|w| !w.is_empty()).collect();
        let has = |list: &[&str]| words.iter().any(|word| list.contains(word));
        let (face, wire) = (has(&["face", "mating", "front", "f"]), has(&["wire", "wires", "back", "rear", "w"]));
        let (down, up) = (has(&["down", "below", "bottom", "d"]), has(&["up", "top", "above", "u"]));
        if face == wire {
            return Err("wire side (where the wires go in) or mating face? For example: wire side, latch up".into());
        }
        if down && up {
            return Err("is the latch up or down?".into());
        }
        Ok(View { face, down })
    }
}

/// Ways in each row: `3, 3`; nothing for loose wires.
pub(super) fn rows(text: &str, most: usize) -> Result<Vec<usize>, String> {
    let lower = text.to_lowercase();
    if matches!(lower.as_str(), "" | "loose wires" | "loose" | "wires" | "no" | "none" | "n" | "no plug") {
        return Ok(Vec::new());
    }
    let pieces = lower.split([',', ';', '+', ' ']).filter(|piece| !piece.is_empty());
    let rows: Result<Vec<usize>, _> = pieces.map(str::parse::<usize>).collect();
    match rows {
        Ok(rows) if (1..=8).contains(&rows.len()) && rows.iter().all(|&r| (1..=most).contains(&r)) => {
            let ways: usize = rows.iter().sum();
            if ways > most { Err(format!("{ways} ways: {most} at most")) } else { Ok(rows) }
        }
        _ => Err(format!("\"{text:.40}\": how many ways are in each row, from the top? For two rows of three: 3, 3")),
    }
}

/// The ways by rows as seen from the wire side with the latch up: which cell of the person's own count is there.
pub fn wire_side(rows: &[usize], view: View) -> Vec<Vec<usize>> {
    let mut first = 0;
    let mut out: Vec<Vec<usize>> = Vec::new();
    for &ways in rows {
        let row: Vec<usize> = (first..first + ways).collect();
        // Turned upside down is left and right exchanged too; seen through from the other side once more.
        out.push(if view.face != view.down { row.into_iter().rev().collect() } else { row });
        first += ways;
    }
    if view.down {
        out.reverse();
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plug_is_turned_and_mirrored_to_the_wire_side() {
        let see = |text: &str| wire_side(&[3, 2], View::read(text).unwrap());
        assert_eq!(see("wire side, latch up"), [vec![0, 1, 2], vec![3, 4]]);
        assert_eq!(see("mating face, up"), [vec![2, 1, 0], vec![4, 3]]);
        assert_eq!(see("wires, latch down"), [vec![4, 3], vec![2, 1, 0]]);
        assert_eq!(see("face down"), [vec![3, 4], vec![0, 1, 2]]);
        assert!(View::read("up").is_err() && View::read("face wire").is_err() && View::read("wire up down").is_err());
    }

    #[test]
    fn rows_are_numbers() {
        assert_eq!(rows("3, 3", 40), Ok(vec![3, 3]));
        assert_eq!(rows("loose wires", 40), Ok(vec![]));
        for bad in ["0, 3", "x", "41", "30, 30", "99999999999999999999", "-1"] {
            assert!(rows(bad, 40).is_err(), "{bad}");
        }
    }
}
