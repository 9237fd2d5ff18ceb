//! Booking: from a draft to a leaf, and from a leaf to everything that follows from it.
//!
//! [`Tx::book`] gives an entry its number, counts, commitments and hash. `Tx::apply` then does
//! what the leaf says to balances, registers, owners and corrections. `rebuild` calls only the
//! latter, with leaves that stand already, so both ways to a balance are one piece of code; the
//! verifier recomputes them with other code.

mod content;
mod corrections;
mod links;
mod service;

use super::StoreError;
use super::columns::{Flow, PlaceNumber, Sort, Ties, What, id_high, reason_named};
use super::engine::said;
use super::flush::{DisclosureRow, EntryRow, MovementRow, Rare};
use super::tx::Tx;
use crate::ledger::actor::Actor;
use crate::ledger::canonical::commitment;
use crate::ledger::entry::{
    Attachment, Body, EntryKind, Happened, LARGEST_LEAF, Leaf, Moved, Words,
};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::ledger::tree::{Hash, leaf_hash, sha256};
use content::class_said;
pub use content::class_stated;
use reports::day::Day;
use serde_json::Value;
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

/// What an action has decided to book.
pub struct Draft {
    /// Id given by the client.
    pub id: Id,
    /// Kind.
    pub kind: EntryKind,
    /// When it happened.
    pub happened: Happened<'static>,
    /// Who did the work, when that is not the actor.
    pub did: Option<Id>,
    /// The visit.
    pub visit: Option<Id>,
    /// Members of the body, without what is committed.
    pub body: Body<'static>,
    /// Path and text of everything a person typed.
    pub secrets: Vec<(String, String)>,
    /// Answers, code to choice.
    pub answers: BTreeMap<String, String>,
    /// Captured without signal.
    pub captured_offline: bool,
    /// Older than the late setting allows.
    pub late: bool,
    /// Larger content.
    pub attachments: Vec<Vec<u8>>,
    /// Findings it leaves: code, place, grade.
    pub findings: Vec<(String, PlaceNumber, &'static str)>,
    /// Cylinders it puts under quarantine.
    pub quarantine: Vec<PlaceNumber>,
    /// Findings it settles: entry and code.
    pub settles: Vec<(u64, String)>,
    /// Appliances and cylinders of the entries it names (link, settle, correction).
    pub about: Vec<PlaceNumber>,
}

impl Draft {
    /// A draft that only says what it is.
    pub fn new(id: Id, kind: EntryKind, happened: Happened<'static>, body: Body<'static>) -> Draft {
        Draft {
            id,
            kind,
            happened,
            did: None,
            visit: None,
            body,
            secrets: Vec::new(),
            answers: BTreeMap::new(),
            captured_offline: false,
            late: false,
            attachments: Vec::new(),
            findings: Vec::new(),
            quarantine: Vec::new(),
            settles: Vec::new(),
            about: Vec::new(),
        }
    }
}

/// What was booked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Booked {
    /// Number.
    pub seq: u64,
    /// Leaf hash.
    pub hash: Hash,
    /// When, microseconds since 1970.
    pub booked_at: i64,
    /// Counts of the appliances and cylinders it is about.
    pub nth: BTreeMap<Place, u64>,
}

