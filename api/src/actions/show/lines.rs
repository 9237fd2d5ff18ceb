//! Entries as lines of the book: what moved from where to where, with the names that people use.
//!
//! A leaf names things and persons by their ids; a line says their tags and names as they are
//! today. A correction is the line of what it puts in place of the corrected one, and both say
//! each other's number.

use super::scales::Scales;
use super::{Page, Sees, reading, trust, unknown};
use crate::actions::refusal::ActionError;
use crate::ledger::entry::{Body, Leaf, Moved};
use crate::ledger::id::Id;
use crate::ledger::place::Place;
use crate::store::columns::Sort;
use crate::store::listing::{self, EntryRow};
use crate::store::open::{Organisation, size};
use crate::store::{Db, StoreError, entries_about};
use reports::day::Day;
use reports::physics::ScaleFacts;
use std::collections::{BTreeMap, HashMap};

/// An entry as a line of the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Its number.
    pub seq: u64,
    /// Its id.
    pub entry_id: Id,
    /// The word of its kind; of a correction, the kind of what stands instead.
    pub kind: String,
    /// The day it happened, `YYYY-MM-DD`.
    pub day: String,
    /// The time of that day at the site, where one was stated.
    pub time: Option<String>,
    /// When it was booked, UTC.
    pub booked_at: String,
    /// Its movements; none where nothing moved.
    pub moved: Vec<LineMoved>,
    /// The thing a register entry is about.
    pub about: Option<Named>,
    /// What was adopted or set: the id of a rule set, a setting with its value, a method.
    pub adopted: Option<String>,
    /// Why, or what became of a statement, a word of a closed list.
    pub reason: Option<String>,
    /// Condition of what was recovered or named otherwise.
    pub class: Option<String>,
    /// Was the appliance brought back to its full charge?
    pub returned_to_full_charge: bool,
    /// The entry it corrects.
    pub corrects: Option<u64>,
    /// Of a correction: who made it, when and why. `by` is who did the work that stands instead.
    pub correction: Option<Correcting>,
    /// Does a correction put nothing in the place of what it corrects?
    pub annuls: bool,
    /// The correction that corrects it.
    pub corrected_by: Option<u64>,
    /// Booked long after it happened, or inside a closed period.
    pub late: bool,
    /// Came from an import.
    pub imported: bool,
    /// Who did the work, or who booked it.
    pub by: String,
    /// The visit it belongs to.
    pub visit: Option<Id>,
    /// The leak it is about.
    pub leak: Option<Id>,
    /// Who did the work, or who booked it, by id.
    pub did: Option<Id>,
    /// Who booked it, by id.
    pub booked_by: Option<Id>,
    /// Words of a step of the service record, by name.
    pub words: BTreeMap<String, String>,
    /// What was typed: note, reason, document number, by field.
    pub texts: BTreeMap<String, String>,
    /// Who has the cylinder since; of entries that say nothing else.
    pub held_by: Option<String>,
    /// Its leaf hash.
    pub hash: [u8; 32],
}

/// Who corrected an entry, when and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Correcting {
    /// Name of who booked the correction.
    pub by: String,
    /// The day it was made, `YYYY-MM-DD`.
    pub day: String,
    /// What was wrong, a word of a closed list.
    pub reason: Option<String>,
}

/// One mass that moved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineMoved {
    /// Where it was.
    pub from: Named,
    /// Where it went.
    pub to: Named,
    /// Designation.
    pub refrigerant: String,
    /// Steps of 10⁻¹¹ g.
    pub steps: i64,
    /// What is known of the scale that both readings come from, where it is registered.
    pub scale: Option<ScaleFacts>,
}

/// A place or a registered thing with the name people use.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// `appliance`, `cylinder`, `atmosphere` and so on.
    pub word: String,
    /// Its id, where it has one.
    pub id: Option<Id>,
    /// Its tag; empty for a place of the world.
    pub tag: String,
}

/// The newest lines of a book, or those before no. `before`; the newest first.
pub fn newest(
    db: &mut Db,
    of: &Organisation,
    before: Option<u64>,
    most: usize,
    sees: Sees,
) -> Result<Page<Line>, ActionError> {
    reading(db, of, |db| {
        let size = size(db, of.org)?;
        let end = before.unwrap_or(size).min(size);
        // Numbers are dense from 0, so that a page is a stretch of them.
        let start = end.saturating_sub(most as u64);
        let wanted = usize::try_from(end - start).unwrap_or(most);
        let mut rows = match wanted {
            0 => Vec::new(),
            wanted => listing::entries_after(db, of.org, start.checked_sub(1), wanted)?,
        };
        rows.reverse();
        let mut names = Names::default();
        let mut items = Vec::with_capacity(rows.len());
        for row in &rows {
            items.extend(line(db, of, row, &mut names, sees)?);
        }
        let next = (start > 0).then(|| start.to_string());
        Ok(Page { items, next })
    })
}

