//! The walk over the fleet: one light row for each duty, in the order in which they are shown.

use crate::actions::standings::Standings;
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use crate::store::columns::PlaceNumber;
use crate::store::open::Organisation;
use crate::store::scan::Scanned;
use crate::store::{Db, StoreError, assignments};
use reports::day::{Day, Zone};
use reports::rules::duties::{Owed, State};
use reports::rules::organisation::FleetSums;
use reports::rules::{Judge, RuleSet};
use reports::standing::{
    DutyShown, LayerShown, layers_behind, of_organisation_in_words, reviews_until,
};
use std::collections::HashMap;

/// How a duty stands, in the words of the pages.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Word {
    /// Its day is over at the site.
    Late,
    /// Within seven days, or owed without a day.
    Due,
    /// More than seven days away, or its clock does not run.
    NotDue,
    /// Fulfilled.
    Done,
    /// Not needed, or not any more.
    Waived,
}

/// Something is due, and no longer merely ahead, from so many days before on.
const SOON: i32 = 7;

impl Word {
    const ALL: [Word; 5] = [
        Word::Late,
        Word::Due,
        Word::NotDue,
        Word::Done,
        Word::Waived,
    ];

    /// The word of the wire.
    pub fn word(self) -> &'static str {
        match self {
            Word::Late => "late",
            Word::Due => "due",
            Word::NotDue => "not_due",
            Word::Done => "done",
            Word::Waived => "waived",
        }
    }

    /// The one with this word.
    pub fn named(word: &str) -> Option<Word> {
        Word::ALL.into_iter().find(|one| one.word() == word)
    }

    /// Is something still to be done or to be found out?
    pub fn is_owed(self) -> bool {
        self <= Word::NotDue
    }

    fn of(owed: &Owed, today: Day) -> Word {
        let soon = |due: Day| due.days_since(today) <= SOON;
        match owed.state {
            State::Overdue => Word::Late,
            State::Open if owed.due.is_some_and(|due| soon(due.day())) => Word::Due,
            State::NoDate => Word::Due,
            State::Open | State::Waiting | State::Paused | State::CannotJudge => Word::NotDue,
            State::Done | State::DoneLate => Word::Done,
            State::NotNeeded | State::Lifted | State::Ended | State::Lapsed => Word::Waived,
        }
    }
}

/// One duty without its words.
#[derive(Clone, Debug)]
pub struct Row {
    /// Names this step for ever.
    pub step: Id,
    /// Where the appliance is stored; none: the whole organisation owes it.
    pub place: Option<PlaceNumber>,
    /// Id of the appliance.
    pub appliance: Option<Id>,
    /// Its tag.
    pub tag: String,
    /// Its site.
    pub site: Option<Id>,
    /// Tag of that site.
    pub site_tag: String,
    /// Name of the duty in its rule set.
    pub duty: String,
    /// What the duty means.
    pub means: String,
    /// Its clause.
    pub clause: String,
    /// The local layers whose numbers it rests on.
    pub layers: Vec<LayerShown>,
    /// Which set of the judge.
    pub set: usize,
    /// Its place in the review of that set, or among the duties of the organisation.
    pub at: usize,
    /// Where the duty stands in the rule files: steps of one day are shown in that order.
    pub order: u32,
    /// How it stands.
    pub word: Word,
    /// The local day at the site on which it is due.
    pub due: Option<Day>,
    /// The day it was done or ended.
    pub on: Option<Day>,
    /// The day it started.
    pub since: Day,
    /// Today at the site.
    pub today: Day,
    /// Who does it.
    pub assigned: Option<Id>,
    /// Those of somebody else stand after one's own, where that is asked.
    pub after_own: bool,
}

/// Where a row stands in the list.
pub type Key = (bool, u8, Day, String, u32, Id);

impl Row {
    /// The day that counts for lists by day: due, or over.
    pub fn day(&self) -> Option<Day> {
        match self.word {
            Word::Done | Word::Waived => self.on.or(self.due),
            _ => self.due,
        }
    }

