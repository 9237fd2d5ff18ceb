//! The drawing itself, from the ground upwards: hatching, lines, uprights, words, signs.

use super::Loss;
use super::axes::Axes;
use super::labels::{labels, newest, write};
use super::marks::{ghosts, uprights};
use super::room::{Label, Room};
use super::signs::signs;
use crate::pages::figures;
use crate::pages::picture::{
    Anchor, Drawing, Fill, Ink, Pattern, Pen, Size, Stroke, Tenths, Words, units, width_of,
};
use reports::day::Day;

/// The widest weight at the foot of an upright.
pub(super) const WEIGHT: Tenths = units(16);

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
    for stem in &loss.stems {
        let x = axes.x(stem.day);
        let top = stem.rate.map_or(axes.base - WEIGHT, |rate| axes.y(rate));
        room.avoid((x - units(3), top - units(2), x + units(3), axes.base));
    }
    lines_to_avoid(loss, &axes, &mut room);
    let newest = newest(loss, &axes, &mut room);
    rolling(loss, &axes, &mut pen, &mut room);
    limits(loss, &axes, &mut pen, &mut room);
    unknown(loss, &axes, &mut pen, &mut room);
    ghosts(loss, &axes, &mut pen, &mut room);
    uprights(loss, &axes, &mut pen);
    for written in labels(loss, &axes, &mut room).iter().chain(&newest) {
        write(written, &mut pen);
    }
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
        Some(now) => {
            let since = loss.since.as_ref();
            let since = since.map_or(String::new(), |since| format!(" {since}"));
            format!("{sentence} The rolling year stands at {}{since}.", now.text)
        }
        None => sentence.to_string(),
    };
    pen.finish(axes.height, &title, &says)
}

/// Words had better not stand on the rolling year and the limit.
fn lines_to_avoid(loss: &Loss, axes: &Axes, room: &mut Room) {
    let rolling = loss.rolling.iter().map(|it| (it.from, it.value));
    let limits = loss.limits.iter().map(|it| (it.from, it.value));
    for line in [rolling.collect::<Vec<_>>(), limits.collect()] {
        for (at, (from, value)) in line.iter().enumerate() {
            let Some(value) = value.filter(|value| *value > 0) else {
                continue;
            };
            let end = axes.until(line.get(at + 1).map(|(from, _)| *from));
            let y = axes.y(value);
            room.avoid((axes.x(*from), y - units(2), end, y + units(2)));
        }
    }
}

/// Hatched ground from the day a limit was passed until the follow-up was closed, named above.
fn follow_ups(loss: &Loss, axes: &Axes, pen: &mut Pen) {
    let mut names = Room::new((0, 0, axes.size.width(), axes.top));
    for one in loss.follow_ups.iter().rev() {
        let begins = axes.x(one.from.max(loss.course.first));
        let ends = axes.until(one.until);
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
            bold: false,
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
        let end = axes.until(next.map(|next| next.from));
        match from.value {
            // Along the base there is nothing to see.
            Some(0) => {
                points.push((axes.x(from.from), axes.base));
                finish(&mut points);
                points.push((end, axes.base));
            }
            Some(value) => {
                let y = axes.y(value);
                points.extend([(axes.x(from.from), y), (end, y)]);
            }
            None => finish(&mut points),
        }
    }
    finish(&mut points);
    rolling_words(loss, axes, pen, room);
}

/// Where the rolling year stands, and since when it counts.
fn rolling_words(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
    let Some(now) = loss.rolling.last().filter(|now| now.value.is_some()) else {
        return;
    };
    // Two lines as without a test: a third would reach what stands at the newest upright.
    let name = match loss.course.restarted {
        Some(day) => format!("year since {}", day_and_month(day)),
        None => "rolling year".to_string(),
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
            pen.text(x, y + units(2), &name, words);
            pen.text(x, y + units(18), &now.text, words);
            room.take((x, y - units(10), axes.size.width(), y + units(21)));
        }
        Size::Narrow => {
            let x = if loss.since.is_some() { 0 } else { axes.left };
            let text = format!("Thin line: {name}, now {}", now.text);
            pen.text(
                x,
                axes.height - units(6),
                &text,
                Words::of(Ink::Ink, Anchor::Start),
            );
        }
    }
}

/// `28 Jul`: a passed test began the rolling year anew on it.
fn day_and_month(day: Day) -> String {
    let written = figures::day(day);
    let mut words = written.split(' ');
    let (of_month, month) = (words.next(), words.next().unwrap_or_default());
    let month = month.get(..3).unwrap_or(month);
    format!("{} {month}", of_month.unwrap_or_default())
}

/// The limit: a broken line with a step wherever it changed, named where it ends.
fn limits(loss: &Loss, axes: &Axes, pen: &mut Pen, room: &mut Room) {
    let stroke = Stroke::of(Ink::Over, 20).dashed("9 5");
    let mut points: Vec<(Tenths, Tenths)> = Vec::new();
    for (at, limit) in loss.limits.iter().enumerate() {
        let next = loss.limits.get(at + 1);
        let (begins, ends) = (axes.x(limit.from), axes.until(next.map(|next| next.from)));
        let Some(value) = limit.value else {
            pen_through(pen, &mut points, stroke);
            continue;
        };
        let y = axes.y(value);
        points.extend([(begins, y), (ends, y)]);
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
                    bold: false,
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
                bold: true,
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
        // Before anything happened to it there was nothing to be known.
        let inside = |day: Day| day >= from.from && next.is_none_or(|next| day < next.from);
        if !loss.stems.iter().any(|stem| inside(stem.day)) {
            continue;
        }
        let begins = axes.x(from.from);
        let ends = axes.until(next.map(|next| next.from));
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
            bold: false,
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
