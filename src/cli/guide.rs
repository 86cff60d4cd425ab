//! `ohmward guide`: the pages of the handbook, which are data (`rules/guide`).

use super::Context;
use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use include_dir::{Dir, include_dir};
use ohmward::text::words::nearest;
use serde_json::json;

static PAGES: Dir = include_dir!("$CARGO_MANIFEST_DIR/rules/guide");

/// The pages in the order in which one needs them.
pub const ORDER: [&str; 11] =
    ["begin", "chase", "wiring", "loom", "power", "drawing", "reasoning", "limits", "cautions", "words", "scripts"];

/// The handbook: a page of it, or which pages there are
///
/// begin, chase, wiring, loom, power, drawing: how to do it. reasoning: how it comes to what it says, with formulas and
/// their sources. limits: what it cannot do. cautions. words: what the trade's and this program's words mean. scripts:
/// JSON lines.
#[derive(clap::Args)]
pub struct Args {
    /// The page; without it they are listed
    #[arg(value_name = "PAGE", add = ArgValueCompleter::new(offer::pages))]
    page: Option<String>,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let text = |page: &str| PAGES.get_file(format!("{page}.md")).and_then(|file| file.contents_utf8());
    let Some(wanted) = &args.page else {
        let pages = ORDER.iter().filter_map(|page| Some((*page, text(page)?.lines().next()?.trim_start_matches("# "))));
        if context.json {
            let list: Vec<_> = pages.map(|(page, title)| json!({"page": page, "title": title})).collect();
            context.out.json(&json!(list))?;
            return Ok(Exit::Done);
        }
        for (page, title) in pages {
            context.out.line(format!("{}  {title}", context.out.paint.head(&format!("{page:<10}"))))?;
        }
        context.out.say("read one: ohmward guide reasoning");
        return Ok(Exit::Done);
    };
    let page = wanted.to_lowercase();
    let Some(found) = text(&page) else {
        let hint = match nearest(&page, ORDER) {
            Some(near) => format!("nearest: {near}"),
            None => format!("pages: {}", ORDER.join(", ")),
        };
        return Err(Failure::hinted(format!("the guide has no page \"{wanted:.60}\""), hint));
    };
    if context.json {
        context.out.json(&json!({"page": page, "text": found}))?;
        return Ok(Exit::Done);
    }
    for line in shown(found) {
        match line.strip_prefix('#') {
            Some(head) => {
                let head = context.out.paint.head(head.trim_start_matches('#').trim_start()).to_string();
                context.out.page(head)?;
            }
            None => context.out.page(line)?,
        }
    }
    Ok(Exit::Done)
}

/// The first column of a table is no wider than this.
const WIDEST: usize = 24;

/// A row of a table of two columns: a word and what it means; none for the rule under the headings.
fn row(line: &str) -> Option<(String, String)> {
    let cells = line.strip_prefix("| ")?.trim_end_matches(['|', ' ']);
    let (word, meaning) = cells.split_once(" | ")?;
    let plain = |text: &str| text.trim().replace('`', "");
    Some((plain(word), plain(meaning)))
}

/// Markdown as lines for a terminal: comments out, the lines of a paragraph joined (it is wrapped anew), tables as words with
/// what they mean, fences without their marks.
fn shown(text: &str) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let (mut fenced, mut hidden, mut joins) = (false, false, false);
    let column = text.lines().filter_map(row).map(|(word, _)| word.chars().count()).max().unwrap_or(0).min(WIDEST);
    for line in text.lines() {
        if hidden || line.starts_with("<!--") {
            hidden = !line.ends_with("-->");
            continue;
        }
        if line.starts_with("```") {
            fenced = !fenced;
            joins = false;
            continue;
        }
        if fenced {
            out.push(format!("    {line}"));
            continue;
        }
        if line.starts_with('|') {
            if let Some((word, meaning)) = row(line) {
                out.push(format!("  {word:<column$}  {meaning}"));
            }
            joins = false;
            continue;
        }
        let begins = line.is_empty() || line.starts_with('#') || line.starts_with("- ");
        match out.last_mut().filter(|_| joins && !begins) {
            Some(last) => {
                last.push(' ');
                last.push_str(line);
            }
            None => out.push(line.to_string()),
        }
        joins = !line.is_empty() && !line.starts_with('#');
    }
    out.iter().map(|line| if line.starts_with("    ") { line.clone() } else { line.replace('`', "") }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_page_has_its_place_and_a_title() {
        let mut names: Vec<&str> = PAGES.files().filter_map(|file| file.path().file_stem()?.to_str()).collect();
        let mut order = ORDER.to_vec();
        names.sort_unstable();
        order.sort_unstable();
        assert_eq!(names, order);
        for file in PAGES.files() {
            assert!(file.contents_utf8().unwrap().starts_with("# "), "{:?}", file.path());
        }
    }

    #[test]
    fn paragraphs_are_joined_and_screens_kept() {
        let lines = shown(
            "# T\n\none `a`\ntwo\n- x\n  y\n<!-- made by\nrun: z\n-->\n```\n a  b\n```\n| p | q |\n|---|---|\n| r | s |\n",
        );
        let wanted = ["# T", "", "one a two", "- x   y", "     a  b", "  p  q", "  r  s"];
        assert_eq!(lines, wanted);
    }
}
