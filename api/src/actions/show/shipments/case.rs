//! One case, put together from the entries of its shipments and its statement.

mod gone;

use super::{Case, LineShown, Receiver, SentShown, StatementShown, Steps, damaged, receivers};
use crate::actions::statement::DISPUTED;
use crate::ledger::entry::{Body, Leaf};
use crate::store::book::Brief;
use crate::store::columns::{PlaceNumber, Sort, What};
use crate::store::listing::{self, EntryRow};
use crate::store::open::Organisation;
use crate::store::shipments::{self, Sent};
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::mass::{Mass, grams_text};
use reports::number::Fraction;
use reports::physics::MassText;
use reports::refrigerant::Table;
use reports::shipment::tolerance;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Statements of a counterparty, each with the first entries of its shipments.
type Statements = BTreeMap<u64, BTreeSet<u64>>;

/// Reads cases, remembering what it looked up.
pub(super) struct Reading<'r> {
    pub(super) db: &'r mut Db,
    of: &'r Organisation,
    statements: HashMap<PlaceNumber, Statements>,
    tags: HashMap<PlaceNumber, Receiver>,
}

/// What is known of a case before it is shown.
#[derive(Default)]
struct Sums {
    own: BTreeMap<u16, i128>,
    book: BTreeMap<u16, i128>,
    steps: Vec<(u16, Mass)>,
}

