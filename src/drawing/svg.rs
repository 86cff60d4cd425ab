//! A page as SVG text: no script, nothing from elsewhere, the same bytes for the same page.

use super::shape::{Anchor, At, Page, Shape};
use crate::catalogue::DrawRules;
use std::fmt::Write;

/// By this a file is known as one of this program.
pub const MARK: &str = "<!-- drawn by ohmward -->";

/// The page as a document of its own.
pub fn svg(page: &Page, rules: &DrawRules) -> String {
    let [wide, high] = page.size.map(libm::ceil);
    let mut out = String::with_capacity(page.shapes.len() * 120);
    let _ = writeln!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"title about\" width=\"{wide}\" \
         height=\"{high}\" viewBox=\"0 0 {wide} {high}\" font-family=\"DejaVu Sans, Verdana, sans-serif\">"
    );
    let _ = writeln!(out, "{MARK}");
    let _ = writeln!(out, "<title id=\"title\">{}</title>", clean(&page.title));
    let _ = writeln!(out, "<desc id=\"about\">{}</desc>", clean(&page.about));
    let _ = writeln!(out, "<rect width=\"{wide}\" height=\"{high}\" fill=\"{}\"/>", rules.ink("paper"));
    for shape in &page.shapes {
        put(&mut out, shape, rules);
    }
    out.push_str("</svg>\n");
    out
}

/// Text that can stand in XML: what has a meaning there is escaped, what cannot be seen or turns the writing round is
/// shown as a blank box.
pub fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\n' | '\t' => out.push(' '),
            c if unseen(c) => out.push('\u{25a1}'),
            c => out.push(c),
        }
    }
    out
}

/// Controls, marks of direction, what joins or has no width, and what is no character in XML.
fn unseen(c: char) -> bool {
    c.is_control()
        || matches!(u32::from(c),
            0xad | 0x61c | 0x180e | 0x200b..=0x200f | 0x2028..=0x202e | 0x2060..=0x206f | 0xfeff | 0xfff0..=0xffff
            | 0xe0000..=0xe0fff)
        || u32::from(c) & 0xfffe == 0xfffe
}

/// A number with a tenth at most.
fn n(value: f64) -> String {
    let tenths = libm::round(value * 10.0) / 10.0;
    // There is no minus nought.
    format!("{}", if tenths == 0.0 { 0.0 } else { tenths })
}

fn corners(points: &[At]) -> String {
    points.iter().map(|[x, y]| format!("{},{}", n(*x), n(*y))).collect::<Vec<_>>().join(" ")
}

