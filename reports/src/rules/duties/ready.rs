//! Duties made ready for many questions: names resolved to places, words of patterns listed.

use crate::appliance::Facts;
use crate::day::{Day, PeriodKind};
use crate::event::{Event, Kind, Reason};
use crate::rules::compiled::{Ask, LAST};
use crate::rules::deadline::period_kind;
use crate::rules::file::{Duty, EndsAfter, Extension, Line, Pattern, RuleSet, Start};
use crate::rules::resolve::Maker;
use crate::rules::words::{Anchor, EventKind, ReasonWord, Subject, YesNo};

/// A duty with its names resolved.
pub(in crate::rules) struct ReadyDuty<'a> {
    pub duty: &'a Duty,
    pub from: Day,
    pub until: Day,
    /// Owed by the whole organisation, not for one appliance.
    pub of_organisation: bool,
    pub starts: Vec<ReadyStart<'a>>,
    pub when: Vec<Ask<'a>>,
    pub due: Vec<ReadyLine<'a>>,
    pub not_before: Vec<ReadyLine<'a>>,
    pub done_by: Vec<ReadyPattern<'a>>,
    pub reopened_by: Vec<ReadyPattern<'a>>,
    pub lifted_by: Vec<ReadyPattern<'a>>,
    /// Which duty's extensions it uses.
    pub extensions_of: usize,
    pub extensions: Vec<ReadyExtension<'a>>,
    pub ends_after: Vec<ReadyEnd<'a>>,
    pub not_while: Vec<Vec<Ask<'a>>>,
    /// Whether another duty starts when this one is missed.
    pub is_missed: bool,
}

/// What starts a duty.
pub(in crate::rules) struct ReadyStart<'a> {
    pub trigger: Trigger<'a>,
    pub while_open: Option<usize>,
    pub unless_open: Option<usize>,
    pub after_done: Option<usize>,
    pub when: Vec<Ask<'a>>,
}

/// The one thing that starts it.
pub(in crate::rules) enum Trigger<'a> {
    Event(Words<'a>),
    Limit(usize),
    Done(usize),
    Missed(usize),
    Covered,
    PeriodEnd(PeriodKind),
}

/// An event pattern: the kind, and words that must be equal.
pub(in crate::rules) struct Words<'a> {
    kind: Option<Kind>,
    reason: Option<Reason>,
    equal: Vec<(&'static str, &'a str)>,
}

/// A pattern of what fulfils, reopens or lifts.
pub(in crate::rules) struct ReadyPattern<'a> {
    pub words: Words<'a>,
    /// Only with the extension of this ground.
    pub under: Option<&'a str>,
    /// The value that stated running hours must reach.
    pub min_run_hours: Option<usize>,
}

/// A line of `due`, `not_before` or `ask_by`.
pub(in crate::rules) struct ReadyLine<'a> {
    /// The value it names; `None`: the date that was granted.
    pub value: Option<usize>,
    pub after: Anchor,
    pub when: Vec<Ask<'a>>,
}

/// A ground on which a date moves.
pub(in crate::rules) struct ReadyExtension<'a> {
    pub extension: &'a Extension,
    pub from: Day,
    pub ask_by: Vec<ReadyLine<'a>>,
    pub due: Vec<ReadyLine<'a>>,
    pub silence: Option<usize>,
}

/// When a cadence ends.
pub(in crate::rules) struct ReadyEnd<'a> {
    /// The limit that must stay quiet.
    pub limit: usize,
    /// For so long.
    pub within: usize,
    pub when: Vec<Ask<'a>>,
}

impl<'a> Words<'a> {
    /// Whether an event is of the kind and says every word.
    pub(in crate::rules) fn fit(&self, event: &Event) -> bool {
        self.kind == Some(event.kind)
            && (self.reason.is_none() || self.reason == event.reason)
            && (self.equal.iter()).all(|(name, word)| event.word(name) == Some(word))
    }

