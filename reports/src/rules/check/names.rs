//! Names: of the set itself, and of everything that names something else.

use super::Found;
use super::series::band_names;
use crate::rules::conditions::{ListTest, Test, WordTest};
use crate::rules::facts::{CATEGORIES, recorded_facts};
use crate::rules::file::{Duty, Limit, Line, RuleSet, Start};
use crate::rules::number::month_day;
use crate::rules::problem::{no_such, unknown_word};
use crate::rules::region::{SHAPE, is_region};
use crate::rules::tables::Tables;
use crate::rules::words::{Measure, Period};

/// How few situations a set may answer before it is believed.
const EXAMPLES: usize = 6;

/// The head of the file: names, caution, what else must be said because it is used.
pub(super) fn head(set: &RuleSet, found: &mut Found) {
    if let Some(wrong) = bad_id(&set.id) {
        found.say("id", wrong);
    }
    if !is_region(&set.jurisdiction) {
        let code = &set.jurisdiction;
        found.say(
            "jurisdiction",
            format!("'{code}' is no region; expected {SHAPE}"),
        );
    }
    for (word, text) in [
        ("title", &set.title),
        ("act", &set.act),
        ("caution", &set.caution),
    ] {
        if text.trim().is_empty() {
            found.say(word, "may not be empty: it is shown with every result");
        }
    }
    if let Some(text) = set
        .year_starts
        .as_deref()
        .filter(|text| month_day(text).is_none())
    {
        found.say(
            "year_starts",
            format!("'{text}' is no month and day such as 04-01"),
        );
    }
    if set.covers.is_empty() {
        found.say(
            "covers",
            "no block; without one the set covers no appliance",
        );
    }
    if set.examples.len() < EXAMPLES {
        let count = set.examples.len();
        found.say(
            "examples",
            format!("{count} examples; at least {EXAMPLES} are needed"),
        );
    }
    for (at, example) in set.examples.iter().enumerate() {
        if example.id.is_some() || example.sets.is_some() {
            found.say(
                format!("examples.{}", at + 1),
                "'id' and 'sets' stand only in situation files",
            );
        }
    }
}

/// Why a name is no id, if it is none.
pub(super) fn bad_id(id: &str) -> Option<String> {
    let allowed = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    (id.is_empty() || !id.chars().all(allowed))
        .then(|| format!("'{id}' is no id; expected letters a-z, digits and '-'"))
}

/// Everything that names a list, band, limit, duty, ground or fact.
pub(super) fn references<'a>(set: &'a RuleSet, tables: &Tables<'a>, found: &mut Found) {
    let names = Names {
        set,
        lists: tables.lists.names(),
        limits: set.limits.iter().map(|limit| limit.name.as_str()).collect(),
        duties: set.duties.iter().map(|duty| duty.name.as_str()).collect(),
    };
    twice("limits", &names.limits, found);
    twice("duties", &names.duties, found);
    for (place, test) in scope_tests(set) {
        if test.band.is_some() {
            found.say(
                &place,
                "'band' cannot be tested here: it is worked out from these blocks",
            );
        }
        names.test(&place, &test, found);
    }
    for limit in &set.limits {
        names.limit(limit, found);
    }
    for duty in &set.duties {
        names.duty(duty, found);
    }
    for test in set.records.iter().filter_map(|record| record.when.as_ref()) {
        names.test("records", test, found);
    }
    let known = recorded_facts();
    for (at, example) in set.examples.iter().enumerate() {
        let facts = example.appliances.iter().flat_map(|one| one.facts.keys());
        for fact in example.facts.keys().chain(facts) {
            if !known.contains(&fact.as_str()) {
                found.say(format!("examples.{}", at + 1), unknown_word(fact, &known));
            }
        }
    }
    let has_fiscal_year = set
        .limits
        .iter()
        .any(|l| l.period == Some(Period::FiscalYear))
        || set
            .duties
            .iter()
            .flat_map(|d| &d.starts)
            .any(|s| s.period_end == Some(Period::FiscalYear));
    if has_fiscal_year && set.year_starts.is_none() {
        found.say("year_starts", "is missing, and 'fiscal_year' needs it");
    }
}

