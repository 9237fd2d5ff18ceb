//! Who may sign in to which organisation, with which password and roles.
//!
//! One row a person and organisation. Two organisations that know the same address keep two rows
//! with two passwords: an administrator of one can do nothing to the other. A row is no fact of
//! the book and may change.

use super::access::{self, AccessRecord};
use super::dossier::Dossier;
use super::factors::Required;
use super::mail_choices::Choice;
use super::open::Organisation;
use super::sql;
use super::statement::Bind;
use super::tx::Tx;
use super::{Db, Sight, StoreError, damaged};
use super::{calendars, guesses, mail_choices, outgoing, sessions, tokens};
use crate::ledger::actor::{Actor, Role};
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;

/// Most organisations that are looked at for one address.
const MOST_ORGANISATIONS: usize = 16;

/// A person's sign-in to one organisation.
#[derive(Clone, PartialEq, Eq)]
pub struct SignIn {
    /// Whose book.
    pub of: Organisation,
    /// Who.
    pub person: Id,
    /// E-mail address, in lower case.
    pub email: String,
    /// PHC string of the password; empty: none is set yet.
    pub password_hash: String,
    /// The roles held, in the order of [`Role::ALL`].
    pub roles: Vec<Role>,
    /// May no longer sign in, since then.
    pub disabled_at: Option<i64>,
    /// One more at every change.
    pub version: i64,
    /// How many failures of the address came before the last good sign-in.
    pub forgiven: i64,
    /// A second factor holds since then.
    pub factor_since: Option<i64>,
    /// Of whom the organisation asks one.
    pub required: Required,
}

impl SignIn {
    /// A second factor is asked of this person, and none is set up.
    pub fn owes_factor(&self) -> bool {
        self.factor_since.is_none() && self.required.of(&self.roles)
    }
}

impl std::fmt::Debug for SignIn {
    /// Without the hash: what is printed may end in a log (promise S5).
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "SignIn of {} to {}", self.person, self.of.org)
    }
}

/// An address as it is kept and looked up: NFC, lower case, no blanks around it.
pub fn address(email: &str) -> String {
    use unicode_normalization::UnicodeNormalization;
    email.trim().nfc().collect::<String>().to_lowercase()
}

/// Roles as stored.
pub fn roles_text(roles: &[Role]) -> String {
    let held = Role::ALL.iter().filter(|role| roles.contains(role));
    held.map(|role| role.word()).collect::<Vec<_>>().join(" ")
}

/// Roles as they are read back, in the order of [`Role::ALL`].
pub fn roles(text: &str) -> Vec<Role> {
    let held = |role: &Role| text.split_whitespace().any(|word| word == role.word());
    Role::ALL.into_iter().filter(held).collect()
}

/// Every sign-in with this address. Only the numbers of the organisations are found by the address
/// alone; the rows are then read within those organisations.
pub fn of_email(db: &mut Db, email: &str) -> Result<Vec<SignIn>, StoreError> {
    db.reading(Sight::Email(&sha256(email.as_bytes())), |db| {
        let mut orgs: Vec<i64> = db.rows(sql::OrganisationsOfEmail, &[Bind::Text(email)])?;
        orgs.truncate(MOST_ORGANISATIONS);
        db.see(Sight::Organisations(&orgs))?;
        let mut found = Vec::new();
        for org in orgs {
            found.extend(in_organisation(db, org, email)?);
        }
        Ok(found)
    })
}

/// The sign-in with this address in one organisation; inside a transaction.
pub fn in_organisation(db: &mut Db, org: i64, email: &str) -> Result<Option<SignIn>, StoreError> {
    let binds = [Bind::Int(org), Bind::Text(email)];
    let row: Option<Row> = db.first(sql::SignInOfEmail, &binds)?;
    row.map(|row| read(org, row)).transpose()
}

/// The sign-in of a person; inside a transaction.
pub fn of_person(db: &mut Db, org: i64, person: Id) -> Result<Option<SignIn>, StoreError> {
    let binds = [Bind::Int(org), Bind::Bytes(&person.bytes())];
    let row: Option<Row> = db.first(sql::SignInOfPerson, &binds)?;
    row.map(|row| read(org, row)).transpose()
}

/// Name, log, person, address, hash, roles, disabled, version, forgiven, factor since, required.
type Row = (
    String,
    String,
    Vec<u8>,
    String,
    String,
    String,
    i64,
    i64,
    i64,
    i64,
    i64,
);

fn read(org: i64, row: Row) -> Result<SignIn, StoreError> {
    let (name, log, person, email, password_hash, words, disabled_at, ..) = row;
    let (.., version, forgiven, factor_since, required) = row;
    Ok(SignIn {
        of: Organisation { org, name, log },
        person: Id::from_bytes(&person).ok_or_else(|| damaged("a sign-in"))?,
        email,
        password_hash,
        roles: roles(&words),
        disabled_at: (disabled_at > 0).then_some(disabled_at),
        version,
        forgiven,
        factor_since: (factor_since > 0).then_some(factor_since),
        required: Required::coded(required),
    })
}

/// Keeps a password under today's parameters, unless it was changed meanwhile; inside a
/// transaction.
pub fn rehashed(db: &mut Db, sign_in: &SignIn, hash: &str) -> Result<(), StoreError> {
    let person = sign_in.person.bytes();
    let binds = [
        Bind::Text(hash),
        Bind::Int(sign_in.of.org),
        Bind::Bytes(&person),
        Bind::Text(&sign_in.password_hash),
    ];
    db.run(sql::SetRehashed, &binds)?;
    Ok(())
}

