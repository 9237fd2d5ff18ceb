//! A second factor: set up, shown, given up, asked of whom.
//!
//! A person sets one up in a session whose password is not older than five minutes. The seed is shown
//! once and holds after one right code; then ten recovery codes are shown, once, of which only hashes
//! are kept. Whoever gives it up or wants other recovery codes shows the password and a code.

use super::access::Asker;
use super::door::{Door, MINUTE};
use super::throttle::wait;
use super::totp::{self, Typed};
use super::{SignedIn, opening, secret, session};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use crate::ledger::tree::sha256;
use crate::store::access::AccessRecord;
use crate::store::open::Organisation;
use crate::store::sign_ins::{self, SignIn};
use crate::store::{Db, Sight, StoreError, access, factors, guesses};

pub use crate::store::factors::Required;

/// A seed that was shown waits so long for its first code.
const SETTING_UP: i64 = 15 * MINUTE;
/// Recovery codes that are made at once.
pub const RECOVERY_CODES: usize = 10;

/// How somebody's factor stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Standing {
    /// It holds since then; none: there is none.
    pub since: Option<i64>,
    /// Recovery codes that are left.
    pub recovery_codes: i64,
    /// Of whom the organisation asks one.
    pub required: Required,
    /// Of this person it is asked.
    pub asked: bool,
}

/// A seed, shown once.
pub struct Begun {
    /// In base 32.
    pub seed: String,
    /// For the square.
    pub address: String,
}

/// Why a factor was not changed.
#[derive(Debug)]
pub enum FactorRefused {
    /// The password was shown more than five minutes ago, or no person asks.
    NotFresh,
    /// There is one already.
    There,
    /// There is none.
    NotThere,
    /// No seed waits for its first code.
    NothingBegun,
    /// Not that code, or one that was taken before.
    Wrong,
    /// Not now: again after so many seconds.
    Later(u32),
    /// The key of the book is not where the service runs.
    NoKey,
    /// The store failed.
    Failed(StoreError),
}

impl From<StoreError> for FactorRefused {
    fn from(error: StoreError) -> FactorRefused {
        FactorRefused::Failed(error)
    }
}

/// What a typed text showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shows {
    /// A code of a step that is taken now.
    Code,
    /// A recovery code that is used up now; so many are left.
    Recovery(i64),
    /// Nothing.
    Nothing,
}

/// Looks at what was typed and takes it, so that it is never taken again; inside a transaction.
pub(super) fn shows(
    door: &Door,
    db: &mut Db,
    who: &SignIn,
    text: &str,
    now: i64,
) -> Result<Shows, StoreError> {
    let (org, person) = (who.of.org, who.person);
    let factor = factors::of_person(db, org, person)?;
    let Some(factor) = factor.filter(|it| it.confirmed_at > 0) else {
        return Ok(Shows::Nothing);
    };
    let taken = match totp::read(text) {
        Typed::Other => false,
        Typed::Code(code) => {
            let Some(seed) = door.seals.open(&who.of.log, person, &factor.sealed) else {
                // Recovery codes go on; whoever keeps the service reads why codes do not.
                tracing::error!(
                    log = who.of.log,
                    "the seed of a second factor cannot be opened"
                );
                return Ok(Shows::Nothing);
            };
            let step = totp::fitting(&seed, &code, now, factor.last_step);
            step.map_or(Ok(false), |step| factors::take_step(db, org, person, step))?
        }
        Typed::Recovery(plain) => {
            let hash = hash(org, person, &plain);
            if factors::use_recovery_code(db, org, person, &hash, now)? {
                let left = factors::recovery_codes_left(db, org, person)?;
                return Ok(Shows::Recovery(left));
            }
            false
        }
    };
    Ok(if taken { Shows::Code } else { Shows::Nothing })
}

/// What is kept of a recovery code: with 100 random bits a fast hash is enough.
fn hash(org: i64, person: Id, plain: &str) -> [u8; 32] {
    sha256(format!("tarebook/recovery/v1\n{org}\n{person}\n{plain}").as_bytes())
}

/// Leaves a record of a recovery code that was used; inside a transaction.
pub(super) fn recorded(
    db: &mut Db,
    who: &SignIn,
    key: Option<Id>,
    shown: Shows,
    source: &str,
    now: i64,
) -> Result<(), StoreError> {
    let Shows::Recovery(left) = shown else {
        return Ok(());
    };
    let mut record = opening::record(who, key, "recovery_code_used", source, now);
    record.about = format!("{left} left");
    access::add(db, who.of.org, &record)
}

