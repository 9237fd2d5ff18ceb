//! The spelling of a typed mass that an entry keeps.
//!
//! A leaf keeps the text as typed, without blanks at its ends, beside the code of the unit the
//! field was set to. Pounds and ounces share the code of the pound, so a text typed in such a
//! field must name its units itself: `7 4` becomes `7 lb 4 oz`. Read again with the unit and the
//! answers of the entry, the kept text gives the same mass.

use super::reading::{Typed, parse};
use super::{Answer, Reading, Unit, read_scale};

/// Text and unit as an entry keeps them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeafText {
    /// The text.
    pub text: String,
    /// The unit of a number that names none.
    pub unit: Unit,
}

/// What an entry keeps of a typed mass or a reading of a scale; `None` when it is no mass (yet).
pub fn leaf_text(text: &str, default: Option<Unit>, answer: Option<Answer>) -> Option<LeafText> {
    let Reading::Mass(_) = read_scale(text, default, answer) else {
        return None;
    };
    // A leaf holds no control characters; a tab between number and unit is one.
    let text = text.trim().replace('\t', " ");
    let text = text.as_str();
    let typed = parse(text).ok()?;
    let named = match typed {
        Typed::One(_, unit) => unit,
        Typed::Two(..) => Some(Unit::Pound),
        Typed::TwoBare(..) => None,
    };
    let unit = match default.or(named)? {
        Unit::PoundsAndOunces => Unit::Pound,
        unit => unit,
    };
    let text = match typed {
        _ if default != Some(Unit::PoundsAndOunces) => text.to_string(),
        Typed::TwoBare(pounds, _) => {
            let ounces = text[pounds.whole.len()..].trim();
            format!("{} lb {ounces} oz", pounds.whole)
        }
        Typed::One(amount, None) if amount.separator.is_none() => format!("{text} lb"),
        Typed::One(amount, None) => match answer {
            Some(Answer::AsPoundsAndOunces) => {
                format!("{} lb {} oz", whole(amount.whole), amount.part)
            }
            _ => format!("{text} lb"),
        },
        _ => text.to_string(),
    };
    Some(LeafText { text, unit })
}

fn whole(digits: &str) -> &str {
    if digits.is_empty() { "0" } else { digits }
}
