//! Findings and quarantine beside the entries, as far as the entries tell.
//!
//! They come from judgements at the door, which nobody makes again. Still a finding has an entry that
//! left it, a place that this entry is about and an entry that settled it; a stop that was answered left
//! one; what a settling names is settled; a quarantine rests on a finding that is open, and what is open and
//! holds a cylinder holds it. What of this does not fit was changed in the database. Whether a question left a finding, and of which grade, no
//! entry says: that one was added or removed there cannot be known from the book.

use crate::ledger::actor::Via;
use crate::ledger::entry::{EntryKind, Leaf, Moved};
use crate::ledger::place::Place;
use crate::store::StoreError;
use crate::store::columns::PlaceNumber;
use crate::store::db::Db;
use crate::store::quarantine;
use crate::store::sql;
use crate::store::statement::Bind;
use crate::store::tx::Tx;
use std::collections::{BTreeMap, BTreeSet};

/// A row of the findings.
struct Row {
    code: String,
    place: PlaceNumber,
    grade: String,
    settled: Option<u64>,
}

/// Findings as they are stored, and what the entries say of them.
pub(super) struct Findings {
    rows: BTreeMap<u64, Vec<Row>>,
    /// Entries that settle something, and the entries and codes that a `settle` names.
    settling: BTreeMap<u64, Option<BTreeSet<(u64, String)>>>,
    /// The newest entry whose open findings hold a cylinder.
    held: BTreeMap<i64, u64>,
    /// What does not fit.
    differences: Vec<String>,
}

impl Findings {
    pub(super) fn read(db: &mut Db, org: i64) -> Result<Findings, StoreError> {
        type Stored = (i64, String, i64, String, i64);
        let stored: Vec<Stored> = db.rows(sql::AllFindings, &[Bind::Int(org)])?;
        let mut found = Findings {
            rows: BTreeMap::new(),
            settling: BTreeMap::new(),
            held: BTreeMap::new(),
            differences: Vec::new(),
        };
        for (seq, code, place, grade, settled) in stored {
            let (seq, place) = (seq.unsigned_abs(), PlaceNumber(place));
            if !["high", "normal", "low"].contains(&grade.as_str()) {
                found.differs(seq, &code, &format!("its grade is \"{grade}\""));
            }
            let settled = u64::try_from(settled).ok();
            let row = Row {
                code,
                place,
                grade,
                settled,
            };
            found.rows.entry(seq).or_default().push(row);
        }
        Ok(found)
    }

    fn differs(&mut self, seq: u64, code: &str, says: &str) {
        self.differences
            .push(format!("finding {code} of no. {seq}: {says}"));
    }

    /// Compares what is stored of an entry with what the entry says.
    pub(super) fn entry(
        &mut self,
        tx: &mut Tx<'_>,
        leaf: &Leaf<'_>,
        kind: EntryKind,
    ) -> Result<(), StoreError> {
        let seq = leaf.seq;
        match kind {
            EntryKind::Settle => {
                let code = leaf.body.code.as_deref().unwrap_or_default();
                let named = leaf.body.entries.iter().flatten();
                let named = named.map(|entry| (entry.seq, code.to_string()));
                self.settling.insert(seq, Some(named.collect()));
            }
            EntryKind::Count | EntryKind::Correction | EntryKind::Statement => {
                self.settling.insert(seq, None);
            }
            _ => {}
        }
        let rows = self.rows.get(&seq);
        let imported = leaf.via == Via::Import.word();
        for row in rows.into_iter().flatten() {
            let is_open = row.settled.is_none() && row.grade == "high";
            if is_open && quarantine::holds(&row.code, row.place, imported) {
                self.held.insert(row.place.0, seq);
            }
        }
        let answered = leaf.answers.iter().flatten();
        let stopped = answered
            .filter(|(_, choice)| ["already_happened", "lifted"].contains(&choice.as_ref()));
        let mut missing = Vec::new();
        for (code, choice) in stopped {
            let is_there = rows.is_some_and(|rows| rows.iter().any(|row| row.code == *code));
            if !is_there {
                missing.push((code.to_string(), choice.to_string()));
            }
        }
        let mut elsewhere = Vec::new();
        if let Some(rows) = rows {
            let about = about(tx, leaf)?;
            let foreign = rows.iter().filter(|row| !about.contains(&row.place));
            elsewhere.extend(foreign.map(|row| (row.code.clone(), row.place)));
        }
        for (code, choice) in missing {
            let says = format!("it is missing, though the stop was answered {choice}");
            self.differs(seq, &code, &says);
        }
        for (code, place) in elsewhere {
            let says = format!("the entry is not about place {}", place.0);
            self.differs(seq, &code, &says);
        }
        Ok(())
    }