fn put(out: &mut String, shape: &Shape, rules: &DrawRules) {
    let ink = |name: &str| rules.ink(name).to_string();
    let fill = |name: &Option<&'static str>| name.map_or_else(|| "none".to_string(), ink);
    let _ = match shape {
        Shape::Wire { points, colour } => {
            let points = corners(points);
            let line = |stroke: &str, width: f64, dash: &str| {
                format!(
                    "<polyline points=\"{points}\" fill=\"none\" stroke=\"{stroke}\" stroke-width=\"{}\"{dash}/>",
                    n(width)
                )
            };
            let colours = inks(colour.as_deref(), rules);
            let mut text = line(rules.ink("ink"), rules.size("edge"), "");
            text += &line(&colours[0], rules.size("wire"), "");
            if let Some(stripe) = colours.get(1) {
                // A dark edge to the stripe too, else yellow on white is nothing.
                text +=
                    &line(rules.ink("ink"), rules.size("wire"), " stroke-dasharray=\"7 5\" stroke-dashoffset=\"-1\"");
                text += &line(stripe, rules.size("wire"), " stroke-dasharray=\"5 7\" stroke-dashoffset=\"-2\"");
            }
            writeln!(out, "{text}")
        }
        Shape::Line { points, ink: name, width, dashed } => writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\" stroke-linecap=\"round\" stroke-linejoin=\"round\"{}/>",
            corners(points),
            ink(name),
            n(*width),
            if *dashed { " stroke-dasharray=\"4 4\"" } else { "" }
        ),
        Shape::Circle { at: [x, y], radius, fill: inside, ink: name, width } => writeln!(
            out,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/>",
            n(*x),
            n(*y),
            n(*radius),
            fill(inside),
            ink(name),
            n(*width)
        ),
        Shape::Box { at: [x, y], size: [w, h], round, fill: inside, ink: name, width } => writeln!(
            out,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/>",
            n(*x),
            n(*y),
            n(*w),
            n(*h),
            n(*round),
            fill(inside),
            ink(name),
            n(*width)
        ),
        Shape::Swatch { at, radius, colour, ring } => {
            let colours = inks(colour.as_deref(), rules);
            writeln!(
                out,
                "{}",
                if *ring { ring_of(*at, *radius, &colours, rules) } else { box_of(*at, *radius, &colours, rules) }
            )
        }
        Shape::Text { at: [x, y], anchor, size, bold, ink: name, text } => writeln!(
            out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{}{} fill=\"{}\" stroke=\"{}\" stroke-width=\"3\" stroke-linejoin=\"round\" \
             paint-order=\"stroke\">{}</text>",
            n(*x),
            n(*y),
            n(*size),
            match anchor {
                Anchor::Start => "",
                Anchor::Middle => " text-anchor=\"middle\"",
                Anchor::End => " text-anchor=\"end\"",
            },
            if *bold { " font-weight=\"bold\"" } else { "" },
            ink(name),
            ink("paper"),
            clean(text)
        ),
    };
}

/// The inks of a wire's colours, two at most.
fn inks(colour: Option<&str>, rules: &DrawRules) -> Vec<String> {
    let words = colour.unwrap_or("unknown");
    words.split('/').take(2).map(|word| rules.colour(word.trim()).to_string()).collect()
}

/// A ring terminal: a ring in the wire's colours, its hole left free.
fn ring_of([x, y]: At, radius: f64, colours: &[String], rules: &DrawRules) -> String {
    let ring = |stroke: &str, width: f64, dash: &str| {
        format!(
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"none\" stroke=\"{stroke}\" stroke-width=\"{}\"{dash}/>",
            n(x),
            n(y),
            n(radius - 1.5),
            n(width)
        )
    };
    let mut text = ring(rules.ink("ink"), 4.6, "") + &ring(&colours[0], 2.8, "");
    if let Some(stripe) = colours.get(1) {
        text += &ring(rules.ink("ink"), 2.8, " stroke-dasharray=\"4.5 3.5\" stroke-dashoffset=\"-0.5\"");
        text += &ring(stripe, 2.8, " stroke-dasharray=\"3.5 4.5\" stroke-dashoffset=\"-1\"");
    }
    text
}

/// A box in the wire's colours, the second as a bar across.
fn box_of([x, y]: At, radius: f64, colours: &[String], rules: &DrawRules) -> String {
    let part = |top: f64, high: f64, fill: &str| {
        format!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\" stroke=\"{}\" stroke-width=\"1.4\"/>",
            n(x - radius),
            n(top),
            n(2.0 * radius),
            n(high),
            rules.ink("ink")
        )
    };
    let mut text = part(y - radius, 2.0 * radius, &colours[0]);
    if let Some(stripe) = colours.get(1) {
        text += &part(y - radius * 0.33, radius * 0.66, stripe);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_means_something_in_xml_gets_through() {
        let text = clean("<b>&\"'\u{1b}[31m\u{202e}x\u{0}\u{fffe}\n");
        assert_eq!(text, "&lt;b&gt;&amp;&quot;&#39;\u{25a1}[31m\u{25a1}x\u{25a1}\u{25a1} ");
    }

    #[test]
    fn numbers_are_short() {
        assert_eq!([n(1.0), n(-0.01), n(2.36)], ["1", "0", "2.4"]);
    }
}