    /// Where it stands: the clauses of layers whose numbers it rests on with the law's own beneath,
    /// then the clause of the duty itself.
    pub fn cites(&self) -> String {
        let of_layer = |layer: &LayerShown| format!("{}: {}; ", layer.stands(), layer.says());
        let layers: String = self.layers.iter().map(of_layer).collect();
        layers + &self.clause
    }

    fn rank(&self) -> u8 {
        match (self.word, self.due) {
            (Word::Late, _) => 0,
            (Word::Due | Word::NotDue, Some(_)) => 1,
            (Word::Due, None) => 2,
            (Word::NotDue, None) => 3,
            _ => 4,
        }
    }

    /// Where it stands in the list.
    pub fn key(&self) -> Key {
        let day = self.day().unwrap_or(self.since);
        let (own, rank, tag) = (self.after_own, self.rank(), self.tag.clone());
        (own, rank, day, tag, self.order, self.step)
    }

    /// The same as text.
    pub fn key_text(&self) -> String {
        let (own, rank, day, tag, order, step) = self.key();
        format!("{}.{rank}.{day}.{order}.{step}.{tag}", u8::from(own))
    }

    /// Reads such a text.
    pub fn key_of(text: &str) -> Option<Key> {
        let mut parts = text.splitn(6, '.');
        let own = parts.next().filter(|part| matches!(*part, "0" | "1"))? == "1";
        let rank = parts.next()?.parse().ok().filter(|rank| *rank <= 4)?;
        let day = Day::parse(parts.next()?)?;
        let order = parts.next()?.parse().ok()?;
        let step = Id::parse_strict(parts.next()?)?;
        Some((own, rank, day, parts.next()?.to_string(), order, step))
    }
}

/// What a walk found.
pub struct Walked {
    /// The rows that were kept, in their order.
    pub rows: Vec<Row>,
    /// What the whole organisation owes, in words.
    pub of_organisation: Vec<DutyShown>,
}

/// Walks the fleet; rows that `keep` takes are kept. `first`: those of this person stand first.
pub fn walked(
    db: &mut Db,
    of: &Organisation,
    standings: &Standings,
    first: Option<Id>,
    keep: impl Fn(&Row) -> bool,
) -> Result<Walked, StoreError> {
    let assigned = assignments::all(db, of.org)?;
    let judge = standings.judge();
    let (office, zone) = (standings.today(), standings.zone());
    let sets = 0..judge.sets().count();
    let mut sums: Vec<(usize, FleetSums)> = (sets)
        .filter_map(|set| Some((set, FleetSums::new(judge, set, office)?)))
        .collect();
    let mut rows = Vec::new();
    standings.each(db, |scanned, settings, day| {
        let prepared = judge.appliance(scanned.facts);
        for (_, sums) in &mut sums {
            sums.add(scanned.site_tag, scanned.facts, &prepared, scanned.events);
        }
        let (facts, events) = (scanned.facts, scanned.events);
        let reviews = reviews_until(&prepared, facts, events, settings, day, None);
        let own = assigned.get(&scanned.id);
        let person = own.or_else(|| assigned.get(&scanned.site?)).copied();
        let mut seen = HashMap::new();
        for (set, review) in reviews.iter().enumerate() {
            for (at, owed) in review.duties.iter().enumerate() {
                let id = &prepared.set(set).id;
                let nth = counted(&mut seen, id, owed);
                let row = Row {
                    place: Some(scanned.place),
                    appliance: Some(scanned.id),
                    site: scanned.site,
                    assigned: person,
                    after_own: first.is_some() && person != first,
                    order: order_of(prepared.set(set), set, owed),
                    ..bare(set, at, owed, day)
                };
                if keep(&row) {
                    let step = step_of(scanned.id, id, owed, nth);
                    let layers = layers_behind(review, owed);
                    rows.push(named(Row { layers, ..row }, step, owed, scanned));
                }
            }
        }
    })?;
    let own = first.is_some();
    let (of_organisation, more) = of_organisation(judge, &sums, office, &zone, own, &keep);
    rows.extend(more);
    rows.sort_by_cached_key(Row::key);
    Ok(Walked {
        rows,
        of_organisation,
    })
}

