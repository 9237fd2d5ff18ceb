//! Uprights on their weights, hollow weights, and what was corrected.

use super::Loss;
use super::axes::Axes;
use super::draw::WEIGHT;
use super::room::{Label, Room};
use crate::pages::picture::{Anchor, Fill, Ink, Pen, Size, Stroke, Tenths, Words, units};

/// Each addition on a weight sized by its mass; what is no addition is a hollow weight.
pub(super) fn uprights(loss: &Loss, axes: &Axes, pen: &mut Pen) {
    let largest = loss.stems.iter().map(|stem| stem.steps).max().unwrap_or(0);
    for left_out in &loss.course.left_out {
        let outline = weight(axes.x(left_out.day), axes.base, WEIGHT);
        pen.outline(
            &outline,
            Fill::Ink(Ink::Paper),
            Some(Stroke::of(Ink::Ink, 15)),
        );
    }
    for stem in &loss.stems {
        let x = axes.x(stem.day);
        if let Some(rate) = stem.rate {
            let y = axes.y(rate);
            let heavy = Stroke::of(Ink::Ink, 30);
            pen.line((x, axes.base), (x, y), heavy);
            match rate > axes.highest() {
                true => broken(pen, x, y),
                false => pen.line((x - units(6), y), (x + units(6), y), heavy),
            }
        }
        let outline = weight(x, axes.base, side(stem.steps, largest));
        pen.outline(&outline, Fill::Ink(Ink::Ink), None);
    }
}

/// An upright that goes on above the scale: two slanting lines across it.
fn broken(pen: &mut Pen, x: Tenths, y: Tenths) {
    for at in [y + units(8), y + units(13)] {
        pen.line(
            (x - units(7), at + units(3)),
            (x + units(7), at - units(3)),
            Stroke::of(Ink::Paper, 60),
        );
    }
    for at in [y + units(7), y + units(14)] {
        pen.line(
            (x - units(7), at + units(3)),
            (x + units(7), at - units(3)),
            Stroke::of(Ink::Ink, 15),
        );
    }
}

/// The side of a weight: its area is in proportion to the mass, so its side to the square root.
fn side(steps: i128, largest: i128) -> Tenths {
    let largest = largest.max(1);
    let part = (steps.clamp(0, largest) * 1_000_000 / largest).isqrt();
    let side = i128::from(WEIGHT) * part / 1_000;
    Tenths::try_from(side).unwrap_or(WEIGHT).max(units(6))
}

fn weight(x: Tenths, base: Tenths, side: Tenths) -> [(Tenths, Tenths); 4] {
    let (half, narrow) = (side / 2, side * 34 / 100);
    [
        (x - half, base),
        (x - narrow, base - side * 95 / 100),
        (x + narrow, base - side * 95 / 100),
        (x + half, base),
    ]
}

/// What was booked first and corrected: a thin dotted upright where its rate is known, else a dotted weight.
pub(super) fn ghosts(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
    let thin = Stroke::of(Ink::Line, 15).dashed("2 3");
    for ghost in &loss.ghosts {
        let x = axes.x(ghost.day);
        let y = match ghost.rate {
            Some(rate) => {
                let y = axes.y(rate);
                pen.line((x, axes.base), (x, y), thin);
                pen.line(
                    (x - units(6), y - units(4)),
                    (x + units(6), y + units(4)),
                    Stroke::of(Ink::Line, 15),
                );
                y
            }
            None => {
                let outline = weight(x, axes.base, units(11));
                pen.outline(&outline, Fill::None, Some(thin));
                axes.base - units(16)
            }
        };
        let text = match axes.size {
            Size::Wide => ghost.words.clone(),
            Size::Narrow => ghost.short.clone(),
        };
        let places = [
            (x + units(9), y + units(4), Anchor::Start),
            (x - units(9), y + units(4), Anchor::End),
            (x + units(9), y - units(6), Anchor::Start),
            (x - units(9), y - units(6), Anchor::End),
        ];
        let label = Label {
            lines: &[&text],
            bold: false,
            places: &places,
        };
        if let Some((x, base, anchor)) = room.place(&label) {
            let words = Words::of(Ink::Soft, anchor).halo();
            pen.text(x, base, &text, words);
        }
    }
}
