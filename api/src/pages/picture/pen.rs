//! The pen: it writes the elements of a drawing one after the other.

use super::{Drawing, Ink, Pattern, Size, Tenths, units};
use crate::pages::escape::Shown;
use askama::filters::Escaper;
use std::collections::BTreeSet;
use std::fmt::Write;

/// Height of the letters, in units.
const LETTERS: &str = "13";

/// A line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stroke {
    ink: Ink,
    width: Tenths,
    dash: &'static str,
}

impl Stroke {
    /// A line of so many tenths.
    pub fn of(ink: Ink, width: Tenths) -> Stroke {
        let dash = "";
        Stroke { ink, width, dash }
    }

    /// The same, broken: `9 5`.
    pub fn dashed(self, dash: &'static str) -> Stroke {
        Stroke { dash, ..self }
    }
}

/// What an outline is filled with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// Nothing.
    None,
    /// A colour.
    Ink(Ink),
    /// A pattern.
    Pattern(Pattern),
}

/// Which end of a text stands at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its beginning.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// How a text is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Words {
    /// Its colour.
    pub ink: Ink,
    /// Which end stands at its place.
    pub anchor: Anchor,
    /// In heavy letters?
    pub bold: bool,
    /// With a rim of paper around the letters, for what stands over lines and hatching?
    pub halo: bool,
    /// Struck through?
    pub struck: bool,
}

impl Words {
    /// Plain words.
    pub fn of(ink: Ink, anchor: Anchor) -> Words {
        Words {
            ink,
            anchor,
            bold: false,
            halo: false,
            struck: false,
        }
    }

    /// In heavy letters.
    pub fn bold(self) -> Words {
        Words { bold: true, ..self }
    }

    /// With a rim of paper.
    pub fn halo(self) -> Words {
        Words { halo: true, ..self }
    }

    /// Struck through.
    pub fn struck(self) -> Words {
        Words {
            struck: true,
            ..self
        }
    }
}

/// Writes a drawing. Names of patterns begin with the name of the picture and its size, so that several
/// pictures on a page never mean each other's.
#[derive(Clone, Debug)]
pub struct Pen {
    id: String,
    size: Size,
    body: String,
    patterns: BTreeSet<Pattern>,
}

impl Pen {
    /// A pen for one of the drawings of a picture; `name`: letters, digits and hyphens, its own on the page.
    pub fn new(name: &str, size: Size) -> Pen {
        let plain = |letter: &char| letter.is_ascii_alphanumeric() || *letter == '-';
        let name: String = name.chars().filter(plain).collect();
        Pen {
            id: format!("{name}-{}", size.pick('w', 'n')),
            size,
            body: String::new(),
            patterns: BTreeSet::new(),
        }
    }

    /// Which drawing it is.
    pub fn size(&self) -> Size {
        self.size
    }

    /// A straight line.
    pub fn line(&mut self, from: (Tenths, Tenths), to: (Tenths, Tenths), stroke: Stroke) {
        let path = format!(
            "M{} {}L{} {}",
            number(from.0),
            number(from.1),
            number(to.0),
            number(to.1)
        );
        self.path(&path, Fill::None, Some(stroke));
    }

    /// A line through points, open.
    pub fn through(&mut self, points: &[(Tenths, Tenths)], stroke: Stroke) {
        self.path(&path_through(points), Fill::None, Some(stroke));
    }

    /// A closed outline through points.
    pub fn outline(&mut self, points: &[(Tenths, Tenths)], fill: Fill, stroke: Option<Stroke>) {
        self.path(&format!("{}Z", path_through(points)), fill, stroke);
    }

