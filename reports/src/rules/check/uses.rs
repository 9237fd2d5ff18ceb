//! Where each value of a set is used: for what, over which days, for which bands.

use crate::appliance::Facts;
use crate::day::Day;
use crate::rules::conditions::{NumberTest, Test, WordTest};
use crate::rules::file::{Duty, Line, RuleSet};
use crate::rules::text::{Date, TextOr};
use crate::rules::words::{Measure, Unit};

/// What a value is used for; each asks for certain units.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    FullCharge,
    Co2e,
    Gwp,
    MotorKw,
    Limit(Measure),
    Within,
    By,
    On,
    Time,
    RunHours,
}

impl Role {
    pub(super) fn fits(self, unit: Unit) -> bool {
        match self {
            Role::FullCharge => unit.is_mass(),
            Role::Co2e | Role::Limit(Measure::Co2eLost) => unit == Unit::TonneCo2e,
            Role::Gwp => unit == Unit::Gwp,
            Role::MotorKw => unit == Unit::Kilowatt,
            Role::Limit(Measure::LeakRate) => unit == Unit::PercentPerYear,
            Role::Limit(Measure::LossOfPeriod) => unit == Unit::Percent,
            Role::Limit(_) => unit.is_mass() || unit == Unit::PercentOfFullCharge,
            Role::Within | Role::Time => unit.is_time(),
            Role::By => unit == Unit::MonthDay,
            Role::On => unit == Unit::Date,
            Role::RunHours => matches!(unit, Unit::Hours | Unit::OperatingHours),
        }
    }

    pub(super) fn units(self) -> String {
        let fitting: Vec<&str> = Unit::ALL
            .iter()
            .filter(|unit| self.fits(**unit))
            .map(|unit| unit.word())
            .collect();
        fitting.join(", ")
    }
}

/// One place that names a value.
pub(super) struct Use<'a> {
    pub place: String,
    pub value: &'a str,
    pub role: Role,
    /// The days it is asked on, as spans with both ends included.
    pub spans: Vec<(Day, Day)>,
    /// The bands it can be asked for; `None` where the band is not known yet.
    pub bands: Option<Vec<&'a str>>,
}

/// The last day of all.
pub(super) const FOR_EVER: Day = Day::from_count(2_932_896); // 9999-12-31

/// Every use of a value in a set, in the order of the file.
pub(super) fn of(set: &RuleSet) -> Vec<Use<'_>> {
    let mut walk = Walk {
        set,
        uses: Vec::new(),
        covered: covered(set),
    };
    walk.scope();
    for limit in &set.limits {
        walk.limit(limit);
    }
    for duty in &set.duties {
        walk.duty(duty);
    }
    for record in &set.records {
        if let Some(test) = &record.when {
            let (spans, bands) = (walk.covered.clone(), walk.all_bands());
            walk.test("records", test, &spans, Some(&bands));
        }
    }
    for keep in &set.keep {
        let bands = Some(walk.all_bands());
        let spans = walk.covered.clone();
        let place = "keep".to_string();
        walk.uses.push(Use {
            place,
            value: &keep.time,
            role: Role::Time,
            spans,
            bands,
        });
    }
    walk.uses
}

/// The days on which any `covers` block is in force.
fn covered(set: &RuleSet) -> Vec<(Day, Day)> {
    let mut spans: Vec<(Day, Day)> = set
        .covers
        .iter()
        .map(|block| span(block.from, block.until))
        .collect();
    spans.sort();
    let mut merged: Vec<(Day, Day)> = Vec::new();
    for (from, until) in spans {
        match merged.last_mut() {
            Some(last) if from.count() <= last.1.count() + 1 => last.1 = last.1.max(until),
            _ => merged.push((from, until)),
        }
    }
    merged
}

fn span(from: Option<Date>, until: Option<Date>) -> (Day, Day) {
    (
        from.map_or(Facts::ALWAYS, |day| day.0),
        until.map_or(FOR_EVER, |day| day.0),
    )
}

fn within(spans: &[(Day, Day)], (from, until): (Day, Day)) -> Vec<(Day, Day)> {
    spans
        .iter()
        .map(|span| (span.0.max(from), span.1.min(until)))
        .filter(|span| span.0 <= span.1)
        .collect()
}

struct Walk<'a> {
    set: &'a RuleSet,
    uses: Vec<Use<'a>>,
    covered: Vec<(Day, Day)>,
}

