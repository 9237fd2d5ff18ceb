//! When a movement happened, as a file says it.
//!
//! Three ways are accepted: an instant with its offset, a local time, a day. Which local day an
//! instant is in depends on the zone of the site, which the registers know and this module does
//! not. Fractions of a second are read and cut off: no figure depends on them.

use super::problems::Bad;
use reports::day::Day;

/// When something happened, before its zone is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Occurred {
    /// An instant: seconds since 1970-01-01T00:00:00Z.
    Instant(i64),
    /// A time of day at the site.
    Local(Day, Time),
    /// A day at the site.
    Day(Day),
}

/// A time of day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Time {
    /// Seconds since midnight.
    pub second: u32,
    /// Whether the seconds were stated.
    pub to_the_second: bool,
}

/// Reads cells of one column; neighbouring rows mostly share their day.
#[derive(Debug)]
pub struct OccurredReader {
    last: [u8; 10],
    day: Day,
}

impl Default for OccurredReader {
    fn default() -> OccurredReader {
        OccurredReader {
            last: *b"1970-01-01",
            day: Day::from_count(0),
        }
    }
}

impl OccurredReader {
    /// Reads a cell.
    pub fn read(&mut self, cell: &str) -> Result<Occurred, Bad> {
        self.parse(cell.as_bytes()).ok_or_else(|| {
            let expected = "an instant, a local time or a day";
            match super::cells::other_order(cell) {
                Some(advice) => Bad::new(expected, advice),
                None => Bad::new(
                    expected,
                    "Write it like 2026-07-14T11:52:00-06:00, 2026-07-14T11:52 or 2026-07-14.",
                ),
            }
        })
    }

    fn parse(&mut self, cell: &[u8]) -> Option<Occurred> {
        let (date, rest) = cell.split_at_checked(10)?;
        let day = self.day(date)?;
        let rest = match rest {
            [] => return Some(Occurred::Day(day)),
            [b'T' | b't' | b' ', rest @ ..] => rest,
            _ => return None,
        };
        let (time, zone) = time(rest)?;
        if zone.is_empty() {
            return Some(Occurred::Local(day, time));
        }
        // RFC 3339 has no instant without its seconds.
        let offset = offset(zone).filter(|_| time.to_the_second)?;
        let local = i64::from(day.count()) * 86_400 + i64::from(time.second);
        Some(Occurred::Instant(local - i64::from(offset)))
    }

    fn day(&mut self, date: &[u8]) -> Option<Day> {
        if date != self.last {
            self.day = Day::parse(std::str::from_utf8(date).ok()?)?;
            self.last = date.try_into().ok()?;
        }
        Some(self.day)
    }
}

/// `HH:MM` or `HH:MM:SS` with a fraction, and what follows it.
fn time(text: &[u8]) -> Option<(Time, &[u8])> {
    let [h1, h2, b':', m1, m2, rest @ ..] = text else {
        return None;
    };
    let (hours, minutes) = (two(*h1, *h2)?, two(*m1, *m2)?);
    let (seconds, rest) = match rest {
        [b':', s1, s2, rest @ ..] => (Some(two(*s1, *s2)?), fraction(rest)?),
        _ => (None, rest),
    };
    if hours > 23 || minutes > 59 || seconds > Some(59) {
        return None;
    }
    let second = hours * 3600 + minutes * 60 + seconds.unwrap_or(0);
    Some((
        Time {
            second,
            to_the_second: seconds.is_some(),
        },
        rest,
    ))
}

/// Steps over `.123`; a point without digits is no fraction.
fn fraction(text: &[u8]) -> Option<&[u8]> {
    let [b'.', rest @ ..] = text else {
        return Some(text);
    };
    let digits = rest.iter().take_while(|byte| byte.is_ascii_digit()).count();
    (1..=9).contains(&digits).then(|| &rest[digits..])
}

/// `Z` or `+hh:mm`, in seconds east of UTC.
fn offset(text: &[u8]) -> Option<i32> {
    match text {
        [b'Z' | b'z'] => Some(0),
        [sign @ (b'+' | b'-'), h1, h2, b':', m1, m2] => {
            let (hours, minutes) = (two(*h1, *h2)?, two(*m1, *m2)?);
            let seconds = i32::try_from(hours * 3600 + minutes * 60).ok()?;
            let known = hours < 24 && minutes < 60;
            known.then_some(if *sign == b'-' { -seconds } else { seconds })
        }
        _ => None,
    }
}

fn two(tens: u8, ones: u8) -> Option<u32> {
    let digit = |byte: u8| byte.is_ascii_digit().then(|| u32::from(byte - b'0'));
    Some(digit(tens)? * 10 + digit(ones)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(cell: &str) -> Option<Occurred> {
        OccurredReader::default().read(cell).ok()
    }

    #[test]
    fn instants_are_those_of_another_reader() {
        // Compared with jiff, an independent reader of RFC 3339.
        for cell in [
            "1970-01-01T00:00:00Z",
            "2020-02-29T23:59:59Z",
            "2026-07-14T11:52:00-06:00",
            "2026-07-14t11:52:00+05:30",
            "2026-07-14 11:52:00.123456789Z",
            "1969-12-31T23:59:59Z",
            "0001-01-01T00:00:00Z",
            "9999-12-30T21:59:59Z",
        ] {
            let instant: jiff::Timestamp = cell.parse().unwrap();
            let seconds = instant.as_nanosecond().div_euclid(1_000_000_000);
            assert_eq!(
                read(cell),
                Some(Occurred::Instant(i64::try_from(seconds).unwrap())),
                "{cell}"
            );
        }
    }

    #[test]
    fn local_times_and_days_stay_local() {
        let day = Day::parse("2026-07-14").unwrap();
        let time = |second, to_the_second| Time {
            second,
            to_the_second,
        };
        for (cell, expected) in [
            ("2026-07-14", Occurred::Day(day)),
            (
                "2026-07-14T11:52",
                Occurred::Local(day, time(42_720, false)),
            ),
            (
                "2026-07-14 11:52:09",
                Occurred::Local(day, time(42_729, true)),
            ),
        ] {
            assert_eq!(read(cell), Some(expected), "{cell}");
        }
    }

    #[test]
    fn everything_else_is_refused() {
        for cell in [
            "",
            "yesterday",
            "07/08/2025",
            "2025-02-29",
            "2025-13-01T00:00:00Z",
            "2025-01-01T24:00:00Z",
            "2025-01-01T23:60",
            "2025-01-01T23:59:60Z",
            "2025-01-01T12",
            "2025-01-01T12:00Z",
            "2025-01-01T12:00:00.Z",
            "2025-01-01T12:00:00+0600",
            "2025-01-01T12:00:00+24:00",
            "2025-01-01T12:00:00ZZ",
            "2025-01-01x12:00",
            "２025-01-01",
        ] {
            assert_eq!(read(cell), None, "{cell}");
        }
    }
}