    /// A path whose letters and numbers are given; [`number`] writes tenths.
    pub fn path(&mut self, path: &str, fill: Fill, stroke: Option<Stroke>) {
        let paint = self.paint(fill, stroke);
        let _ = writeln!(self.body, r#"<path{paint} d="{path}"/>"#);
    }

    /// A rectangle: its upper left corner, its width and height.
    pub fn rect(
        &mut self,
        corner: (Tenths, Tenths),
        sides: (Tenths, Tenths),
        fill: Fill,
        stroke: Option<Stroke>,
    ) {
        let paint = self.paint(fill, stroke);
        let _ = writeln!(
            self.body,
            r#"<rect{paint} x="{}" y="{}" width="{}" height="{}"/>"#,
            number(corner.0),
            number(corner.1),
            number(sides.0.max(0)),
            number(sides.1.max(0))
        );
    }

    /// A circle.
    pub fn circle(
        &mut self,
        x: Tenths,
        y: Tenths,
        radius: Tenths,
        fill: Fill,
        stroke: Option<Stroke>,
    ) {
        let paint = self.paint(fill, stroke);
        let _ = writeln!(
            self.body,
            r#"<circle{paint} cx="{}" cy="{}" r="{}"/>"#,
            number(x),
            number(y),
            number(radius)
        );
    }

    /// A text on one line, its base at `y`.
    pub fn text(&mut self, x: Tenths, y: Tenths, text: &str, words: Words) {
        let class = match (words.ink, words.halo) {
            (Ink::Ink, false) => String::new(),
            (Ink::Ink, true) => " class=\"halo\"".to_string(),
            (ink, false) => format!(" class=\"{}-ink\"", ink.name()),
            (ink, true) => format!(" class=\"halo {}-ink\"", ink.name()),
        };
        let anchor = match words.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = write!(
            self.body,
            r#"<text{class} x="{}" y="{}" text-anchor="{anchor}" fill="{}""#,
            number(x),
            number(y),
            words.ink.colour()
        );
        if words.halo {
            let paper = Ink::Paper.colour();
            let _ = write!(
                self.body,
                r#" stroke="{paper}" stroke-width="4" stroke-linejoin="round" paint-order="stroke""#
            );
        }
        if words.bold {
            self.body.push_str(r#" font-weight="700""#);
        }
        if words.struck {
            self.body.push_str(r#" text-decoration="line-through""#);
        }
        let _ = writeln!(self.body, ">{}</text>", escaped(text));
    }

    /// The drawing, with what it is called and what it says, for those who do not see it.
    pub fn finish(self, height: Tenths, title: &str, says: &str) -> Drawing {
        let (id, width, height) = (&self.id, number(self.size.width()), number(height));
        let mut svg = format!(
            r#"<svg class="{}" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" aria-labelledby="{id}-t {id}-d" font-family="system-ui, Segoe UI, Roboto, Noto Sans, Liberation Sans, sans-serif" font-size="{LETTERS}" fill="none">
<title id="{id}-t">{}</title>
<desc id="{id}-d">{}</desc>
"#,
            self.size.class(),
            escaped(title),
            escaped(says)
        );
        if !self.patterns.is_empty() {
            svg.push_str("<defs>");
            for pattern in &self.patterns {
                svg.push_str(&pattern.defined(id));
            }
            svg.push_str("</defs>\n");
        }
        svg.push_str(&self.body);
        svg.push_str("</svg>");
        Drawing(svg)
    }

    /// A drawing that only repeats the words beside it: readers skip it. It carries no text.
    pub fn decoration(self, class: &str, sides: (Tenths, Tenths)) -> Drawing {
        let (width, height) = (number(sides.0), number(sides.1));
        Drawing(format!(
            r#"<svg class="{class}" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" aria-hidden="true" fill="none">
{}</svg>"#,
            self.body
        ))
    }

    /// Classes and attributes of a fill and a line.
    fn paint(&mut self, fill: Fill, stroke: Option<Stroke>) -> String {
        let mut classes = Vec::new();
        let mut attributes = String::new();
        match fill {
            Fill::None => {}
            Fill::Ink(ink) => {
                classes.push(format!("{}-fill", ink.name()));
                let _ = write!(attributes, r#" fill="{}""#, ink.colour());
            }
            Fill::Pattern(pattern) => {
                self.patterns.insert(pattern);
                let _ = write!(
                    attributes,
                    r#" fill="url(#{}-{})""#,
                    self.id,
                    pattern.name()
                );
            }
        }
        if let Some(stroke) = stroke {
            classes.push(format!("{}-line", stroke.ink.name()));
            let (colour, width) = (stroke.ink.colour(), number(stroke.width));
            let _ = write!(attributes, r#" stroke="{colour}" stroke-width="{width}""#);
            if !stroke.dash.is_empty() {
                let _ = write!(attributes, r#" stroke-dasharray="{}""#, stroke.dash);
            }
        }
        match classes.is_empty() {
            true => attributes,
            false => format!(r#" class="{}"{attributes}"#, classes.join(" ")),
        }
    }
}

fn path_through(points: &[(Tenths, Tenths)]) -> String {
    let mut path = String::new();
    let mut before = None;
    for (x, y) in points.iter().copied() {
        let _ = match before {
            None => write!(path, "M{} {}", number(x), number(y)),
            Some((_, level)) if level == y => write!(path, "H{}", number(x)),
            Some((upright, _)) if upright == x => write!(path, "V{}", number(y)),
            Some(_) => write!(path, "L{} {}", number(x), number(y)),
        };
        before = Some((x, y));
    }
    path
}

/// Tenths as a number: `12`, `12.5`, `-0.5`.
pub fn number(tenths: Tenths) -> String {
    let sign = if tenths < 0 { "-" } else { "" };
    let (whole, rest) = (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10);
    match rest {
        0 => format!("{sign}{whole}"),
        rest => format!("{sign}{whole}.{rest}"),
    }
}

/// A text as XML. Letters that XML does not know become U+FFFD (XML 1.0, 2.2).
fn escaped(text: &str) -> String {
    let known = |letter: char| match letter {
        '\t' | '\n' | '\r' => ' ',
        '\0'..'\u{20}' | '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
        letter => letter,
    };
    let text: String = text.chars().map(known).collect();
    let mut out = String::new();
    let _ = Shown.write_escaped_str(&mut out, &text);
    out
}

/// How wide a text is at most about, in letters of the size of drawings: system faces differ, so this is
/// what a wide one takes.
pub fn width_of(text: &str) -> Tenths {
    let wide = |letter: char| match letter {
        'i' | 'j' | 'l' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | ' ' | '\u{202f}' => 42,
        'f' | 't' | 'r' | '(' | ')' | '-' | '/' | '[' | ']' | '1' => 62,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 125,
        'A'..='Z' => 92,
        '\0'..='\u{24f}' => 80,
        _ => 130,
    };
    text.chars().map(wide).sum()
}

/// A text that is no wider than so much: what is too long is cut and ends with three dots.
pub fn fitted(text: &str, width: Tenths) -> String {
    if width_of(text) <= width {
        return text.to_string();
    }
    let dots = width_of("...");
    let mut kept = String::new();
    let mut used = dots;
    for letter in text.chars() {
        used += width_of(letter.encode_utf8(&mut [0; 4]));
        if used > width.max(dots + units(1)) {
            break;
        }
        kept.push(letter);
    }
    format!("{}...", kept.trim_end())
}
