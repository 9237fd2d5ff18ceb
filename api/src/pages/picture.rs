//! Drawings: a small writer of SVG for the pictures of the pages.
//!
//! Every picture is drawn twice, wide and narrow, and each is shown at its own size, so that no letter
//! gets smaller than it was drawn. Lengths are whole tenths of a unit: the same input gives the same
//! bytes. Texts are escaped, names that are too long are cut. Presentation attributes give the
//! drawing on white paper, classes let `pictures.css` turn it dark. A picture never stands alone: a
//! sentence above says what it shows, a table below holds the same figures.

mod pen;
mod scale;
mod signs;

pub use pen::{Anchor, Fill, Pen, Stroke, Words, fitted, number, width_of};
pub use scale::{along, nice_step, ticks};
pub use signs::Sign;

/// A length in tenths of a unit.
pub type Tenths = i32;

/// So many whole units.
pub const fn units(units: i32) -> Tenths {
    units * 10
}

/// Which of the two drawings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// 720 units, for a desk and for paper.
    Wide,
    /// 280 units, for a telephone: the narrowest page has exactly this room.
    Narrow,
}

impl Size {
    /// Both.
    pub const BOTH: [Size; 2] = [Size::Wide, Size::Narrow];

    /// Its width.
    pub fn width(self) -> Tenths {
        match self {
            Size::Wide => units(720),
            Size::Narrow => units(280),
        }
    }

    /// One of two values.
    pub fn pick<T>(self, wide: T, narrow: T) -> T {
        match self {
            Size::Wide => wide,
            Size::Narrow => narrow,
        }
    }

    /// The class by which the style sheet shows it.
    pub fn class(self) -> &'static str {
        self.pick("wide", "narrow")
    }
}

/// A colour of the style sheet, by what it says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Text and lines of weight.
    Ink,
    /// The second voice.
    Soft,
    /// Lines that mean something.
    Line,
    /// Hairlines, decoration only.
    Ruling,
    /// Over a limit, late.
    Over,
    /// The ground.
    Paper,
    /// A quiet ground.
    Shade,
}

impl Ink {
    /// Its colour on white paper, the tokens of the light theme.
    fn colour(self) -> &'static str {
        match self {
            Ink::Ink => "#15140f",
            Ink::Soft => "#4b4840",
            Ink::Line => "#757167",
            Ink::Ruling => "#d5d2c8",
            Ink::Over => "#8c1a14",
            Ink::Paper => "#ffffff",
            Ink::Shade => "#f4f2ec",
        }
    }

    fn name(self) -> &'static str {
        match self {
            Ink::Ink => "ink",
            Ink::Soft => "soft",
            Ink::Line => "line",
            Ink::Ruling => "ruling",
            Ink::Over => "over",
            Ink::Paper => "paper",
            Ink::Shade => "shade",
        }
    }
}

/// A pattern that tells grounds apart without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Pattern {
    /// Fine slanting lines in the colour of what is over: something is open.
    Open,
    /// Crossed lines: keep empty.
    Cross,
    /// Dense slanting lines.
    Dense,
    /// Fine slanting lines.
    Fine,
    /// Dots.
    Dots,
    /// Level lines.
    Level,
}

impl Pattern {
    /// Its name, the end of the name of its definition.
    pub fn name(self) -> &'static str {
        match self {
            Pattern::Open => "open",
            Pattern::Cross => "cross",
            Pattern::Dense => "dense",
            Pattern::Fine => "fine",
            Pattern::Dots => "dots",
            Pattern::Level => "level",
        }
    }

    /// Its definition inside a drawing, under the name that a fill means.
    pub fn defined(self, id: &str) -> String {
        let (side, turned, tile) = self.tile();
        let turned = match turned {
            true => r#" patternTransform="rotate(45)""#,
            false => "",
        };
        format!(
            r#"<pattern id="{id}-{}" width="{side}" height="{side}" patternUnits="userSpaceOnUse"{turned}>{tile}</pattern>"#,
            self.name()
        )
    }

    /// Side of its tile, whether it is turned by 45 degrees, and what is on the tile.
    fn tile(self) -> (&'static str, bool, &'static str) {
        match self {
            Pattern::Open => (
                "7",
                true,
                r##"<path class="over-line" d="M0 0V7" stroke="#8c1a14" stroke-width="1.2" stroke-opacity="0.45"/>"##,
            ),
            Pattern::Cross => (
                "8",
                true,
                r##"<path class="line-line" d="M0 0V8M0 0H8" stroke="#757167" stroke-width="1"/>"##,
            ),
            Pattern::Dense => (
                "5",
                true,
                r##"<path class="ink-line" d="M0 0V5" stroke="#15140f" stroke-width="2.6"/>"##,
            ),
            Pattern::Fine => (
                "6",
                true,
                r##"<path class="line-line" d="M0 0V6" stroke="#757167" stroke-width="0.9"/>"##,
            ),
            Pattern::Dots => (
                "5",
                false,
                r##"<circle class="ink-fill" cx="2.5" cy="2.5" r="1.2" fill="#15140f"/>"##,
            ),
            Pattern::Level => (
                "4",
                false,
                r##"<path class="ink-line" d="M0 1H4" stroke="#15140f" stroke-width="2"/>"##,
            ),
        }
    }
}

/// A finished drawing. Only a [`Pen`] makes one, which escapes every text, so that it may stand in a
/// page as it is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drawing(String);

impl Drawing {
    /// The element `svg`.
    pub fn svg(&self) -> &str {
        &self.0
    }
}

/// A picture: a sentence and two drawings. The table that holds the same figures is written by the
/// page, inside the piece `picture.html`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// What it shows, above it.
    pub sentence: String,
    /// For a desk and for paper.
    pub wide: Drawing,
    /// For a telephone.
    pub narrow: Drawing,
}

impl Picture {
    /// A picture from what draws either size.
    pub fn of(sentence: String, mut draw: impl FnMut(Size) -> Drawing) -> Picture {
        Picture {
            wide: draw(Size::Wide),
            narrow: draw(Size::Narrow),
            sentence,
        }
    }
}

#[cfg(test)]
pub mod read;
#[cfg(test)]
mod tests;