impl Tx<'_> {
    /// Books a draft: everything of it, or (on an error) nothing of it. An `engine` entry goes
    /// before it where the book does not yet say what this program works with.
    pub fn book(&mut self, actor: &Actor, draft: Draft) -> Result<Booked, StoreError> {
        if !matches!(draft.kind, EntryKind::Genesis | EntryKind::Engine) {
            self.keep_engine()?;
        }
        let seq = self.book.next_seq;
        let nth = self.counts(&draft)?;
        let (commit, disclosed) = self.commitments(seq, &draft)?;
        let log = std::mem::take(&mut self.book.log);
        let leaf = Leaf {
            answers: words(&draft.answers),
            body: draft.body,
            booked_at: Cow::Owned(instant_text(self.now)),
            by: actor.person,
            captured_offline: draft.captured_offline,
            commit,
            device: actor.device,
            did: draft.did.filter(|did| Some(*did) != actor.person),
            happened: draft.happened,
            id: draft.id,
            kind: Cow::Borrowed(draft.kind.word()),
            late: draft.late,
            log: Cow::Borrowed(&log),
            nth: (!nth.is_empty()).then(|| nth.clone()),
            role: Cow::Borrowed(actor.role.word()),
            seq,
            v: 1,
            via: Cow::Borrowed(actor.via.word()),
            visit: draft.visit,
        };
        let bytes = leaf.bytes();
        let class = class_stated(&leaf.body);
        let told = self.tell(&leaf, draft.kind, &disclosed, bytes.len());
        let day = leaf.happened.day.count();
        drop(leaf);
        self.book.log = log;
        let (rows, own) = told?;
        let hash = leaf_hash(&bytes);
        self.move_masses(&rows, class);
        self.record(draft.id, draft.kind, day, bytes, hash);
        self.book.pending.movements.extend(rows);
        self.book.pending.disclosures.extend(disclosed);
        for (code, place, grade) in draft.findings {
            let grade = grade.to_string();
            // Of what is registered here the action did not know the number.
            let place = own.filter(|_| place == PlaceNumber::OTHER).unwrap_or(place);
            self.book.pending.rare.push(Rare::Finding {
                seq,
                code,
                place,
                grade,
            });
        }
        self.quarantine(seq, &draft.quarantine, &draft.settles)?;
        for bytes in draft.attachments {
            let sha256 = sha256(&bytes);
            let attachment = Rare::Attachment { sha256, bytes };
            self.book.pending.rare.push(attachment);
        }
        Ok(Booked {
            seq,
            hash,
            booked_at: self.now,
            nth,
        })
    }

    /// Does what the leaf says; one that is too long has touched nothing.
    #[allow(clippy::type_complexity)]
    fn tell(
        &mut self,
        leaf: &Leaf<'_>,
        kind: EntryKind,
        disclosed: &[DisclosureRow],
        bytes: usize,
    ) -> Result<(Vec<MovementRow>, Option<PlaceNumber>), StoreError> {
        if bytes > LARGEST_LEAF {
            return Err(StoreError::TooLarge(bytes));
        }
        let rows = self.rows_of(leaf, kind)?;
        self.apply(leaf, kind, disclosed)?;
        let own = match corrections::registered(leaf, kind) {
            Some(body) => self.own_subject(body)?,
            None => None,
        };
        Ok((rows, own))
    }

    fn record(&mut self, id: Id, kind: EntryKind, day: i32, leaf: Vec<u8>, hash: Hash) {
        let seq = self.book.next_seq;
        let booked_at = self.now;
        self.book.grow(hash);
        self.book.next_seq += 1;
        self.book.booked_at = booked_at;
        self.book.pending.ids.insert(id.bytes(), seq);
        self.book.pending.entries.push(EntryRow {
            seq,
            id: id.bytes(),
            kind: kind.code(),
            day,
            booked_at,
            leaf,
            hash,
        });
    }

    /// The counts this entry gets: one more for each appliance and cylinder it is about.
    fn counts(&mut self, draft: &Draft) -> Result<BTreeMap<Place, u64>, StoreError> {
        let mut about: BTreeSet<PlaceNumber> = draft.about.iter().copied().collect();
        for moved in draft.body.movements.iter().flatten() {
            for place in [moved.from, moved.to] {
                about.extend(self.place_number(place)?);
            }
        }
        let mut nth = BTreeMap::new();
        let counted = |it: &Place| matches!(it, Place::Appliance(_) | Place::Cylinder(_));
        let replaced = draft.body.replace.as_ref().map(|new| &new.body);
        let named = [Some(&draft.body), replaced].into_iter().flatten();
        let named = named.filter_map(|body| Place::parse(body.subject.as_deref()?));
        for subject in named.filter(counted) {
            match self.place_number(subject)? {
                Some(number) => drop(about.insert(number)),
                // A new thing; its number is drawn once nothing can fail any more.
                None => drop(nth.insert(subject, 1)),
            }
        }
        for number in about {
            if matches!(number.sort(), Sort::Appliance | Sort::Cylinder) {
                let count = self.subject(number)?.nth + 1;
                nth.insert(self.place(number)?, count);
            }
        }
        Ok(nth)
    }

    /// The thing a register entry registers or changes; a new one gets its number here.
    fn own_subject(&mut self, body: &Body<'_>) -> Result<Option<PlaceNumber>, StoreError> {
        let Some((word, id)) = body.subject.as_deref().and_then(|s| s.split_once(':')) else {
            return Ok(None);
        };
        let (Some(sort), Some(id)) = (Sort::named(word), Id::parse_strict(id)) else {
            return Ok(None);
        };
        if let Some(known) = self.by_id(id)? {
            return Ok(Some(known));
        }
        let place = PlaceNumber::of(sort, self.next_number(sort)?);
        self.book.by_uuid.insert(id, place);
        let subject = super::book::Subject {
            id: Some(id),
            newest: (sort == Sort::Cylinder).then_some(self.book.next_seq),
            ..Default::default()
        };
        self.book.subjects.insert(place, subject);
        Ok(Some(place))
    }

    fn next_number(&mut self, sort: Sort) -> Result<i64, StoreError> {
        use super::{sql, statement::Bind};
        let newest = match self.book.numbers.get(&sort) {
            Some(newest) => *newest,
            None => {
                let (low, high) = (
                    PlaceNumber::of(sort, 0),
                    PlaceNumber::of(sort, i64::MAX / 100_000),
                );
                let high = high.0.min(low.0 + 999_999_999_999_999);
                let binds = [Bind::Int(self.book.org), Bind::Int(low.0), Bind::Int(high)];
                let place: Option<i64> = self.db.first(sql::NewestPlace, &binds)?;
                place
                    .filter(|place| *place > 0)
                    .map_or(0, |place| PlaceNumber(place).number())
            }
        };
        self.book.numbers.insert(sort, newest + 1);
        Ok(newest + 1)
    }

    #[allow(clippy::type_complexity)]
    fn commitments(
        &self,
        seq: u64,
        draft: &Draft,
    ) -> Result<(Option<Words<'static>>, Vec<DisclosureRow>), StoreError> {
        if draft.secrets.is_empty() {
            return Ok((None, Vec::new()));
        }
        let mut commit = Words::new();
        let mut disclosed = Vec::with_capacity(draft.secrets.len());
        for (field, value) in &draft.secrets {
            let mut salt = [0_u8; 32];
            getrandom::fill(&mut salt).map_err(|error| {
                StoreError::Unsafe(format!("the system gives no random numbers: {error}"))
            })?;
            let text = commitment(draft.id, field, &salt, value.as_bytes());
            commit.insert(Cow::Owned(field.clone()), Cow::Owned(text));
            let (field, value) = (field.clone(), value.clone());
            disclosed.push(DisclosureRow {
                seq,
                field,
                salt,
                value,
            });
        }
        Ok((Some(commit), disclosed))
    }

    /// Does to counts, registers, links and corrections what a leaf says. Masses: `move_masses`.
    pub(super) fn apply(
        &mut self,
        leaf: &Leaf<'_>,
        kind: EntryKind,
        disclosed: &[DisclosureRow],
    ) -> Result<(), StoreError> {
        // Everything that can fail comes first. What is registered here counts from here.
        self.own_subject(&leaf.body)?;
        if let Some(new) = &leaf.body.replace {
            self.own_subject(&new.body)?;
        }
        let mut counted = Vec::new();
        for (place, nth) in leaf.nth.iter().flatten() {
            counted.extend(self.place_number(*place)?.map(|number| (number, *nth)));
        }
        if kind.registers() {
            self.register(leaf.seq, &leaf.body, "", &disclosed_map(disclosed), None)?;
        }
        match kind {
            EntryKind::Correction => self.correct(leaf, &disclosed_map(disclosed))?,
            EntryKind::Link => self.link(leaf)?,
            EntryKind::Statement => self.tie_statement(leaf)?,
            EntryKind::RuleSet | EntryKind::Method | EntryKind::Setting | EntryKind::Engine => {
                self.adopt(leaf, kind);
            }
            _ => {}
        }
        let judges = matches!(
            kind,
            EntryKind::Engine
                | EntryKind::RuleSet
                | EntryKind::Method
                | EntryKind::Setting
                | EntryKind::Site
                | EntryKind::Person
        );
        if judges {
            self.book.judged_by = leaf.seq;
        }
        for (number, nth) in counted {
            if let Some(subject) = self.book.subjects.get_mut(&number) {
                subject.nth = nth;
                self.book.pending.subjects.insert(number);
            }
        }
        Ok(())
    }

    /// Writes facts of a register entry, or of the replacement of one, into its dossier.
    fn register(
        &mut self,
        seq: u64,
        body: &Body<'_>,
        prefix: &str,
        disclosed: &BTreeMap<&str, &str>,
        takes_back: Option<u64>,
    ) -> Result<(), StoreError> {
        let Some(place) = self.own_subject(body)? else {
            return Ok(());
        };
        let mut dossier = match self.book.pending.registers.remove(&place) {
            Some(dossier) => dossier,
            None => self.dossier(place)?,
        };
        let class_before = class_said(&dossier);
        if let Some(entry) = takes_back {
            dossier.take_back(entry, seq);
        }
        for (name, values) in body.facts.iter().flatten() {
            for (at, fact) in values.iter().enumerate() {
                let path = format!("{prefix}facts.{name}.{at}");
                let is = match &fact.is {
                    Some(is) => Some(is.clone()),
                    None => disclosed.get(path.as_str()).map(|text| Value::from(*text)),
                };
                if let Some(is) = is {
                    dossier.say(name, fact.from, is, seq);
                }
            }
        }
        let tag = dossier
            .newest("tag")
            .and_then(Value::as_str)
            .map(str::to_string);
        let brief = super::book::Brief::of(&dossier, self.table);
        let subject = self.book.subjects.get_mut(&place);
        let subject =
            subject.ok_or_else(|| StoreError::Broken(format!("place {} vanished", place.0)))?;
        let old = std::mem::replace(&mut subject.tag, tag.clone());
        subject.brief = brief;
        let class = class_said(&dossier);
        let says = body
            .facts
            .as_ref()
            .is_some_and(|facts| facts.contains_key("class"));
        if place.sort() == Sort::Cylinder && (says || class != class_before) {
            subject.class = class;
            self.book.pending.subjects.insert(place);
        }
        self.book.facts_change(place);
        self.tagged(place, old, tag);
        self.book.pending.registers.insert(place, dossier);
        Ok(())
    }

    fn adopt(&mut self, leaf: &Leaf<'_>, kind: EntryKind) {
        self.adopt_body(leaf.seq, &leaf.body, leaf.happened.day, kind);
    }

    fn adopt_body(&mut self, seq: u64, body: &Body<'_>, happened: Day, kind: EntryKind) {
        let (name, value) = match kind {
            EntryKind::RuleSet => (
                body.rule_set.as_deref().unwrap_or_default().to_string(),
                body.text
                    .as_ref()
                    .map_or(String::new(), |text| text.sha256.to_string()),
            ),
            EntryKind::Method => (
                body.site.map_or(String::new(), |site| site.to_string()),
                body.method.as_deref().unwrap_or_default().to_string(),
            ),
            EntryKind::Engine => {
                let hash = |a: &Option<Attachment<'_>>| {
                    a.as_ref().map_or(String::new(), |a| a.sha256.to_string())
                };
                let (tables, lists) = (hash(&body.refrigerants), hash(&body.lists));
                let tzdb = body.tzdb.as_deref().unwrap_or_default();
                let value = said(body.engine.unwrap_or(0), &tables, &lists, tzdb);
                ("engine".to_string(), value)
            }
            _ => (
                body.name.as_deref().unwrap_or_default().to_string(),
                body.value.as_deref().unwrap_or_default().to_string(),
            ),
        };
        let since = body.from.unwrap_or(happened).count();
        let kind = kind.code();
        self.book.pending.rare.push(Rare::Adopted {
            seq,
            kind,
            name,
            since,
            value,
        });
        self.book.adopt_anew();
    }

    fn movement_rows(
        &mut self,
        of: &Source<'_>,
        body: &Body<'_>,
        n: i64,
    ) -> Result<Vec<MovementRow>, StoreError> {
        if of.kind.is_service() {
            return Ok(vec![self.service_row(of, body, n)?]);
        }
        let mut rows = Vec::with_capacity(body.movements.as_ref().map_or(0, Vec::len));
        for (at, moved) in body.movements.iter().flatten().enumerate() {
            rows.push(self.movement_row(of, body, moved, n + at as i64)?);
        }
        Ok(rows)
    }

    fn movement_row(
        &mut self,
        of: &Source<'_>,
        body: &Body<'_>,
        moved: &Moved<'_>,
        n: i64,
    ) -> Result<MovementRow, StoreError> {
        let unknown = |place: Place| StoreError::Broken(format!("{place} is not registered"));
        let src = self
            .place_number(moved.from)?
            .ok_or_else(|| unknown(moved.from))?;
        let dst = self
            .place_number(moved.to)?
            .ok_or_else(|| unknown(moved.to))?;
        let (appliance, flow) = match (src.sort(), dst.sort()) {
            (_, Sort::Appliance) => (Some(dst), Flow::In),
            (Sort::Appliance, _) => (Some(src), Flow::Out),
            _ => (None, Flow::None),
        };
        for place in [src, dst] {
            self.subject(place)?;
        }
        let refrigerant = self.table.code(&moved.refrigerant).ok_or_else(|| {
            StoreError::Broken(format!(
                "{} is not in the refrigerant table",
                moved.refrigerant
            ))
        })?;
        let what = What {
            refrigerant,
            kind: of.kind,
            reason: body.reason.as_deref().and_then(reason_named),
            flow,
            returned: body.returned_to_full_charge == Some(true),
            reversal: false,
            second: of.happened.time.as_deref().and_then(second_of_day),
        };
        Ok(MovementRow {
            seq: of.seq,
            n,
            src,
            dst,
            mass: moved.g.steps(),
            appliance,
            day: of.happened.day.count(),
            what: what.pack(),
            id_high: id_high(of.chain),
            ties: Ties {
                visit: of.visit,
                leak: body.leak,
                words: service::words_in(body),
                ..Ties::default()
            }
            .pack(),
        })
    }
}

