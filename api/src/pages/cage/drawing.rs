//! Draws the cage: one lying bar for each cylinder of the page, all to one scale.
//!
//! A bar is as long as the water the cylinder would hold, filled as far as its content goes; the notch is
//! its limit, and what lies beyond it is crossed: keep empty. The pattern tells the condition of the
//! content, a flag a test that is due, a lock that nothing may go in. Words beside each bar say the same.

use crate::actions::show::cage::Listed;
use crate::pages::picture::{
    Anchor, Drawing, Fill, Ink, Pattern, Pen, Picture, Sign, Size, Stroke, Tenths, Words, along,
    fitted, ticks, units, width_of,
};
use crate::pages::{figures, words};
use reports::day::Day;
use reports::mass::{Mass, lb_oz_text};

/// A cylinder as it is drawn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lying {
    tag: String,
    content: String,
    condition: Option<String>,
    /// Length, content and limit, in steps; no length: neither capacity nor limit is known.
    whole: Option<i128>,
    net: i128,
    limit: Option<i128>,
    holds: String,
    room: String,
    sign: Option<(Sign, String)>,
    ground: Fill,
    /// Is it there to recover into?
    is_recovery: bool,
}

/// Height of a row.
fn row(size: Size) -> Tenths {
    units(size.pick(46, 76))
}

const THICK: Tenths = units(16);
const TOP: Tenths = units(28);

impl Lying {
    /// The cylinder of a list, as it stands on a day.
    pub fn of(listed: &Listed, today: Day) -> Lying {
        let (fill, brief) = (&listed.fill, &listed.fill.brief);
        let steps = |mass: Mass| i128::from(mass.steps());
        let limit = fill.limit.as_ref().map(|limit| steps(limit.limit));
        let lengths = [
            brief.water_capacity.map(steps),
            brief.capacity.map(steps),
            limit,
        ];
        let is_recovery = brief.usage.as_deref() == Some("recovery");
        Lying {
            tag: listed.thing.tag.clone(),
            content: super::content(&listed.thing),
            condition: listed.class.clone(),
            whole: lengths.into_iter().flatten().max(),
            net: fill.net,
            limit,
            holds: match fill.net {
                0 => "empty".to_string(),
                net => lb_oz_text(net),
            },
            room: room(listed),
            sign: sign(listed, today),
            ground: ground(listed.class.as_deref(), is_recovery),
            is_recovery,
        }
    }
}

/// The pattern of a condition.
pub(super) fn ground(class: Option<&str>, is_recovery: bool) -> Fill {
    match class {
        Some("clean") => Fill::Pattern(Pattern::Dense),
        Some("suspect" | "unknown") => Fill::Pattern(Pattern::Dots),
        Some("burn_out" | "mixed") => Fill::Pattern(Pattern::Level),
        _ if is_recovery => Fill::Pattern(Pattern::Fine),
        _ => Fill::Ink(Ink::Ink),
    }
}

/// What stands beside the bar of its room.
fn room(listed: &Listed) -> String {
    let fill = &listed.fill;
    let closed = |word: &str| fill.closed.contains(&word);
    match fill.room_steps {
        _ if closed("quarantined") => "none, under quarantine".to_string(),
        _ if closed("expired") => "none, test overdue".to_string(),
        _ if closed("condemned") => "condemned".to_string(),
        _ if closed("retired") => "retired".to_string(),
        _ if closed("disposable") => "never refilled".to_string(),
        Some(room) if room < 0 => format!("over-full by {}", lb_oz_text(-room)),
        Some(room) => format!("room {}", crate::actions::judge::cut_text(room)),
        None if fill.net == 0 && fill.brief.water_capacity.is_some() => {
            "room by what goes in".to_string()
        }
        None => "room not known".to_string(),
    }
}