/// What the whole organisation owes, in words, and its rows. `after_own`: they stand after one's own.
fn of_organisation(
    judge: &Judge<'_>,
    sums: &[(usize, FleetSums)],
    office: Day,
    zone: &Zone,
    after_own: bool,
    keep: impl Fn(&Row) -> bool,
) -> (Vec<DutyShown>, Vec<Row>) {
    let (mut in_words, mut rows) = (Vec::new(), Vec::new());
    let (book, mut seen) = (Id::from_bits(0), HashMap::new());
    for (set, sums) in sums {
        let (kept, rules) = (sums.prepared(judge), judge.sets().nth(*set));
        let found = sums.judged(judge, &kept, zone);
        for (at, owed) in found.duties.iter().enumerate() {
            let shown = rules.and_then(|rules| of_organisation_in_words(rules, &found, at));
            let (Some(rules), Some(shown)) = (rules, shown) else {
                continue;
            };
            let nth = seen
                .entry((*set, shown.duty.clone(), owed.since))
                .or_insert(0_u32);
            let row = Row {
                after_own,
                order: order_of(rules, *set, owed),
                ..bare(*set, in_words.len(), owed, office)
            };
            if keep(&row) {
                let layers = shown.layers.clone();
                let row = Row { layers, ..row };
                in_words.push(shown);
                rows.push(worded(row, step_of(book, &rules.id, owed, *nth), owed));
            }
            *nth += 1;
        }
    }
    (in_words, rows)
}

/// What is looked at before a row is kept; its words come afterwards.
fn bare(set: usize, at: usize, owed: &Owed, today: Day) -> Row {
    Row {
        step: Id::from_bits(0),
        place: None,
        appliance: None,
        tag: String::new(),
        site: None,
        site_tag: String::new(),
        duty: String::new(),
        means: String::new(),
        clause: String::new(),
        layers: Vec::new(),
        set,
        at,
        order: 0,
        word: Word::of(owed, today),
        due: owed.due.map(|due| due.day()),
        on: owed.on,
        since: owed.since,
        today,
        assigned: None,
        after_own: false,
    }
}

fn worded(row: Row, step: Id, owed: &Owed) -> Row {
    Row {
        step,
        duty: owed.duty.name.clone(),
        means: owed.duty.means.clone(),
        clause: owed.duty.clause.clone(),
        ..row
    }
}

fn named(row: Row, step: Id, owed: &Owed, scanned: &Scanned<'_>) -> Row {
    Row {
        tag: scanned.tag.to_string(),
        site_tag: scanned.site_tag.to_string(),
        ..worded(row, step, owed)
    }
}

fn order_of(rules: &RuleSet, set: usize, owed: &Owed) -> u32 {
    let mut duties = rules.duties.iter();
    let at = duties.position(|duty| std::ptr::eq(duty, owed.duty));
    let number = |at: usize| u32::try_from(at).unwrap_or(u32::MAX / 2_000);
    number(set) * 1_000 + number(at.unwrap_or(999))
}

/// How many duties of this name, set and first day the appliance had before.
fn counted<'s>(
    seen: &mut HashMap<(&'s str, &'s str, Day), u32>,
    set: &'s str,
    owed: &Owed<'s>,
) -> u32 {
    let nth = seen.entry((set, &owed.duty.name, owed.since)).or_default();
    *nth += 1;
    *nth - 1
}

/// Names a step for ever: the appliance, the duty and the day it started. A date that moves, a
/// later entry or a newer version of the set leave it what it was.
fn step_of(appliance: Id, set: &str, owed: &Owed, nth: u32) -> Id {
    let (duty, since) = (&owed.duty.name, owed.since);
    let text = format!("tarebook/step/v1\n{appliance}\n{set}\n{duty}\n{since}\n{nth}");
    let hash = sha256(text.as_bytes());
    let mut bytes = [0; 16];
    bytes.copy_from_slice(&hash[..16]);
    // RFC 9562, section 5.8: version 8, whose bits say what their maker likes.
    let bits = u128::from_be_bytes(bytes);
    let cleared = bits & !(0xf << 76) & !(0x3 << 62);
    Id::from_bits(cleared | (0x8 << 76) | (0x2 << 62))
}
