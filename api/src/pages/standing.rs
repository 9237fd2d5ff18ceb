//! A standing as one sentence, its worked line and what is owed first.
//!
//! Each state is a word first, then a sign, then a kind of line, then a colour. What nobody can
//! judge is said in words and never looks like *under the limit*.

use super::figures;
use super::words;
use reports::day::Day;
use reports::mass::Mass;
use reports::number::Fraction;
use reports::standing::{AdditionShown, DutyShown, ExceedanceShown, Over, RateShown, Standing};

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
fn rate_sentence(addition: &AdditionShown, rate: &RateShown) -> String {
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

/// Passed within the year before the day of the standing.
pub fn recent<'s>(standing: &'s Standing, day: &str) -> Option<&'s ExceedanceShown> {
    let newest = standing.exceedances.last()?;
    let since = Day::parse(day)?.plus(-365).to_string();
    (newest.on >= since).then_some(newest)
}

/// The arithmetic of a rate as fractions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Worked {
    /// The rate, as the standing line prints it.
    pub shown: String,
    /// What was added.
    pub added: String,
    /// The full charge.
    pub full_charge: String,
    /// Days since the addition before; none for the rolling year.
    pub days: Option<String>,
    /// The result with one decimal more than the line above, or all it has.
    pub result: String,
    /// Four decimals, as files print them.
    pub cut: String,
    /// The day.
    pub on: String,
    /// The entries.
    pub entries: Vec<u64>,
    /// What the days are counted from.
    pub baseline: String,
}

impl Worked {
    /// The worked line of the newest addition. It is drawn only where its terms give exactly the
    /// rate that was judged; otherwise the sentences of the standing stand alone.
    pub fn of(standing: &Standing) -> Option<Worked> {
        let newest = standing.additions.last()?;
        let rate = newest.counting()?;
        let full = standing.full_charge.as_ref()?;
        let exact = figures::fraction(&rate.numerator, &rate.denominator)?;
        let steps = |grams: &str| Some(i128::from(Mass::from_grams_text(grams)?.steps()));
        let (added, of) = (steps(&newest.mass.g)?, steps(&full.g)?);
        let yearly = newest.method != "rolling";
        let (years, days) = if yearly {
            (365, i128::from(newest.days))
        } else {
            (1, 1)
        };
        if of <= 0 || days <= 0 || Fraction::new(added * 100 * years, of * days) != exact {
            return None;
        }
        let result = format!(
            "{} {}",
            figures::percent(&two_decimals(exact)),
            of_what(yearly)
        );
        Some(Worked {
            shown: figures::rate(rate),
            added: newest.mass.lb_oz.clone(),
            full_charge: full.lb_oz.clone(),
            days: yearly.then(|| days_text(newest.days)),
            result,
            cut: rate.percent.clone(),
            on: figures::day_text(&newest.day),
            entries: newest.entries.clone(),
            baseline: if yearly {
                baseline(newest)
            } else {
                String::new()
            },
        })
    }
}

fn of_what(yearly: bool) -> &'static str {
    if yearly {
        "a year"
    } else {
        "in a rolling year"
    }
}

/// Two decimals, half away from zero, for the end of a worked line.
fn two_decimals(value: Fraction) -> String {
    let doubled = value.numerator() * 200 + value.denominator();
    let whole = doubled.div_euclid(value.denominator() * 2);
    Fraction::new(whole, 100).cut(2)
}

fn days_text(days: i32) -> String {
    match days {
        1 => "1 day".to_string(),
        days => format!("{days} days"),
    }
}

fn baseline(addition: &AdditionShown) -> String {
    let from = match addition.baseline.split_once(' ') {
        Some(("addition", day)) => format!("since the addition of {}", figures::day_text(day)),
        Some(("installed", day)) => {
            format!("since it was installed on {}", figures::day_text(day))
        }
        Some(("retrofit", day)) => format!("since the retrofit of {}", figures::day_text(day)),
        _ => "because no earlier addition counts".to_string(),
    };
    format!("{} {from}.", words::capital(&days_text(addition.days)))
}