/// A lock where it is expired or under quarantine, a flag where its test is due within 90 days.
fn sign(listed: &Listed, today: Day) -> Option<(Sign, String)> {
    let fill = &listed.fill;
    let month = |day: Day| day.to_string()[..7].to_string();
    if fill.closed.contains(&"quarantined") {
        return Some((Sign::Lock, "held".to_string()));
    }
    let due = fill.brief.retest_on?;
    if fill.closed.contains(&"expired") {
        return Some((Sign::Lock, month(due)));
    }
    // What is never filled again needs no test.
    let gone = ["disposable", "condemned", "retired"];
    let is_gone = fill.closed.iter().any(|word| gone.contains(word));
    let left = due.days_since(today);
    let is_due = !is_gone && left <= crate::actions::show::cage::DUE_WITHIN;
    is_due.then(|| (Sign::Flag, due.to_string()))
}

/// The picture of the cylinders of a page, in their order; `None`: there are none.
pub fn picture(lying: &[Lying]) -> Option<Picture> {
    if lying.is_empty() {
        return None;
    }
    let says = says(lying);
    let title = format!(
        "The cage: {}, what they hold and how much room is left",
        figures::counted(lying.len(), "cylinder", "cylinders")
    );
    Some(Picture::of(sentence(lying), |size| {
        draw(lying, size, &words::capital(&title), &says)
    }))
}

/// `TR-0417 has the least room, 4 lb 2 oz of R-410A; TR-0411 has the most, ...`
fn sentence(lying: &[Lying]) -> String {
    let open =
        |one: &&Lying| one.is_recovery && one.room.starts_with("room ") && one.sign_is_no_lock();
    let with_room = lying.iter().filter(open);
    let room = |one: &&Lying| {
        one.limit
            .map(|limit| limit - one.net)
            .filter(|room| *room > 0)
    };
    let known: Vec<(&Lying, i128)> = with_room
        .filter_map(|one| Some((one, room(&one)?)))
        .collect();
    let told = |(one, room): &(&Lying, i128)| {
        format!(
            "{} for {} of {}",
            one.tag,
            crate::actions::judge::cut_text(*room),
            one.content
        )
    };
    let most = known.iter().max_by_key(|(_, room)| *room);
    let least = known.iter().min_by_key(|(_, room)| *room);
    match (least, most) {
        (Some(least), Some(most)) if least.0 != most.0 => {
            format!("Least room: {}. Most: {}.", told(least), told(most))
        }
        (Some(one), _) => format!("Room: {}.", told(one)),
        _ => "No cylinder here holds anything that more could be recovered to.".to_string(),
    }
}

/// The whole in words, for those who do not see it: the table below has every row.
fn says(lying: &[Lying]) -> String {
    let locked = lying.iter().filter(|one| !one.sign_is_no_lock()).count();
    let flagged = |one: &&Lying| matches!(one.sign, Some((Sign::Flag, _)));
    format!(
        "{} Closed by test or quarantine: {locked}. Tests due within 90 days: {}. The table below \
         has each cylinder.",
        sentence(lying),
        lying.iter().filter(flagged).count()
    )
}

impl Lying {
    fn sign_is_no_lock(&self) -> bool {
        !matches!(self.sign, Some((Sign::Lock, _)))
    }
}

/// What the full width stands for: the longest bar, unless a few would make all others too short to be
/// read. Those few are cut, each with its length in it.
fn scale(lying: &[Lying]) -> i128 {
    let length = |one: &Lying| one.whole.unwrap_or(0).max(one.net).max(1);
    let mut lengths: Vec<i128> = lying.iter().map(length).collect();
    lengths.sort_unstable();
    let nine_tenths = (lengths.len() * 9).div_ceil(10).max(1) - 1;
    let (most, usual) = (lengths.last().copied(), lengths.get(nine_tenths).copied());
    let (most, usual) = (most.unwrap_or(1), usual.unwrap_or(1));
    if most * 2 > usual * 3 { usual } else { most }
}

