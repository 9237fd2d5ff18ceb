//! Bearer tokens: `tb_`, eight characters that may be shown, `_`, 256 random bits.
//!
//! A token belongs to one organisation, acts in one role, ends within a year and can be revoked.
//! A device's token does no more than its scopes say. Of the secret only the SHA-256 is kept.

use super::access::Asker;
use super::door::{Door, SECOND};
use super::secret;
use super::{Shown, SignedIn};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::store::open::Organisation;
use crate::store::tokens::{self, Row};
use crate::store::{Db, Sight, StoreError, access, sign_ins};
use serde::{Deserialize, Serialize};

/// Days a token lasts unless it is said otherwise.
pub const USUAL_DAYS: u32 = 90;
/// Most days a token may last.
pub const MOST_DAYS: u32 = 365;

/// What a device can be given.
pub const SCOPES: [&str; 2] = ["movements:write", "readings:write"];

/// What a device's token may do.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Scopes {
    /// `movements:write`, `readings:write`.
    pub may: Vec<String>,
    /// Appliances and cylinders it may name; empty: any.
    pub places: Vec<Id>,
    /// Refrigerants it may name; empty: any.
    pub refrigerants: Vec<String>,
}

/// A token to be issued.
#[derive(Clone, Debug)]
pub struct TokenAsked {
    /// What it is for, so that it can be told from others.
    pub name: String,
    /// The person it acts for; none: the organisation.
    pub person: Option<Id>,
    /// The role it acts in.
    pub role: Role,
    /// What a device may do; of no other role.
    pub scopes: Scopes,
    /// How long it lasts.
    pub days: u32,
}

/// What may be shown of a token.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TokenShown {
    /// Its random id; entries name it as `device`.
    pub id: Id,
    /// Its first part, `tb_` and eight characters.
    pub word: String,
    /// What it is for.
    pub name: String,
    /// The person it acts for.
    pub person: Option<Id>,
    /// The role it acts in.
    pub role: Role,
    /// What a device may do.
    pub scopes: Scopes,
    /// Issued then, microseconds since 1970.
    pub made_at: i64,
    /// Ends then.
    pub expires_at: i64,
    /// Last use that was noted.
    pub used_at: Option<i64>,
    /// Revoked then.
    pub revoked_at: Option<i64>,
}

/// A token that was shown and holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bearer {
    /// Who asks.
    pub signed_in: SignedIn,
    /// What a device may do.
    pub scopes: Scopes,
}

