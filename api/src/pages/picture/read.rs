//! Reads a drawing back with a library that is not ours, for tests.

use super::{Drawing, Tenths, width_of};
use roxmltree::{Document, Node, ParsingOptions};

/// What stands in a drawing.
pub struct Read {
    /// Its title.
    pub title: String,
    /// Its description.
    pub says: String,
    /// Its ids, in order.
    pub ids: Vec<String>,
    /// Its texts, in order.
    pub texts: Vec<String>,
    /// Where each text stands: its left and right end (as wide as a wide face) and its base.
    pub places: Vec<(Tenths, Tenths, Tenths)>,
    /// Its sides.
    pub sides: (Tenths, Tenths),
}

/// Parses a drawing and looks at what every drawing must have.
pub fn drawing(drawing: &Drawing) -> Read {
    let svg = drawing.svg();
    let options = ParsingOptions::default();
    let document = Document::parse_with_options(svg, options)
        .unwrap_or_else(|error| panic!("not XML, {error}: {svg}"));
    let root = document.root_element();
    assert_eq!(
        root.tag_name().namespace(),
        Some("http://www.w3.org/2000/svg")
    );
    assert_eq!(root.attribute("role"), Some("img"), "{svg}");
    let all = || root.descendants().filter(Node::is_element);
    let known = [
        "svg", "title", "desc", "defs", "pattern", "path", "rect", "circle", "text",
    ];
    for element in all() {
        let name = element.tag_name().name();
        assert!(known.contains(&name), "{name} in {svg}");
        for attribute in element.attributes() {
            let name = attribute.name();
            assert!(
                !name.starts_with("on") && name != "style" && name != "href",
                "{name} in {svg}"
            );
        }
    }
    let text_of = |name: &str| {
        let found = all().find(|element| element.tag_name().name() == name);
        let found = found.unwrap_or_else(|| panic!("no {name} in {svg}"));
        let id = found.attribute("id").unwrap_or_default();
        let labelled = root.attribute("aria-labelledby").unwrap_or_default();
        assert!(
            labelled.split(' ').any(|other| other == id),
            "{name} is not named"
        );
        found.text().unwrap_or_default().to_string()
    };
    let (title, says) = (text_of("title"), text_of("desc"));
    assert!(!title.is_empty() && !says.is_empty(), "{svg}");
    let written: Vec<Node> = all()
        .filter(|one| one.tag_name().name() == "text")
        .collect();
    Read {
        title,
        says,
        ids: all()
            .filter_map(|one| one.attribute("id"))
            .map(str::to_string)
            .collect(),
        texts: written
            .iter()
            .map(|one| one.text().unwrap_or_default().to_string())
            .collect(),
        places: written.iter().map(place).collect(),
        sides: (tenths(&root, "width"), tenths(&root, "height")),
    }
}

impl Read {
    /// Throws when a text leaves the drawing or stands over another one.
    pub fn is_legible(&self) {
        let (width, height) = self.sides;
        let all: Vec<_> = self.places.iter().zip(&self.texts).collect();
        for (at, ((left, right, base), text)) in all.iter().enumerate() {
            assert!(
                *left >= -5 && *right <= width + 5,
                "{text} leaves the drawing: {left} to {right}"
            );
            assert!(
                *base >= 100 && *base <= height,
                "{text} leaves the drawing at {base}"
            );
            for ((other_left, other_right, other_base), other) in &all[at + 1..] {
                let apart = right <= other_left || other_right <= left;
                assert!(
                    apart || (base - other_base).abs() >= 120,
                    "{text} stands over {other}"
                );
            }
        }
    }
}

fn place(text: &Node) -> (Tenths, Tenths, Tenths) {
    let (x, base) = (tenths(text, "x"), tenths(text, "y"));
    let wide = width_of(text.text().unwrap_or_default());
    let left = match text.attribute("text-anchor") {
        Some("end") => x - wide,
        Some("middle") => x - wide / 2,
        _ => x,
    };
    (left, left + wide, base)
}

/// A number of at most one decimal.
fn tenths(element: &Node, name: &str) -> Tenths {
    let text = element.attribute(name).unwrap_or_default();
    let (whole, rest) = text.split_once('.').unwrap_or((text, "0"));
    assert_eq!(rest.len(), 1, "{name}=\"{text}\" has more than one decimal");
    format!("{whole}{rest}")
        .parse()
        .unwrap_or_else(|_| panic!("{name}=\"{text}\" is no number"))
}
