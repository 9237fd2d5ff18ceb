//! Who may sign in to which organisation, with which password and roles.
//!
//! One row a person and organisation. Two organisations that know the same address keep two rows
//! with two passwords: an administrator of one can do nothing to the other. A row is no fact of
//! the book and may change.

use super::open::Organisation;
use super::sql;
use super::statement::Bind;
use super::{Db, Sight, StoreError, damaged};
use crate::ledger::actor::Role;
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

/// Name, log, person, address, hash, roles, disabled, version, forgiven.
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
);

fn read(org: i64, row: Row) -> Result<SignIn, StoreError> {
    let (name, log, person, email, password_hash, words, disabled_at, version, forgiven) = row;
    Ok(SignIn {
        of: Organisation { org, name, log },
        person: Id::from_bytes(&person).ok_or_else(|| damaged("a sign-in"))?,
        email,
        password_hash,
        roles: roles(&words),
        disabled_at: (disabled_at > 0).then_some(disabled_at),
        version,
        forgiven,
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
