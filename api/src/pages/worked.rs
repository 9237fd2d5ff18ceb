//! The arithmetic of a rate as fractions that a person can add up again.

use super::figures;
use super::words;
use reports::mass::Mass;
use reports::number::Fraction;
use reports::standing::{AdditionShown, Standing};

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
    /// How far it can be trusted; empty: not all of it was weighed.
    pub trusted: String,
}

impl Worked {
    /// The worked line of the newest addition. It is drawn only where its terms give exactly the
    /// rate that was judged; otherwise the sentences of the standing stand alone.
    pub fn of(standing: &Standing) -> Option<Worked> {
        Worked::of_addition(standing, standing.additions.last()?)
    }

    /// The worked line of one of the additions of a standing.
    pub fn of_addition(standing: &Standing, newest: &AdditionShown) -> Option<Worked> {
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
            trusted: trusted(newest),
            baseline: if yearly {
                baseline(newest)
            } else {
                String::new()
            },
        })
    }
}

/// How far the counting rate can be trusted. The limit is held against the figure itself.
fn trusted(addition: &AdditionShown) -> String {
    let Some(known) = &addition.uncertainty else {
        return String::new();
    };
    let points = match addition.method {
        "rolling" => &known.rolling_points,
        _ => &known.annualising_points,
    };
    let rate = points.as_ref().map_or(String::new(), |points| {
        format!(", so the rate to ± {points} percentage points")
    });
    format!(
        "Weighed to ± {} g{rate} (k = {}). {} The limit is held against the figure itself.",
        known.added_g, known.k, known.basis
    )
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

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

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
}
