//! The row of a step of the service record.

use super::{Source, second_of_day};
use crate::ledger::entry::Body;
use crate::ledger::place::Place;
use crate::store::StoreError;
use crate::store::columns::{Flow, Sort, Ties, What, id_high, words_text};
use crate::store::flush::MovementRow;
use crate::store::tx::Tx;

/// The words of a body as they are stored.
pub(super) fn words_in(body: &Body<'_>) -> Option<String> {
    let words = body.words.iter().flatten();
    words_text(words.map(|(name, word)| (&**name, &**word)))
}

impl Tx<'_> {
    /// A step of the service record stands among the movements of its appliance, without mass and
    /// with both ends there, so that one index holds the whole history. An observation stands so
    /// at its cylinder.
    pub(super) fn service_row(
        &mut self,
        of: &Source<'_>,
        body: &Body<'_>,
        n: i64,
    ) -> Result<MovementRow, StoreError> {
        let named = body.subject.as_deref().and_then(Place::parse);
        let place = named.map(|place| self.place_number(place)).transpose()?;
        let unknown =
            || StoreError::Broken(format!("entry {} names no appliance or cylinder", of.seq));
        let place = place.flatten().ok_or_else(unknown)?;
        self.subject(place)?;
        let what = What {
            refrigerant: 0,
            kind: of.kind,
            reason: None,
            flow: Flow::None,
            returned: false,
            reversal: false,
            second: of.happened.time.as_deref().and_then(second_of_day),
        };
        let ties = Ties {
            visit: of.visit,
            leak: body.leak,
            reverses: None,
            words: words_in(body),
        };
        Ok(MovementRow {
            seq: of.seq,
            n,
            src: place,
            dst: place,
            mass: 0,
            appliance: (place.sort() == Sort::Appliance).then_some(place),
            day: of.happened.day.count(),
            what: what.pack(),
            id_high: id_high(of.chain),
            ties: ties.pack(),
        })
    }
}
