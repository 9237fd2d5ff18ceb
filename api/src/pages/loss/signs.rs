//! The row of signs under the base: repairs and tests.

use super::axes::Axes;
use super::step_words;
use crate::pages::picture::{Anchor, Ink, Pen, Sign, Tenths, Words, fitted, units, width_of};
use reports::standing::{StepDone, StepKind};

/// Repairs and tests under the base: signs that move apart where they would cover each other, with
/// words where there is room.
pub(super) fn signs(steps: &[StepDone], axes: &Axes, pen: &mut Pen) {
    const APART: Tenths = units(15);
    let y = axes.base + units(22);
    let (least, most) = (axes.left + units(6), axes.right - units(4));
    let fit = usize::try_from((most - least) / APART + 1).unwrap_or(1);
    // Where there are more than fit, the newest are drawn; the table has all.
    let shown = &steps[steps.len().saturating_sub(fit)..];
    let mut places: Vec<Tenths> = Vec::new();
    for step in shown {
        let after = places.last().map_or(least, |before| before + APART);
        places.push(axes.x(step.day).max(after));
    }
    let mut before = most + APART;
    for place in places.iter_mut().rev() {
        *place = (*place).min(before - APART);
        before = *place;
    }
    for (step, x) in shown.iter().zip(&places) {
        let sign = match step.what {
            StepKind::Repair => Sign::Repair,
            StepKind::Passed => Sign::Passed,
            StepKind::Failed => Sign::Failed,
            StepKind::Undecided => Sign::Undecided,
        };
        pen.sign(sign, Ink::Ink, *x, y);
    }
    sign_words(shown, &places, axes, pen);
}

/// What the signs of a cluster say, behind it or before it.
fn sign_words(steps: &[StepDone], places: &[Tenths], axes: &Axes, pen: &mut Pen) {
    let base = axes.base + units(27);
    let mut at = 0;
    let mut written = axes.left - units(4);
    while at < places.len() {
        let mut end = at + 1;
        while end < places.len() && places[end] - places[end - 1] < units(40) {
            end += 1;
        }
        let mut words: Vec<&str> = Vec::new();
        for step in &steps[at..end] {
            let says = step_words(step);
            if !words.contains(&says) {
                words.push(says);
            }
        }
        let text = fitted(&words.join(", "), units(240));
        let (first, last) = (places[at], places[end - 1]);
        let next = places
            .get(end)
            .map_or(axes.size.width(), |next| next - units(10));
        let wide = width_of(&text);
        if last + units(11) + wide <= next {
            pen.text(
                last + units(11),
                base,
                &text,
                Words::of(Ink::Soft, Anchor::Start),
            );
            written = last + units(11) + wide;
        } else if first - units(11) - wide >= written {
            pen.text(
                first - units(11),
                base,
                &text,
                Words::of(Ink::Soft, Anchor::End),
            );
            written = last + units(10);
        } else {
            written = last + units(10);
        }
        at = end;
    }
}