/// The newest lines about an appliance or a cylinder, or those before no. `before`; the newest first.
pub fn of_thing(
    db: &mut Db,
    of: &Organisation,
    (sort, name): (Sort, &str),
    before: Option<u64>,
    most: usize,
    sees: Sees,
) -> Result<Page<Line>, ActionError> {
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, sort, name)?;
        let row = row.ok_or_else(|| unknown(sort.word(), name))?;
        let numbers = entries_about::before(db, of.org, row.place, before, most + 1)?;
        let page = Page::of(numbers, most, u64::to_string);
        let mut names = Names::default();
        let mut items = Vec::with_capacity(page.items.len());
        for seq in page.items {
            if let Some(row) = listing::entry(db, of.org, seq)? {
                items.extend(line(db, of, &row, &mut names, sees)?);
            }
        }
        Ok(Page {
            items,
            next: page.next,
        })
    })
}

/// The line of the entry with this id or number.
pub fn one(db: &mut Db, of: &Organisation, name: &str, sees: Sees) -> Result<Line, ActionError> {
    reading(db, of, |db| {
        read(db, of, name, sees)?.ok_or_else(|| unknown("entry", name))
    })
}

/// The line of the entry with this id or number, within a reading that has begun.
pub(super) fn read(
    db: &mut Db,
    of: &Organisation,
    name: &str,
    sees: Sees,
) -> Result<Option<Line>, StoreError> {
    let Some(seq) = super::entries::number_of(db, of, name)? else {
        return Ok(None);
    };
    match listing::entry(db, of.org, seq)? {
        Some(row) => line(db, of, &row, &mut Names::default(), sees),
        None => Ok(None),
    }
}

/// Names that were looked up already.
#[derive(Default)]
struct Names {
    known: HashMap<(&'static str, Id), String>,
    scales: Scales,
}

impl Names {
    /// The tag of a thing, or the name of a person; empty where there is none any more.
    fn of(&mut self, db: &mut Db, org: i64, sort: Sort, id: Id) -> Result<String, StoreError> {
        if let Some(known) = self.known.get(&(sort.word(), id)) {
            return Ok(known.clone());
        }
        let row = listing::thing(db, org, sort, &id.to_string())?;
        let name = row.map(|row| match sort {
            Sort::Person => {
                let name = row.dossier.newest("name").and_then(|name| name.as_str());
                name.unwrap_or(&row.tag).to_string()
            }
            _ => row.tag,
        });
        let name = name.unwrap_or_default();
        self.known.insert((sort.word(), id), name.clone());
        Ok(name)
    }

