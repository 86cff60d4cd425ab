//! How wide a text is, without a browser: advance widths of DejaVu Sans, one of the wider faces that a page may be shown
//! in, so that what fits by them fits elsewhere too.

/// Thousandths of the size, for characters 32 to 126; read from the font's own table (DejaVu Sans 2.37).
const PLAIN: [u16; 95] = [
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636, 636,
    636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863,
    748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635,
    615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636,
    337, 636, 838,
];

/// The same of DejaVu Sans Bold.
const BOLD: [u16; 95] = [
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696, 696, 696, 696, 696,
    696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683, 683, 821, 837, 372, 372, 775, 637, 995,
    837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771, 724, 725, 457, 365, 457, 838, 500, 500, 675, 716, 593, 716,
    678, 435, 716, 712, 343, 343, 665, 343, 1042, 712, 687, 716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712,
    365, 712, 838,
];

/// What is not in the tables is taken for as wide as its widest letters.
const OTHER: u16 = 1100;

/// Pixels that a text is wide.
pub fn width(text: &str, size: f64, bold: bool) -> f64 {
    let table = if bold { &BOLD } else { &PLAIN };
    let of = |c: char| (c as usize).checked_sub(32).and_then(|at| table.get(at)).copied().unwrap_or(OTHER);
    size * text.chars().map(|c| f64::from(of(c))).sum::<f64>() / 1000.0
}

/// A text in lines no wider than this, broken at spaces, else behind `_`, `-`, `.`, `/`, else anywhere.
pub fn wrapped(text: &str, size: f64, bold: bool, wide: f64) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if width(&longer, size, bold) <= wide {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            out.push(std::mem::take(&mut line));
        }
        for piece in word.split_inclusive(['_', '-', '.', '/']) {
            let longer = format!("{line}{piece}");
            if width(&longer, size, bold) > wide && !line.is_empty() {
                out.push(std::mem::take(&mut line));
            }
            for c in piece.chars() {
                let longer = format!("{line}{c}");
                if width(&longer, size, bold) > wide && !line.is_empty() {
                    out.push(std::mem::take(&mut line));
                }
                line.push(c);
            }
        }
    }
    if !line.is_empty() {
        out.push(line);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_break_where_they_can_and_fit_where_they_must() {
        assert_eq!(wrapped("stop-push-a_ignition-stop", 12.0, false, 95.0), ["stop-push-a_", "ignition-stop"]);
        assert_eq!(wrapped("one two", 12.0, false, 500.0), ["one two"]);
        for text in ["", "x", "WWWWWWWWWWWWWWWWWWWWWWWW", "a b c d e f g h", "\u{202e}\u{4e2d}\u{6587}"] {
            assert!(wrapped(text, 12.0, true, 40.0).iter().all(|line| width(line, 12.0, true) <= 40.0));
        }
    }
}
