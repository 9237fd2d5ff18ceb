//! Half a year of an appliance in a row of a list: its additions as uprights, its limit as a broken line.
//!
//! It only repeats what the words beside it say, so readers skip it.

use super::figures;
use super::picture::{Drawing, Ink, Pen, Size, Stroke, Tenths, along, units};
use reports::day::Day;
use reports::number::{Decimal, Fraction};
use reports::standing::{AdditionShown, Standing};

/// Days that are shown.
const DAYS: i32 = 183;

/// Width and height.
const SIDES: (Tenths, Tenths) = (units(120), units(24));

/// The drawing; `None`: nothing was added in the half year, or no rate is known.
pub fn of(standing: &Standing) -> Option<Drawing> {
    let last = Day::parse(&standing.day)?;
    let first = last.plus(-DAYS);
    let stem = |one: &AdditionShown| {
        let day = Day::parse(&one.day).filter(|day| *day > first && *day <= last)?;
        let rate = one.rates.annualising.as_ref()?;
        let rate = parts(figures::fraction(&rate.numerator, &rate.denominator)?);
        Some((day, rate))
    };
    let stems: Vec<(Day, i128)> = (standing.settled().into_iter()).filter_map(stem).collect();
    let highest = stems.iter().map(|(_, rate)| *rate).max()?;
    let newest = standing.additions.last()?.counting();
    let limit = newest.and_then(|rate| Decimal::parse(rate.threshold.as_deref()?));
    let limit = limit.map(|limit| parts(limit.fraction()));
    // As in the large picture: beyond three times the limit nothing is told apart.
    let top = limit.map_or(highest, |limit| highest.min(limit * 3).max(limit * 5 / 4));
    let base = SIDES.1 - units(2);
    let y = |rate: i128| base - along(rate, top, base - units(2));
    let mut pen = Pen::new("spark", Size::Narrow);
    pen.line((0, base), (SIDES.0, base), Stroke::of(Ink::Line, 10));
    if let Some(limit) = limit {
        let dashed = Stroke::of(Ink::Over, 15).dashed("5 3");
        pen.line((0, y(limit)), (SIDES.0, y(limit)), dashed);
    }
    for (day, rate) in stems {
        let after = i128::from(day.days_since(first));
        let x = units(2) + along(after, i128::from(DAYS), SIDES.0 - units(4));
        pen.line((x, base), (x, y(rate)), Stroke::of(Ink::Ink, 30));
    }
    Some(pen.decoration("spark", SIDES))
}

fn parts(percent: Fraction) -> i128 {
    let tenfold = percent.numerator().checked_mul(10_000);
    tenfold.map_or(i128::MAX / 1_000_000, |product| {
        product / percent.denominator()
    })
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    /// 26.2524 % of 20 %: the scale ends at the rate, so the limit stands at 20 / 26.2524 of the 20 units
    /// above the base, 15.2 of them, and the upright at all 20.
    #[test]
    fn the_upright_and_the_limit_stand_where_their_numbers_are() {
        let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        let drawing = of(&over).unwrap();
        assert!(drawing.svg().contains("aria-hidden=\"true\""));
        assert!(
            drawing.svg().contains("M0 6.8L120 6.8"),
            "{}",
            drawing.svg()
        );
        assert!(drawing.svg().contains(" 22L116.7 2\""), "{}", drawing.svg());
        roxmltree::Document::parse(drawing.svg()).expect("XML");
    }

    #[test]
    fn without_a_rate_or_an_addition_there_is_none() {
        assert_eq!(of(&sample::standing(Some(210), Vec::new())), None);
        assert_eq!(
            of(&sample::standing(None, vec![sample::addition(None)])),
            None
        );
        let mut old = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
        old.day = "2027-07-16".to_string();
        assert_eq!(of(&old), None);
    }
}
