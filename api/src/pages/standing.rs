//! A standing as one sentence.
//!
//! Each state is a word first, then a sign, then a kind of line, then a colour. What nobody can
//! judge is said in words and never looks like *under the limit*.

use super::figures;
use super::words;
use reports::day::Day;
use reports::number::shown_beside;
use reports::standing::{AdditionShown, Course, Over, RateShown, Standing};

/// The state of a standing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// A limit is passed.
    Over,
    /// A limit applies and is not passed.
    Under,
    /// Nobody can say until a fact is found.
    Unknown,
    /// There is nothing to compare.
    Quiet,
}

/// The standing line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StandingLine {
    /// Its state.
    pub state: State,
    /// The word that says the state.
    pub word: String,
    /// The sentence behind it.
    pub sentence: String,
}

impl StandingLine {
    /// The class of its lines.
    pub fn class(&self) -> &'static str {
        match self.state {
            State::Over => "is-over",
            State::Under => "is-fits",
            State::Unknown => "is-unknown",
            State::Quiet => "is-quiet",
        }
    }

    /// Is a limit passed?
    pub fn is_over(&self) -> bool {
        self.state == State::Over
    }

    /// Does a limit apply that is not passed?
    pub fn is_under(&self) -> bool {
        self.state == State::Under
    }

    /// Can nobody say?
    pub fn is_unknown(&self) -> bool {
        self.state == State::Unknown
    }

    /// The line of a standing.
    pub fn of(tag: &str, standing: &Standing) -> StandingLine {
        let Some(newest) = standing.additions.last() else {
            return without_additions(tag, standing);
        };
        let line = |state, word: &str, sentence: String| StandingLine {
            state,
            word: word.to_string(),
            sentence,
        };
        let passed = (standing.exceedances.last()).filter(|passed| passed.on >= newest.day);
        match (standing.over(), newest.counting(), passed) {
            (Over::Yes, Some(rate), _) => line(
                State::Over,
                "Over the limit.",
                format!("{} {}.", rate_sentence(newest, rate), limit_words(rate)),
            ),
            // Another limit than that of the leak rate.
            (_, _, Some(passed)) => line(
                State::Over,
                "Over a limit.",
                format!("{}.", words::capital(&passed.worked)),
            ),
            (Over::CannotJudge, rate, None) => cannot_judge(tag, standing, newest, rate),
            (_, Some(rate), None) if rate.threshold.is_some() => line(
                State::Under,
                "Under the limit.",
                format!(
                    "{} {}.{}",
                    rate_sentence(newest, rate),
                    limit_words(rate),
                    earlier(standing)
                ),
            ),
            (_, Some(rate), None) => line(
                State::Quiet,
                "No limit applies.",
                format!(
                    "{}.{}",
                    rate_sentence(newest, rate).trim_end_matches(';'),
                    earlier(standing)
                ),
            ),
            (_, None, None) => cannot_judge(tag, standing, newest, None),
        }
    }
}

fn without_additions(tag: &str, standing: &Standing) -> StandingLine {
    if let Some(passed) = standing.exceedances.last() {
        return StandingLine {
            state: State::Over,
            word: "Over a limit.".to_string(),
            sentence: format!("{}.", words::capital(&passed.worked)),
        };
    }
    let mut sentence = "Nothing was added since the book began, so there is no rate.".to_string();
    if standing.full_charge.is_none() {
        sentence.push_str(&format!(" The full charge of {tag} is not known: find it."));
    }
    StandingLine {
        state: State::Quiet,
        word: "No addition.".to_string(),
        sentence,
    }
}

fn cannot_judge(
    tag: &str,
    standing: &Standing,
    newest: &AdditionShown,
    rate: Option<&RateShown>,
) -> StandingLine {
    let (word, sentence) = match rate {
        None => (
            "No rate:",
            format!(
                "the full charge of {tag} is not known. {} went in on {}. Read the nameplate and \
                 enter it.",
                newest.mass.lb_oz,
                figures::day_text(&newest.day)
            ),
        ),
        Some(rate) => {
            let find = match standing.missing.is_empty() {
                true => "whether a limit applies is not known".to_string(),
                false => format!("find {}", words::facts(&standing.missing)),
            };
            let sentence = rate_sentence(newest, rate);
            let sentence = sentence.trim_end_matches(';');
            ("Cannot judge:", format!("{find}. {sentence}."))
        }
    };
    StandingLine {
        state: State::Unknown,
        word: word.to_string(),
        sentence,
    }
}

/// `26.3 % a year after 14 lb 8 oz on 14 July 2026;`
pub(super) fn rate_sentence(addition: &AdditionShown, rate: &RateShown) -> String {
    let (shown, mass) = (figures::rate(rate), &addition.mass.lb_oz);
    let day = figures::day_text(&addition.day);
    match addition.method {
        "rolling" => format!("{shown} in the 365 days up to {day}, when {mass} went in;"),
        _ => format!("{shown} a year after {mass} on {day};"),
    }
}

