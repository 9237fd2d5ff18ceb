//! What is owed over the whole organisation: every appliance, and the organisation itself.
//!
//! Nothing of it is kept: each answer walks the fleet once, without writing a word, and puts into
//! words only what is shown. Whether something is late is decided by the end of the day at the
//! site, not by the clock of the office or of the reader.

mod walk;

pub use walk::{Row, Walked, Word, walked};

use super::{Page, reading, unknown};
use crate::actions::refusal::{ActionError, Refusal};
use crate::actions::standings::Standings;
use crate::ledger::id::Id;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::listing;
use crate::store::open::Organisation;
use crate::store::{Db, StoreError};
use reports::day::Day;
use reports::standing::{DutyShown, duty_in_words};
use serde::Serialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Which duties are asked for by how they stand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Stands {
    /// What is still to be done or to be found out.
    #[default]
    Owed,
    /// Those of one word.
    Of(Word),
    /// All that ever were.
    All,
}

impl Stands {
    /// What can be asked, the usual first.
    pub const WORDS: [&'static str; 7] =
        ["owed", "late", "due", "not_due", "done", "waived", "all"];

    /// The one with this word.
    pub fn named(word: &str) -> Option<Stands> {
        match word {
            "owed" => Some(Stands::Owed),
            "all" => Some(Stands::All),
            word => Word::named(word).map(Stands::Of),
        }
    }

    fn takes(self, word: Word) -> bool {
        match self {
            Stands::Owed => word.is_owed(),
            Stands::Of(asked) => asked == word,
            Stands::All => true,
        }
    }
}

/// Whose duties are asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Whose {
    /// Those assigned to this person, by id or tag.
    Person(String),
    /// Those assigned to nobody.
    Nobody,
}

/// What is asked of the list.
#[derive(Clone, Debug, Default)]
pub struct DutiesAsked {
    /// Of the appliances of this site, by id or tag.
    pub site: Option<String>,
    /// Whose.
    pub whose: Option<Whose>,
    /// Due on this day or later.
    pub from: Option<Day>,
    /// Due on this day or earlier.
    pub to: Option<Day>,
    /// Started on this day or later.
    pub since: Option<Day>,
    /// How they stand.
    pub stands: Stands,
    /// Those of this person stand first.
    pub first: Option<Id>,
    /// Where the page before ended.
    pub after: String,
    /// At most so many.
    pub most: usize,
    /// Now, microseconds since 1970.
    pub now: i64,
}

/// A person as a duty names them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PersonNamed {
    /// Their id.
    pub id: String,
    /// Their name, or else what the book calls them.
    pub name: String,
}

/// A site as a duty names it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SiteNamed {
    /// Its id.
    pub id: String,
    /// Its tag.
    pub tag: String,
}

/// Something that is owed, or was.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DutyItem {
    /// Names this step for ever.
    pub step: String,
    /// Id of the appliance; none: the whole organisation owes it.
    pub appliance: Option<String>,
    /// Its tag; empty: the whole organisation.
    pub tag: String,
    /// Where it stands.
    pub site: Option<SiteNamed>,
    /// `late`, `due`, `not_due`, `done` or `waived`.
    pub stands: &'static str,
    /// The day it is at the site.
    pub day: String,
    /// Who does it.
    pub assigned: Option<PersonNamed>,
    /// What is owed, in words.
    pub duty: DutyShown,
}

/// A page of duties, with the rows of the whole list without words.
pub struct DutyList {
    /// The page.
    pub page: Page<DutyItem>,
    /// Every row that fits what was asked, in its order.
    pub rows: Vec<Row>,
    /// Today at the organisation.
    pub today: Day,
}

/// Reads a page of duties: late first, then by the day they are due.
pub fn page(db: &mut Db, of: &Organisation, asked: &DutiesAsked) -> Result<DutyList, ActionError> {
    let after = match asked.after.as_str() {
        "" => None,
        text => Some(Row::key_of(text).ok_or_else(|| {
            let expected = "what next of the page before says";
            Refusal::invalid("?after", expected, text, "Follow next, or begin anew.")
        })?),
    };
    reading(db, of, |db| {
        let standings = Standings::open(db, of, asked.now)?;
        let filter = Filter::read(db, of, asked)?;
        let walked = walked(db, of, &standings, asked.first, |row| filter.takes(row))?;
        let begins = after.map_or(0, |after| {
            walked.rows.partition_point(|row| row.key() <= after)
        });
        let rest: Vec<&Row> = walked.rows[begins..].iter().take(asked.most + 1).collect();
        let page = Page::of(rest, asked.most, |row| row.key_text());
        let items = in_words(db, of, &standings, &walked, &page.items)?;
        Ok(DutyList {
            page: Page {
                items,
                next: page.next,
            },
            today: standings.today(),
            rows: walked.rows,
        })
    })
}

/// What a list leaves out.
struct Filter {
    site: Option<Id>,
    person: Option<Option<Id>>,
    from: Option<Day>,
    to: Option<Day>,
    since: Option<Day>,
    stands: Stands,
}