impl<'a> Walk<'a> {
    fn all_bands(&self) -> Vec<&'a str> {
        let mut names: Vec<&str> = self
            .set
            .bands
            .iter()
            .map(|band| band.name.as_str())
            .collect();
        names.dedup();
        names.sort_unstable();
        names.dedup();
        names
    }

    fn scope(&mut self) {
        let set = self.set;
        for block in &set.covers {
            self.numbers_of(
                "covers",
                &block.test_numbers(),
                &[span(block.from, block.until)],
            );
        }
        for block in &set.exempt {
            let spans = within(&self.covered, span(block.from, block.until));
            self.numbers_of("exempt", &block.test_numbers(), &spans);
        }
        for band in &set.bands {
            let spans = self.covered.clone();
            let place = format!("bands.{}", band.name);
            self.numbers_of(&place, &band.test_numbers(), &spans);
        }
    }

    fn numbers_of(&mut self, place: &str, numbers: &Numbers<'a>, spans: &[(Day, Day)]) {
        self.numbers(place, numbers, spans, None);
    }

    fn numbers(
        &mut self,
        place: &str,
        numbers: &Numbers<'a>,
        spans: &[(Day, Day)],
        bands: Option<&[&'a str]>,
    ) {
        for (fact, test) in numbers
            .iter()
            .filter_map(|(fact, test)| test.map(|t| (*fact, t)))
        {
            for (_, value) in test.comparisons() {
                self.uses.push(Use {
                    place: place.to_string(),
                    value,
                    role: fact,
                    spans: spans.to_vec(),
                    bands: bands.map(<[&str]>::to_vec),
                });
            }
        }
    }

    fn test(
        &mut self,
        place: &str,
        test: &'a Test,
        spans: &[(Day, Day)],
        bands: Option<&[&'a str]>,
    ) {
        let bands = bands.map(|bands| narrowed(bands, test.band.as_ref()));
        self.numbers(place, &test.test_numbers(), spans, bands.as_deref());
    }

    fn limit(&mut self, limit: &'a crate::rules::file::Limit) {
        let place = format!("limits.{}", limit.name);
        let spans = within(&self.covered, span(limit.from, limit.until));
        let mut bands = self.all_bands();
        if let Some(test) = &limit.when {
            self.test(&place, test, &spans, Some(&bands));
            bands = narrowed(&bands, test.band.as_ref());
        }
        let named = [&limit.over, &limit.at_least, &limit.below, &limit.at_most];
        let listed = limit.lists.iter().map(|lists| lists.at_least.as_str());
        let values = named
            .into_iter()
            .flatten()
            .flat_map(TextOr::texts)
            .map(String::as_str);
        for value in values.chain(listed) {
            let role = Role::Limit(limit.measure);
            let (place, spans, bands) = (place.clone(), spans.clone(), Some(bands.clone()));
            self.uses.push(Use {
                place,
                value,
                role,
                spans,
                bands,
            });
        }
    }

    fn duty(&mut self, duty: &'a Duty) {
        let place = format!("duties.{}", duty.name);
        let spans = within(&self.covered, span(duty.from, duty.until));
        let mut bands = self.all_bands();
        if let Some(test) = &duty.when {
            self.test(&place, test, &spans, Some(&bands));
            bands = narrowed(&bands, test.band.as_ref());
        }
        for test in duty.starts.iter().filter_map(|start| start.when.as_ref()) {
            self.test(&place, test, &spans, Some(&bands));
        }
        for test in &duty.not_while {
            self.test(&place, test, &spans, Some(&bands));
        }
        self.lines(&place, &duty.due, &spans, &bands);
        self.lines(&place, &duty.not_before, &spans, &bands);
        for pattern in duty
            .done_by
            .iter()
            .chain(&duty.reopened_by)
            .chain(&duty.lifted_by)
        {
            if let Some(value) = &pattern.min_run_hours {
                self.push(&place, value, Role::RunHours, &spans, &bands);
            }
        }
        for end in &duty.ends_after {
            let inner = end.when.as_ref().map_or(bands.clone(), |test| {
                self.test(&place, test, &spans, Some(&bands));
                narrowed(&bands, test.band.as_ref())
            });
            self.push(&place, &end.within, Role::Time, &spans, &inner);
        }
        for extension in &duty.extensions {
            let place = format!("{place}.extensions.{}", extension.ground);
            let spans = within(&spans, span(extension.from, None));
            self.lines(&place, &extension.ask_by, &spans, &bands);
            self.lines(&place, &extension.due, &spans, &bands);
            if let Some(value) = &extension.silence {
                self.push(&place, value, Role::Time, &spans, &bands);
            }
        }
    }

    fn lines(&mut self, place: &str, lines: &'a [Line], spans: &[(Day, Day)], bands: &[&'a str]) {
        for line in lines {
            let mut inner = bands.to_vec();
            if let Some(test) = &line.when {
                self.test(place, test, spans, Some(bands));
                inner = narrowed(bands, test.band.as_ref());
            }
            let named = [
                (&line.within, Role::Within),
                (&line.by, Role::By),
                (&line.on, Role::On),
            ];
            for (value, role) in named {
                if let Some(value) = value {
                    self.push(place, value, role, spans, &inner);
                }
            }
        }
    }

    fn push(
        &mut self,
        place: &str,
        value: &'a str,
        role: Role,
        spans: &[(Day, Day)],
        bands: &[&'a str],
    ) {
        let (place, spans, bands) = (place.to_string(), spans.to_vec(), Some(bands.to_vec()));
        self.uses.push(Use {
            place,
            value,
            role,
            spans,
            bands,
        });
    }
}

/// The bands that a test on `band` leaves.
fn narrowed<'a>(bands: &[&'a str], test: Option<&WordTest>) -> Vec<&'a str> {
    let Some(test) = test else {
        return bands.to_vec();
    };
    let named = |list: &Option<Vec<String>>, band: &str| {
        list.as_ref()
            .map(|list| list.iter().any(|name| name == band))
    };
    bands
        .iter()
        .filter(|band| named(&test.is, band) != Some(false))
        .filter(|band| named(&test.is_not, band) != Some(true))
        .copied()
        .collect()
}

/// The quantities of a table that carries a test, with what each is used for.
type Numbers<'a> = [(Role, Option<&'a NumberTest>); 4];

/// The four quantities of any table with a test, borrowed from it.
trait TestNumbers {
    fn test_numbers(&self) -> Numbers<'_>;
}

macro_rules! test_numbers {
    ($($table:ty),+) => {$(
        impl TestNumbers for $table {
            fn test_numbers(&self) -> Numbers<'_> {
                [
                    (Role::FullCharge, self.full_charge.as_ref()),
                    (Role::Co2e, self.co2e.as_ref()),
                    (Role::Gwp, self.gwp.as_ref()),
                    (Role::MotorKw, self.motor_kw.as_ref()),
                ]
            }
        }
    )+};
}

test_numbers!(
    Test,
    crate::rules::conditions::Covers,
    crate::rules::conditions::Exempt,
    crate::rules::conditions::Band
);