    fn of_start(start: &'a Start, event: EventKind) -> Words<'a> {
        let texts = [
            ("stage", &start.stage),
            ("result", &start.result),
            ("choice", &start.choice),
            ("what", &start.what),
            ("of", &start.of),
            ("ground", &start.ground),
            ("found_by", &start.found_by),
            ("type", &start.kind_of),
        ];
        let answers = [
            ("all_leaks", start.all_leaks),
            ("certified", start.certified),
        ];
        Words::new(event, start.reason, &texts, &answers)
    }

    fn of_pattern(pattern: &'a Pattern) -> Words<'a> {
        let texts = [
            ("stage", &pattern.stage),
            ("result", &pattern.result),
            ("choice", &pattern.choice),
            ("what", &pattern.what),
            ("of", &pattern.of),
            ("ground", &pattern.ground),
            ("found_by", &pattern.found_by),
            ("type", &pattern.kind_of),
        ];
        let answers = [
            ("all_leaks", pattern.all_leaks),
            ("certified", pattern.certified),
        ];
        Words::new(pattern.event, pattern.reason, &texts, &answers)
    }

    fn new(
        event: EventKind,
        reason: Option<ReasonWord>,
        texts: &[(&'static str, &'a Option<String>)],
        answers: &[(&'static str, Option<YesNo>)],
    ) -> Words<'a> {
        let texts = texts
            .iter()
            .filter_map(|(name, text)| Some((*name, text.as_deref()?)));
        let answers = answers
            .iter()
            .filter_map(|(name, answer)| Some((*name, (*answer)?.word())));
        Words {
            kind: event.kind(),
            reason: reason.map(ReasonWord::reason),
            equal: texts.chain(answers).collect(),
        }
    }
}

impl<'a> Maker<'a> {
    /// Makes every duty of the set ready.
    pub(in crate::rules) fn duties(&mut self) -> Vec<ReadyDuty<'a>> {
        let set: &'a RuleSet = self.set;
        let mut ready: Vec<ReadyDuty> = set.duties.iter().map(|duty| self.duty(duty)).collect();
        let starts = ready.iter().flat_map(|duty| &duty.starts);
        let missed: Vec<usize> = starts
            .filter_map(|start| match start.trigger {
                Trigger::Missed(duty) => Some(duty),
                _ => None,
            })
            .collect();
        for at in missed {
            ready[at].is_missed = true;
        }
        ready
    }

    fn duty(&mut self, duty: &'a Duty) -> ReadyDuty<'a> {
        let patterns = |maker: &mut Maker<'a>, list: &'a [Pattern]| {
            list.iter().map(|one| maker.pattern(one)).collect()
        };
        let own = self.duty_named(Some(&duty.name)).unwrap_or_default();
        let starts = duty.starts.iter().filter_map(|start| self.start(start));
        let starts = starts.collect();
        ReadyDuty {
            duty,
            from: duty.from.map_or(Facts::ALWAYS, |day| day.0),
            until: duty.until.map_or(LAST, |day| day.0),
            of_organisation: duty.subject == Some(Subject::Organisation),
            starts,
            when: self.optional_test(&duty.when),
            due: self.lines(&duty.due),
            not_before: self.lines(&duty.not_before),
            done_by: patterns(self, &duty.done_by),
            reopened_by: patterns(self, &duty.reopened_by),
            lifted_by: patterns(self, &duty.lifted_by),
            extensions_of: self
                .duty_named(duty.extensions_of.as_deref())
                .unwrap_or(own),
            extensions: duty
                .extensions
                .iter()
                .map(|one| self.extension(one))
                .collect(),
            ends_after: duty
                .ends_after
                .iter()
                .filter_map(|one| self.end(one))
                .collect(),
            not_while: duty.not_while.iter().map(|test| self.test(test)).collect(),
            is_missed: false,
        }
    }

    fn start(&mut self, start: &'a Start) -> Option<ReadyStart<'a>> {
        let year_starts = self.set.year_starts.as_deref();
        let trigger = if let Some(event) = start.event {
            Trigger::Event(Words::of_start(start, event))
        } else if let Some(limit) = &start.limit {
            Trigger::Limit(self.limit_named(limit)?)
        } else if start.done.is_some() {
            Trigger::Done(self.duty_named(start.done.as_deref())?)
        } else if start.missed.is_some() {
            Trigger::Missed(self.duty_named(start.missed.as_deref())?)
        } else if let Some(period) = start.period_end {
            Trigger::PeriodEnd(period_kind(period, year_starts))
        } else {
            Trigger::Covered
        };
        Some(ReadyStart {
            trigger,
            while_open: self.duty_named(start.while_open.as_deref()),
            unless_open: self.duty_named(start.unless_open.as_deref()),
            after_done: self.duty_named(start.after_done.as_deref()),
            when: self.optional_test(&start.when),
        })
    }

    fn pattern(&mut self, pattern: &'a Pattern) -> ReadyPattern<'a> {
        ReadyPattern {
            words: Words::of_pattern(pattern),
            under: pattern.under.as_deref(),
            min_run_hours: (pattern.min_run_hours.as_deref()).and_then(|name| self.named(name)),
        }
    }

    fn lines(&mut self, lines: &'a [Line]) -> Vec<ReadyLine<'a>> {
        let mut ready = Vec::with_capacity(lines.len());
        for line in lines {
            let name = (line.within.as_ref())
                .or(line.by.as_ref())
                .or(line.on.as_ref());
            ready.push(ReadyLine {
                value: name.and_then(|name| self.named(name)),
                after: line.after.unwrap_or(Anchor::Start),
                when: self.optional_test(&line.when),
            });
        }
        ready
    }

    fn extension(&mut self, extension: &'a Extension) -> ReadyExtension<'a> {
        ReadyExtension {
            extension,
            from: extension.from.map_or(Facts::ALWAYS, |day| day.0),
            ask_by: self.lines(&extension.ask_by),
            due: self.lines(&extension.due),
            silence: (extension.silence.as_deref()).and_then(|name| self.named(name)),
        }
    }

    fn end(&mut self, end: &'a EndsAfter) -> Option<ReadyEnd<'a>> {
        Some(ReadyEnd {
            limit: self.limit_named(&end.quiet)?,
            within: self.named(&end.within)?,
            when: self.optional_test(&end.when),
        })
    }
}