/// Where the bars begin and how long the longest is.
fn bars(size: Size) -> (Tenths, Tenths) {
    match size {
        Size::Wide => (units(166), units(330)),
        Size::Narrow => (units(8), units(264)),
    }
}

fn draw(lying: &[Lying], size: Size, title: &str, says: &str) -> Drawing {
    let mut pen = Pen::new("p2", size);
    let longest = scale(lying);
    let pound = i128::from(Mass::POUND);
    let pounds = (longest + pound - 1) / pound;
    let rows = Tenths::try_from(lying.len()).unwrap_or(0) * row(size);
    let end = TOP + rows + units(2);
    axis(&mut pen, pounds, longest, end);
    let soft = |anchor| Words::of(Ink::Soft, anchor);
    match size {
        Size::Wide => {
            pen.text(0, units(15), "Cylinder", soft(Anchor::Start));
            let told = "Filled: what is in it. Notch: limit.";
            pen.text(units(166), units(15), told, soft(Anchor::Start));
            pen.text(units(516), units(15), "Holds; room", soft(Anchor::Start));
        }
        Size::Narrow => {
            let told = "Filled: what it holds. Notch: limit.";
            pen.text(0, units(15), told, soft(Anchor::Start));
        }
    }
    for (at, one) in lying.iter().enumerate() {
        let top = TOP + Tenths::try_from(at).unwrap_or(0) * row(size);
        if at > 0 && lying[at - 1].content != one.content {
            let line = Stroke::of(Ink::Line, 10);
            pen.line((0, top), (size.width(), top), line);
        }
        beside(&mut pen, one, top);
        bar(&mut pen, one, top, longest);
    }
    pen.finish(end + units(18), title, says)
}

fn axis(pen: &mut Pen, pounds: i128, longest: i128, end: Tenths) {
    let (x, length) = bars(pen.size());
    let pound = i128::from(Mass::POUND);
    let marks = ticks(pounds, pen.size().pick(6, 4));
    let inside: Vec<i128> = marks
        .into_iter()
        .filter(|tick| tick * pound <= longest)
        .collect();
    for (at, tick) in inside.iter().enumerate() {
        let place = x + along(tick * pound, longest, length);
        let hair = Stroke::of(Ink::Ruling, 10);
        pen.line((place, TOP - units(4)), (place, end), hair);
        let unit = if at + 1 == inside.len() { " lb" } else { "" };
        let anchor = match (at, pen.size()) {
            (0, Size::Narrow) => Anchor::Start,
            (last, _) if last + 1 == inside.len() && place + units(30) > pen.size().width() => {
                Anchor::End
            }
            _ => Anchor::Middle,
        };
        let words = Words::of(Ink::Soft, anchor);
        pen.text(place, end + units(14), &format!("{tick}{unit}"), words);
    }
}

fn bar(pen: &mut Pen, one: &Lying, top: Tenths, longest: i128) {
    let (x, length) = bars(pen.size());
    let y = top + units(pen.size().pick(15, 28));
    let at = |steps: i128| along(steps, longest, length);
    let filled = at(one.net);
    let is_over = one.limit.is_some_and(|limit| one.net > limit);
    if let Some(whole) = one.whole {
        let line = Some(Stroke::of(Ink::Line, 12));
        pen.rect((x, y), (at(whole), THICK), Fill::Ink(Ink::Paper), line);
        if let Some(limit) = one.limit.filter(|limit| *limit < whole) {
            let beyond = (at(whole) - at(limit), THICK);
            pen.rect(
                (x + at(limit), y),
                beyond,
                Fill::Pattern(Pattern::Cross),
                None,
            );
        }
    }
    if filled > 0 {
        let ink = if is_over { Ink::Over } else { Ink::Ink };
        // Paper below the pattern, so that nothing shines through it.
        pen.rect((x, y), (filled, THICK), Fill::Ink(Ink::Paper), None);
        pen.rect(
            (x, y),
            (filled, THICK),
            one.ground,
            Some(Stroke::of(ink, 15)),
        );
    }
    // A notch where something may still go in; a bar that is its limit has its end for one.
    if let (Some(limit), Some(whole)) = (one.limit, one.whole)
        && limit < whole.min(longest)
    {
        let place = x + at(limit);
        let notch = Stroke::of(Ink::Ink, 30);
        pen.line((place, y - units(6)), (place, y + THICK + units(6)), notch);
    }
    let whole = one.whole.unwrap_or(0).max(one.net);
    if whole > longest {
        broken(pen, (x + length, y), whole);
    }
}

