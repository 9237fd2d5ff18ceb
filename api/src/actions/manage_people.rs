//! Handling people: who may sign in, in which roles, with which password.
//!
//! A person is registered by an entry like any other thing: what is typed of them is committed in
//! the book and can be erased. Whether they may sign in, and in which roles, is no fact of the book;
//! every change of it leaves an access record. Passwords come here only as hashes. Everything is
//! looked at before anything is changed.

use super::permit::{Deed, may_do};
use super::post::{post, typed_text};
use super::refusal::{ActionError, Refusal};
use crate::ledger::actor::{Actor, Role};
use crate::ledger::id::Id;
use crate::store::columns::Sort;
pub use crate::store::sign_ins::Member;
use crate::store::sign_ins::{address, members};
use crate::store::tx::Tx;
use crate::store::{Db, Sight, StoreError};
use serde_json::json;

/// Who acts, and from where.
#[derive(Clone, Copy, Debug)]
pub struct By<'a> {
    /// Who, in which role.
    pub actor: &'a Actor,
    /// An address, or `host`.
    pub source: &'a str,
}

/// Somebody who shall be able to sign in.
#[derive(Clone, Debug, Default)]
pub struct PersonAsked {
    /// Id of the entry that registers them, made by the client; none: one is made.
    pub entry_id: Option<Id>,
    /// Somebody who is registered already, by id or tag: only the sign-in is added.
    pub person: Option<String>,
    /// E-mail address they sign in with; also their tag in the book, unless another is given.
    pub email: String,
    /// Full name.
    pub name: Option<String>,
    /// How the book calls them.
    pub tag: Option<String>,
    /// The roles they hold.
    pub roles: Vec<Role>,
    /// PHC string of a first password; none: one has to be set before they can sign in.
    pub password_hash: Option<String>,
}

/// The roles a person can hold.
pub const HELD: [Role; 4] = [
    Role::Technician,
    Role::ComplianceManager,
    Role::Auditor,
    Role::Administrator,
];

/// Everybody who may sign in, by address.
pub fn list(db: &mut Db, org: i64) -> Result<Vec<Member>, StoreError> {
    db.reading(Sight::Organisations(&[org]), |db| members(db, org))
}

/// Adds somebody. The same entry id again adds nobody twice.
pub fn add(tx: &mut Tx<'_>, by: By<'_>, asked: &PersonAsked) -> Result<Member, ActionError> {
    may_do(by.actor, Deed::ManagePeople)?;
    let email = email(&asked.email)?;
    roles(&asked.roles)?;
    let known = registered(tx, asked)?;
    let everybody = tx.members()?;
    let taken = everybody.iter().find(|member| member.email == email);
    match (taken, known) {
        (Some(member), Some(known)) if member.person == known => return Ok(member.clone()),
        (None, Some(known)) if everybody.iter().any(|member| member.person == known) => {
            let expected = "a person without a sign-in";
            let remedy = "This one has one already, with another address.";
            let came = asked.person.as_deref().unwrap_or_default();
            return Err(Refusal::invalid("/person", expected, came, remedy).into());
        }
        (Some(_), _) => {
            let expected = "an address nobody else signs in with";
            let remedy = "Each person has their own.";
            return Err(Refusal::invalid("/email", expected, &email, remedy).into());
        }
        (None, _) => {}
    }
    let person = match known {
        Some(person) => person,
        None => register(tx, by.actor, asked, &email)?,
    };
    let hash = asked.password_hash.as_deref().unwrap_or_default();
    tx.add_sign_in(person, &email, hash, &words(&asked.roles))?;
    let about = format!("{person}: {}", words(&asked.roles));
    tx.record_access(by.actor, "person_added", &about, by.source)?;
    member(tx, person)
}

/// Gives somebody other roles. Nobody changes their own, and one administrator stays.
pub fn set_roles(
    tx: &mut Tx<'_>,
    by: By<'_>,
    person: Id,
    held: &[Role],
) -> Result<Member, ActionError> {
    may_do(by.actor, Deed::ManagePeople)?;
    roles(held)?;
    not_oneself(by.actor, person, "roles")?;
    let before = member(tx, person)?;
    if !held.contains(&Role::Administrator) {
        one_administrator_stays(tx, person)?;
    }
    let about = format!("{person}: {} -> {}", words(&before.roles), words(held));
    tx.set_roles(person, held)?;
    tx.record_access(by.actor, "roles_set", &about, by.source)?;
    member(tx, person)
}

