//! The whole page: what it is in words, then one group under the other, each with its scale.

use super::circuits::{Band, Finder};
use super::labels::short;
use super::measure::{width, wrapped};
use super::place::Layout;
use super::plugs::Rows;
use super::scene::Scene;
use super::shape::{Anchor, At, Page, Shape};
use super::state::Solved;
use super::{Marks, Picture};
use crate::circuit::schematic::Node;
use crate::diagnosis::machine::Machine;
use crate::session::name::sure;
use indexmap::IndexMap;

/// So many parts that show something stand in one group at most.
const PARTS: usize = 4;
/// Room for the scale at the left.
const AXIS: f64 = 44.0;
/// The least width of a page, so that its words fit.
const LEAST: f64 = 328.0;

/// What is to be drawn.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Wish {
    /// The circuits of these parts; all of the machine if there is none.
    pub parts: Vec<String>,
    /// What stands under the title, line by line: the state, the fault.
    pub lines: Vec<String>,
    /// What a chase adds.
    pub marks: Marks,
    /// Rows of plugs that somebody told.
    pub rows: Rows,
}

/// A page and what it was made of, group by group.
pub struct Drawn {
    /// The page.
    pub page: Page,
    /// Titles, scenes and layouts of its groups, with their places on the page.
    pub groups: Vec<Group>,
}

/// One group on the page.
pub struct Group {
    /// Its title.
    pub title: String,
    /// What is in it.
    pub scene: Scene,
    /// Where it stands.
    pub layout: Layout,
    /// Its upper left corner.
    pub at: At,
}

/// What is drawn of a machine in a state: the bands of all of it, or one of the circuits wished for.
pub fn bands(machine: &Machine, solved: &Solved, wish: &Wish) -> Vec<Band> {
    let finder = Finder::new(machine, solved);
    if wish.parts.is_empty() {
        return finder.groups(PARTS);
    }
    let mut set = finder.circuits(&wish.parts);
    for id in wish.marks.suspects.iter().flat_map(|suspect| suspect.elements.iter().copied()) {
        finder.with(&mut set, id);
    }
    vec![Band { head: None, parts: wish.parts.clone(), set }]
}

/// A band in two, if it is wider than a page should be in this state and can be parted.
pub fn parted(machine: &Machine, solved: &Solved, band: &Band, wish: &Wish) -> Option<[Band; 2]> {
    if !wish.parts.is_empty() || band.parts.len() < 2 {
        return None;
    }
    let scene = Scene::new(machine, solved, &band.set);
    let picture = Picture { machine, solved, others: IndexMap::new(), scene, marks: &wish.marks, rows: &wish.rows };
    let wide = picture.layout().size[0] > machine.catalogue.draw.size("band");
    if wide { Finder::new(machine, solved).halved(band) } else { None }
}

/// Draws bands one under the other, each in its own state with a line about it (which may be empty).
pub fn draw(machine: &Machine, bands: &[(Band, &Solved, String)], wish: &Wish) -> Drawn {
    let scenes: Vec<Scene> = bands.iter().map(|(band, solved, _)| Scene::new(machine, solved, &band.set)).collect();
    let mut at: IndexMap<Node, Vec<usize>> = IndexMap::new();
    for (number, scene) in scenes.iter().enumerate() {
        for hub in &scene.hubs {
            at.entry(hub.node).or_default().push(number + 1);
        }
    }
    let piece = |node: &Node| machine.netlist.pieces.values().any(|piece| piece.point.index() == *node);
    let pictures: Vec<Picture> = scenes
        .into_iter()
        .zip(bands)
        .enumerate()
        .map(|(number, (scene, (_, solved, _)))| {
            let more =
                at.iter().filter(|(node, groups)| groups.len() > 1 && groups.contains(&(number + 1)) && !piece(node));
            let others =
                more.map(|(&node, groups)| (node, groups.iter().copied().filter(|g| *g != number + 1).collect()));
            Picture { machine, solved, others: others.collect(), scene, marks: &wish.marks, rows: &wish.rows }
        })
        .collect();
    let layouts: Vec<Layout> = pictures.iter().map(Picture::layout).collect();
    let rules = &machine.catalogue.draw;
    let margin = rules.size("margin");
    let inner = layouts.iter().map(|layout| layout.size[0] + AXIS).fold(LEAST, f64::max);
    let title = if wish.parts.is_empty() {
        machine.netlist.title.clone()
    } else {
        format!("{}: {}", machine.netlist.title, wish.parts.join(", "))
    };
    let mut sheet = Sheet { shapes: Vec::new(), y: margin, left: margin, wide: inner };
    sheet.words(&title, rules.size("head"), true, "ink");
    for line in &wish.lines {
        sheet.words(line, rules.size("text"), false, "ink");
    }
    for (rank, suspect) in wish.marks.suspects.iter().enumerate() {
        let line = format!("{} {}: {}", rank + 1, sure(suspect.p), suspect.title);
        sheet.words(&line, rules.size("text"), true, "mark");
    }
    sheet.words(&format!("Height is volts, {}.", rules.word("step")), rules.size("small"), false, "quiet");
    let several = pictures.len() > 1;
    let mut groups = Vec::new();
    for (number, ((picture, layout), (band, _, state))) in pictures.into_iter().zip(layouts).zip(bands).enumerate() {
        sheet.y += 14.0;
        if several {
            sheet.shapes.push(Shape::Line {
                points: vec![[margin, sheet.y], [margin + inner, sheet.y]],
                ink: "faint",
                width: 1.4,
                dashed: false,
            });
            sheet.y += 10.0;
            sheet.words(&format!("{} {}", number + 1, band.title()), rules.size("text") + 2.0, true, "ink");
            sheet.words(state, rules.size("text"), false, "ink");
        }
        sheet.y += 26.0;
        let at = [margin + AXIS, sheet.y];
        sheet.shapes.extend(axis(&picture, &layout).into_iter().map(|shape| shape.moved([margin, at[1]])));
        sheet.shapes.extend(picture.shapes(&layout).into_iter().map(|shape| shape.moved(at)));
        sheet.y += layout.size[1] + 8.0;
        groups.push(Group { title: band.title(), scene: picture.scene, layout, at });
    }
    let about = about(&title, wish, &groups);
    let size = [inner + 2.0 * margin, sheet.y + margin];
    Drawn { page: Page { title, about, size, shapes: sheet.shapes }, groups }
}

