//! What has been done to a text, line by line.

/// A line that went, or one that came.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Change {
    /// It stood in the old text, with its number there from 1.
    Gone(usize, String),
    /// It stands in the new text, with its number there from 1.
    Come(usize, String),
}

/// Above this many pairs of lines the middle is told as a whole: gone and come.
const MOST: usize = 4_000_000;

/// Lines that differ, in order; what went stands before what came in its place.
///
/// ```
/// use ohmward::text::diff::{Change, lines};
/// assert_eq!(lines("a\nb\nc\n", "a\nx\nc\n"), [Change::Gone(2, "b".into()), Change::Come(2, "x".into())]);
/// ```
pub fn lines(before: &str, after: &str) -> Vec<Change> {
    let (old, new): (Vec<&str>, Vec<&str>) = (before.lines().collect(), after.lines().collect());
    let head = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let most = old.len().min(new.len()) - head;
    let tail = old.iter().rev().zip(new.iter().rev()).take(most).take_while(|(a, b)| a == b).count();
    let (a, b) = (&old[head..old.len() - tail], &new[head..new.len() - tail]);
    let kept = if a.len() * b.len() > MOST { Vec::new() } else { common(a, b) };
    let mut out = Vec::new();
    let (mut i, mut j) = (0, 0);
    for (x, y) in kept.into_iter().chain([(a.len(), b.len())]) {
        out.extend((i..x).map(|n| Change::Gone(head + n + 1, a[n].to_owned())));
        out.extend((j..y).map(|n| Change::Come(head + n + 1, b[n].to_owned())));
        (i, j) = (x + 1, y + 1);
    }
    out
}

/// Pairs of a longest common run of lines.
fn common(a: &[&str], b: &[&str]) -> Vec<(usize, usize)> {
    let width = b.len() + 1;
    let mut best = vec![0u32; (a.len() + 1) * width];
    for i in (0..a.len()).rev() {
        for j in (0..b.len()).rev() {
            let (down, right) = (best[(i + 1) * width + j], best[i * width + j + 1]);
            best[i * width + j] = if a[i] == b[j] { best[(i + 1) * width + j + 1] + 1 } else { down.max(right) };
        }
    }
    let (mut i, mut j, mut out) = (0, 0, Vec::new());
    while i < a.len() && j < b.len() {
        if a[i] == b[j] {
            out.push((i, j));
            (i, j) = (i + 1, j + 1);
        } else if best[(i + 1) * width + j] >= best[i * width + j + 1] {
            i += 1;
        } else {
            j += 1;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn what_is_told_makes_the_new_of_the_old(old in "[abc\n]{0,40}", new in "[abc\n]{0,40}") {
            let changes = lines(&old, &new);
            let mut lines: Vec<Option<&str>> = old.lines().map(Some).collect();
            for change in &changes {
                if let Change::Gone(n, line) = change {
                    prop_assert_eq!(lines[n - 1].take(), Some(line.as_str()));
                }
            }
            let mut left: Vec<&str> = lines.into_iter().flatten().collect();
            for change in &changes {
                if let Change::Come(n, line) = change {
                    left.insert(n - 1, line);
                }
            }
            prop_assert_eq!(left, new.lines().collect::<Vec<_>>());
        }
    }
}
