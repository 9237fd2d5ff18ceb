//! What the writer keeps in memory so that a standing costs little: the adopted rule sets made
//! ready, and the facts of the appliances that were posted to.

use super::StoreError;
use super::book::{Adopted, Assessed};
use super::columns::PlaceNumber;
use super::scan::{Site, facts_of, site_of};
use super::tx::Tx;
use crate::ledger::id::Id;
use reports::day::Day;
use reports::rules::OwnedJudge;
use reports::rules::review::SiteSettings;
use std::sync::Arc;

impl Tx<'_> {
    /// The adopted rule sets, made ready by `make` where they are not yet.
    pub fn judge(
        &mut self,
        make: impl FnOnce(&mut Self, &Adopted) -> Result<Arc<OwnedJudge>, StoreError>,
    ) -> Result<Arc<OwnedJudge>, StoreError> {
        if let Some(judge) = &self.book.judge {
            return Ok(Arc::clone(judge));
        }
        let adopted = self.adopted()?;
        let judge = make(self, &adopted)?;
        self.book.judge = Some(Arc::clone(&judge));
        Ok(judge)
    }

    /// What `assess` reads of an appliance on a day; `settings` says what holds at a site (given its
    /// id and its zone) by what was adopted.
    pub fn assessed(
        &mut self,
        place: PlaceNumber,
        on: Day,
        settings: impl FnOnce(&Adopted, Option<Id>, &str) -> SiteSettings,
    ) -> Result<Arc<Assessed>, StoreError> {
        let known = self.book.assessed.get(&place);
        if let Some(known) = known.filter(|known| known.on == on) {
            return Ok(Arc::clone(known));
        }
        let dossier = self.dossier(place)?;
        let site = site_of(&dossier, u64::MAX, on);
        let mut stands_at = None;
        if let Some(number) = site.map(|id| self.by_id(id)).transpose()?.flatten() {
            let read = self.dossier(number)?;
            stands_at = Some(Site::of(&read, None, u64::MAX));
        }
        let adopted = self.adopted()?;
        let zone = stands_at.as_ref().map_or("", Site::zone);
        let assessed = Arc::new(Assessed {
            facts: facts_of(&dossier, stands_at.as_ref(), u64::MAX),
            settings: settings(&adopted, site, zone),
            on,
        });
        self.book.assessed.insert(place, Arc::clone(&assessed));
        Ok(assessed)
    }
}
