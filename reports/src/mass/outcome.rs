//! What comes of reading a mass: a mass, a question or a refusal, with their words.
//!
//! The words travel in problems, answers and leaves, so that they are closed lists and never
//! change. The sentences are for people: they say what was read and what to write instead.

use super::Mass;

/// What a text turned out to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reading {
    /// One mass, exactly.
    Mass(Mass),
    /// A person has to say which.
    Question {
        /// What is asked.
        code: QuestionCode,
        /// The masses it may be, each with the answer that says so.
        choices: Vec<Choice>,
        /// The question, as a sentence.
        why: String,
    },
    /// No mass.
    Refused {
        /// Why, as a word.
        reason: Reason,
        /// Why, as a sentence that says what to write instead.
        why: String,
    },
}

/// One possible reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Choice {
    /// The answer that picks it.
    pub answer: Answer,
    /// The mass it would be.
    pub mass: Mass,
}

/// Questions about the reading of a mass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum QuestionCode {
    /// `7.12 lb`: decimal pounds, or 7 lb 12 oz.
    PoundsOrOunces,
    /// `1/8 oz`: between two steps of 10⁻¹¹ g.
    FinerThanAStep,
    /// Two readings of a scale whose difference has the wrong sign.
    Swapped,
}

impl QuestionCode {
    /// The word that stands in answers and problems.
    pub const fn word(self) -> &'static str {
        match self {
            QuestionCode::PoundsOrOunces => "pounds_or_ounces",
            QuestionCode::FinerThanAStep => "finer_than_a_step",
            QuestionCode::Swapped => "swapped",
        }
    }

    /// The answers that can be given to it.
    pub const fn answers(self) -> &'static [Answer] {
        match self {
            QuestionCode::PoundsOrOunces => &[Answer::AsPounds, Answer::AsPoundsAndOunces],
            QuestionCode::FinerThanAStep => &[Answer::StepBelow, Answer::StepAbove],
            QuestionCode::Swapped => &[Answer::Exchange],
        }
    }
}

/// Why a text is no mass.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Reason {
    Empty,
    Zero,
    UnitMissing,
    OuncesNotBelow16,
    AmbiguousComma,
    TooLarge,
    NotAMass,
}

impl Reason {
    /// The word that stands in problems and in `mass --json`.
    pub const fn word(self) -> &'static str {
        match self {
            Reason::Empty => "empty",
            Reason::Zero => "zero",
            Reason::UnitMissing => "unit_missing",
            Reason::OuncesNotBelow16 => "ounces_not_below_16",
            Reason::AmbiguousComma => "ambiguous_comma",
            Reason::TooLarge => "too_large",
            Reason::NotAMass => "not_a_mass",
        }
    }
}

/// An answer to a question about the reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Answer {
    /// The digits after the point are decimals of a pound.
    AsPounds,
    /// The digits after the point are ounces; so they are in every number of pounds of the entry.
    AsPoundsAndOunces,
    /// The step below.
    StepBelow,
    /// The step above.
    StepAbove,
    /// The nearest step, a half upward: how a printed figure is read back.
    NearestStep,
    /// The two readings stand in each other's place. Whoever asked exchanges them and asks again;
    /// an entry never keeps them the wrong way round.
    Exchange,
}

impl Answer {
    const ALL: [Answer; 6] = [
        Answer::AsPounds,
        Answer::AsPoundsAndOunces,
        Answer::StepBelow,
        Answer::StepAbove,
        Answer::NearestStep,
        Answer::Exchange,
    ];

    /// The word that stands in `answers`.
    pub const fn word(self) -> &'static str {
        match self {
            Answer::AsPounds => "as_pounds",
            Answer::AsPoundsAndOunces => "as_pounds_and_ounces",
            Answer::StepBelow => "step_below",
            Answer::StepAbove => "step_above",
            Answer::NearestStep => "nearest_step",
            Answer::Exchange => "exchange",
        }
    }

    /// The answer of a word.
    pub fn from_word(word: &str) -> Option<Answer> {
        Answer::ALL.into_iter().find(|answer| answer.word() == word)
    }
}

/// A refusal with the sentence that belongs to its reason.
pub(super) fn refused(reason: Reason, text: &str) -> Reading {
    let text = shown(text.trim());
    let why = match reason {
        Reason::Empty => "Write the mass, for example 7 lb 4 oz or 3.29 kg.".to_string(),
        Reason::Zero => {
            format!("{text} is nothing. Was nothing added? Then there is nothing to book.")
        }
        Reason::UnitMissing => format!("Say the unit of {text}: lb, oz, kg or g."),
        Reason::OuncesNotBelow16 => {
            format!("In {text} the ounces must be below 16: 16 oz are a pound.")
        }
        Reason::AmbiguousComma => match text.split_once(',') {
            Some((whole, rest)) => {
                let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
                let decimals = digits.trim_end_matches('0');
                let point = if decimals.is_empty() { "" } else { "." };
                let (short, long) = (
                    format!("{whole}{point}{decimals}"),
                    format!("{whole}{digits}"),
                );
                format!("Is this {short} or {long}? Write {short} or {long}.")
            }
            None => format!("The comma in {text} can be read in two ways. Write a point."),
        },
        Reason::TooLarge => format!(
            "{text} is more than one appliance or cylinder can be booked with (92 t). \
             Book its circuits."
        ),
        Reason::NotAMass => {
            format!(
                "{text} is not a mass. Write for example 7 lb 4 oz, 7.25 lb, 116 oz or 3.29 kg."
            )
        }
    };
    Reading::Refused { reason, why }
}

/// A text as a sentence can quote it: short, and without characters that cannot be seen.
pub(super) fn shown(text: &str) -> String {
    let mut quoted: String = text
        .chars()
        .take(40)
        .map(|c| if c.is_control() { '?' } else { c })
        .collect();
    if text.chars().nth(40).is_some() {
        quoted.push('…');
    }
    quoted
}
