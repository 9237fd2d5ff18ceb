//! One set's review of a history: its additions, what was passed, what is missing.

use super::duties::{self, KnownThen, Owed, Story, Then};
use super::exceedance::{Exceedance, Walk};
use super::facts::FactSet;
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
    /// What is owed, and what was, in the order it started.
    pub duties: Vec<Owed<'j>>,
    /// Facts that were unknown and mattered, sorted.
    pub missing: Vec<&'static str>,
}

/// What a review reads: as [`PreparedAppliance::review`] is told it.
#[allow(missing_docs)]
pub struct Told<'t> {
    pub events: &'t [Event],
    pub facts: &'t Facts,
    pub settings: &'t SiteSettings,
    pub day: Day,
    pub known_then: Option<KnownThen<'t>>,
}

/// Additions, and how they were read.
pub type Kept = (Reading, Vec<Addition>);

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
    /// Judges every limit of one set over the events up to a day, and walks through what is owed.
    /// `events` are in the order of [`Event::sort`], corrections applied, none later than the day.
    /// Sums of the whole organisation are not judged here (`organisation`). `known_then`: the
    /// history as it was known on an earlier day, where anything came late or was corrected.
    pub fn review(
        &self,
        set: usize,
        events: &[Event],
        facts: &Facts,
        settings: &SiteSettings,
        day: Day,
        known_then: Option<KnownThen>,
    ) -> Review<'j> {
        let told = Told {
            events,
            facts,
            settings,
            day,
            known_then,
        };
        self.review_with(set, &told, &mut Vec::new())
    }

    /// The same, with additions that were read of the same events before, where they were read in
    /// the same way; who keeps them puts back what the review holds.
    pub fn review_with(&self, set: usize, told: &Told<'_>, kept: &mut Vec<Kept>) -> Review<'j> {
        let Told {
            events,
            facts,
            settings,
            day,
            known_then,
        } = *told;
        let reading = reading_of(self.judge.sets[set].set, settings.netting);
        let known = kept.iter().position(|(known, _)| *known == reading);
        let additions = match known {
            Some(at) => kept.swap_remove(at).1,
            None => additions_of(events, facts, &reading),
        };
        let judged = self.judged_limits(set, events, &additions, &reading, settings);
        let (exceedances, missing) = judged;
        let then = |day: Day| {
            let events = known_then
                .map(|known| (known.then)(day))
                .unwrap_or_default();
            let additions = additions_of(&events, facts, &reading);
            let (found, _) = self.judged_limits(set, &events, &additions, &reading, settings);
            let passed = found.iter().map(|found| (found.limit, found.on)).collect();
            Then { events, passed }
        };
        let story = Story {
            events,
            exceedances: &exceedances,
            zone: &settings.zone,
            day,
            known_then: known_then.map(|_| &then as &dyn Fn(Day) -> Then<'j>),
            taken_back: known_then.map_or(&[], |known| known.taken_back),
        };
        let (duties, lacking) = duties::duties(self, set, &story);
        let missing = missing.and(lacking).and(self.missing_facts(set, day));
        Review {
            additions,
            reading,
            exceedances,
            duties,
            missing: missing.names(),
        }
    }

    /// Every limit of one set that was passed, in the order of its place.
    fn judged_limits(
        &self,
        set: usize,
        events: &[Event],
        additions: &[Addition],
        reading: &Reading,
        settings: &SiteSettings,
    ) -> (Vec<Exceedance<'j>>, FactSet) {
        let mut walk = Walk {
            prepared: self,
            set,
            events,
            additions,
            reading,
            settings,
            found: Vec::new(),
            missing: FactSet::NONE,
        };
        for (at, compiled) in self.judge.sets[set].limits.iter().enumerate() {
            if compiled.limit.subject != Some(Subject::Organisation) {
                walk.limit(at, compiled.limit);
            }
        }
        walk.found.sort_by_key(|found| found.at);
        (walk.found, walk.missing)
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
