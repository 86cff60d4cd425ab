//! Plugs as one sees them: the wire side, latch up.

use super::shape::{Anchor, At, Shape};
use crate::netlist::Plug;
use indexmap::IndexMap;

/// Cavities of one row that a small face shows at most.
const SMALL: usize = 16;

/// How a plug's cavities lie, seen from the wire side of half a with the latch up: rows from the top, each from the left.
/// An empty cavity has a number and no wire; where there is no cavity stands nothing.
pub type Face = Vec<Vec<String>>;

/// Rows that somebody told, by plug.
pub type Rows = IndexMap<String, Vec<usize>>;

/// The face of a plug's half. Numbers that the file leaves out are cavities without a wire; one row where nobody told how
/// many there are. Half b faces half a, so what is left on one is right on the other.
pub fn face(plug: &Plug, half: char, rows: Option<&Vec<usize>>) -> Face {
    let numbers: Option<Vec<usize>> =
        plug.ways.keys().map(|way| way.parse().ok().filter(|n| (1..=200).contains(n))).collect();
    let told: usize = rows.map_or(0, |rows| rows.iter().sum());
    let all: Vec<String> = match numbers {
        Some(numbers) => (1..=numbers.into_iter().max().unwrap_or(0).max(told)).map(|n| n.to_string()).collect(),
        None => plug.ways.keys().cloned().collect(),
    };
    let mut left = all.as_slice();
    let mut out: Face = Vec::new();
    for &count in rows.into_iter().flatten() {
        let (row, rest) = left.split_at(count.min(left.len()));
        out.push(row.to_vec());
        left = rest;
    }
    if !left.is_empty() {
        out.push(left.to_vec());
    }
    if half == 'b' {
        // A short row ends at the left there; what fills it has no name.
        let most = out.iter().map(Vec::len).max().unwrap_or(0);
        for row in &mut out {
            row.resize(most, String::new());
            row.reverse();
        }
    }
    out
}

/// A small face, upper left corner at a point, with one way filled; its size too.
pub fn small(face: &Face, way: &str, [x, y]: At, cell: f64) -> (Vec<Shape>, At) {
    let wide = face.iter().map(Vec::len).max().unwrap_or(0);
    if wide == 0 || wide > SMALL {
        return (Vec::new(), [0.0, 0.0]);
    }
    let latch = 4.0;
    let size = [wide as f64 * cell + 4.0, face.len() as f64 * cell + 4.0 + latch];
    let mut out = body([x, y + latch], [size[0], size[1] - latch], latch);
    for (r, row) in face.iter().enumerate() {
        for (c, name) in row.iter().enumerate().filter(|(_, name)| !name.is_empty()) {
            let used = name.eq_ignore_ascii_case(way);
            out.push(Shape::Box {
                at: [x + 2.0 + c as f64 * cell + 1.2, y + latch + 2.0 + r as f64 * cell + 1.2],
                size: [cell - 2.4, cell - 2.4],
                round: 0.0,
                fill: Some(if used { "ink" } else { "paper" }),
                ink: "quiet",
                width: if used { 1.4 } else { 0.7 },
            });
        }
    }
    (out, size)
}

/// The housing with its latch on top.
pub fn body([x, y]: At, [wide, high]: At, latch: f64) -> Vec<Shape> {
    let tab = (wide * 0.4).clamp(10.0, 70.0);
    vec![
        Shape::Box {
            at: [x + wide / 2.0 - tab / 2.0, y - latch],
            size: [tab, latch + 1.0],
            round: 1.0,
            fill: Some("faint"),
            ink: "ink",
            width: 1.0,
        },
        Shape::Box { at: [x, y], size: [wide, high], round: 3.0, fill: Some("paper"), ink: "ink", width: 1.4 },
    ]
}

/// The mark of a contact on its wire: the way's name in a box.
pub fn mark([x, y]: At, way: &str) -> Vec<Shape> {
    let short = if way.chars().count() <= 3 { way } else { "" };
    vec![
        Shape::Box {
            at: [x - 11.0, y - 8.0],
            size: [22.0, 16.0],
            round: 3.0,
            fill: Some("paper"),
            ink: "ink",
            width: 1.6,
        },
        Shape::bold([x, y + 4.0], Anchor::Middle, 11.0, "ink", short),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::netlist::Way;
    use crate::text::span::Span;
    use petgraph::graph::{EdgeIndex, NodeIndex};

    fn plug(ways: &[&str]) -> Plug {
        let way = || Way {
            halves: [NodeIndex::new(0); 2],
            link: EdgeIndex::new(0),
            crimped: [None, None],
            span: Span { start: 0, end: 0 },
        };
        Plug {
            name: "P1".into(),
            is: None,
            places: [None, None],
            ways: ways.iter().map(|name| ((*name).to_string(), way())).collect(),
            span: Span { start: 0, end: 0 },
        }
    }

    #[test]
    fn half_b_is_the_mirror_image_and_left_out_numbers_are_empty_cavities() {
        let plug = plug(&["1", "2", "4", "6"]);
        assert_eq!(face(&plug, 'a', Some(&vec![3, 3])), [["1", "2", "3"], ["4", "5", "6"]]);
        assert_eq!(face(&plug, 'b', Some(&vec![3, 3])), [["3", "2", "1"], ["6", "5", "4"]]);
        assert_eq!(face(&plug, 'b', Some(&vec![4, 2])), [["4", "3", "2", "1"], ["", "", "6", "5"]]);
        assert_eq!(face(&plug, 'a', None), [["1", "2", "3", "4", "5", "6"]]);
        assert_eq!(face(&plug, 'a', Some(&vec![4])), [vec!["1", "2", "3", "4"], vec!["5", "6"]]);
    }

    #[test]
    fn ways_with_names_stand_in_the_order_of_the_file() {
        assert_eq!(face(&plug(&["L", "R", "1"]), 'b', None), [["1", "R", "L"]]);
    }
}