/// Why no token was issued.
#[derive(Debug)]
pub enum TokenRefused {
    /// What was asked is wrong: the member, and a sentence.
    Invalid(&'static str, String),
    /// The store failed.
    Failed(StoreError),
}

impl From<StoreError> for TokenRefused {
    fn from(error: StoreError) -> TokenRefused {
        TokenRefused::Failed(error)
    }
}

const BEGINNING: &str = "tb_";
const WORD: usize = 8;

/// Issues a token; the secret is shown once.
pub fn issue(
    db: &mut Db,
    of: &Organisation,
    by: &Asker<'_>,
    asked: &TokenAsked,
    now: i64,
) -> Result<(String, TokenShown), TokenRefused> {
    let name = checked(by, asked)?;
    let word = word()?;
    let secret = format!("{BEGINNING}{word}_{}", secret::fresh()?);
    let row = Row {
        id: Id::random(),
        word,
        name,
        person: asked.person,
        role: asked.role,
        scopes: serde_json::to_string(&asked.scopes).unwrap_or_default(),
        made_at: now,
        expires_at: now + i64::from(asked.days) * 86_400 * SECOND,
        used_at: None,
        revoked_at: None,
    };
    let about = format!("{BEGINNING}{} {}", row.word, row.role.word());
    let record = by.did("token_issued", &about, now);
    let sight = Sight::Organisations(&[of.org]);
    let issued = db.writing(sight, |db| {
        if !holds(db, of, asked)? {
            return Ok(false);
        }
        tokens::add(db, of.org, &secret::hashed(&secret), &row)?;
        access::add(db, of.org, &record)?;
        Ok(true)
    })?;
    if !issued {
        let text = "Expected a person who signs in and holds that role, got none. A token does no \
                    more than its person may.";
        return Err(TokenRefused::Invalid("/person", text.to_string()));
    }
    Ok((secret, shown(row)?))
}

/// Does the person the token shall act for hold its role?
fn holds(db: &mut Db, of: &Organisation, asked: &TokenAsked) -> Result<bool, StoreError> {
    let Some(person) = asked.person else {
        return Ok(true);
    };
    let who = sign_ins::of_person(db, of.org, person)?;
    Ok(who.is_some_and(|who| who.disabled_at.is_none() && who.roles.contains(&asked.role)))
}

/// What is wrong with a token that is asked for; its name, as it is kept.
fn checked(by: &Asker<'_>, asked: &TokenAsked) -> Result<String, TokenRefused> {
    let refused = |pointer, text: String| Err(TokenRefused::Invalid(pointer, text));
    let name = asked.name.trim();
    if name.is_empty() || name.chars().count() > 100 || name.chars().any(char::is_control) {
        let text = "Expected a name of 1 to 100 characters that says what the token is for.";
        return refused("/name", text.to_string());
    }
    let came = asked.days;
    if !(1..=MOST_DAYS).contains(&came) {
        let text = format!("Expected 1 to {MOST_DAYS} days, got {came}. Tokens are renewed.");
        return refused("/days", text);
    }
    if matches!(asked.role, Role::Operator | Role::System) {
        let text = "Expected a role that a token can act in, got one of the host itself.";
        return refused("/role", text.to_string());
    }
    let device = asked.role == Role::Device;
    if !device && by.role != Role::Operator {
        let text = "Expected the role device. Tokens that act in another role are issued by \
                    `tarebook token issue` on the host.";
        return refused("/role", text.to_string());
    }
    let known = asked
        .scopes
        .may
        .iter()
        .all(|word| SCOPES.contains(&&word[..]));
    if !known
        || asked.scopes.may.is_empty() == device
        || (!device && asked.scopes != Scopes::default())
    {
        let text = format!(
            "Expected one or several of {} for a device, and none for other roles.",
            SCOPES.join(", ")
        );
        return refused("/scopes", text);
    }
    Ok(name.to_string())
}

/// Eight characters that cannot be mistaken for each other.
fn word() -> Result<String, StoreError> {
    const LETTERS: &[u8; 32] = b"abcdefghjkmnpqrstuvwxyz023456789";
    let bytes = secret::random::<WORD>()?;
    let letter = |byte: &u8| char::from(LETTERS[usize::from(byte % 32)]);
    Ok(bytes.iter().map(letter).collect())
}

fn shown(row: Row) -> Result<TokenShown, StoreError> {
    Ok(TokenShown {
        id: row.id,
        word: format!("{BEGINNING}{}", row.word),
        name: row.name,
        person: row.person,
        role: row.role,
        scopes: scopes(&row.scopes)?,
        made_at: row.made_at,
        expires_at: row.expires_at,
        used_at: row.used_at,
        revoked_at: row.revoked_at,
    })
}

fn scopes(text: &str) -> Result<Scopes, StoreError> {
    let damaged = |_| StoreError::Broken("the scopes of a token are damaged".to_string());
    serde_json::from_str(text).map_err(damaged)
}

fn looks_right(bearer: &str) -> bool {
    let rest = bearer.strip_prefix(BEGINNING);
    let parts = rest.and_then(|rest| rest.split_at_checked(WORD));
    parts.is_some_and(|(word, rest)| {
        let secret = rest.strip_prefix('_').unwrap_or_default();
        word.bytes().all(|b| b.is_ascii_alphanumeric()) && secret::looks_right(secret)
    })
}

/// Who shows this token; `None` when it does not hold (any more).
pub fn find(
    door: &Door,
    db: &mut Db,
    bearer: &str,
    now: i64,
) -> Result<Option<Bearer>, StoreError> {
    if !looks_right(bearer) {
        return Ok(None);
    }
    let Some(token) = tokens::by_secret(db, &secret::hashed(bearer))? else {
        return Ok(None);
    };
    if now >= token.expires_at || token.revoked_at > 0 {
        return Ok(None);
    }
    // A person's token does no more than the person may today.
    let person = match token.person {
        None => None,
        Some((_, None)) => return Ok(None),
        Some((_, Some(who))) if who.disabled_at.is_some() || !who.roles.contains(&token.role) => {
            return Ok(None);
        }
        Some((person, Some(_))) => Some(person),
    };
    let last = door.last_seen(Shown::Token, token.of.org, token.id, token.used_at);
    let signed_in = SignedIn {
        of: token.of,
        person,
        roles: vec![token.role],
        key: token.id,
        shown: Shown::Token,
        // Nobody signed in: what needs a fresh sign-in is never done by a token.
        signed_in_at: 0,
        expires_at: token.expires_at,
        owes_factor: false,
    };
    door.note_seen(&signed_in, last, now);
    Ok(Some(Bearer {
        signed_in,
        scopes: scopes(&token.scopes)?,
    }))
}

/// Revokes a token, from the next request on; says whether there was one that still held.
pub fn revoke(
    db: &mut Db,
    of: &Organisation,
    by: &Asker<'_>,
    id: Id,
    now: i64,
) -> Result<bool, StoreError> {
    let record = by.did("token_revoked", &id.to_string(), now);
    let sight = Sight::Organisations(&[of.org]);
    db.writing(sight, |db| {
        let revoked = tokens::revoke(db, of.org, id, now)?;
        if revoked {
            access::add(db, of.org, &record)?;
        }
        Ok(revoked)
    })
}

/// All tokens of an organisation, oldest first.
pub fn list(db: &mut Db, of: &Organisation) -> Result<Vec<TokenShown>, StoreError> {
    let sight = Sight::Organisations(&[of.org]);
    let rows = db.reading(sight, |db| tokens::all(db, of.org))?;
    rows.into_iter().map(shown).collect()
}
