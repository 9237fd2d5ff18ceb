//! Loss and limit: two years of an appliance in one picture.
//!
//! Each addition is an upright on a small weight; its top is the annualised rate, as the standing has
//! it. Beside it stand the rolling year, the limit with its steps, follow-ups, repairs and tests,
//! what was no addition, what was corrected. Nothing is worked out here: every number that is drawn is
//! a number of the table below.

mod axes;
mod draw;
mod labels;
mod marks;
mod room;
mod rows;
mod signs;

pub use rows::LossRow;

use super::figures;
use super::picture::Picture;
use super::standing::{rate_sentence, since_test};
use reports::day::Day;
use reports::mass::{self, Mass};
use reports::number::{Decimal, Fraction};
use reports::standing::{
    AdditionShown, Course, DutyShown, LeftOut, Over, RateShown, Standing, StepDone,
};

/// A percent in ten-thousandths: what the drawing measures in.
type Parts = i128;

/// The picture with its table.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LossPicture {
    /// Sentence and drawings.
    pub picture: Picture,
    /// What is drawn, in order.
    pub rows: Vec<LossRow>,
    /// The masses of all additions together.
    pub total: String,
    /// How many months it shows.
    pub months: u32,
}

impl LossPicture {
    /// The picture of an appliance; `None`: nothing happened that it could show.
    pub fn of(tag: &str, standing: &Standing, course: &Course) -> Option<LossPicture> {
        let loss = Loss::of(tag, standing, course);
        if loss.is_empty() {
            return None;
        }
        let sentence = loss.sentence(standing);
        let picture = Picture::of(sentence.clone(), |size| {
            draw::drawing(&loss, size, &sentence)
        });
        Some(LossPicture {
            picture,
            rows: rows::rows(&loss),
            total: mass::lb_oz_text(loss.stems.iter().map(|stem| stem.steps).sum()),
            months: 24,
        })
    }
}

/// What is drawn.
struct Loss<'c> {
    tag: String,
    course: &'c Course,
    stems: Vec<Stem>,
    ghosts: Vec<Ghost>,
    limits: Vec<Limit>,
    rolling: Vec<Rolling>,
    /// From where the rolling year counts, where a passed test began it anew.
    since: Option<String>,
    follow_ups: Vec<FollowUp>,
    /// Does the rolling year judge on the last day?
    rolls: bool,
}

/// An addition.
struct Stem {
    day: Day,
    mass: String,
    steps: i128,
    /// The annualised rate; `None`: the full charge was not known.
    rate: Option<Parts>,
    rate_text: String,
    rolling_text: String,
    limit_text: String,
    is_over: bool,
    entries: Vec<u64>,
}

/// A corrected value.
struct Ghost {
    day: Day,
    mass: String,
    /// What the rate would have been; `None`: it was booked for another day, or taken back.
    rate: Option<Parts>,
    says: String,
    /// What stands beside it, and the same for a telephone.
    words: String,
    short: String,
    entry: u64,
}

/// A limit from a day on.
struct Limit {
    from: Day,
    value: Option<Parts>,
    text: String,
    is_known: bool,
}

/// The rolling year from a day on.
struct Rolling {
    from: Day,
    value: Option<Parts>,
    text: String,
}

/// From the day a limit was passed until the last of its steps was over. Recurring inspections go on
/// long after; they are owed, and close nothing.
#[derive(Debug, PartialEq, Eq)]
struct FollowUp {
    number: usize,
    set: String,
    from: Day,
    /// `None`: it is open.
    until: Option<Day>,
    done: usize,
    steps: usize,
}