/// How the factor of whoever asks stands.
pub fn standing(db: &mut Db, signed_in: &SignedIn) -> Result<Standing, StoreError> {
    let org = signed_in.of.org;
    db.reading(Sight::Organisations(&[org]), |db| {
        let own = signed_in.person.map(|it| sign_ins::of_person(db, org, it));
        let own = own.transpose()?.flatten();
        let recovery_codes = match signed_in.person {
            Some(person) => factors::recovery_codes_left(db, org, person)?,
            None => 0,
        };
        let required = factors::required(db, org)?;
        Ok(Standing {
            since: own.as_ref().and_then(|own| own.factor_since),
            recovery_codes,
            required,
            asked: own.is_some_and(|own| required.of(&own.roles)),
        })
    })
}

/// Whoever asks, with their session: who they are is read within the transaction.
struct Own<'a> {
    signed_in: &'a SignedIn,
    source: &'a str,
    now: i64,
}

impl Own<'_> {
    fn who(&self, db: &mut Db) -> Result<SignIn, FactorRefused> {
        let person = self.signed_in.person.ok_or(FactorRefused::NotFresh)?;
        let who = sign_ins::of_person(db, self.signed_in.of.org, person)?;
        who.ok_or(FactorRefused::NotFresh)
    }

    fn record(&self, what: &str) -> AccessRecord {
        let role = self.signed_in.roles.first().copied();
        let by = Asker::new(self.signed_in, role.unwrap_or(Role::System), self.source);
        let about = self.signed_in.person.map(|person| person.to_string());
        by.did(what, &about.unwrap_or_default(), self.now)
    }

    /// Within a transaction; a refusal that counts something is kept with its count.
    fn writing<T>(
        &self,
        db: &mut Db,
        with: impl FnOnce(&mut Db) -> Result<T, FactorRefused>,
    ) -> Result<T, FactorRefused> {
        let org = self.signed_in.of.org;
        let mut outcome = None;
        db.writing(Sight::Organisations(&[org]), |db| match with(db) {
            Err(FactorRefused::Failed(error)) => Err(error),
            other => {
                outcome = Some(other);
                Ok(())
            }
        })?;
        outcome.unwrap_or(Err(FactorRefused::NotFresh))
    }
}

/// Begins to set a factor up: makes a seed, which holds only after [`confirm`].
pub fn begin(
    door: &Door,
    db: &mut Db,
    signed_in: &SignedIn,
    now: i64,
) -> Result<Begun, FactorRefused> {
    if !session::is_fresh(signed_in, now) {
        return Err(FactorRefused::NotFresh);
    }
    let seed = secret::random::<{ totp::SEED }>()?;
    let own = Own {
        signed_in,
        source: "",
        now,
    };
    own.writing(db, |db| {
        let who = own.who(db)?;
        let sealed = door.seals.seal(&who.of.log, who.person, &seed)?;
        let sealed = sealed.ok_or(FactorRefused::NoKey)?;
        match factors::begin(db, who.of.org, who.person, &sealed, now)? {
            false => Err(FactorRefused::There),
            true => Ok(Begun {
                seed: totp::base32(&seed),
                address: totp::address(&seed, &who.of.name, &who.email),
            }),
        }
    })
}

/// The first right code: from now on the factor holds. Every other session ends. Gives the recovery
/// codes, which are shown once.
pub fn confirm(
    door: &Door,
    db: &mut Db,
    signed_in: &SignedIn,
    code: &str,
    source: &str,
    now: i64,
) -> Result<Vec<String>, FactorRefused> {
    let own = Own {
        signed_in,
        source,
        now,
    };
    own.writing(db, |db| {
        let who = own.who(db)?;
        let (org, person) = (who.of.org, who.person);
        let begun = factors::of_person(db, org, person)?.ok_or(FactorRefused::NothingBegun)?;
        if begun.confirmed_at > 0 {
            return Err(FactorRefused::There);
        }
        if now - begun.made_at > SETTING_UP {
            return Err(FactorRefused::NothingBegun);
        }
        let seed = door.seals.open(&who.of.log, person, &begun.sealed);
        let seed = seed.ok_or(FactorRefused::NoKey)?;
        let Typed::Code(code) = totp::read(code) else {
            return Err(FactorRefused::Wrong);
        };
        let step = totp::fitting(&seed, &code, now, begun.last_step);
        let step = step.ok_or(FactorRefused::Wrong)?;
        if !factors::confirm(db, org, person, &begun.sealed, step, now)? {
            return Err(FactorRefused::There);
        }
        factors::changed(db, org, person, Some(signed_in.key))?;
        access::add(db, org, &own.record("factor_on"))?;
        recovery_codes(db, &who)
    })
}

