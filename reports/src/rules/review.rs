//! One set's review of a history: its additions, what was passed, what is missing.

use super::deadline::{self, Case};
use super::exceedance::{Exceedance, Walk};
use super::judge::PreparedAppliance;
use super::words::{FirstDaysWord, LeavesOut, NettingWord, Subject};
use crate::appliance::Facts;
use crate::day::{Day, Zone};
use crate::event::Event;
use crate::leak_rate::{self, Addition, FirstDays, Method, Netting, Reading};

/// What one set makes of a history.
#[derive(Clone, Debug)]
pub struct Review<'j> {
    /// The additions as the set reads them.
    pub additions: Vec<Addition>,
    /// How they were read.
    pub reading: Reading,
    /// Limits that were passed, in order.
    pub exceedances: Vec<Exceedance<'j>>,
    /// Facts that were unknown and mattered, sorted.
    pub missing: Vec<&'static str>,
}

/// The dated settings of a site that a judgement reads.
#[derive(Clone)]
pub struct SiteSettings {
    /// The leak-rate method from each day on, ascending; before the first: annualising.
    pub methods: Vec<(Day, Method)>,
    /// Replaces the sets' own netting.
    pub netting: Option<Netting>,
    /// The zone of the site.
    pub zone: Zone,
}

impl SiteSettings {
    /// The method in force on a day.
    pub fn method(&self, day: Day) -> Method {
        let begun = self.methods.partition_point(|(from, _)| *from <= day);
        begun
            .checked_sub(1)
            .map_or(Method::Annualising, |at| self.methods[at].1)
    }
}

/// How a set reads additions; `netting` replaces its own.
pub fn reading_of(set: &super::RuleSet, netting: Option<Netting>) -> Reading {
    let Some(own) = &set.leak_rate else {
        return Reading {
            netting: netting.unwrap_or(Netting::Visit),
            ..Reading::default()
        };
    };
    let leaves_out = |word| own.leaves_out.contains(&word);
    Reading {
        netting: netting.unwrap_or(match own.netting {
            None | Some(NettingWord::Visit) => Netting::Visit,
            Some(NettingWord::Gross) => Netting::Gross,
            Some(NettingWord::Returned) => Netting::Returned,
        }),
        leaves_out_installation: leaves_out(LeavesOut::Installation),
        leaves_out_after_retrofit: leaves_out(LeavesOut::AfterRetrofit),
        leaves_out_seasonal: leaves_out(LeavesOut::Seasonal),
        first_days: match own.first_days {
            Some(FirstDaysWord::SinceInstalled) => FirstDays::SinceInstalled,
            Some(FirstDaysWord::Year) | None => FirstDays::Year,
        },
        counts_from: own.counts_from.map(|day| day.0),
    }
}

impl<'j> PreparedAppliance<'j> {
    /// Judges every limit of one set over the events up to a day. `events` are in the order of
    /// [`Event::sort`], corrections applied, none later than the day. Limits of the whole
    /// organisation and sums of CO₂ equivalent are not judged here.
    pub fn review(
        &self,
        set: usize,
        events: &[Event],
        additions: Vec<Addition>,
        reading: Reading,
        settings: &SiteSettings,
        day: Day,
    ) -> Review<'j> {
        let mut walk = Walk {
            prepared: self,
            set,
            events,
            additions: &additions,
            reading: &reading,
            settings,
            found: Vec::new(),
            missing: self.missing_facts(set, day),
        };
        for (at, compiled) in self.judge.sets[set].limits.iter().enumerate() {
            if compiled.limit.subject != Some(Subject::Organisation) {
                walk.limit(at, compiled.limit);
            }
        }
        walk.covered_duties(day);
        let (mut exceedances, missing) = (walk.found, walk.missing);
        exceedances.sort_by_key(|found| found.at);
        let case = Case {
            events,
            day,
            zone: &settings.zone,
        };
        for found in &mut exceedances {
            found.due = deadline::first_dues(self, found, &case);
        }
        Review {
            additions,
            reading,
            exceedances,
            missing: missing.names(),
        }
    }

    /// As `review`, reading the additions as the set asks.
    pub fn review_all(
        &self,
        set: usize,
        events: &[Event],
        facts: &Facts,
        settings: &SiteSettings,
        day: Day,
    ) -> Review<'j> {
        let reading = reading_of(self.judge.sets[set].set, settings.netting);
        let additions = additions_of(events, facts, &reading);
        self.review(set, events, additions, reading, settings, day)
    }
}

/// The additions of a history. Those before the day a rule counts from are listed too, though
/// they neither count nor reset the days: a reader must see them to believe the rest.
fn additions_of(events: &[Event], facts: &Facts, reading: &Reading) -> Vec<Addition> {
    let counted = leak_rate::additions(events, facts, reading);
    let Some(from) = reading.counts_from else {
        return counted;
    };
    let all = Reading {
        counts_from: None,
        ..reading.clone()
    };
    let mut listed = leak_rate::additions(events, facts, &all);
    listed.retain(|addition| addition.day < from);
    for addition in &mut listed {
        // Groups of two readings must not meet.
        addition.group = u32::MAX - addition.group;
    }
    listed.extend(counted);
    listed
}