/// Lets somebody sign in no longer, or again. Their sessions and tokens end at once.
pub fn disable(
    tx: &mut Tx<'_>,
    by: By<'_>,
    person: Id,
    disabled: bool,
) -> Result<Member, ActionError> {
    may_do(by.actor, Deed::ManagePeople)?;
    not_oneself(by.actor, person, "sign-in")?;
    member(tx, person)?;
    if disabled {
        one_administrator_stays(tx, person)?;
    }
    tx.set_disabled(person, disabled)?;
    let what = if disabled {
        "person_disabled"
    } else {
        "person_enabled"
    };
    tx.record_access(by.actor, what, &person.to_string(), by.source)?;
    member(tx, person)
}

/// Gives somebody another password, of which only the hash comes here. Their sessions end at once.
pub fn set_password(
    tx: &mut Tx<'_>,
    by: By<'_>,
    person: Id,
    hash: &str,
) -> Result<Member, ActionError> {
    may_do(by.actor, Deed::ManagePeople)?;
    // One's own is changed where the one that holds is shown first.
    not_oneself(by.actor, person, "password here")?;
    member(tx, person)?;
    tx.set_password(person, hash)?;
    tx.record_access(by.actor, "password_set", &person.to_string(), by.source)?;
    member(tx, person)
}

/// Ends every session of somebody, for a lost telephone.
pub fn end_sessions(tx: &mut Tx<'_>, by: By<'_>, person: Id) -> Result<Member, ActionError> {
    may_do(by.actor, Deed::ManagePeople)?;
    member(tx, person)?;
    tx.end_sessions(person)?;
    tx.record_access(by.actor, "sessions_ended", &person.to_string(), by.source)?;
    member(tx, person)
}

/// Takes somebody's second factor away, for a lost phone. Their sessions end at once; `tell`: mail goes
/// out, and they are told by it.
pub fn reset_factor(
    tx: &mut Tx<'_>,
    by: By<'_>,
    person: Id,
    tell: bool,
) -> Result<Member, ActionError> {
    may_do(by.actor, Deed::ManagePeople)?;
    // One's own is given up where a code is shown first.
    not_oneself(by.actor, person, "second factor here")?;
    if !member(tx, person)?.has_factor {
        let (expected, came) = ("a person with a second factor", person.to_string());
        let remedy = "This one has none; nothing is to be reset.";
        return Err(Refusal::invalid("/reset_factor", expected, &came, remedy).into());
    }
    tx.reset_factor(person)?;
    tx.record_access(by.actor, "factor_reset", &person.to_string(), by.source)?;
    if tell {
        tx.notify(person, RESET, RESET_TEXT)?;
    }
    member(tx, person)
}

const RESET: &str = "Your second factor was reset";
const RESET_TEXT: &str = "An administrator of your organisation took the second factor of your sign-in \
                          away, and every session of yours ended.\n\nIf you asked for it, sign in with \
                          your password and set a second factor up again. If you did not, tell your \
                          administrator today and change your password.\n";

/// The person with this id who may sign in. Another organisation's is answered like none.
pub fn member(tx: &mut Tx<'_>, person: Id) -> Result<Member, ActionError> {
    let everybody = tx.members()?;
    let found = everybody.into_iter().find(|member| member.person == person);
    found.ok_or_else(|| unknown(&person.to_string()))
}

/// The person meant by an address, an id or a tag, who may sign in.
pub fn named(tx: &mut Tx<'_>, name: &str) -> Result<Member, ActionError> {
    let (id, email) = (Id::parse(name), address(name));
    let meant = |member: &Member| {
        Some(member.person) == id || member.email == email || member.tag.as_deref() == Some(name)
    };
    let found = tx.members()?.into_iter().find(meant);
    found.ok_or_else(|| unknown(name))
}

fn unknown(name: &str) -> ActionError {
    let (pointer, what) = ("/person".to_string(), "person".to_string());
    let name = name.to_string();
    Refusal::Unknown {
        pointer,
        what,
        name,
    }
    .into()
}