/// What the page shows, for who does not see it.
fn about(title: &str, wish: &Wish, groups: &[Group]) -> String {
    let mut out = format!("Wiring of {title}. Height is volts: feed at the top, ground at the foot.");
    for line in &wish.lines {
        out.push_str(&format!(" {}.", line.trim_end_matches('.')));
    }
    if groups.len() > 1 {
        let names = groups.iter().map(|group| group.title.as_str()).collect::<Vec<_>>().join("; ");
        out.push_str(&format!(" Parts of the page: {names}."));
    }
    for (rank, suspect) in wish.marks.suspects.iter().enumerate() {
        out.push_str(&format!(" Suspect {}: {}, {}.", rank + 1, suspect.title, sure(suspect.p)));
    }
    out
}

/// The scale at the left of a group.
fn axis(picture: &Picture, layout: &Layout) -> Vec<Shape> {
    let rules = picture.rules();
    let small = rules.size("small");
    let ticks = layout.scale.ticks(small * 2.2);
    let mut out = Vec::new();
    let x = AXIS - 8.0;
    if let (Some(top), Some(bottom)) = (ticks.first(), ticks.last()) {
        out.push(Shape::Line { points: vec![[x, top.1], [x, bottom.1]], ink: "quiet", width: 1.0, dashed: false });
    }
    for (volts, y) in &ticks {
        out.push(Shape::Line { points: vec![[x - 3.0, *y], [x + 3.0, *y]], ink: "quiet", width: 1.0, dashed: false });
        out.push(Shape::text([x - 5.0, y + small * 0.36], Anchor::End, small, "quiet", short(*volts)));
    }
    let unheld = picture.scene.hubs.iter().position(|hub| hub.volts.is_none());
    if let Some(hub) = unheld {
        let y = layout.scale.y(layout.keys[hub]);
        let text = rules.word("not-held");
        out.push(Shape::bold([0.0, y - 22.0], Anchor::Start, small, "quiet", text));
        let wide = width(text, small, true) + 6.0;
        out.push(Shape::Line {
            points: vec![[wide, y - 25.0], [AXIS + layout.size[0], y - 25.0]],
            ink: "quiet",
            width: 1.0,
            dashed: true,
        });
    }
    out
}

/// Words one under the other.
pub struct Sheet {
    /// Shapes so far.
    pub shapes: Vec<Shape>,
    /// How far down it is written.
    pub y: f64,
    /// Left margin.
    pub left: f64,
    /// Room for words.
    pub wide: f64,
}

impl Sheet {
    /// Words, broken where they must be.
    pub fn words(&mut self, text: &str, size: f64, bold: bool, ink: &'static str) {
        for line in wrapped(text, size, bold, self.wide) {
            self.y += size * 1.3;
            let at = [self.left, self.y - size * 0.2];
            self.shapes.push(Shape::Text { at, anchor: Anchor::Start, size, bold, ink, text: line });
        }
    }
}
