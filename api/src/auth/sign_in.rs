//! Signing in: from e-mail and password to an open session.
//!
//! It has three steps, because the middle one burns tens of milliseconds of a core:
//!
//! 1. [`begin`], with a connection: looks the address up and asks the brakes. It counts the
//!    attempt as failed, so that a thousand guesses at once are a thousand guesses.
//! 2. [`Attempt::check`], **without a connection, off the request workers**, at most as many at
//!    once as there are cores: works the hash out.
//! 3. [`conclude`], with a connection: opens the session, or asks for the code of a second factor
//!    ([`second_step`]), or says why not.
//!
//! An address that nobody has goes through the same three steps and the same brakes (promise A6).

use super::door::{Door, lock};
use super::opening::{Opening, opened, record};
use super::secret;
use super::throttle::{MOST_ON_DEVICE, wait};
use super::{Shown, SignedIn, password, second_step};
use crate::ledger::id::Id;
use crate::store::sign_ins::{self, SignIn};
use crate::store::{Db, Sight, StoreError, access, guesses};

/// What somebody who signs in says.
#[derive(Clone)]
pub struct SignInAsked {
    /// E-mail address.
    pub email: String,
    /// Password.
    pub password: String,
    /// Name of the organisation; needed where the address belongs to several.
    pub organisation: Option<String>,
}

/// An open session; its secret is shown once.
pub struct NewSession {
    /// Goes into the cookie.
    pub secret: String,
    /// Who asks from now on.
    pub signed_in: SignedIn,
    /// Goes into the cookie that makes this browser known; none: it has a good one.
    pub known_device: Option<String>,
    /// Failed sign-ins with this name since the last good one: from ten on the person is told.
    pub failures: i64,
}

/// Why nobody was signed in.
#[derive(Debug)]
pub enum SignInRefused {
    /// No such address, no such organisation, not that password, or disabled: all the same.
    Wrong,
    /// The password is right in several organisations; said only then.
    ChooseOrganisation(Vec<String>),
    /// Not now, whatever the password: again after so many seconds. After a hundred failures in a
    /// row the wait does not end by itself: a known browser or an administrator helps.
    Later {
        /// For `Retry-After`.
        seconds: u32,
    },
    /// The password is right, and a code is asked for; the secret goes into a cookie.
    CodeAsked {
        /// What is shown with the code.
        secret: String,
    },
    /// Not that code, or one that was taken before.
    CodeWrong {
        /// So many more are looked at.
        left: u32,
    },
    /// Nothing waits for a code any more: the password again.
    Restart,
    /// The store failed.
    Failed(StoreError),
}

impl From<StoreError> for SignInRefused {
    fn from(error: StoreError) -> SignInRefused {
        SignInRefused::Failed(error)
    }
}

/// An attempt to sign in, before the password was looked at.
pub struct Attempt {
    /// Who may be meant.
    candidates: Vec<SignIn>,
    /// What the password is compared with: theirs, or a dummy.
    hashes: Vec<String>,
    account: [u8; 32],
    /// The address belongs to one sign-in only.
    alone: bool,
    failures: i64,
    source: String,
    known_device: Option<[u8; 32]>,
    /// The session that a fresh sign-in takes the place of, and its end.
    replaces: Option<(Id, i64)>,
    door_hashing: password::Hashing,
}

/// An attempt whose password was looked at.
pub struct Checked {
    attempt: Attempt,
    right: Vec<usize>,
    /// The password under today's parameters, where those rose.
    rehashed: Option<String>,
}

/// Looks up who may be meant, and whether an attempt is allowed now.
pub fn begin(
    door: &Door,
    db: &mut Db,
    asked: &SignInAsked,
    source: &str,
    known_device: Option<&str>,
    now: i64,
) -> Result<Attempt, SignInRefused> {
    let email = sign_ins::address(&asked.email);
    let meant = asked.organisation.as_deref().map(str::trim);
    let found = |db: &mut Db| {
        let all = sign_ins::of_email(db, &email)?;
        let meant = |sign_in: &SignIn| meant.is_none_or(|name| sign_in.of.name == name);
        Ok((all.iter().filter(|it| meant(it)).cloned().collect(), all))
    };
    let attempt = attempt(door, db, &email, source, known_device, now, found)?;
    // Who names no organisation costs as many hashes as are ever compared, whoever has the address.
    let hashes = meant.map_or(door.limits.compared, |_| 1);
    Ok(attempt.costing(hashes, door))
}

