//! The differences as a picture: for each shipment our weight and the stated one as two dots on one line,
//! over the band within which two scales agree; the widest gap first, in words beside it.
//!
//! All lines share one axis, in parts of our weight, with our weight in its middle, and goes
//! as far as the widest gap, at most to our whole weight; beyond that the words alone say how far it is.

use super::{State, difference};
use crate::actions::show::shipments::{Case, LineShown};
use crate::pages::figures;
use crate::pages::picture::{
    Anchor, Drawing, Fill, Ink, Pen, Picture, Size, Stroke, Tenths, Words, along, fitted,
    nice_step, units,
};
use reports::number::Fraction;

/// Parts of our weight: a millionth.
const WHOLE: i128 = 1_000_000;
/// The least and the most that half the axis is long.
const LEAST: i128 = WHOLE / 100;
const MOST: i128 = WHOLE;
/// Most lines of the picture.
const LINES: usize = 12;

/// One line of the picture.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Gap {
    what: String,
    to: String,
    /// The same in a sentence.
    told: String,
    /// Stated less sent, in millionths of what was sent.
    parts: i128,
    /// How far two scales may be apart, likewise.
    allowed: i128,
    says: String,
    is_open: bool,
}

impl Gap {
    fn of(case: &Case, line: &LineShown) -> Option<Gap> {
        let steps = line.steps;
        let gap = steps.difference().filter(|_| steps.own > 0)?;
        let state = State::of(case.state);
        let sent = case.shipments.first()?;
        let day = figures::day_text(&sent.day);
        Some(Gap {
            what: format!("{day}, {}", line.refrigerant),
            to: case.counterparty.tag.clone(),
            told: format!(
                "{} of {}, sent on {day} to {}",
                difference(line),
                line.refrigerant,
                case.counterparty.tag
            ),
            parts: gap * WHOLE / steps.own,
            allowed: steps.tolerance * WHOLE / steps.own,
            says: format!("{}, {}", difference(line), state.short()),
            is_open: state.sign == "ask",
        })
    }
}

/// The picture of what is stated; none where nothing is.
pub fn picture(cases: &[Case]) -> Option<Picture> {
    let lines = cases.iter().flat_map(|case| {
        let gap = move |line| Gap::of(case, line);
        case.lines.iter().filter_map(gap)
    });
    let mut gaps: Vec<Gap> = lines.collect();
    gaps.sort_by(|a, b| (b.parts.abs(), &a.what, &a.to).cmp(&(a.parts.abs(), &b.what, &b.to)));
    gaps.truncate(LINES);
    let widest = gaps.first()?;
    let open = gaps.iter().filter(|gap| gap.is_open).count();
    let open = match open {
        0 => "none of them is open".to_string(),
        1 => "one of them is open".to_string(),
        more => format!("{more} of them are open"),
    };
    let sentence = format!(
        "{}, {open}; the widest is {}.",
        figures::counted(gaps.len(), "difference", "differences"),
        widest.told
    );
    let says = sentence.clone();
    Some(Picture::of(sentence, |size| draw(size, &gaps, &says)))
}

/// Where the parts of the drawing stand.
struct Room {
    left: Tenths,
    length: Tenths,
    row: Tenths,
    /// The outermost lines of the axis; no dot within our weight lies beyond.
    step: i128,
    half: i128,
}

impl Room {
    fn of(size: Size, gaps: &[Gap]) -> Room {
        let far = gaps.iter().map(|gap| gap.parts.abs().max(gap.allowed));
        let step = nice_step(far.max().unwrap_or(LEAST).clamp(LEAST, MOST), 1);
        Room {
            left: size.pick(units(250), units(12)),
            length: size.pick(units(220), units(256)),
            row: size.pick(units(38), units(81)),
            step,
            half: step * 12 / 10,
        }
    }

    /// The place of a part of our weight.
    fn at(&self, parts: i128) -> Tenths {
        self.left + along(parts + self.half, 2 * self.half, self.length)
    }
}

fn draw(size: Size, gaps: &[Gap], says: &str) -> Drawing {
    let mut pen = Pen::new("p8", size);
    let room = Room::of(size, gaps);
    let top = units(28);
    let bottom = top + room.row * i32::try_from(gaps.len()).unwrap_or(0);
    let axis = Words::of(Ink::Soft, Anchor::Middle);
    for parts in [-room.step, 0, room.step] {
        let x = room.at(parts);
        let ink = if parts == 0 { Ink::Line } else { Ink::Ruling };
        pen.line((x, top - units(4)), (x, bottom), Stroke::of(ink, 10));
        let label = match parts {
            0 => "our weight".to_string(),
            _ => percent(parts),
        };
        pen.text(x, units(16), &label, axis);
    }
    for (at, gap) in (0..).zip(gaps) {
        line(&mut pen, &room, gap, top + room.row * at);
    }
    pen.finish(bottom + units(8), "Differences at the receiver", says)
}