    /// Cylinders that an open finding holds and that stand under no quarantine, with its entry.
    pub(super) fn not_held(&self, quarantine: &[(i64, u64)]) -> Vec<(i64, u64)> {
        let known = |place: &i64| quarantine.iter().any(|(it, _)| it == place);
        let missing = self.held.iter().filter(|(place, _)| !known(place));
        missing.map(|(place, entry)| (*place, *entry)).collect()
    }

    /// What does not fit once every entry was read; `quarantine`: cylinders and the entries that put
    /// them under it.
    pub(super) fn finish(mut self, size: u64, quarantine: &[(i64, u64)]) -> Vec<String> {
        let mut said = Vec::new();
        for (seq, row) in self
            .rows
            .iter()
            .flat_map(|(seq, rows)| rows.iter().map(move |row| (seq, row)))
        {
            if *seq >= size {
                said.push((*seq, row.code.clone(), "there is no such entry".to_string()));
            }
            let Some(by) = row.settled else { continue };
            let settles = match self.settling.get(&by) {
                None => false,
                Some(None) => *seq < by,
                Some(Some(named)) => named.contains(&(*seq, row.code.clone())),
            };
            if !settles {
                let says = format!("no. {by}, which is said to have settled it, does not");
                said.push((*seq, row.code.clone(), says));
            }
        }
        for (by, named) in &self.settling {
            for (seq, code) in named.iter().flatten() {
                let rows = self.rows.get(seq).into_iter().flatten();
                let rows: Vec<&Row> = rows.filter(|row| row.code == *code).collect();
                let says = match rows.iter().any(|row| row.settled.is_none()) {
                    _ if rows.is_empty() => format!("it is missing, though no. {by} settles it"),
                    true => format!("it is open, though no. {by} settles it"),
                    false => continue,
                };
                said.push((*seq, code.clone(), says));
            }
        }
        for (seq, code, says) in said {
            self.differs(seq, &code, &says);
        }
        for (place, entry) in quarantine {
            let rows = self.rows.get(entry).into_iter().flatten();
            let mut open = rows.filter(|row| row.place.0 == *place && row.settled.is_none());
            if open.next().is_none() {
                self.differences.push(format!(
                    "quarantine of place {place} by no. {entry}: no finding of it is open there"
                ));
            }
        }
        self.differences
    }
}

/// Every place that an entry speaks of; *other* stands for the entry itself.
fn about(tx: &mut Tx<'_>, leaf: &Leaf<'_>) -> Result<BTreeSet<PlaceNumber>, StoreError> {
    let new = leaf.body.replace.as_ref().map(|new| &new.body);
    let bodies = [Some(&leaf.body), new].into_iter().flatten();
    let mut places: Vec<Place> = leaf.nth.iter().flatten().map(|(place, _)| *place).collect();
    let mut about = BTreeSet::from([PlaceNumber::OTHER]);
    for body in bodies {
        let ends = |moved: &Moved<'_>| [moved.from, moved.to];
        places.extend(body.movements.iter().flatten().flat_map(ends));
        places.extend(body.reverse.iter().flatten().flat_map(ends));
        let subject = body
            .subject
            .as_deref()
            .and_then(|subject| subject.split_once(':'));
        if let Some(id) = subject.and_then(|(_, id)| crate::ledger::id::Id::parse(id)) {
            about.extend(tx.by_id(id)?);
        }
    }
    for place in places {
        about.extend(tx.place_number(place)?);
    }
    Ok(about)
}