    fn place(&mut self, db: &mut Db, org: i64, place: Place) -> Result<Named, StoreError> {
        let tag = match (Sort::named(place.word()), place.id()) {
            (Some(sort), Some(id)) => self.of(db, org, sort, id)?,
            _ => String::new(),
        };
        Ok(Named {
            word: place.word().to_string(),
            id: place.id(),
            tag,
        })
    }
}

fn line(
    db: &mut Db,
    of: &Organisation,
    row: &EntryRow,
    names: &mut Names,
    sees: Sees,
) -> Result<Option<Line>, StoreError> {
    let damaged = |_| StoreError::Broken(format!("entry no. {} is unreadable", row.seq));
    let leaf = Leaf::parse(&row.leaf).map_err(damaged)?;
    if let Sees::Own(own) = sees
        && !own.booked(leaf.by, leaf.device)
    {
        return Ok(None);
    }
    let replaced = leaf.body.replace.as_deref();
    let (kind, happened, body) = match replaced {
        Some(new) => (&new.kind, &new.happened, &new.body),
        None => (&leaf.kind, &leaf.happened, &leaf.body),
    };
    let did = replaced.and_then(|new| new.did).or(leaf.did).or(leaf.by);
    let by = who(db, of, did, &leaf, names)?;
    let correction = match leaf.body.corrects {
        Some(_) => Some(Correcting {
            by: who(db, of, leaf.by, &leaf, names)?,
            day: leaf.happened.day.to_string(),
            reason: leaf.body.reason.as_ref().map(ToString::to_string),
        }),
        None => None,
    };
    let mut moved = Vec::new();
    for one in body.movements.iter().flatten() {
        moved.push(line_moved(db, of, one, happened.day, names)?);
    }
    let about_people = leaf.kind == "person";
    let texts = row.texts.iter().filter(|_| !about_people);
    Ok(Some(Line {
        seq: row.seq,
        entry_id: leaf.id,
        kind: kind.to_string(),
        day: happened.day.to_string(),
        time: happened
            .time
            .as_ref()
            .map(|time| time[..5.min(time.len())].to_string()),
        booked_at: leaf.booked_at.to_string(),
        moved,
        about: about(db, of, body, names)?,
        adopted: adopted(body),
        reason: (body.reason.as_ref().or(body.outcome.as_ref())).map(ToString::to_string),
        class: body.class.as_ref().map(ToString::to_string),
        returned_to_full_charge: body.returned_to_full_charge == Some(true),
        corrects: leaf.body.corrects.map(|entry| entry.seq),
        correction,
        annuls: leaf.body.corrects.is_some() && replaced.is_none(),
        corrected_by: row.corrected_by,
        late: leaf.late,
        imported: leaf.via == "import",
        by,
        visit: replaced.and_then(|new| new.visit).or(leaf.visit),
        leak: body.leak,
        did,
        booked_by: leaf.by,
        words: words(body),
        texts: texts
            .map(|(field, text)| (field.clone(), text.clone()))
            .collect(),
        held_by: held_by(body, row),
        hash: row.hash,
    }))
}

/// The name of a person; where no person acted, who did instead.
fn who(
    db: &mut Db,
    of: &Organisation,
    person: Option<Id>,
    leaf: &Leaf<'_>,
    names: &mut Names,
) -> Result<String, StoreError> {
    match person {
        Some(person) => names.of(db, of.org, Sort::Person, person),
        None if leaf.role == "operator" => Ok("the operator".to_string()),
        None => Ok("the program".to_string()),
    }
}

/// Who has a cylinder, where an entry says this and nothing else.
fn held_by(body: &Body<'_>, row: &EntryRow) -> Option<String> {
    let facts = body.facts.as_ref()?;
    let alone = facts.len() == 1 && facts.contains_key("held_by");
    let mut said = row.texts.iter().rev();
    let said = said.find(|(field, _)| field.starts_with("facts.held_by."));
    said.filter(|_| alone).map(|(_, who)| who.clone())
}

/// Words of a step of the service record.
fn words(body: &Body<'_>) -> BTreeMap<String, String> {
    let words = body.words.iter().flatten();
    words
        .map(|(name, word)| (name.to_string(), word.to_string()))
        .collect()
}

fn line_moved(
    db: &mut Db,
    of: &Organisation,
    moved: &Moved<'_>,
    day: Day,
    names: &mut Names,
) -> Result<LineMoved, StoreError> {
    let scale = trust::scale_of(db, of, moved, day, &mut names.scales)?;
    Ok(LineMoved {
        from: names.place(db, of.org, moved.from)?,
        to: names.place(db, of.org, moved.to)?,
        refrigerant: moved.refrigerant.to_string(),
        steps: moved.g.steps(),
        scale: scale.map(|(scale, _)| scale),
    })
}

/// What an entry adopted or set.
fn adopted(body: &Body<'_>) -> Option<String> {
    let from = body
        .from
        .map_or(String::new(), |from| format!(" from {from}"));
    let what = match (&body.rule_set, &body.name, &body.value, &body.method) {
        (Some(id), ..) => id.to_string(),
        (None, Some(name), Some(value), _) => format!("{name} {value}"),
        (None, Some(name), None, _) => name.to_string(),
        (None, None, _, Some(method)) => method.to_string(),
        _ => return None,
    };
    Some(what + &from)
}

/// The thing that a register entry is about.
fn about(
    db: &mut Db,
    of: &Organisation,
    body: &Body<'_>,
    names: &mut Names,
) -> Result<Option<Named>, StoreError> {
    let subject = body
        .subject
        .as_deref()
        .and_then(|text| text.split_once(':'));
    let Some((word, id)) = subject else {
        return Ok(None);
    };
    let (Some(sort), Some(id)) = (Sort::named(word), Id::parse(id)) else {
        return Ok(None);
    };
    Ok(Some(Named {
        word: word.to_string(),
        id: Some(id),
        tag: names.of(db, of.org, sort, id)?,
    }))
}