/// The person who is registered already, if one is meant.
fn registered(tx: &mut Tx<'_>, asked: &PersonAsked) -> Result<Option<Id>, ActionError> {
    if let Some(name) = &asked.person {
        let place = tx.find(Sort::Person, name)?.ok_or_else(|| unknown(name))?;
        return Ok(tx.subject(place)?.id);
    }
    let Some(entry) = asked.entry_id else {
        return Ok(None);
    };
    // The same request again: the person follows from the entry's id.
    let person = super::register::derived(entry);
    match tx.known(entry)? {
        None => Ok(None),
        Some(_) if tx.find(Sort::Person, &person.to_string())?.is_some() => Ok(Some(person)),
        Some(_) => {
            let expected = "an id that no other entry has";
            let remedy = "Make a new one, for example of version 7.";
            Err(Refusal::invalid("/entry_id", expected, &entry.to_string(), remedy).into())
        }
    }
}

/// Registers the person by an entry.
fn register(
    tx: &mut Tx<'_>,
    actor: &Actor,
    asked: &PersonAsked,
    email: &str,
) -> Result<Id, ActionError> {
    let entry = asked
        .entry_id
        .unwrap_or_else(|| Id::at(tx.now.unsigned_abs() / 1000));
    let tag = asked.tag.as_deref().unwrap_or(email);
    let mut facts = json!({"tag": tag, "email": email});
    if let Some(name) = asked
        .name
        .as_deref()
        .map(str::trim)
        .filter(|it| !it.is_empty())
    {
        facts["name"] = json!(name);
    }
    let request = json!({"entry_id": entry, "kind": "person", "body": {"facts": facts}});
    post(tx, actor, &request)?;
    Ok(super::register::derived(entry))
}

/// Roles as words, in their order.
fn words(held: &[Role]) -> String {
    crate::store::sign_ins::roles_text(held)
}

fn email(text: &str) -> Result<String, ActionError> {
    let email = address(&typed_text(text, "email")?);
    let parts = email.split_once('@');
    let fits = parts.is_some_and(|(name, host)| !name.is_empty() && !host.is_empty());
    // Brackets, quotes and separators could be read as something else than an address (RFC 5322,
    // section 3.2.3: specials).
    let special = |letter: char| letter.is_whitespace() || "()<>[]:;\\,\"?&/%".contains(letter);
    let plain = !email.contains(special) && email.matches('@').count() == 1;
    // RFC 5321, section 4.5.3.1.3: a path has at most 256 octets, brackets included.
    if fits && plain && email.len() <= 254 {
        return Ok(email);
    }
    let remedy = "Write it out, for example ines@tamarack.example.";
    Err(Refusal::invalid("/email", "an e-mail address", text, remedy).into())
}

fn roles(held: &[Role]) -> Result<(), ActionError> {
    let wrong = held.iter().find(|role| !HELD.contains(role));
    if wrong.is_none() && !held.is_empty() {
        return Ok(());
    }
    let known: Vec<&str> = HELD.iter().map(|role| role.word()).collect();
    let expected = format!("one or several of {}", known.join(", "));
    let came = wrong.map_or("none", |role| role.word());
    let remedy = "Who shall no longer sign in is disabled.";
    Err(Refusal::invalid("/roles", &expected, came, remedy).into())
}

fn not_oneself(actor: &Actor, person: Id, what: &str) -> Result<(), ActionError> {
    if actor.person != Some(person) {
        return Ok(());
    }
    let detail = format!(
        "Nobody changes their own {what}. Ask another administrator, or run `tarebook user` on the \
         host."
    );
    Err(Refusal::Forbidden { detail }.into())
}

/// An organisation that nobody could administer would need somebody at the host for ever.
fn one_administrator_stays(tx: &mut Tx<'_>, without: Id) -> Result<(), ActionError> {
    let everybody = tx.members()?;
    let administers = |member: &&Member| {
        member.disabled_at.is_none() && member.roles.contains(&Role::Administrator)
    };
    let mut administrators = everybody.iter().filter(administers).peekable();
    if administrators.peek().is_none() || administrators.any(|member| member.person != without) {
        return Ok(());
    }
    let detail = "This is the last administrator. Make somebody else one first.".to_string();
    Err(Refusal::Forbidden { detail }.into())
}