/// What the methods that do not count give, so that both are always shown.
pub fn other_rates(standing: &Standing) -> Vec<String> {
    let Some(newest) = standing.additions.last() else {
        return Vec::new();
    };
    let other = match newest.method {
        "rolling" => newest
            .rates
            .annualising
            .as_ref()
            .map(|rate| ("annualised", rate)),
        _ => newest
            .rates
            .rolling
            .as_ref()
            .map(|rate| ("rolling year", rate)),
    };
    let line = |(name, rate): (&str, &RateShown)| {
        let shown = figures::rate(rate);
        format!(
            "By the other method, {name}: {shown}. The site goes by the {} one.",
            newest.method
        )
    };
    other.map(line).into_iter().collect()
}

/// A duty with its first due date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DutyLine {
    /// What is to be done.
    pub means: String,
    /// The class of the line below it.
    pub class: &'static str,
    /// Its state in words.
    pub state: String,
    /// Why, with clause and date.
    pub why: String,
}

impl DutyLine {
    /// The line of a duty as of a day (`YYYY-MM-DD`).
    pub fn of(duty: &DutyShown, today: &str) -> DutyLine {
        let due = duty
            .due
            .as_deref()
            .and_then(|due| Day::parse(due.get(..10)?));
        let (class, state) = match (due, Day::parse(today)) {
            _ if duty.not_needed => ("waived", "not needed meanwhile".to_string()),
            (Some(due), Some(today)) => dated(due, today),
            _ if !duty.missing.is_empty() => {
                let find = words::facts(&duty.missing);
                ("ahead", format!("date not known: find {find}"))
            }
            _ if !duty.waiting.is_empty() => {
                let waits: Vec<String> = duty.waiting.iter().map(|it| words::plain(it)).collect();
                ("ahead", format!("waits for {}", waits.join(", ")))
            }
            _ => {
                let words = duty.no_number.clone();
                ("", words.unwrap_or_else(|| "no date".to_string()))
            }
        };
        DutyLine {
            means: words::capital(&duty.means),
            class,
            state,
            why: duty.why.clone(),
        }
    }
}

/// Not due is more than seven days away. What was done meanwhile is not read, so that a date that
/// has passed is said and nothing is called late.
fn dated(due: Day, today: Day) -> (&'static str, String) {
    let day = figures::day(due);
    match due.days_since(today) {
        ..0 => ("passed", format!("was first due {day}")),
        0 => ("", "due today".to_string()),
        1..=7 => ("", format!("due {day}")),
        _ => ("ahead", format!("not due, first due {day}")),
    }
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

    #[test]
    fn the_worked_line_is_drawn_only_where_it_gives_exactly_the_rate() {
        let rack = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let worked = Worked::of(&rack).unwrap();
        assert_eq!(
            (worked.added.as_str(), worked.full_charge.as_str()),
            ("14 lb 8 oz", "210 lb 0 oz")
        );
        assert_eq!(worked.days.as_deref(), Some("96 days"));
        assert_eq!(worked.result, "26.25\u{202f}% a year");
        assert_eq!(worked.cut, "26.2524");
        assert_eq!(
            worked.baseline,
            "96 days since the addition of 9 April 2026."
        );
        let other = sample::standing(Some(211), vec![sample::addition(Some(sample::over()))]);
        assert_eq!(Worked::of(&other), None);
        assert_eq!(
            Worked::of(&sample::standing(None, vec![sample::addition(None)])),
            None
        );
    }

    /// Not due: more than seven days away. A date that has passed is said, and nothing is called
    /// late, because what was done since is not read.
    #[test]
    fn a_duty_says_its_state_in_words() {
        for (due, class, state) in [
            (
                Some("2026-08-13"),
                "ahead",
                "not due, first due 13 August 2026",
            ),
            (
                Some("2026-07-24"),
                "ahead",
                "not due, first due 24 July 2026",
            ),
            (Some("2026-07-23"), "", "due 23 July 2026"),
            (Some("2026-07-16T23:59:59-06:00"), "", "due today"),
            (Some("2026-07-15"), "passed", "was first due 15 July 2026"),
            (None, "", "no date"),
        ] {
            let line = DutyLine::of(&sample::duty(due), "2026-07-16");
            assert_eq!((line.class, line.state.as_str()), (class, state));
            assert_eq!(line.means, "Find the leaks and repair them");
        }
        let mut waits = sample::duty(None);
        waits.waiting = vec!["initial_test"];
        assert_eq!(
            DutyLine::of(&waits, "2026-07-16").state,
            "waits for initial test"
        );
        let mut relieved = sample::duty(Some("2026-07-15"));
        relieved.not_needed = true;
        assert_eq!(DutyLine::of(&relieved, "2026-07-16").class, "waived");
    }
}