/// The same for somebody who is signed in and is asked for the password again; the session that is
/// opened takes the place of theirs.
pub fn again(
    door: &Door,
    db: &mut Db,
    signed_in: &SignedIn,
    source: &str,
    known_device: Option<&str>,
    now: i64,
) -> Result<Attempt, SignInRefused> {
    let (Some(person), Shown::Session) = (signed_in.person, signed_in.shown) else {
        return Err(SignInRefused::Wrong);
    };
    let org = signed_in.of.org;
    let own = db.reading(Sight::Organisations(&[org]), |db| {
        sign_ins::of_person(db, org, person)
    })?;
    let own = own.ok_or(SignInRefused::Wrong)?;
    let email = own.email.clone();
    let found = |db: &mut Db| Ok((vec![own], sign_ins::of_email(db, &email)?));
    let mut attempt = attempt(door, db, &email, source, known_device, now, found)?;
    attempt.replaces = Some((signed_in.key, signed_in.expires_at));
    Ok(attempt.costing(1, door))
}

/// Who is meant, and every sign-in with the address.
type Found = (Vec<SignIn>, Vec<SignIn>);

fn attempt(
    door: &Door,
    db: &mut Db,
    email: &str,
    source: &str,
    known_device: Option<&str>,
    now: i64,
    find: impl FnOnce(&mut Db) -> Result<Found, StoreError>,
) -> Result<Attempt, SignInRefused> {
    let device = known_device.filter(|text| secret::looks_right(text));
    let device = device.map(secret::hashed);
    let admitted = lock(&door.throttle).admit(source, now);
    if let (Err(seconds), None) = (admitted, device) {
        // The flood ends here, before it costs anything.
        return Err(SignInRefused::Later { seconds });
    }
    let (candidates, all) = find(db)?;
    let mut attempt = Attempt {
        candidates,
        hashes: Vec::new(),
        account: guesses::account(email),
        alone: all.len() == 1,
        failures: 0,
        source: source.to_string(),
        known_device: device,
        replaces: None,
        door_hashing: door.limits.hashing,
    };
    let orgs: Vec<i64> = all.iter().map(|sign_in| sign_in.of.org).collect();
    let waits = db.writing(Sight::Organisations(&orgs), |db| {
        if now.rem_euclid(256) == 0 {
            // Now and then is enough, and nobody who guesses chooses the microsecond.
            guesses::forget_least(db)?;
        }
        attempt.counted(db, &all, admitted.err().unwrap_or(0), now)
    })?;
    if waits > 0 {
        return Err(SignInRefused::Later { seconds: waits });
    }
    Ok(attempt)
}

impl Attempt {
    /// Counts the attempt as failed, or says how many seconds it must wait. A known browser need
    /// not wait, and then only those are meant who are known in it.
    fn counted(
        &mut self,
        db: &mut Db,
        all: &[SignIn],
        network: u32,
        now: i64,
    ) -> Result<u32, StoreError> {
        let (counted, last) = guesses::failures(db, &self.account)?.unwrap_or((0, 0));
        let meant = if self.candidates.is_empty() {
            all
        } else {
            &self.candidates
        };
        let least = meant.iter().map(|it| it.forgiven).min();
        self.failures = (counted - least.unwrap_or(0)).max(0);
        let waits = wait(self.failures, last, now).max(network);
        if waits == 0 {
            let most = all.iter().map(|it| it.forgiven).max().unwrap_or(0);
            guesses::count(db, &self.account, most, now)?;
            return Ok(0);
        }
        let Some(device) = self.known_device else {
            return Ok(waits);
        };
        let mut known = Vec::new();
        for who in std::mem::take(&mut self.candidates) {
            let failures = guesses::device_failures(db, &who, &device)?;
            if failures.is_some_and(|failures| failures < MOST_ON_DEVICE) {
                guesses::count_on_device(db, &who, &device)?;
                known.push(who);
            }
        }
        self.candidates = known;
        Ok(if self.candidates.is_empty() { waits } else { 0 })
    }

    /// Prepares so many hashes, no more and no fewer: theirs, then dummies.
    fn costing(mut self, hashes: usize, door: &Door) -> Attempt {
        self.candidates.truncate(hashes);
        let dummy = door.limits.hashing.dummy();
        let own = |who: Option<&SignIn>| match who {
            Some(who) if !who.password_hash.is_empty() => who.password_hash.clone(),
            _ => dummy.clone(),
        };
        self.hashes = (0..hashes).map(|at| own(self.candidates.get(at))).collect();
        self
    }