fn limit_words(rate: &RateShown) -> String {
    let limit = rate.threshold.as_deref().unwrap_or_default();
    let unconfirmed = match rate.confidence {
        Some(word) => format!(", {word}"),
        None => String::new(),
    };
    let clause = match &rate.clause {
        Some(clause) => format!(" [{clause}{unconfirmed}]"),
        None => unconfirmed,
    };
    format!("limit {}{clause}", figures::percent(limit))
}

/// A limit that was passed before, while the newest addition passes none.
fn earlier(standing: &Standing) -> String {
    standing.exceedances.last().map_or(String::new(), |passed| {
        let on = figures::day_text(&passed.on);
        format!(" A limit was passed on {on}; see what is owed for it.")
    })
}

/// What the methods that do not count give, so that both are always shown.
pub fn other_rates(standing: &Standing, course: Option<&Course>) -> Vec<String> {
    let Some(newest) = standing.additions.last() else {
        return Vec::new();
    };
    let day = figures::day_text(&newest.day);
    let other = match newest.method {
        "rolling" => newest
            .rates
            .annualising
            .as_ref()
            .map(|rate| ("annualised".to_string(), rate)),
        _ => newest
            .rates
            .rolling
            .as_ref()
            .map(|rate| (format!("rolling year up to {day}"), rate)),
    };
    let line = |(name, rate): (String, &RateShown)| {
        let shown = figures::rate(rate);
        format!(
            "By the other method, {name}: {shown}. The site goes by the {} one.",
            newest.method
        )
    };
    let mut lines: Vec<String> = other.map(line).into_iter().collect();
    lines.extend(course.and_then(|course| began_anew(&newest.day, course)));
    lines
}

/// `since the test passed on 28 July 2026`: from where the rolling year counts.
pub fn since_test(course: &Course) -> Option<String> {
    let on = figures::day(course.restarted?);
    Some(format!("since the test passed on {on}"))
}

/// That the rolling year counts anew since the newest addition, and where it stands.
fn began_anew(newest: &str, course: &Course) -> Option<String> {
    course
        .restarted
        .filter(|test| Day::parse(newest).is_some_and(|day| day <= *test))?;
    let percent = course.rolling.last()?.percent?;
    let (shown, since) = (shown_beside(percent, &[]), since_test(course)?);
    Some(format!(
        "The rolling year now, {since}: {}.",
        figures::percent(&shown)
    ))
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn of(standing: &Standing) -> (State, String) {
        let line = StandingLine::of("HG-RACK-A", standing);
        (line.state, format!("{} {}", line.word, line.sentence))
    }

    #[test]
    fn over_the_limit_says_rate_mass_day_limit_and_clause() {
        let rack = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let (state, said) = of(&rack);
        assert_eq!(state, State::Over);
        assert_eq!(
            said,
            "Over the limit. 26.3\u{202f}% a year after 14 lb 8 oz on 14 July 2026; limit \
             20\u{202f}% [40 CFR 84.106(c)(2)(i), unconfirmed]."
        );
    }

    #[test]
    fn what_nobody_can_judge_never_looks_like_under_the_limit() {
        let unknown = sample::standing(None, vec![sample::addition(None)]);
        let (state, said) = of(&unknown);
        assert_eq!(state, State::Unknown);
        assert!(
            said.starts_with("No rate: the full charge of HG-RACK-A is not known."),
            "{said}"
        );
        let doubtful = sample::rate(10, 1, None, None);
        let mut standing = sample::standing(Some(210), vec![sample::addition(Some(doubtful))]);
        standing.missing = vec!["category", "region"];
        let (state, said) = of(&standing);
        assert_eq!(state, State::Unknown);
        let find = "Cannot judge: find what it is used for and its region.";
        assert!(said.starts_with(find), "{said}");
    }

    #[test]
    fn no_limit_and_no_addition_are_said_as_what_they_are() {
        let free = sample::rate(10, 1, Some(false), None);
        let (state, said) = of(&sample::standing(
            Some(210),
            vec![sample::addition(Some(free))],
        ));
        assert_eq!(state, State::Quiet);
        assert!(
            said.starts_with("No limit applies. 10.0\u{202f}% a year after"),
            "{said}"
        );
        let (state, said) = of(&sample::standing(None, Vec::new()));
        assert_eq!(state, State::Quiet);
        assert!(
            said.contains("there is no rate. The full charge of HG-RACK-A"),
            "{said}"
        );
    }

    #[test]
    fn an_earlier_passing_is_told_while_the_newest_addition_passes_none() {
        let under = sample::rate(5, 1, Some(false), Some("20"));
        let mut standing = sample::standing(Some(210), vec![sample::addition(Some(under))]);
        standing.exceedances = vec![sample::exceedance("2026-03-01")];
        let (state, said) = of(&standing);
        assert_eq!(state, State::Under);
        assert!(said.ends_with("A limit was passed on 1 March 2026; see what is owed for it."));
        // Another limit passed by the same addition leads.
        standing.exceedances = vec![sample::exceedance("2026-07-14")];
        assert_eq!(of(&standing).0, State::Over);
    }
}