impl Filter {
    fn read(db: &mut Db, of: &Organisation, asked: &DutiesAsked) -> Result<Filter, ActionError> {
        let mut named = |sort: Sort, name: &str| {
            let row = listing::thing(db, of.org, sort, name)?;
            let id = row.map(|row| row.id);
            id.ok_or_else(|| unknown(sort.word(), name))
        };
        let site = asked.site.as_deref().map(|name| named(Sort::Site, name));
        let person = match &asked.whose {
            None => None,
            Some(Whose::Nobody) => Some(None),
            Some(Whose::Person(name)) => Some(Some(named(Sort::Person, name)?)),
        };
        Ok(Filter {
            site: site.transpose()?,
            person,
            from: asked.from,
            to: asked.to,
            since: asked.since,
            stands: asked.stands,
        })
    }

    fn takes(&self, row: &Row) -> bool {
        let day = row.day();
        self.stands.takes(row.word)
            && self.site.is_none_or(|site| row.site == Some(site))
            && self.person.is_none_or(|person| row.assigned == person)
            && self.since.is_none_or(|since| row.since >= since)
            && self
                .from
                .is_none_or(|from| day.is_some_and(|day| day >= from))
            && self.to.is_none_or(|to| day.is_some_and(|day| day <= to))
    }
}

/// Those of some steps that were over before the book knew of what began them. `now`: microseconds
/// since 1970.
pub fn known_late(
    db: &mut Db,
    of: &Organisation,
    rows: &[&Row],
    now: i64,
) -> Result<BTreeSet<Id>, ActionError> {
    reading(db, of, |db| {
        let standings = Standings::open(db, of, now)?;
        Ok(over_before_known(db, &standings, rows)?)
    })
}

/// The same for whoever has opened the standings already.
pub fn over_before_known(
    db: &mut Db,
    standings: &Standings,
    rows: &[&Row],
) -> Result<BTreeSet<Id>, StoreError> {
    let mut of_place: BTreeMap<PlaceNumber, Vec<&Row>> = BTreeMap::new();
    for row in rows {
        if let Some(place) = row.place {
            of_place.entry(place).or_default().push(*row);
        }
    }
    let mut found = BTreeSet::new();
    for (place, own) in of_place {
        standings.at(db, place, |scanned, settings, day| {
            let prepared = standings.judge().appliance(scanned.facts);
            let reviews = standings.reviews(&prepared, scanned, settings, day);
            let duty = |row: &Row| reviews.get(row.set)?.duties.get(row.at);
            let late = |row: &&&Row| {
                let duty = duty(row).filter(|it| it.late_on_discovery);
                duty.is_some_and(|it| it.duty.name == row.duty && it.since == row.since)
            };
            found.extend(own.iter().filter(late).map(|row| row.step));
        })?;
    }
    Ok(found)
}

/// Puts some rows into words; those of one appliance are worked out together.
pub fn in_words(
    db: &mut Db,
    of: &Organisation,
    standings: &Standings,
    walked: &Walked,
    rows: &[&Row],
) -> Result<Vec<DutyItem>, StoreError> {
    let mut shown: HashMap<(PlaceNumber, usize, usize), DutyShown> = HashMap::new();
    let mut done = std::collections::HashSet::new();
    for place in rows.iter().filter_map(|row| row.place) {
        if !done.insert(place) {
            continue;
        }
        let own: Vec<&&Row> = (rows.iter().filter(|row| row.place == Some(place))).collect();
        standings.at(db, place, |scanned, settings, day| {
            let prepared = standings.judge().appliance(scanned.facts);
            let reviews = standings.reviews(&prepared, scanned, settings, day);
            for row in own {
                let review = &reviews[row.set];
                let duty = duty_in_words(prepared.set(row.set), review, row.at, settings);
                shown.extend(duty.map(|duty| ((place, row.set, row.at), duty)));
            }
        })?;
    }
    let mut names = HashMap::new();
    let mut items = Vec::with_capacity(rows.len());
    for row in rows {
        let duty = match row.place {
            Some(place) => shown.remove(&(place, row.set, row.at)),
            None => walked.of_organisation.get(row.at).cloned(),
        };
        let assigned = match row.assigned {
            Some(person) => Some(person_named(db, of, person, &mut names)?),
            None => None,
        };
        let duty = duty.ok_or_else(|| StoreError::Broken("a duty went away".to_string()))?;
        items.push(item(row, assigned, duty));
    }
    Ok(items)
}

fn item(row: &Row, assigned: Option<PersonNamed>, duty: DutyShown) -> DutyItem {
    DutyItem {
        step: row.step.to_string(),
        appliance: row.appliance.map(|id| id.to_string()),
        tag: row.tag.clone(),
        site: row.site.map(|id| SiteNamed {
            id: id.to_string(),
            tag: row.site_tag.clone(),
        }),
        stands: row.word.word(),
        day: row.today.to_string(),
        assigned,
        duty,
    }
}

/// A person with the name the book knows; each is looked up once.
pub fn person_named(
    db: &mut Db,
    of: &Organisation,
    person: Id,
    known: &mut HashMap<Id, PersonNamed>,
) -> Result<PersonNamed, StoreError> {
    if let Some(named) = known.get(&person) {
        return Ok(named.clone());
    }
    let id = person.to_string();
    let row = listing::thing(db, of.org, Sort::Person, &id)?;
    let name = row.and_then(|row| {
        let name = row.dossier.newest("name").and_then(Value::as_str);
        let name = name.map_or(row.tag.clone(), str::to_string);
        // Who has no name is called by their address, which is not for colleagues.
        (!name.contains('@')).then_some(name)
    });
    let named = PersonNamed {
        name: name.unwrap_or_else(|| id.clone()),
        id,
    };
    known.insert(person, named.clone());
    Ok(named)
}