    /// What its hashes cost, each in words.
    pub fn costs(&self) -> Vec<String> {
        self.hashes.iter().map(|phc| password::cost(phc)).collect()
    }

    /// Works the hashes out: CPU and nothing else.
    pub fn check(self, password: &str) -> Checked {
        let fits: Vec<bool> = (self.hashes.iter())
            .map(|phc| password::fits(password, phc))
            .collect();
        let right: Vec<usize> = (0..self.candidates.len()).filter(|at| fits[*at]).collect();
        let cheap = |at: &usize| self.door_hashing.is_dearer_than(&self.hashes[*at]);
        let rehashed = match right[..] {
            [one] if cheap(&one) => self.door_hashing.hash(password).ok(),
            _ => None,
        };
        Checked {
            attempt: self,
            right,
            rehashed,
        }
    }
}

/// Opens the session, or says why not.
pub fn conclude(
    door: &Door,
    db: &mut Db,
    checked: Checked,
    now: i64,
) -> Result<NewSession, SignInRefused> {
    let Checked {
        attempt,
        right,
        rehashed,
    } = checked;
    let good: Vec<&SignIn> = (right.iter())
        .map(|at| &attempt.candidates[*at])
        .filter(|sign_in| sign_in.disabled_at.is_none())
        .collect();
    match good[..] {
        [] => failed(db, &attempt, now),
        [one] => {
            let half = secret::fresh()?;
            let done = open(db, door, &attempt, one, &half, rehashed.as_deref(), now)?;
            lock(&door.throttle).forgive(&attempt.source, now);
            match done {
                Done::Opened(session) => Ok(*session),
                Done::Asked => Err(SignInRefused::CodeAsked { secret: half }),
                Done::Over => Err(SignInRefused::Wrong),
            }
        }
        _ => {
            let names = good.iter().map(|sign_in| sign_in.of.name.clone());
            Err(SignInRefused::ChooseOrganisation(names.collect()))
        }
    }
}

/// Signs in at once, hashing on this thread: for commands and tests.
pub fn sign_in(
    door: &Door,
    db: &mut Db,
    asked: &SignInAsked,
    source: &str,
    known_device: Option<&str>,
    now: i64,
) -> Result<NewSession, SignInRefused> {
    let attempt = begin(door, db, asked, source, known_device, now)?;
    conclude(door, db, attempt.check(&asked.password), now)
}

/// Records the failure. An address that nobody has costs the same one write.
fn failed(db: &mut Db, attempt: &Attempt, now: i64) -> Result<NewSession, SignInRefused> {
    let orgs: Vec<i64> = attempt.candidates.iter().map(|it| it.of.org).collect();
    db.writing(Sight::Organisations(&orgs), |db| {
        guesses::date(db, &attempt.account, now)?;
        for who in &attempt.candidates {
            let record = record(who, None, "sign_in_failed", &attempt.source, now);
            access::add(db, who.of.org, &record)?;
        }
        Ok(())
    })?;
    Err(SignInRefused::Wrong)
}

/// What came of a right password.
enum Done {
    Opened(Box<NewSession>),
    /// A code is asked for.
    Asked,
    /// The person was disabled or the password changed meanwhile.
    Over,
}

/// Opens a session, or waits for a code. Whoever is signed in with both shows the password alone once
/// more, and is signed in no longer by it.
fn open(
    db: &mut Db,
    door: &Door,
    attempt: &Attempt,
    who: &SignIn,
    half: &str,
    rehashed: Option<&str>,
    now: i64,
) -> Result<Done, StoreError> {
    let org = who.of.org;
    db.writing(Sight::Organisations(&[org]), |db| {
        let today = sign_ins::of_person(db, org, who.person)?;
        let same = |it: &SignIn| it.disabled_at.is_none() && it.password_hash == who.password_hash;
        let Some(who) = today.filter(same) else {
            return Ok(Done::Over);
        };
        if let Some(hash) = rehashed {
            sign_ins::rehashed(db, &who, hash)?;
        }
        if who.factor_since.is_some() && attempt.replaces.is_none() {
            second_step::ask(db, &who, half, &attempt.source, now)?;
            return Ok(Done::Asked);
        }
        let opening = Opening {
            account: &attempt.account,
            alone: attempt.alone,
            failures: attempt.failures,
            source: &attempt.source,
            known_device: attempt.known_device,
            replaces: attempt.replaces,
        };
        let session = opened(door, db, &opening, &who, now)?;
        Ok(Done::Opened(Box::new(session)))
    })
}