/// A person who may sign in, as shown to those who handle people.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// Who.
    pub person: Id,
    /// How they are called in the book.
    pub tag: Option<String>,
    /// Full name, where it was recorded.
    pub name: Option<String>,
    /// E-mail address.
    pub email: String,
    /// The roles held.
    pub roles: Vec<Role>,
    /// May no longer sign in, since then.
    pub disabled_at: Option<i64>,
    /// A password is set.
    pub has_password: bool,
    /// A second factor holds.
    pub has_factor: bool,
    /// One more at every change.
    pub version: i64,
}

/// Everybody who may sign in to an organisation, by address; inside a transaction.
pub fn members(db: &mut Db, org: i64) -> Result<Vec<Member>, StoreError> {
    type Row = (
        Vec<u8>,
        String,
        String,
        i64,
        i64,
        i64,
        i64,
        Option<String>,
        Option<String>,
    );
    let rows: Vec<Row> = db.rows(sql::SignIns, &[Bind::Int(org)])?;
    let read = |row: Row| {
        let (person, email, words, disabled_at, version, length, confirmed_at, tag, facts) = row;
        let dossier = facts.as_deref().and_then(Dossier::parse);
        let name = dossier.as_ref().and_then(name_in);
        Ok(Member {
            person: Id::from_bytes(&person).ok_or_else(|| damaged("a sign-in"))?,
            tag,
            name,
            email,
            roles: roles(&words),
            disabled_at: (disabled_at > 0).then_some(disabled_at),
            has_password: length > 0,
            has_factor: confirmed_at > 0,
            version,
        })
    };
    rows.into_iter().map(read).collect()
}

fn name_in(dossier: &Dossier) -> Option<String> {
    Some(dossier.newest("name")?.as_str()?.to_string())
}

/// What actions that handle people see and change of sign-ins, inside their write transaction. They
/// look at everything first and change last: what is changed here is not taken back by a refusal.
impl Tx<'_> {
    /// Everybody who may sign in, by address.
    pub fn members(&mut self) -> Result<Vec<Member>, StoreError> {
        let mut everybody = members(self.db, self.book.org)?;
        // Who was registered in this batch has no row yet.
        for member in everybody.iter_mut().filter(|member| member.tag.is_none()) {
            if let Some(place) = self.by_id(member.person)? {
                member.tag = self.subject(place)?.tag.clone();
                member.name = name_in(&self.dossier(place)?);
            }
        }
        Ok(everybody)
    }

    /// Gives a person other roles. What they had open ends.
    pub fn set_roles(&mut self, person: Id, roles: &[Role]) -> Result<(), StoreError> {
        let words = roles_text(roles);
        let id = person.bytes();
        let binds = [
            Bind::Text(&words),
            Bind::Int(self.book.org),
            Bind::Bytes(&id),
        ];
        self.db.run(sql::SetRoles, &binds)?;
        sessions::end_of_person(self.db, self.book.org, person, None)?;
        // It was made for what the roles before were shown.
        let (org, now) = (self.book.org, self.now);
        outgoing::drop_of_person(self.db, org, person, "its person has other roles", now)?;
        Ok(())
    }

    /// Lets a person sign in no longer, or again. What they had open ends, their tokens with it.
    pub fn set_disabled(&mut self, person: Id, disabled: bool) -> Result<(), StoreError> {
        let (org, id) = (self.book.org, person.bytes());
        let since = if disabled { self.now } else { 0 };
        let binds = [Bind::Int(since), Bind::Int(org), Bind::Bytes(&id)];
        self.db.run(sql::SetDisabled, &binds)?;
        if disabled {
            sessions::end_of_person(self.db, org, person, None)?;
            tokens::revoke_of_person(self.db, org, person, self.now)?;
            calendars::revoke_of_person(self.db, org, person, self.now)?;
            mail_choices::set(self.db, org, person, &Choice::default(), self.now)?;
        }
        Ok(())
    }

    /// Gives a person another password.
    pub fn set_password(&mut self, person: Id, hash: &str) -> Result<(), StoreError> {
        set_password(self.db, self.book.org, person, hash, None)
    }

    /// Ends every session of a person.
    pub fn end_sessions(&mut self, person: Id) -> Result<usize, StoreError> {
        sessions::end_of_person(self.db, self.book.org, person, None)
    }

    /// Adds an access record.
    pub fn record_access(
        &mut self,
        actor: &Actor,
        what: &str,
        about: &str,
        source: &str,
    ) -> Result<(), StoreError> {
        let record = AccessRecord {
            at: self.now,
            id: Id::random(),
            person: actor.person,
            device: actor.device,
            role: Some(actor.role),
            what: what.to_string(),
            about: about.to_string(),
            source: source.to_string(),
        };
        access::add(self.db, self.book.org, &record)
    }
}

/// Gives a person another password; inside a transaction. All sessions but one end, no browser is
/// known any longer, and failures so far are forgiven.
pub fn set_password(
    db: &mut Db,
    org: i64,
    person: Id,
    hash: &str,
    but: Option<Id>,
) -> Result<(), StoreError> {
    let id = person.bytes();
    let binds = [Bind::Text(hash), Bind::Int(org), Bind::Bytes(&id)];
    db.run(sql::SetPassword, &binds)?;
    sessions::end_of_person(db, org, person, but)?;
    guesses::forget_devices(db, org, person, 0)?;
    if let Some(who) = of_person(db, org, person)? {
        guesses::forgive(db, &guesses::account(&who.email), &who, false)?;
    }
    Ok(())
}
