//! Shapes on a page, with their places.

/// A point on the page, pixels from its left and top.
pub type At = [f64; 2];

/// What a text hangs by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// One shape. Inks are names of [`crate::catalogue::DrawRules::inks`].
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A wire in its colours, `black/white` the second as a stripe.
    Wire {
        /// Corners.
        points: Vec<At>,
        /// Colour in plain words, if known.
        colour: Option<String>,
    },
    /// A line.
    Line {
        /// Corners.
        points: Vec<At>,
        /// Ink.
        ink: &'static str,
        /// Width.
        width: f64,
        /// Dashed.
        dashed: bool,
    },
    /// A circle.
    Circle {
        /// Its middle.
        at: At,
        /// Radius.
        radius: f64,
        /// Ink inside, if any.
        fill: Option<&'static str>,
        /// Ink of its line.
        ink: &'static str,
        /// Width of its line.
        width: f64,
    },
    /// A box.
    Box {
        /// Its upper left corner.
        at: At,
        /// Width and height.
        size: At,
        /// Radius of its corners.
        round: f64,
        /// Ink inside, if any.
        fill: Option<&'static str>,
        /// Ink of its line.
        ink: &'static str,
        /// Width of its line.
        width: f64,
    },
    /// A box or circle filled with a wire's colours: a ring terminal, a way of a plug.
    Swatch {
        /// Its middle.
        at: At,
        /// Half its width.
        radius: f64,
        /// Colour in plain words, if known.
        colour: Option<String>,
        /// A ring with a hole, else a box.
        ring: bool,
    },
    /// A text on one line.
    Text {
        /// Where its foot stands.
        at: At,
        /// What it hangs by.
        anchor: Anchor,
        /// Size.
        size: f64,
        /// Bold.
        bold: bool,
        /// Ink.
        ink: &'static str,
        /// The words.
        text: String,
    },
}

/// A page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// Its name.
    pub title: String,
    /// What it shows, in a sentence or two: read aloud to who does not see it.
    pub about: String,
    /// Width and height.
    pub size: At,
    /// Shapes, those in front last.
    pub shapes: Vec<Shape>,
}

/// A box that a text fills: left, top, right, bottom.
pub type Bounds = [f64; 4];

impl Shape {
    /// Text in small letters or large.
    pub fn text(at: At, anchor: Anchor, size: f64, ink: &'static str, text: impl Into<String>) -> Shape {
        Shape::Text { at, anchor, size, bold: false, ink, text: text.into() }
    }

    /// The same in bold.
    pub fn bold(at: At, anchor: Anchor, size: f64, ink: &'static str, text: impl Into<String>) -> Shape {
        Shape::Text { at, anchor, size, bold: true, ink, text: text.into() }
    }

    /// A plain line of the drawing's ink.
    pub fn line(points: Vec<At>, width: f64) -> Shape {
        Shape::Line { points, ink: "ink", width, dashed: false }
    }

    /// The room that a text takes, as [`super::measure`] knows it.
    pub fn bounds(&self) -> Option<Bounds> {
        let Shape::Text { at: [x, y], anchor, size, bold, text, .. } = self else { return None };
        let wide = super::measure::width(text, *size, *bold);
        let left = match anchor {
            Anchor::Start => *x,
            Anchor::Middle => x - wide / 2.0,
            Anchor::End => x - wide,
        };
        Some([left, y - 0.76 * size, left + wide, y + 0.2 * size])
    }

    /// The same shape elsewhere.
    #[must_use]
    pub fn moved(mut self, by: At) -> Shape {
        let shift = |at: &mut At| *at = [at[0] + by[0], at[1] + by[1]];
        match &mut self {
            Shape::Wire { points, .. } | Shape::Line { points, .. } => points.iter_mut().for_each(shift),
            Shape::Circle { at, .. } | Shape::Box { at, .. } | Shape::Swatch { at, .. } | Shape::Text { at, .. } => {
                shift(at)
            }
        }
        self
    }
}
