//! Words beside the uprights, as far as there is room.

use super::axes::Axes;
use super::draw::WEIGHT;
use super::room::{LINE, Label, Room};
use super::{Loss, Parts, Stem, left_out_words};
use crate::pages::picture::{Anchor, Ink, Pen, Size, Tenths, Words, units};

/// Words that have found their place.
pub(super) struct Written {
    lines: Vec<String>,
    at: (Tenths, Tenths, Anchor),
    bold: bool,
}

/// Mass and rate of the newest addition: they find their place before everything else.
pub(super) fn newest(loss: &Loss, axes: &Axes, room: &mut Room) -> Option<Written> {
    beside_stem(loss.stems.last()?, axes, room)
}

/// Mass and rate beside each other upright, as far as there is room; the table has all of them. What is
/// cut comes first, then what is over, then the rest from the right.
pub(super) fn labels(loss: &Loss, axes: &Axes, room: &mut Room) -> Vec<Written> {
    let others = loss.stems.len().saturating_sub(1);
    let mut order: Vec<&Stem> = loss.stems[..others].iter().collect();
    let is_cut = |stem: &Stem| stem.rate.is_some_and(|rate| rate > axes.highest());
    order.sort_by_key(|stem| std::cmp::Reverse((is_cut(stem), stem.is_over, stem.day)));
    let mut written: Vec<Written> = Vec::new();
    for stem in order {
        written.extend(beside_stem(stem, axes, room));
    }
    for left_out in loss.course.left_out.iter().rev() {
        let lines = [
            left_out.mass.lb_oz.clone(),
            left_out_words(left_out).to_string(),
        ];
        let (x, top) = (axes.x(left_out.day), axes.base - WEIGHT);
        written.extend(
            beside(x, top, &[lines.to_vec()], false, room).map(|(lines, at)| Written {
                lines,
                at,
                bold: false,
            }),
        );
    }
    written
}

fn beside_stem(stem: &Stem, axes: &Axes, room: &mut Room) -> Option<Written> {
    let top = stem
        .rate
        .map_or(axes.base - WEIGHT, |rate: Parts| axes.y(rate));
    let rate = || Some(stem.rate_text.clone()).filter(|text| !text.is_empty());
    let mut ways: Vec<Vec<String>> = vec![[stem.mass.clone()].into_iter().chain(rate()).collect()];
    // On a telephone pounds and ounces may stand below each other.
    if let (Size::Narrow, Some((pounds, ounces))) = (axes.size, stem.mass.split_once(" lb ")) {
        let pounds = format!("{pounds} lb");
        ways.push(
            [pounds, ounces.to_string()]
                .into_iter()
                .chain(rate())
                .collect(),
        );
    }
    let bold = stem.is_over;
    let (lines, at) = beside(axes.x(stem.day), top, &ways, bold, room)?;
    Some(Written { lines, at, bold })
}

/// Finds room beside the top of an upright for one of several ways to write something.
fn beside(
    x: Tenths,
    top: Tenths,
    ways: &[Vec<String>],
    bold: bool,
    room: &mut Room,
) -> Option<(Vec<String>, (Tenths, Tenths, Anchor))> {
    let (left, right) = (x - units(10), x + units(10));
    for crossing in [false, true] {
        for lines in ways {
            let above = top - units(7) - LINE * (Tenths::try_from(lines.len()).unwrap_or(1) - 1);
            let places = [
                (x, above, Anchor::Middle),
                (left, top + units(8), Anchor::End),
                (right, top + units(8), Anchor::Start),
                (x - units(14), above, Anchor::Start),
                (x + units(14), above, Anchor::End),
                (left, above, Anchor::End),
                (right, above, Anchor::Start),
                (left, top + units(28), Anchor::End),
                (right, top + units(28), Anchor::Start),
                (left, top + units(56), Anchor::End),
                (right, top + units(56), Anchor::Start),
            ];
            let words: Vec<&str> = lines.iter().map(String::as_str).collect();
            let label = Label {
                lines: &words,
                bold,
                places: &places,
            };
            if let Some(at) = room.place_once(&label, crossing) {
                return Some((lines.clone(), at));
            }
        }
    }
    None
}

pub(super) fn write(written: &Written, pen: &mut Pen) {
    let (x, base, anchor) = written.at;
    let words = Words::of(Ink::Ink, anchor).halo();
    let words = if written.bold { words.bold() } else { words };
    for (at, line) in (0..).zip(&written.lines) {
        pen.text(x, base + LINE * at, line, words);
    }
}
