//! The drawing itself, from the ground upwards: hatching, lines, uprights, words, signs.

use super::axes::Axes;
use super::room::{LINE, Label, Room};
use super::{Loss, Parts, Stem, left_out_words, step_words};
use crate::pages::figures;
use crate::pages::picture::{
    Anchor, Drawing, Fill, Ink, Pattern, Pen, Sign, Size, Stroke, Tenths, Words, fitted, units,
    width_of,
};
use reports::standing::{StepDone, StepKind};

/// The widest weight at the foot of an upright.
const WEIGHT: Tenths = units(16);

pub(super) fn drawing(loss: &Loss, size: Size, sentence: &str) -> Drawing {
    let axes = Axes::of(loss, size);
    let mut pen = Pen::new("loss", size);
    let mut room = Room::new((0, axes.top - units(5), size.width(), axes.base - units(2)));
    let has_rates = loss.stems.iter().any(|stem| stem.rate.is_some())
        || loss.limits.iter().any(|limit| limit.value.is_some());
    follow_ups(loss, &axes, &mut pen);
    axes.percents(&mut pen, has_rates);
    axes.months(&mut pen);
    room.take((0, axes.top - units(10), axes.left, axes.base));
    rolling(loss, &axes, &mut pen, &mut room);
    limits(loss, &axes, &mut pen, &mut room);
    unknown(loss, &axes, &mut pen, &mut room);
    for stem in &loss.stems {
        let x = axes.x(stem.day);
        let top = stem.rate.map_or(axes.base - WEIGHT, |rate| axes.y(rate));
        room.avoid((x - units(3), top - units(2), x + units(3), axes.base));
    }
    uprights(loss, &axes, &mut pen);
    ghosts(loss, &axes, &mut pen, &mut room);
    labels(loss, &axes, &mut pen, &mut room);
    signs(&loss.course.steps, &axes, &mut pen);
    let (first, last) = (loss.course.first, loss.course.last);
    let month = |day| {
        let text = figures::day(day);
        text.split_once(' ')
            .map_or(text.clone(), |(_, month)| month.to_string())
    };
    let title = format!(
        "Loss and limit, {}, {} to {}",
        loss.tag,
        month(first),
        month(last)
    );
    let says = match loss.rolling.last().filter(|now| now.value.is_some()) {
        Some(now) => format!("{sentence} The rolling year stands at {}.", now.text),
        None => sentence.to_string(),
    };
    pen.finish(axes.height, &title, &says)
}

/// Hatched ground from the day a limit was passed until the follow-up was closed, named above.
fn follow_ups(loss: &Loss, axes: &Axes, pen: &mut Pen) {
    let mut names = Room::new((0, 0, axes.size.width(), axes.top));
    for one in loss.follow_ups.iter().rev() {
        let begins = axes.x(one.from.max(loss.course.first));
        let ends = axes.x(one.until.unwrap_or(loss.course.last));
        let wide = (ends - begins)
            .max(units(3))
            .min(axes.right - begins)
            .max(units(1));
        let sides = (wide, axes.base - axes.top);
        pen.rect(
            (begins, axes.top),
            sides,
            Fill::Pattern(Pattern::Open),
            None,
        );
        let name = format!("follow-up {}", one.number);
        let base = axes.top - units(8);
        let places = [
            (begins, base, Anchor::Start),
            (begins + wide, base, Anchor::End),
        ];
        let label = Label {
            lines: &[&name],
            places: &places,
        };
        if let Some((x, base, anchor)) = names.place(&label) {
            pen.text(x, base, &name, Words::of(Ink::Ink, anchor));
        }
    }
}

