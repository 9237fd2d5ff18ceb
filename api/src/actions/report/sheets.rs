//! Which sheet a report is written by, and what each reads of the book.

use super::{Named, ReportName, methods};
use crate::actions::refusal::ActionError;
use crate::actions::standings::{known, settings};
use crate::store::book::Adopted;
use crate::store::booked::Booked;
use crate::store::columns::PlaceNumber;
use crate::store::db::Db;
use crate::store::elsewhere::elsewhere;
use crate::store::open::Organisation;
use crate::store::scan::{Scanned, fleet};
use crate::store::stock::stock;
use reports::appliance::Facts;
use reports::day::Day;
use reports::refrigerant::Table;
use reports::rules::deadline::Due;
use reports::rules::review::SiteSettings;
use reports::rules::{Judge, SheetLimits};
use reports::sheet::disposals::Disposals;
use reports::sheet::follow_ups::FollowUps;
use reports::sheet::inspections_due::InspectionsDue;
use reports::sheet::mass_balance::{MassBalance, Moved};
use reports::sheet::releases::Releases;
use reports::sheet::yearly_co2e::YearlyCo2e;
use reports::sheet::yearly_loss::YearlyLoss;
use reports::sheet::{
    ApplianceInput, Assessed, Elsewhere, Options, Sheet, Summary, additions, appliance_year,
};
use reports::standing::reviews_until;
use std::collections::HashMap;
use std::io::{self, Write};

/// One report in the making: a book up to an entry, and what it is judged by.
pub(super) struct Making<'m> {
    pub(super) db: &'m mut Db,
    pub(super) of: &'m Organisation,
    /// The last entry that is read.
    pub(super) known: u64,
    pub(super) adopted: &'m Adopted,
    pub(super) options: Options,
    pub(super) judge: &'m Judge<'m>,
}