/// What is said of a word that is no region code.
pub(super) fn no_region(word: &str) -> String {
    format!("'{word}' is no region; expected {SHAPE}")
}

fn twice(place: &str, names: &[&str], found: &mut Found) {
    for (at, name) in names.iter().enumerate() {
        if names[..at].contains(name) {
            found.say(format!("{place}.{name}"), "this name is given twice");
        }
        let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_';
        if name.is_empty() || !name.chars().all(fits) {
            found.say(
                format!("{place}.{name}"),
                "a name has letters a-z, digits and '_'",
            );
        }
    }
}

fn scope_tests(set: &RuleSet) -> Vec<(String, Test)> {
    let covers = set
        .covers
        .iter()
        .map(|block| ("covers".to_string(), block.test()));
    let exempt = set
        .exempt
        .iter()
        .map(|block| ("exempt".to_string(), block.test()));
    let bands = set
        .bands
        .iter()
        .map(|band| (format!("bands.{}", band.name), band.test()));
    covers.chain(exempt).chain(bands).collect()
}

struct Names<'a> {
    set: &'a RuleSet,
    lists: Vec<&'a str>,
    limits: Vec<&'a str>,
    duties: Vec<&'a str>,
}

impl Names<'_> {
    fn test(&self, place: &str, test: &Test, found: &mut Found) {
        if let Some(ListTest {
            contains,
            lacks,
            only,
        }) = &test.refrigerant
        {
            for list in [contains, lacks, only].into_iter().flatten() {
                if !self.lists.contains(&list.as_str()) {
                    found.say(place, no_such("list", list, &self.lists));
                }
            }
        }
        for (fact, WordTest { is, is_not }) in test.words() {
            for word in [is, is_not].into_iter().flatten().flatten() {
                if fact == "band" && !band_names(self.set).contains(word.as_str()) {
                    let names: Vec<&str> = band_names(self.set).into_iter().collect();
                    found.say(place, no_such("band", word, &names));
                }
                if fact == "region" && !is_region(word) {
                    found.say(place, no_region(word));
                }
                if fact == "category" && !CATEGORIES.contains(&word.as_str()) {
                    found.say(place, no_such("category", word, CATEGORIES));
                }
            }
            if is.is_none() && is_not.is_none() {
                found.say(place, format!("'{fact}' needs 'is' or 'is_not'"));
            }
        }
        for (fact, numbers) in test.numbers() {
            if numbers.comparisons().next().is_none() {
                found.say(
                    place,
                    format!("'{fact}' needs at_least, over, below or at_most"),
                );
            }
            if matches!(fact, "gwp" | "co2e") && self.set.gwp_basis.is_none() {
                found.say(
                    place,
                    format!("'{fact}' is used, so 'gwp_basis' must be said at the top"),
                );
            }
        }
    }

    fn limit(&self, limit: &Limit, found: &mut Found) {
        let place = format!("limits.{}", limit.name);
        if let Some(test) = &limit.when {
            self.test(&place, test, found);
        }
        let bounds = [&limit.over, &limit.at_least, &limit.below, &limit.at_most];
        if !(1..=2).contains(&bounds.into_iter().flatten().count()) {
            found.say(&place, "needs one or two of over, at_least, below, at_most");
        }
        let sums = matches!(limit.measure, Measure::LossOfPeriod | Measure::Co2eLost);
        if sums != limit.period.is_some() {
            let message = if sums {
                "needs a 'period'"
            } else {
                "has no use for a 'period'"
            };
            found.say(&place, format!("measure '{}' {message}", limit.measure));
        }
        let upper = limit.below.is_some() || limit.at_most.is_some();
        if upper && matches!(limit.measure, Measure::LeakRate | Measure::LossOfPeriod) {
            found.say(&place, "a rate has no upper end: use 'over' or 'at_least'");
        }
        if limit.measure == Measure::LeakRate && self.set.leak_rate.is_none() {
            found.say(
                &place,
                "measures a leak rate, but the set has no [leak_rate]",
            );
        }
        if limit.measure == Measure::Co2eLost && self.set.gwp_basis.is_none() {
            found.say(
                &place,
                "'co2e_lost' is used, so 'gwp_basis' must be said at the top",
            );
        }
    }

    fn duty(&self, duty: &Duty, found: &mut Found) {
        let place = format!("duties.{}", duty.name);
        if duty.due.is_empty() == duty.no_number.is_none() {
            found.say(
                &place,
                "needs either 'due' lines or 'no_number', and not both",
            );
        }
        if duty.starts.is_empty() {
            found.say(&place, "nothing starts it");
        }
        super::cover::of_cover(self.set, duty, &place, found);
        for start in &duty.starts {
            self.start(&place, start, found);
        }
        let tests = duty.when.iter().chain(&duty.not_while);
        for test in tests.chain(duty.ends_after.iter().filter_map(|end| end.when.as_ref())) {
            self.test(&place, test, found);
        }
        for end in &duty.ends_after {
            self.known(&place, "limit", Some(&end.quiet), &self.limits, found);
        }
        self.known(
            &place,
            "duty",
            duty.extensions_of.as_ref(),
            &self.duties,
            found,
        );
        self.lines(
            &place,
            duty.due.iter().chain(&duty.not_before),
            false,
            found,
        );
        for extension in &duty.extensions {
            let place = format!("{place}.extensions.{}", extension.ground);
            self.lines(&place, extension.ask_by.iter(), false, found);
            self.lines(&place, extension.due.iter(), true, found);
        }
        let grounds: Vec<&str> = self
            .set
            .duties
            .iter()
            .flat_map(|d| &d.extensions)
            .map(|extension| extension.ground.as_str())
            .collect();
        for pattern in duty
            .done_by
            .iter()
            .chain(&duty.reopened_by)
            .chain(&duty.lifted_by)
        {
            self.known(
                &place,
                "extension ground",
                pattern.under.as_ref(),
                &grounds,
                found,
            );
        }
    }

    fn start(&self, place: &str, start: &Start, found: &mut Found) {
        let triggers = [
            start.event.is_some(),
            start.limit.is_some(),
            start.done.is_some(),
            start.missed.is_some(),
            start.covered,
            start.period_end.is_some(),
        ];
        if triggers.into_iter().filter(|given| *given).count() != 1 {
            let words = "event, limit, done, missed, covered, period_end";
            found.say(place, format!("a start needs exactly one of {words}"));
        }
        self.known(place, "limit", start.limit.as_ref(), &self.limits, found);
        let duties = [
            &start.done,
            &start.missed,
            &start.while_open,
            &start.unless_open,
            &start.after_done,
        ];
        for duty in duties {
            self.known(place, "duty", duty.as_ref(), &self.duties, found);
        }
        if let Some(test) = &start.when {
            self.test(place, test, found);
        }
    }

    fn lines<'l>(
        &self,
        place: &str,
        lines: impl Iterator<Item = &'l Line>,
        may_be_granted: bool,
        found: &mut Found,
    ) {
        for line in lines {
            let named = [
                line.within.is_some(),
                line.by.is_some(),
                line.on.is_some(),
                line.granted,
            ];
            if named.into_iter().filter(|given| *given).count() != 1 {
                found.say(place, "a line needs exactly one of within, by, on, granted");
            }
            if line.granted && !may_be_granted {
                found.say(
                    place,
                    "'granted' stands only in the due lines of an extension",
                );
            }
            if let Some(test) = &line.when {
                self.test(place, test, found);
            }
        }
    }

    fn known(
        &self,
        place: &str,
        what: &str,
        name: Option<&String>,
        there_are: &[&str],
        found: &mut Found,
    ) {
        if let Some(name) = name.filter(|name| !there_are.contains(&name.as_str())) {
            found.say(place, no_such(what, name, there_are));
        }
    }
}