/// The rolling year: level from one day to the next on which it changes.
fn rolling(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
    let stroke = Stroke::of(Ink::Ink, if loss.rolls { 26 } else { 16 });
    let mut points: Vec<(Tenths, Tenths)> = Vec::new();
    let mut finish = |points: &mut Vec<(Tenths, Tenths)>| {
        if points.len() > 1 && points.iter().any(|(_, y)| *y != axes.base) {
            pen.through(points, stroke);
        }
        points.clear();
    };
    for (at, from) in loss.rolling.iter().enumerate() {
        let next = loss.rolling.get(at + 1);
        let end = axes.x(next.map_or(loss.course.last, |next| next.from));
        match from.value {
            Some(value) => {
                let y = axes.y(value);
                points.extend([(axes.x(from.from), y), (end, y)]);
            }
            None => finish(&mut points),
        }
    }
    finish(&mut points);
    let Some(now) = loss.rolling.last().filter(|now| now.value.is_some()) else {
        return;
    };
    match axes.size {
        Size::Wide => {
            let words = Words::of(Ink::Ink, Anchor::Start);
            let (x, y) = (axes.right + units(8), axes.y(now.value.unwrap_or(0)));
            // At the very bottom it would stand among the months.
            let y = y.min(axes.base - units(14));
            let limit = loss
                .limits
                .last()
                .and_then(|limit| limit.value)
                .map(|value| axes.y(value));
            let y = match limit {
                Some(limit) if (limit - y).abs() < units(24) && limit <= y => limit + units(24),
                Some(limit) if (limit - y).abs() < units(30) => limit - units(30),
                _ => y,
            };
            pen.text(x, y + units(2), "rolling year", words);
            pen.text(x, y + units(18), &now.text, words);
            room.take((x, y - units(10), axes.size.width(), y + units(21)));
        }
        Size::Narrow => {
            let text = format!("Thin line: rolling year, now {}", now.text);
            pen.text(
                axes.left,
                axes.height - units(6),
                &text,
                Words::of(Ink::Ink, Anchor::Start),
            );
        }
    }
}

/// The limit: a broken line with a step wherever it changed, named where it ends.
fn limits(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
    let stroke = Stroke::of(Ink::Over, 20).dashed("9 5");
    let mut points: Vec<(Tenths, Tenths)> = Vec::new();
    for (at, limit) in loss.limits.iter().enumerate() {
        let next = loss.limits.get(at + 1);
        let (begins, ends) = (
            axes.x(limit.from),
            axes.x(next.map_or(loss.course.last, |next| next.from)),
        );
        let Some(value) = limit.value else {
            pen_through(pen, &mut points, stroke);
            continue;
        };
        let y = axes.y(value);
        points.extend([(begins, y), (ends, y)]);
        room.avoid((begins, y - units(2), ends, y + units(2)));
        let name = format!("limit {}", limit.text);
        match next {
            None => limit_name(axes, pen, room, &name, y),
            Some(_) if ends - begins > width_of(&name) + units(8) => {
                let places = [
                    (ends - units(4), y - units(7), Anchor::End),
                    (begins + units(4), y - units(7), Anchor::Start),
                    (ends - units(4), y + units(16), Anchor::End),
                ];
                let label = Label {
                    lines: &[&name],
                    places: &places,
                };
                if let Some((x, base, anchor)) = room.place(&label) {
                    pen.text(x, base, &name, Words::of(Ink::Over, anchor).halo());
                }
            }
            Some(_) => {}
        }
    }
    pen_through(pen, &mut points, stroke);
}

/// The name of the limit in force, at its right end.
fn limit_name(axes: &Axes, pen: &mut Pen, room: &mut Room, name: &str, y: Tenths) {
    let words = |anchor| Words::of(Ink::Over, anchor).bold();
    match axes.size {
        Size::Wide => {
            pen.text(
                axes.right + units(8),
                y + units(5),
                name,
                words(Anchor::Start),
            );
            room.take((
                axes.right + units(8),
                y - units(8),
                axes.size.width(),
                y + units(9),
            ));
        }
        Size::Narrow => {
            let places = [
                (axes.right, y - units(6), Anchor::End),
                (axes.right, y + units(16), Anchor::End),
            ];
            let label = Label {
                lines: &[name],
                places: &places,
            };
            if let Some((x, base, anchor)) = room.place(&label) {
                pen.text(x, base, name, words(anchor).halo());
            }
        }
    }
}

fn pen_through(pen: &mut Pen, points: &mut Vec<(Tenths, Tenths)>, stroke: Stroke) {
    if points.len() > 1 {
        pen.through(points, stroke);
    }
    points.clear();
}

