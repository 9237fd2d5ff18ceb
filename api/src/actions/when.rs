//! When something happened: from what was stated to the day that counts.
//!
//! The local day at the site is the fact and is never converted again. A time that a clock change
//! skips or doubles is a question, because a wrong guess could move a fact across midnight.

use super::refusal::{ActionError, Question, QuestionChoice, Refusal};
use super::request::HappenedRequest;
use crate::ledger::entry::Happened;
use reports::day::{Day, TZDB, Wall, Zone, clock_text, offset_text, parse_clock};
use std::borrow::Cow;

/// A resolved time with what remains to be asked.
pub struct When {
    /// What the leaf says.
    pub happened: Happened<'static>,
    /// The instant, where a time was given, in seconds since 1970.
    pub second: Option<i64>,
    /// A clock change skips or doubles the wall time.
    pub question: Option<Question>,
}

/// Reads what was stated; `zone` holds where the request names none.
pub fn resolve(
    asked: &HappenedRequest,
    zone: &str,
    answer: Option<&str>,
) -> Result<When, ActionError> {
    let name = asked.zone.as_deref().unwrap_or(zone);
    let zone = Zone::named(name).ok_or_else(|| {
        Refusal::invalid(
            "/happened/zone",
            "an IANA time zone such as America/Denver",
            name,
            "Write its name exactly as the time-zone database spells it.",
        )
    })?;
    if let Some(at) = &asked.at {
        if asked.day.is_some() || asked.time.is_some() || asked.offset.is_some() {
            return Err(Refusal::Malformed {
                pointer: "/happened".to_string(),
                detail: "Expected either at, or day with an optional time; got both.".to_string(),
            }
            .into());
        }
        return at_instant(at, &zone);
    }
    let text = asked.day.as_deref().unwrap_or_default();
    let day = Day::parse(text).ok_or_else(|| {
        Refusal::invalid(
            "/happened/day",
            "a day written YYYY-MM-DD",
            text,
            "Write for example 2026-07-14.",
        )
    })?;
    let Some(time) = &asked.time else {
        if let Some(offset) = &asked.offset {
            let expected = "an offset only together with a time";
            let remedy = "Add the time, or leave the offset out.";
            return Err(Refusal::invalid("/happened/offset", expected, offset, remedy).into());
        }
        let happened = stated(day, None, None, &zone);
        return Ok(When {
            happened,
            second: None,
            question: None,
        });
    };
    let (second, exact) = parse_clock(time).ok_or_else(|| {
        Refusal::invalid(
            "/happened/time",
            "a time written HH:MM or HH:MM:SS",
            time,
            "Use 24 hours, for example 14:05.",
        )
    })?;
    let (stated, offset) = (asked.offset.as_deref(), asked.offset.as_deref().or(answer));
    let when = at_wall(day, second, exact, offset, &zone)?;
    let resolved = when.happened.offset.as_deref();
    // An offset that this place did not have then means another moment than the one stated.
    match (stated, resolved, &when.question) {
        (Some(stated), Some(resolved), None) if stated != resolved => {
            let expected = format!("the offset {resolved} of {} at that time", zone.name());
            let remedy = "Put it right, or name the zone it belongs to.";
            Err(Refusal::invalid("/happened/offset", &expected, stated, remedy).into())
        }
        _ => Ok(when),
    }
}

fn at_instant(at: &str, zone: &Zone) -> Result<When, ActionError> {
    let instant: jiff::Timestamp = at.parse().map_err(|_| {
        Refusal::invalid(
            "/happened/at",
            "an RFC 3339 instant with its offset",
            at,
            "Write for example 2026-07-14T11:52:00-06:00.",
        )
    })?;
    let local = zone.local(instant);
    let time = clock_text(local.second, !local.second.is_multiple_of(60));
    let happened = stated(local.day, Some(time), Some(offset_text(local.offset)), zone);
    Ok(When {
        happened,
        second: Some(instant.as_second()),
        question: None,
    })
}