impl Making<'_> {
    /// Writes it.
    pub(super) fn write(
        mut self,
        name: ReportName,
        out: &mut dyn Write,
        mut evidence: Option<&mut dyn Write>,
    ) -> Result<Summary, ActionError> {
        let (options, judge) = (self.options, self.judge);
        let names = Named(Table::shipped());
        let limits = SheetLimits::new(judge);
        let company = self.of.name.clone();
        let evidence = evidence.as_mut().map(|out| out as &mut dyn Write);
        let mut sheet: Box<dyn Sheet + '_> = match name {
            ReportName::ApplianceYear => {
                let mut sheet =
                    appliance_year::ApplianceYear::new(out, evidence, options, &limits, &names)?;
                self.scan(|input, _| sheet.push(input))?;
                return Ok(sheet.finish()?);
            }
            ReportName::Additions => {
                let mut sheet = additions::Additions::new(out, evidence, options, &limits)?;
                self.scan(|input, _| sheet.push(input))?;
                return Ok(sheet.finish()?);
            }
            ReportName::MassBalance => return self.balance(out, evidence),
            ReportName::FollowUps => Box::new(FollowUps::new(out, evidence, options)?),
            ReportName::InspectionsDue => Box::new(InspectionsDue::new(out, evidence, options)?),
            ReportName::YearlyLoss => Box::new(YearlyLoss::new(out, evidence, options)?),
            ReportName::DisposalsByMonth => {
                let moved = self.elsewhere()?;
                let sheet = Disposals::new(out, evidence, options, &company, &names, &moved)?;
                Box::new(sheet)
            }
            ReportName::Releases => {
                let moved = self.elsewhere()?;
                Box::new(Releases::new(out, evidence, options, &names, &moved)?)
            }
            ReportName::YearlyCo2e => {
                Box::new(YearlyCo2e::new(out, evidence, options, &names, judge)?)
            }
        };
        let adopted = self.adopted;
        let late = match name {
            ReportName::FollowUps => self.known_late()?,
            _ => HashMap::new(),
        };
        self.scan(|input, scanned| {
            let prepared = judge.appliance(input.facts);
            let settings = settings_of(adopted, scanned, &options);
            let booked = late.get(&scanned.place);
            known(
                booked,
                scanned.events,
                &settings.zone,
                |events, known_then| {
                    let of = Assessed {
                        prepared: &prepared,
                        settings: &settings,
                        known_then,
                    };
                    sheet.push(&ApplianceInput { events, ..*input }, &of)
                },
            )
        })?;
        Ok(sheet.finish()?)
    }

    /// Writes the balance of the cylinders: every movement for the rows, and once more for the evidence.
    fn balance(
        &mut self,
        out: &mut dyn Write,
        mut evidence: Option<&mut dyn Write>,
    ) -> Result<Summary, ActionError> {
        let (names, proves) = (Named(Table::shipped()), evidence.is_some());
        let evidence = evidence.as_mut().map(|out| out as &mut dyn Write);
        let mut sheet = MassBalance::new(out, evidence, self.options, &names)?;
        self.stock(|moved| sheet.take(moved))?;
        self.scan(|input, _| sheet.push(input))?;
        sheet.write_rows()?;
        if proves {
            self.stock(|moved| sheet.prove(moved))?;
        }
        Ok(sheet.finish()?)
    }

    /// When the entries of those appliances were booked of which a follow-up has a step whose day
    /// is over: only they can have one that was over before the book knew.
    fn known_late(&mut self) -> Result<HashMap<PlaceNumber, Booked>, ActionError> {
        let (judge, options, adopted) = (self.judge, self.options, self.adopted);
        let last = options.last_day();
        let mut places = Vec::new();
        self.scan(|input, scanned| {
            let prepared = judge.appliance(input.facts);
            let settings = settings_of(adopted, scanned, &options);
            let (facts, events) = (input.facts, input.events);
            let reviews = reviews_until(&prepared, facts, events, &settings, last, None);
            let mut steps = reviews.iter().flat_map(|review| &review.duties);
            let over = |due: Due| due.day() < last;
            if steps.any(|step| step.case.is_some() && step.due.is_some_and(over)) {
                places.push((scanned.place, settings.zone.clone()));
            }
            Ok(())
        })?;
        let mut late = HashMap::new();
        for (place, zone) in places {
            let booked = Booked::of(self.db, self.of.org, place, self.known)?;
            if booked.is_late(&zone) {
                late.insert(place, booked);
            }
        }
        Ok(late)
    }

    /// Hands over every appliance in the order of tags.
    fn scan(
        &mut self,
        mut push: impl FnMut(&ApplianceInput<'_>, &Scanned<'_>) -> io::Result<()>,
    ) -> Result<(), ActionError> {
        let (org, known, adopted) = (self.of.org, self.known, self.adopted);
        let last = self.options.last_day();
        fleet(self.db, org, known, last, |scanned| {
            let methods = methods(adopted, scanned.site);
            let input = ApplianceInput {
                tag: scanned.tag,
                site_tag: scanned.site_tag,
                facts: scanned.facts,
                events: scanned.events,
                methods: &methods,
            };
            Ok(push(&input, scanned)?)
        })
    }

    /// Hands over every movement at a cylinder or a counterparty.
    fn stock(&mut self, mut take: impl FnMut(&Moved) -> io::Result<()>) -> Result<(), ActionError> {
        let last = self.options.last_day();
        stock(self.db, self.of.org, self.known, last, |moved| {
            Ok(take(moved)?)
        })
    }

    fn elsewhere(&mut self) -> Result<Vec<Elsewhere>, ActionError> {
        let days: (Day, Day) = (self.options.first_day(), self.options.last_day());
        Ok(elsewhere(self.db, self.of.org, self.known, days)?)
    }
}

/// The settings of a site, with what the caller of the report asks for instead.
fn settings_of(adopted: &Adopted, scanned: &Scanned<'_>, options: &Options) -> SiteSettings {
    let own = settings(adopted, scanned.site, scanned.zone, options.last_day());
    SiteSettings {
        methods: match options.method {
            Some(method) => vec![(Facts::ALWAYS, method)],
            None => own.methods,
        },
        netting: options.netting.or(own.netting),
        zone: own.zone,
    }
}