impl<'r> Reading<'r> {
    pub(super) fn new(db: &'r mut Db, of: &'r Organisation) -> Reading<'r> {
        Reading {
            db,
            of,
            statements: HashMap::new(),
            tags: HashMap::new(),
        }
    }

    /// The cases whose newest shipment is this entry; `to`: of this receiver only.
    pub(super) fn cases_at(
        &mut self,
        seq: u64,
        to: Option<PlaceNumber>,
    ) -> Result<Vec<Case>, StoreError> {
        let mut found = Vec::new();
        let sent = shipments::sent(self.db, self.of.org, seq)?;
        let first = shipments::first(self.db, self.of.org, seq)?;
        for receiver in receivers(&sent) {
            if to.is_some_and(|to| to != receiver) {
                continue;
            }
            let statement = self.newest_about(receiver, first)?;
            let group = match &statement {
                Some((_, about)) => self.in_force(about, receiver)?,
                None => vec![seq],
            };
            if group.iter().max() == Some(&seq) {
                found.push(self.case(receiver, group, statement.map(|it| it.0))?);
            }
        }
        Ok(found)
    }

    /// The cases that an entry belongs to: a shipment, or a statement.
    pub(super) fn cases_of(&mut self, seq: u64) -> Result<Vec<Case>, StoreError> {
        let row = self.entry(seq)?;
        let leaf = Leaf::parse(&row.leaf).map_err(|_| damaged(seq))?;
        let (of_statement, entries) = (leaf.kind == "statement", leaf.body.entries);
        let named: Vec<u64> = match entries {
            Some(entries) if of_statement => entries.iter().map(|entry| entry.seq).collect(),
            _ => vec![seq],
        };
        let mut newest = BTreeSet::new();
        for entry in named {
            newest.insert(self.newest_of(entry)?);
        }
        let mut found: Vec<Case> = Vec::new();
        for entry in newest.into_iter().rev() {
            let first = shipments::first(self.db, self.of.org, entry)?;
            for receiver in receivers(&shipments::sent(self.db, self.of.org, entry)?) {
                let statement = self.newest_about(receiver, first)?;
                let group = match &statement {
                    Some((_, about)) => self.in_force(about, receiver)?,
                    None => vec![entry],
                };
                let case = self.case(receiver, group, statement.map(|it| it.0))?;
                if !found.contains(&case) {
                    found.push(case);
                }
            }
        }
        self.add_without(seq, &mut found)?;
        Ok(found)
    }

    /// The newest statement of a receiver about a shipment.
    fn newest_about(
        &mut self,
        receiver: PlaceNumber,
        first: u64,
    ) -> Result<Option<(u64, BTreeSet<u64>)>, StoreError> {
        let own = self.statements_of(receiver)?;
        let mut newest = own.iter().rev().filter(|(_, about)| about.contains(&first));
        Ok(newest.next().map(|(seq, about)| (*seq, about.clone())))
    }

    fn statements_of(&mut self, receiver: PlaceNumber) -> Result<&Statements, StoreError> {
        if !self.statements.contains_key(&receiver) {
            let mut grouped = Statements::new();
            for (statement, first) in shipments::statements(self.db, self.of.org, receiver)? {
                grouped.entry(statement).or_default().insert(first);
            }
            self.statements.insert(receiver, grouped);
        }
        Ok(&self.statements[&receiver])
    }

    /// The entries in force of chains that still send something to a receiver, the newest first.
    fn in_force(
        &mut self,
        firsts: &BTreeSet<u64>,
        receiver: PlaceNumber,
    ) -> Result<Vec<u64>, StoreError> {
        let mut newest = BTreeSet::new();
        for first in firsts {
            let entry = self.newest_of(*first)?;
            let sent = shipments::sent(self.db, self.of.org, entry)?;
            if sent.iter().any(|sent| sent.to == receiver) {
                newest.insert(entry);
            }
        }
        Ok(newest.into_iter().rev().collect())
    }

    fn newest_of(&mut self, entry: u64) -> Result<u64, StoreError> {
        let mut newest = entry;
        while let Some(by) = self.entry(newest)?.corrected_by {
            newest = by;
        }
        Ok(newest)
    }

    fn entry(&mut self, seq: u64) -> Result<EntryRow, StoreError> {
        listing::entry(self.db, self.of.org, seq)?.ok_or_else(|| damaged(seq))
    }

    fn case(
        &mut self,
        receiver: PlaceNumber,
        group: Vec<u64>,
        statement: Option<u64>,
    ) -> Result<Case, StoreError> {
        let (mut sums, mut shown) = (Sums::default(), Vec::new());
        for seq in &group {
            shown.push(self.sent(*seq, receiver, &mut sums)?);
        }
        sums.book = sums.own.clone();
        self.add_accepted(receiver, &group, &mut sums)?;
        let row = statement.map(|seq| self.entry(seq)).transpose()?;
        let leaf = row.as_ref().map(|row| Leaf::parse(&row.leaf));
        let leaf = leaf
            .transpose()
            .map_err(|_| damaged(statement.unwrap_or_default()))?;
        let body = leaf.as_ref().map(|leaf| &leaf.body);
        let lines = lines(&sums, body);
        let is_open = match statement {
            Some(seq) => self.is_open(seq)?,
            None => false,
        };
        let outcome = body.and_then(|body| body.outcome.as_deref());
        let state = match statement.is_some() && group.is_empty() {
            true => gone::state(outcome, is_open),
            false => state(outcome, is_open, &lines),
        };
        let gone = self.gone(receiver, statement)?;
        let statement = row.as_ref().zip(leaf.as_ref());
        let statement = statement.map(|(row, leaf)| StatementShown {
            entry: row.seq,
            entry_id: leaf.id.to_string(),
            day: leaf.happened.day.to_string(),
            outcome: outcome.unwrap_or_default().to_string(),
            document: row.texts.get("document").cloned(),
        });
        Ok(Case {
            counterparty: self.named(receiver)?,
            shipments: shown,
            gone,
            statement,
            lines,
            state,
        })
    }

    /// One shipment, added to the sums.
    fn sent(
        &mut self,
        seq: u64,
        receiver: PlaceNumber,
        sums: &mut Sums,
    ) -> Result<SentShown, StoreError> {
        let row = self.entry(seq)?;
        let leaf = Leaf::parse(&row.leaf).map_err(|_| damaged(seq))?;
        let sent = shipments::sent(self.db, self.of.org, seq)?;
        let own: Vec<Sent> = (sent.into_iter())
            .filter(|sent| sent.to == receiver)
            .collect();
        let first = own.first().ok_or_else(|| damaged(seq))?;
        let (kind, day) = (first.kind.word(), Day::from_count(first.day).to_string());
        let mut cylinders = Vec::new();
        for one in &own {
            *sums.own.entry(one.refrigerant).or_default() += one.mass;
            let tag = self.named(one.from)?.tag;
            if !cylinders.contains(&tag) {
                cylinders.push(tag);
            }
        }
        let body = leaf
            .body
            .replace
            .as_ref()
            .map_or(&leaf.body, |new| &new.body);
        self.add_steps(body, sums)?;
        let documents = row
            .texts
            .iter()
            .filter(|(field, _)| field.ends_with(".document"));
        let mut documents: Vec<String> = documents.map(|(_, text)| text.clone()).collect();
        documents.dedup();
        Ok(SentShown {
            entry: seq,
            entry_id: leaf.id.to_string(),
            day,
            kind,
            cylinders,
            documents,
        })
    }

    /// The steps of the registered scales on which it was weighed.
    fn add_steps(&mut self, body: &Body<'_>, sums: &mut Sums) -> Result<(), StoreError> {
        let table = Table::shipped();
        for moved in body.movements.iter().flatten() {
            let scale = moved.readings.as_ref().and_then(|readings| readings.scale);
            let Some(scale) = scale.map(|id| id.to_string()) else {
                continue;
            };
            let row = listing::thing(self.db, self.of.org, Sort::Scale, &scale)?;
            let step = row.and_then(|row| Brief::of(&row.dossier, table).resolution);
            sums.steps.extend(table.code(&moved.refrigerant).zip(step));
        }
        Ok(())
    }

    /// What accepted statements about these shipments have changed.
    fn add_accepted(
        &mut self,
        receiver: PlaceNumber,
        group: &[u64],
        sums: &mut Sums,
    ) -> Result<(), StoreError> {
        let mut firsts = BTreeSet::new();
        for seq in group {
            firsts.insert(shipments::first(self.db, self.of.org, *seq)?);
        }
        let about = self.statements_of(receiver)?.iter();
        let about = about.filter(|(_, about)| about.intersection(&firsts).next().is_some());
        let about: Vec<u64> = about.map(|(seq, _)| *seq).collect();
        for statement in about {
            for (src, dst, mass, packed) in shipments::moved(self.db, self.of.org, statement)? {
                let Some(what) = What::unpack(packed) else {
                    continue;
                };
                let by = match (src == receiver, dst == receiver) {
                    (true, _) => -mass,
                    (_, true) => mass,
                    _ => 0,
                };
                *sums.book.entry(what.refrigerant).or_default() += by;
            }
        }
        Ok(())
    }

    /// Is the dispute of a statement still open?
    fn is_open(&mut self, statement: u64) -> Result<bool, StoreError> {
        shipments::is_open(self.db, self.of.org, statement, DISPUTED)
    }

    fn named(&mut self, place: PlaceNumber) -> Result<Receiver, StoreError> {
        if let Some(known) = self.tags.get(&place) {
            return Ok(known.clone());
        }
        let row = listing::thing_at(self.db, self.of.org, place)?;
        let named = row.map_or_else(
            || Receiver {
                id: String::new(),
                tag: String::new(),
            },
            |row| Receiver {
                id: row.id.to_string(),
                tag: row.tag,
            },
        );
        self.tags.insert(place, named.clone());
        Ok(named)
    }
}