/// Makes ten recovery codes in the place of those before; inside a transaction.
fn recovery_codes(db: &mut Db, who: &SignIn) -> Result<Vec<String>, FactorRefused> {
    let mut codes = Vec::with_capacity(RECOVERY_CODES);
    for _ in 0..RECOVERY_CODES {
        codes.push(totp::recovery_code(&secret::random()?));
    }
    let plain = |code: &String| hash(who.of.org, who.person, &code.replace('-', ""));
    let hashes: Vec<[u8; 32]> = codes.iter().map(plain).collect();
    factors::set_recovery_codes(db, who.of.org, who.person, &hashes)?;
    Ok(codes)
}

/// Takes a code of somebody who is signed in and whose password is fresh. It is counted as a failed
/// sign-in before it is looked at, and waits as one.
fn shown_again(
    door: &Door,
    db: &mut Db,
    own: &Own<'_>,
    who: &SignIn,
    code: &str,
    alone: bool,
) -> Result<(), FactorRefused> {
    if who.factor_since.is_none() {
        return Err(FactorRefused::NotThere);
    }
    let (org, now) = (who.of.org, own.now);
    let account = guesses::account(&who.email);
    let (counted, last) = guesses::failures(db, &account)?.unwrap_or((0, 0));
    let waits = wait((counted - who.forgiven).max(0), last, now);
    if waits > 0 {
        return Err(FactorRefused::Later(waits));
    }
    guesses::count(db, &account, who.forgiven, now)?;
    let shown = shows(door, db, who, code, now)?;
    if shown == Shows::Nothing {
        access::add(db, org, &own.record("code_failed"))?;
        return Err(FactorRefused::Wrong);
    }
    guesses::forgive(db, &account, who, alone)?;
    recorded(db, who, Some(own.signed_in.key), shown, own.source, now)?;
    Ok(())
}

/// What a person does with a factor that holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Give it up.
    Off,
    /// Make other recovery codes; those before hold no longer.
    OtherCodes,
}

/// Gives the factor up, or makes other recovery codes, which are given back. The password must be
/// fresh, and a code is shown.
pub fn change(
    door: &Door,
    db: &mut Db,
    signed_in: &SignedIn,
    deed: Deed,
    code: &str,
    source: &str,
    now: i64,
) -> Result<Vec<String>, FactorRefused> {
    if !session::is_fresh(signed_in, now) {
        return Err(FactorRefused::NotFresh);
    }
    let own = Own {
        signed_in,
        source,
        now,
    };
    let org = signed_in.of.org;
    let who = db.reading(Sight::Organisations(&[org]), |db| Ok(own.who(db)))??;
    let alone = sign_ins::of_email(db, &who.email)?.len() == 1;
    own.writing(db, |db| {
        let who = own.who(db)?;
        shown_again(door, db, &own, &who, code, alone)?;
        if deed == Deed::OtherCodes {
            access::add(db, org, &own.record("recovery_codes_made"))?;
            return recovery_codes(db, &who);
        }
        factors::remove(db, org, who.person)?;
        factors::changed(db, org, who.person, Some(signed_in.key))?;
        access::add(db, org, &own.record("factor_off"))?;
        Ok(Vec::new())
    })
}

/// Says of whom an organisation asks a factor. It counts from the next request of everybody on.
pub fn require(
    db: &mut Db,
    of: &Organisation,
    by: &Asker<'_>,
    required: Required,
    now: i64,
) -> Result<(), StoreError> {
    let record = by.did("factor_required", required.word(), now);
    db.writing(Sight::Organisations(&[of.org]), |db| {
        if factors::required(db, of.org)? == required {
            return Ok(());
        }
        factors::require(db, of.org, required)?;
        access::add(db, of.org, &record)
    })
}