/// The end of a bar that is longer than the scale: a gap, and how long it is.
fn broken(pen: &mut Pen, (end, y): (Tenths, Tenths), whole: i128) {
    let pound = i128::from(Mass::POUND);
    let told = format!("{} lb", (whole + pound / 2) / pound);
    let wide = width_of(&told) + units(4);
    let (left, top, foot) = (end - units(22), y - units(2), y + THICK + units(2));
    let paper = Fill::Ink(Ink::Paper);
    pen.rect(
        (left - wide - units(4), y + 8),
        (wide, THICK - 16),
        paper,
        None,
    );
    let words = Words::of(Ink::Ink, Anchor::End);
    pen.text(left - units(6), y + units(13), &told, words);
    let line = Stroke::of(Ink::Line, 12);
    let gap = [
        (left + 60, top),
        (left + 110, top),
        (left + 70, foot),
        (left + 20, foot),
    ];
    pen.outline(&gap, paper, None);
    pen.line(gap[0], gap[3], line);
    pen.line(gap[1], gap[2], line);
}

/// The words of a row.
fn beside(pen: &mut Pen, one: &Lying, top: Tenths) {
    let size = pen.size();
    let bold = |anchor| Words::of(Ink::Ink, anchor).bold();
    let soft = |anchor| Words::of(Ink::Soft, anchor);
    let content = match one.condition.as_deref() {
        Some(class) => format!("{}, {}", one.content, words::class(class)),
        None => one.content.clone(),
    };
    let odd = one.net < 0 || one.room.starts_with("over-full");
    let ink = if odd { Ink::Over } else { Ink::Ink };
    let first = top + units(size.pick(21, 19));
    match size {
        Size::Wide => {
            let second = first + units(16);
            let room = Words::of(if odd { ink } else { Ink::Soft }, Anchor::Start);
            pen.text(0, first, &fitted(&one.tag, units(156)), bold(Anchor::Start));
            pen.text(
                0,
                second,
                &fitted(&content, units(158)),
                soft(Anchor::Start),
            );
            let x = units(516);
            let holds = Words::of(ink, Anchor::Start).bold();
            pen.text(x, first, &fitted(&one.holds, units(112)), holds);
            pen.text(x, second, &fitted(&one.room, units(204)), room);
        }
        Size::Narrow => {
            pen.text(0, first, &fitted(&one.tag, units(90)), bold(Anchor::Start));
            let content = fitted(&content, units(if one.sign.is_some() { 82 } else { 184 }));
            pen.text(units(96), first, &content, soft(Anchor::Start));
            let told = fitted(&format!("{}; {}", one.holds, one.room), units(280));
            pen.text(0, first + units(44), &told, Words::of(ink, Anchor::Start));
        }
    }
    if let Some((sign, says)) = &one.sign {
        let ink = match sign {
            Sign::Lock => Ink::Over,
            _ => Ink::Ink,
        };
        let says = match size {
            Size::Wide => says.as_str(),
            Size::Narrow => &says[..says.len().min(7)],
        };
        let x = size.width();
        pen.text(x, first, says, Words::of(ink, Anchor::End));
        let wide = width_of(says);
        pen.sign(*sign, ink, x - wide - units(12), first - units(5));
    }
}

#[cfg(test)]
mod tests;
