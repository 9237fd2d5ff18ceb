//! The receipt of a booking: number, hash, counts, findings. Kept by a client, it is a witness.

use crate::actions::answer::Posted;
use crate::actions::foreseen::ReWorked;
use crate::actions::show::findings::{FindingShown, left};
use crate::actions::show::standing::NewStandingShown;
use crate::ledger::place::Place;
use crate::store::StoreError;
use crate::store::apply::instant_text;
use crate::store::tx::Tx;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde::Serialize;
use std::collections::BTreeMap;

/// What is answered to a posting that is booked.
#[derive(Clone, Debug, Serialize)]
pub struct Receipt {
    /// The entry's id.
    pub entry_id: String,
    /// Its number.
    pub seq: u64,
    /// When it was booked.
    pub booked_at: String,
    /// Its leaf hash, base64.
    pub leaf_hash: String,
    /// Counts of the appliances and cylinders it is about.
    pub nth: BTreeMap<Place, u64>,
    /// Where its proof is.
    pub proof: String,
    /// Findings it left.
    pub findings: Vec<FindingShown>,
    /// The new standing of the appliance it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub standing: Option<NewStandingShown>,
    /// Those of others, where it is about several.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub other_standings: Vec<NewStandingShown>,
    /// What an adoption from a past day judges otherwise than before.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub re_worked: Option<ReWorked>,
    /// Was it booked before, and this is the answer to a repeat?
    #[serde(skip)]
    pub replayed: bool,
}

impl Receipt {
    /// The receipt of what was just booked, or booked before.
    pub fn of(tx: &mut Tx<'_>, posted: Posted) -> Result<Receipt, StoreError> {
        let booked_at = instant_text(posted.booked_at);
        let mut findings = Vec::with_capacity(posted.findings.len());
        for finding in &posted.findings {
            let place = tx.place(finding.place)?;
            let tag = tx.subject(finding.place)?.tag.clone();
            findings.push(left(finding, place, tag.as_deref(), posted.seq, &booked_at));
        }
        let mut standings = posted.standings.into_iter().map(NewStandingShown::from);
        Ok(Receipt {
            standing: standings.next(),
            other_standings: standings.collect(),
            entry_id: posted.entry_id.to_string(),
            seq: posted.seq,
            booked_at,
            leaf_hash: STANDARD.encode(posted.leaf_hash),
            nth: posted.nth,
            proof: format!("/api/v1/entries/{}/proof", posted.entry_id),
            findings,
            re_worked: None,
            replayed: posted.replayed,
        })
    }
}