fn lines(sums: &Sums, body: Option<&Body<'_>>) -> Vec<LineShown> {
    let table = Table::shipped();
    let steps = |mass: Mass| i128::from(mass.steps());
    let mut figures: BTreeMap<u16, Steps> = BTreeMap::new();
    for (code, own) in &sums.own {
        figures.entry(*code).or_default().own = *own;
    }
    for (code, book) in &sums.book {
        figures.entry(*code).or_default().book = *book;
    }
    let stated = body.map(|body| body.stated.iter().flatten());
    let has_statement = stated.is_some();
    for line in stated.into_iter().flatten() {
        let Some(code) = table.code(&line.refrigerant) else {
            continue;
        };
        let own = figures.entry(code).or_default();
        own.stated = Some(steps(line.g));
        own.residue = line.residue.as_ref().map_or(0, |residue| steps(residue.g));
    }
    let shown = figures.into_iter().map(|(code, mut figure)| {
        let weighed = sums.steps.iter().filter(|(known, _)| *known == code);
        figure.tolerance = tolerance(figure.own, weighed.map(|(_, step)| *step));
        if has_statement {
            figure.stated = figure.stated.or(Some(0));
        }
        LineShown::of(table.designation(code).unwrap_or_default(), figure)
    });
    shown.collect()
}

fn state(outcome: Option<&str>, is_open: bool, lines: &[LineShown]) -> &'static str {
    let agrees = |line: &LineShown| line.steps.stated == Some(line.steps.book);
    let within = |line: &LineShown| line.within_tolerance == Some(true);
    match outcome {
        None => "waiting",
        Some("accepted") if !lines.iter().all(agrees) => "open_difference",
        Some("accepted") if lines.iter().all(within) => "fits",
        Some("accepted") => "accepted",
        _ if is_open => "disputed",
        _ => "settled",
    }
}

impl Steps {
    /// Stated less sent.
    pub fn difference(&self) -> Option<i128> {
        Some(self.stated? - self.own)
    }

    /// What of it is no oil, water and air.
    pub fn unexplained(&self) -> Option<i128> {
        Some(self.difference()? + self.residue)
    }
}

impl LineShown {
    fn of(refrigerant: &str, steps: Steps) -> LineShown {
        let mass =
            |steps: i128| MassText::of(Mass::from_steps(i64::try_from(steps).unwrap_or(i64::MAX)));
        let percent = |difference: i128| Fraction::new(difference * 100, steps.own).cut(4);
        let difference = steps.difference();
        let unexplained = steps.unexplained();
        LineShown {
            refrigerant: refrigerant.to_string(),
            own: mass(steps.own),
            stated: steps.stated.map(mass),
            residue: (steps.residue != 0).then(|| mass(steps.residue)),
            difference_g: difference.map(grams_text),
            percent: difference.filter(|_| steps.own != 0).map(percent),
            unexplained_g: unexplained.map(grams_text),
            tolerance: mass(steps.tolerance),
            within_tolerance: unexplained.map(|open| open.abs() <= steps.tolerance),
            steps,
        }
    }
}