/// A bracket over the days on which no rate can be worked out.
fn unknown(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
    for (at, from) in loss
        .rolling
        .iter()
        .enumerate()
        .filter(|(_, it)| it.value.is_none())
    {
        let next = loss.rolling.get(at + 1);
        let begins = axes.x(from.from);
        let ends = axes.x(next.map_or(loss.course.last, |next| next.from));
        let y = axes.top + units(20);
        let points = [
            (begins, y + units(7)),
            (begins, y),
            (ends, y),
            (ends, y + units(7)),
        ];
        pen.through(&points, Stroke::of(Ink::Line, 20));
        let base = y + units(20);
        let places = [
            ((begins + ends) / 2, base, Anchor::Middle),
            (begins, base, Anchor::Start),
            (ends, base, Anchor::End),
        ];
        let label = Label {
            lines: &["full charge unknown"],
            places: &places,
        };
        if let Some((x, base, anchor)) = room.place(&label) {
            pen.text(
                x,
                base,
                "full charge unknown",
                Words::of(Ink::Ink, anchor).halo(),
            );
        }
    }
}

/// Each addition on a weight sized by its mass; what is no addition is a hollow weight.
fn uprights(loss: &Loss, axes: &Axes, pen: &mut Pen) {
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
fn ghosts(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
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
        let text = axes.size.pick(
            format!("first booked as {}", ghost.mass),
            ghost.mass.clone(),
        );
        let places = [
            (x + units(9), y + units(4), Anchor::Start),
            (x - units(9), y + units(4), Anchor::End),
            (x + units(9), y - units(6), Anchor::Start),
            (x - units(9), y - units(6), Anchor::End),
        ];
        let label = Label {
            lines: &[&text],
            places: &places,
        };
        if let Some((x, base, anchor)) = room.place(&label) {
            let words = Words::of(Ink::Soft, anchor).halo();
            let words = if axes.size == Size::Narrow {
                words.struck()
            } else {
                words
            };
            pen.text(x, base, &text, words);
        }
    }
}

/// Mass and rate beside each upright, as far as there is room; the table has all of them. The newest
/// comes first, then what is cut, then what is over, then the rest from the right.
fn labels(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
    let newest = loss.stems.last().map(|stem| &stem.entries);
    let mut order: Vec<&Stem> = loss.stems.iter().collect();
    let is_cut = |stem: &Stem| stem.rate.is_some_and(|rate| rate > axes.highest());
    order.sort_by_key(|stem| {
        let (first, cut) = (Some(&stem.entries) == newest, is_cut(stem));
        std::cmp::Reverse((first, cut, stem.is_over, stem.day))
    });
    for stem in order {
        let top = stem
            .rate
            .map_or(axes.base - WEIGHT, |rate: Parts| axes.y(rate));
        let lines: Vec<&str> = [stem.mass.as_str(), stem.rate_text.as_str()]
            .into_iter()
            .filter(|line| !line.is_empty())
            .collect();
        let bold = stem.is_over;
        write_beside(axes.x(stem.day), top, &lines, bold, (pen, room));
    }
    for left_out in loss.course.left_out.iter().rev() {
        let why = left_out_words(left_out);
        let lines = [left_out.mass.lb_oz.as_str(), why];
        write_beside(
            axes.x(left_out.day),
            axes.base - WEIGHT,
            &lines,
            false,
            (pen, room),
        );
    }
}

fn write_beside(
    x: Tenths,
    top: Tenths,
    lines: &[&str],
    bold: bool,
    (pen, room): (&mut Pen, &mut Room),
) {
    let above = top - units(7) - LINE * (Tenths::try_from(lines.len()).unwrap_or(1) - 1);
    let (left, right) = (x - units(10), x + units(10));
    let places = [
        (x, above, Anchor::Middle),
        (left, top + units(8), Anchor::End),
        (right, top + units(8), Anchor::Start),
        (left, above, Anchor::End),
        (right, above, Anchor::Start),
        (left, top + units(28), Anchor::End),
        (right, top + units(28), Anchor::Start),
        (left, top + units(56), Anchor::End),
        (right, top + units(56), Anchor::Start),
    ];
    let label = Label {
        lines,
        places: &places,
    };
    let Some((x, base, anchor)) = room.place(&label) else {
        return;
    };
    let words = Words::of(Ink::Ink, anchor).halo();
    let words = if bold { words.bold() } else { words };
    for (at, line) in (0..).zip(lines) {
        pen.text(x, base + LINE * at, line, words);
    }
}

/// Repairs and tests under the base: signs that move apart where they would cover each other, with
/// words where there is room.
fn signs(steps: &[StepDone], axes: &Axes, pen: &mut Pen) {
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
