//! The standing of one appliance: what `assess` says of it on a day, worked out from its entries.

use super::{reading, unknown};
use crate::actions::refusal::ActionError;
use crate::actions::report::{methods, netting};
use crate::actions::rules_in_force::InForce;
use crate::store::book::Adopted;
use crate::store::columns::Sort;
use crate::store::listing;
use crate::store::open::{Organisation, size};
use crate::store::scan::{self, One};
use crate::store::tx::read_adopted;
use crate::store::{Db, StoreError};
use reports::day::{Day, Zone};
use reports::rules::review::SiteSettings;
use reports::rules::{Judge, Tables};
use reports::standing::{Standing, assess};
use serde::Serialize;

/// A standing with what it is about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StandingShown {
    /// Id of the appliance.
    pub appliance: String,
    /// Its tag.
    pub tag: String,
    /// The last entry that was read.
    pub as_of: u64,
    /// What `assess` says.
    #[serde(flatten)]
    pub standing: Standing,
}

/// What judges the appliances of one book: adopted rule sets, methods, settings.
pub struct Court {
    adopted: Adopted,
    in_force: InForce,
    /// The last entry that was read.
    pub cut: u64,
    now: i64,
}

impl Court {
    /// Everything that was adopted by now.
    pub fn of_book(db: &mut Db, of: &Organisation, now: i64) -> Result<Court, StoreError> {
        let cut = size(db, of.org)?.saturating_sub(1);
        let adopted = read_adopted(db, of.org, cut)?;
        let in_force = InForce::of_book(db, of.org, &adopted)?;
        Ok(Court {
            adopted,
            in_force,
            cut,
            now,
        })
    }

    /// The judge, for as long as it is needed.
    pub fn judge<'a>(&'a self, tables: &'a Tables<'a>) -> Result<Judge<'a>, StoreError> {
        Judge::new(&self.in_force.sets, tables).map_err(|problems| {
            let first = problems
                .first()
                .map(ToString::to_string)
                .unwrap_or_default();
            StoreError::Broken(format!("the adopted rule sets cannot judge: {first}"))
        })
    }

    /// The zone of the organisation.
    fn zone(&self) -> &str {
        let far = Day::from_count(i32::MAX / 2);
        self.adopted.setting("zone", far).unwrap_or("UTC")
    }

    /// Today in the zone of the organisation.
    pub fn today(&self) -> Day {
        self.today_in(None)
    }

    fn today_in(&self, zone: Option<&str>) -> Day {
        let now = jiff::Timestamp::from_microsecond(self.now).unwrap_or_default();
        zone_named(zone.unwrap_or(self.zone())).map_or(Day::from_count(0), |zone| zone.day(now))
    }

    /// The standing of an appliance on a day; by default today at its site.
    pub fn assess(
        &self,
        judge: &Judge<'_>,
        one: &One,
        on: Option<Day>,
    ) -> Result<Standing, StoreError> {
        let zone = one.zone.as_deref().unwrap_or(self.zone());
        let settings = SiteSettings {
            methods: methods(&self.adopted, one.site),
            netting: netting(&self.adopted, on.unwrap_or(self.today_in(Some(zone)))),
            zone: zone_named(zone)
                .ok_or_else(|| StoreError::Broken(format!("there is no time zone {zone}")))?,
        };
        let day = on.unwrap_or(self.today_in(Some(zone)));
        Ok(assess(judge, &one.facts, &one.events, &settings, day))
    }
}

fn zone_named(name: &str) -> Option<Zone> {
    Zone::named(name).or_else(|| Zone::named("UTC"))
}

/// The standing of the appliance with this id or tag. `now`: microseconds since 1970.
pub fn one(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    on: Option<Day>,
    now: i64,
) -> Result<StandingShown, ActionError> {
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, Sort::Appliance, name)?;
        let row = row.ok_or_else(|| unknown("appliance", name))?;
        let court = Court::of_book(db, of, now)?;
        let day = on.unwrap_or(court.today());
        let one = scan::one(db, of.org, court.cut, day, &row)?;
        let tables = Tables::shipped();
        let standing = court.assess(&court.judge(&tables)?, &one, on)?;
        Ok(StandingShown {
            appliance: row.id.to_string(),
            tag: one.tag,
            as_of: court.cut,
            standing,
        })
    })
}