impl<'c> Loss<'c> {
    fn of(tag: &str, standing: &Standing, course: &'c Course) -> Loss<'c> {
        let within =
            |day: &str| Day::parse(day).filter(|day| *day >= course.first && *day <= course.last);
        let stems: Vec<Stem> = (standing.settled().into_iter())
            .filter_map(|one| Some(Stem::of(within(&one.day)?, one)))
            .collect();
        let mut loss = Loss {
            tag: tag.to_string(),
            course,
            ghosts: Vec::new(),
            limits: course.limits.iter().map(Limit::of).collect(),
            rolling: (course.rolling.iter())
                .map(|from| Rolling {
                    from: from.from,
                    value: from.percent.map(parts),
                    text: from.percent.map_or(String::new(), |percent| {
                        figures::percent(&reports::number::shown_beside(percent, &[]))
                    }),
                })
                .collect(),
            since: since_test(course),
            follow_ups: follow_ups(&standing.duties, course),
            rolls: standing.method == "rolling",
            stems,
        };
        loss.ghosts = loss.ghosts();
        loss
    }

    fn is_empty(&self) -> bool {
        self.stems.is_empty()
            && self.ghosts.is_empty()
            && self.course.left_out.is_empty()
            && self.course.steps.is_empty()
    }

    fn ghosts(&self) -> Vec<Ghost> {
        let ghost = |old: &reports::standing::Corrected| {
            let (first, stands) = (&old.mass.lb_oz, old.now.as_ref());
            let stem = stands.and_then(|(entry, day, _)| {
                let own = |stem: &&Stem| stem.entries.contains(entry) && *day == old.day;
                self.stems.iter().find(own)
            });
            // On the same day only the mass differs: the rate is in proportion.
            let rate = stem.and_then(|stem| {
                let (was, now) = (steps_of(&old.mass.g), steps_of(&stands?.2.g));
                let whole = stem.steps - now + was;
                (stem.steps > 0).then(|| stem.rate.map(|rate| rate * whole / stem.steps))?
            });
            let (says, words, short) = match stands {
                None => (
                    "taken back".to_string(),
                    format!("{first} taken back"),
                    format!("{first} taken back"),
                ),
                Some((_, day, _)) if *day != old.day => (
                    format!("{} stands instead", figures::day(*day)),
                    format!("first booked for {}", figures::day(old.day)),
                    format!("was {}", figures::day(old.day)),
                ),
                Some((.., now)) => (
                    format!("{} stands instead", now.lb_oz),
                    format!("first booked as {first}"),
                    format!("was {first}"),
                ),
            };
            Ghost {
                day: old.day,
                mass: first.clone(),
                rate,
                says,
                words,
                short,
                entry: old.entry,
            }
        };
        self.course.corrected.iter().map(ghost).collect()
    }

    /// What the picture shows, as one sentence.
    fn sentence(&self, standing: &Standing) -> String {
        let newest = standing.additions.last();
        let newest = newest.filter(|newest| Day::parse(&newest.day) >= Some(self.course.first));
        let mut says = match newest.map(|newest| (newest, newest.counting())) {
            None => "No addition in these 24 months".to_string(),
            Some((newest, None)) => format!(
                "No rate: the full charge is not known; {} went in on {}",
                newest.mass.lb_oz,
                figures::day_text(&newest.day)
            ),
            Some((newest, Some(rate))) => {
                let limit = match (rate.threshold.as_deref(), rate.over) {
                    (Some(limit), _) => format!("limit {}", figures::percent(limit)),
                    (None, None) => "whether a limit applies is not known".to_string(),
                    (None, _) => "no limit applies".to_string(),
                };
                format!("Rate {} {limit}", rate_sentence(newest, rate))
            }
        };
        let mut newest_first = self.follow_ups.iter().rev();
        let open = newest_first.find(|one| one.until.is_none());
        if let Some(told) = open.or(self.follow_ups.last()) {
            says.push_str(&told.says());
        }
        says.push('.');
        says
    }
}

impl Stem {
    fn of(day: Day, one: &AdditionShown) -> Stem {
        let annualised = one.rates.annualising.as_ref();
        let counting = one.counting();
        let limit = counting.and_then(|rate| rate.threshold.as_deref());
        Stem {
            day,
            mass: one.mass.lb_oz.clone(),
            steps: steps_of(&one.mass.g),
            rate: annualised.and_then(of_rate),
            rate_text: annualised.map_or(String::new(), figures::rate),
            rolling_text: one
                .rates
                .rolling
                .as_ref()
                .map_or(String::new(), figures::rate),
            limit_text: limit.map_or(String::new(), figures::percent),
            is_over: counting.and_then(|rate| rate.over) == Some(true),
            entries: one.entries.clone(),
        }
    }
}

impl Limit {
    fn of(from: &reports::standing::LimitFrom) -> Limit {
        let number = from.number.as_ref();
        let value = number.and_then(|number| Decimal::parse(&number.number));
        Limit {
            from: from.from,
            value: value.map(|value| parts(value.fraction())),
            text: number.map_or(String::new(), |number| figures::percent(&number.number)),
            is_known: from.known != Over::CannotJudge,
        }
    }
}

impl FollowUp {
    fn says(&self) -> String {
        let (from, number) = (figures::day(self.from), self.number);
        let steps = format!("{} of {} steps done", self.done, self.steps);
        match self.until {
            None => format!("; follow-up {number} open since {from}, {steps}"),
            Some(until) => format!(
                "; follow-up {number} ran from {from} to {}, {steps}",
                figures::day(until)
            ),
        }
    }
}

/// The follow-ups that limits opened, the earliest first; of those that several sets opened on one day
/// the first stands.
fn follow_ups(duties: &[DutyShown], course: &Course) -> Vec<FollowUp> {
    let mut all: Vec<FollowUp> = Vec::new();
    for duty in duties.iter().filter(|duty| duty.inspects.is_none()) {
        let opened = duty
            .opened
            .as_ref()
            .filter(|opened| opened.by.kind == "limit");
        let (Some(case), Some(opened)) = (duty.case, opened) else {
            continue;
        };
        let Some(from) = Day::parse(&opened.on) else {
            continue;
        };
        let number = case + 1;
        let at = all
            .iter()
            .position(|one| one.number == number && one.set == duty.set);
        let at = at.unwrap_or_else(|| {
            all.push(FollowUp {
                number,
                set: duty.set.clone(),
                from,
                until: Some(from),
                done: 0,
                steps: 0,
            });
            all.len() - 1
        });
        let one = &mut all[at];
        one.steps += 1;
        one.done += usize::from(!duty.is_owed);
        let ended = duty.on.as_deref().and_then(Day::parse).unwrap_or(from);
        one.until = match (duty.is_owed, one.until) {
            (false, Some(until)) => Some(until.max(ended)),
            _ => None,
        };
    }
    let first = course.first;
    all.retain(|one| one.until.is_none_or(|until| until >= first));
    all.sort_by_key(|one| one.from);
    all.dedup_by_key(|one| one.from);
    // Numbered as they are drawn: one that ended before the picture begins is nowhere on the page.
    for (number, one) in (1..).zip(&mut all) {
        one.number = number;
    }
    all
}

fn of_rate(rate: &RateShown) -> Option<Parts> {
    figures::fraction(&rate.numerator, &rate.denominator).map(parts)
}

fn parts(percent: Fraction) -> Parts {
    // In lowest terms a rate is a few dozen digits at most; what does not fit is beyond every scale.
    let tenfold = percent.numerator().checked_mul(10_000);
    tenfold.map_or(i128::MAX / 1_000_000, |product| {
        product / percent.denominator()
    })
}

fn steps_of(grams: &str) -> i128 {
    Mass::from_grams_text(grams).map_or(0, |mass| i128::from(mass.steps()))
}

/// Why a charge is no addition, in words.
fn left_out_words(left_out: &LeftOut) -> &'static str {
    match left_out.why {
        "installation" => "installation",
        "after_retrofit" => "after a retrofit",
        "seasonal" => "seasonal",
        "before_the_rule" => "before the rule counts",
        _ => "as much came out again",
    }
}

/// What a step was, in words.
fn step_words(step: &StepDone) -> &'static str {
    use reports::standing::StepKind;
    match step.what {
        StepKind::Repair => "repaired",
        StepKind::Passed => "test passed",
        StepKind::Failed => "test failed",
        StepKind::Undecided => "tested",
    }
}

#[cfg(test)]
mod tests;