fn at_wall(
    day: Day,
    second: u32,
    exact: bool,
    offset: Option<&str>,
    zone: &Zone,
) -> Result<When, ActionError> {
    let time = clock_text(second, exact);
    let made = |instant: jiff::Timestamp| {
        let offset = offset_text(zone.local(instant).offset);
        let happened = stated(day, Some(time.clone()), Some(offset), zone);
        When {
            happened,
            second: Some(instant.as_second()),
            question: None,
        }
    };
    match zone.resolve(day, second) {
        Wall::Once(instant) => Ok(made(instant)),
        Wall::Twice(first, later) => {
            let choices = [(first, "first"), (later, "second")];
            let said = choices.iter().find(|(instant, word)| {
                offset == Some(*word) || offset == Some(&*offset_text(zone.local(*instant).offset))
            });
            if let Some((instant, _)) = said {
                return Ok(made(*instant));
            }
            let choices = choices.map(|(instant, choice)| QuestionChoice {
                choice,
                text: format!(
                    "{time} at offset {}",
                    offset_text(zone.local(instant).offset)
                ),
                books: format!("{day} {time}{}", offset_text(zone.local(instant).offset)),
            });
            let text = format!(
                "On {day} the clocks of {} showed {time} twice. Which one?",
                zone.name()
            );
            Ok(asking(made(first), text, choices.to_vec()))
        }
        Wall::Skipped => {
            let happened = stated(day, None, None, zone);
            let only_day = When {
                happened,
                second: None,
                question: None,
            };
            if offset == Some("day_only") {
                return Ok(only_day);
            }
            let text = format!(
                "On {day} the clocks of {} skipped {time}. Put the time right, or keep only the day?",
                zone.name()
            );
            let choice = QuestionChoice {
                choice: "day_only",
                text: "Keep only the day".to_string(),
                books: day.to_string(),
            };
            Ok(asking(only_day, text, vec![choice]))
        }
    }
}

fn asking(when: When, text: String, choices: Vec<QuestionChoice>) -> When {
    When {
        question: Some(Question {
            code: "skipped_or_doubled_time",
            text,
            choices,
        }),
        ..when
    }
}

/// What a leaf says of a day in a zone.
pub fn stated(
    day: Day,
    time: Option<String>,
    offset: Option<String>,
    zone: &Zone,
) -> Happened<'static> {
    Happened {
        day,
        offset: offset.map(Cow::Owned),
        time: time.map(Cow::Owned),
        tzdb: Cow::Borrowed(TZDB),
        zone: Cow::Borrowed(zone.name()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(day: &str, time: Option<&str>, zone: &str) -> When {
        let asked = HappenedRequest {
            day: Some(day.to_string()),
            time: time.map(str::to_string),
            ..HappenedRequest::default()
        };
        resolve(&asked, zone, None).unwrap()
    }

    /// Clock changes of the IANA time-zone database: Denver, 8 March and 1 November 2026.
    #[test]
    fn skipped_and_doubled_times_are_asked_about_and_the_day_never_moves() {
        let skipped = ask("2026-03-08", Some("02:30"), "America/Denver");
        assert_eq!(skipped.question.unwrap().code, "skipped_or_doubled_time");
        assert_eq!(skipped.happened.day.to_string(), "2026-03-08");
        let twice = ask("2026-11-01", Some("01:30"), "America/Denver");
        assert_eq!(twice.question.unwrap().choices.len(), 2);
        let once = ask("2026-11-01", Some("01:30"), "America/Phoenix");
        assert!(once.question.is_none());
        assert_eq!(once.happened.offset.as_deref(), Some("-07:00"));
    }

    #[test]
    fn an_instant_becomes_the_day_at_the_site() {
        let at = |zone: &str| {
            let asked = HappenedRequest {
                at: Some("2026-07-01T06:00:00Z".to_string()),
                ..HappenedRequest::default()
            };
            resolve(&asked, zone, None).unwrap().happened
        };
        assert_eq!(at("America/Denver").day.to_string(), "2026-07-01");
        assert_eq!(at("America/Phoenix").day.to_string(), "2026-06-30");
        assert_eq!(at("America/Phoenix").time.as_deref(), Some("23:00"));
    }
}