fn line(pen: &mut Pen, room: &Room, gap: &Gap, top: Tenths) {
    let size = pen.size();
    let base = top + size.pick(units(22), units(20));
    let words = Words::of(Ink::Ink, Anchor::Start).halo();
    match size {
        Size::Wide => {
            for (text, base) in [(&gap.what, base - units(8)), (&gap.to, base + units(7))] {
                pen.text(0, base, &fitted(text, units(240)), words);
            }
        }
        Size::Narrow => {
            for (text, base) in [(&gap.what, base), (&gap.to, base + units(15))] {
                pen.text(units(2), base, &fitted(text, units(276)), words);
            }
        }
    }
    let level = top + size.pick(units(18), units(49));
    let (own, stated) = (room.at(0), room.at(gap.parts));
    let (from, to) = (room.at(-gap.allowed), room.at(gap.allowed));
    let corner = (from, level - units(7));
    let edge = Stroke::of(Ink::Line, 10);
    pen.rect(
        corner,
        (to - from, units(14)),
        Fill::Ink(Ink::Shade),
        Some(edge),
    );
    let ink = if gap.is_open { Ink::Over } else { Ink::Ink };
    pen.line((own, level), (stated, level), Stroke::of(ink, 30));
    let ring = Some(Stroke::of(Ink::Ink, 20));
    pen.circle(own, level, units(5), Fill::Ink(Ink::Paper), ring);
    pen.circle(stated, level, units(5), Fill::Ink(ink), None);
    let words = match gap.is_open {
        true => words.bold(),
        false => words,
    };
    let x = size.pick(units(486), units(2));
    let says = fitted(&gap.says, size.pick(units(230), units(276)));
    pen.text(x, top + size.pick(units(22), units(71)), &says, words);
}

/// `−2 %`.
fn percent(parts: i128) -> String {
    let text = Fraction::new(parts.abs() * 100, WHOLE).cut(2);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    let sign = if parts < 0 { "−" } else { "+" };
    format!("{sign}{text} %")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::picture::read;

    fn gap(what: &str, parts: i128, is_open: bool) -> Gap {
        Gap {
            what: "26 November 2026, R-410A".to_string(),
            to: what.to_string(),
            told: String::new(),
            parts,
            allowed: 10_000,
            says: "−1 lb 12.8 oz (2.9 %), disputed".to_string(),
            is_open,
        }
    }

    /// 1.8 of 63 is 28 571 millionths; a hundredth lies nearer to our weight than that.
    #[test]
    fn the_dots_stand_in_order_and_every_word_is_legible() {
        let long = "A Receiver With A Name That Is Longer Than The Room, However It May Be Written, By Far";
        let gaps = [
            gap(long, -28_571, true),
            gap("Corvane Reclaim", 2_000, false),
            gap("</text><script>", -900_000, true),
        ];
        for size in Size::BOTH {
            let room = Room::of(size, &gaps[..2]);
            assert!(room.at(-28_571) < room.at(-10_000) && room.at(-10_000) < room.at(0));
            assert!(room.at(0) < room.at(2_000) && room.at(2_000) < room.at(10_000));
            let drawing = draw(size, &gaps, "Three differences.");
            let read = read::drawing(&drawing);
            read.is_legible();
            assert_eq!(read.says, "Three differences.");
            // Beside the dots what is typed stays text, and a name that has room is whole.
            assert!(
                read.texts
                    .iter()
                    .any(|text| text.ends_with("</text><script>"))
            );
            assert!(
                read.texts
                    .iter()
                    .any(|text| text.ends_with("Corvane Reclaim"))
            );
            // 2.8571 % lies within lines at 5 %, the next of 1, 2, 5, 10.
            assert_eq!(room.step, 50_000);
            assert!(read.texts.iter().any(|text| text == "our weight"));
            assert_eq!(drawing, draw(size, &gaps, "Three differences."));
        }
        assert_eq!(percent(-20_000), "−2 %");
        assert_eq!(percent(2_500), "+0.25 %");
    }
}
