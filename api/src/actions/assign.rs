//! Saying who does what is owed at an appliance, or at every appliance of a site.
//!
//! A setting, not a fact: it may change every week and no entry speaks of it. What an appliance says
//! goes before what its site says.

use super::permit::{Deed, may_do};
use super::refusal::{ActionError, Refusal};
use super::show::duties::{PersonNamed, person_named};
use super::show::{reading, unknown};
use crate::ledger::actor::Actor;
use crate::ledger::id::Id;
use crate::store::columns::Sort;
use crate::store::open::Organisation;
use crate::store::tx::Tx;
use crate::store::{Db, StoreError, assignments, listing};
use serde::Serialize;
use std::collections::HashMap;

/// Who does what is owed there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AssignmentShown {
    /// `appliance` or `site`.
    pub kind: &'static str,
    /// Its id.
    pub id: String,
    /// Its tag.
    pub tag: String,
    /// Who; none: nobody in particular.
    pub person: Option<PersonNamed>,
    /// Names this state of it.
    #[serde(skip)]
    pub version: i64,
}

/// The assignment of the appliance or site with this id or tag.
pub fn one(
    db: &mut Db,
    of: &Organisation,
    sort: Sort,
    name: &str,
) -> Result<AssignmentShown, ActionError> {
    reading(db, of, |db| {
        let row = listing::thing(db, of.org, sort, name)?;
        let row = row.ok_or_else(|| unknown(sort.word(), name))?;
        let assigned = assignments::of(db, of.org, row.id)?;
        let person = match assigned.person {
            Some(person) => Some(person_named(db, of, person, &mut HashMap::new())?),
            None => None,
        };
        Ok(AssignmentShown {
            kind: sort.word(),
            id: row.id.to_string(),
            tag: row.tag,
            person,
            version: assigned.version,
        })
    })
}

/// Everybody who can be named: who may sign in, by name.
pub fn choices(db: &mut Db, of: &Organisation) -> Result<Vec<PersonNamed>, ActionError> {
    let everybody = super::manage_people::list(db, of.org)?;
    let members = everybody
        .into_iter()
        .filter(|one| one.disabled_at.is_none());
    let mut named: Vec<PersonNamed> = members
        .map(|member| PersonNamed {
            id: member.person.to_string(),
            name: member.name.or(member.tag).unwrap_or(member.email),
        })
        .collect();
    named.sort_by(|a, b| (&a.name, &a.id).cmp(&(&b.name, &b.id)));
    Ok(named)
}

/// Says who does what is owed at the appliance or site with this id or tag. `person`: an id or tag;
/// none: nobody in particular. `versions`: those the caller knows; none: any.
pub fn set(
    tx: &mut Tx<'_>,
    actor: &Actor,
    sort: Sort,
    name: &str,
    person: Option<&str>,
    versions: Option<&[String]>,
) -> Result<(), ActionError> {
    may_do(actor, Deed::Assign)?;
    let thing = id_of(tx, sort, name)?.ok_or_else(|| unknown(sort.word(), name))?;
    let person = match person {
        None => None,
        Some(person) => {
            let found = id_of(tx, Sort::Person, person)?;
            Some(found.ok_or_else(|| Refusal::Unknown {
                pointer: "/person".to_string(),
                what: "person".to_string(),
                name: person.to_string(),
            })?)
        }
    };
    let now = tx.assignment(thing)?;
    if versions.is_some_and(|known| !known.contains(&now.version.to_string())) {
        let what = format!("the assignment of {} {name}", sort.word());
        return Err(Refusal::StaleVersion { what }.into());
    }
    if now.person != person {
        tx.assign(thing, person, actor.person)?;
    }
    Ok(())
}

fn id_of(tx: &mut Tx<'_>, sort: Sort, name: &str) -> Result<Option<Id>, StoreError> {
    match tx.find(sort, name)? {
        Some(place) => Ok(tx.subject(place)?.id),
        None => Ok(None),
    }
}