/// What all movement rows of one entry share.
struct Source<'a> {
    seq: u64,
    kind: EntryKind,
    happened: &'a Happened<'a>,
    visit: Option<Id>,
    chain: Id,
}

fn disclosed_map(rows: &[DisclosureRow]) -> BTreeMap<&str, &str> {
    rows.iter()
        .map(|row| (row.field.as_str(), row.value.as_str()))
        .collect()
}

fn words(answers: &BTreeMap<String, String>) -> Option<Words<'static>> {
    let owned =
        |(code, choice): (&String, &String)| (Cow::Owned(code.clone()), Cow::Owned(choice.clone()));
    (!answers.is_empty()).then(|| answers.iter().map(owned).collect())
}

/// Seconds since midnight of `HH:MM` or `HH:MM:SS`.
pub fn second_of_day(time: &str) -> Option<u32> {
    let mut parts = time.split(':').map(|part| part.parse::<u32>().ok());
    let (hour, minute) = (parts.next()??, parts.next()??);
    let second = parts.next().unwrap_or(Some(0))?;
    Some(hour * 3600 + minute * 60 + second)
}

/// RFC 3339 with milliseconds, UTC.
pub fn instant_text(microseconds: i64) -> String {
    let day = Day::from_count(i32::try_from(microseconds.div_euclid(86_400_000_000)).unwrap_or(0));
    let milliseconds = microseconds.rem_euclid(86_400_000_000) / 1000;
    let (seconds, milliseconds) = (milliseconds / 1000, milliseconds % 1000);
    let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    format!("{day}T{hour:02}:{minute:02}:{second:02}.{milliseconds:03}Z")
}
