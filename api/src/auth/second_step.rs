//! The second step of signing in: after the right password a code, or a recovery code.
//!
//! The password leaves a row that waits for ten minutes and takes five codes. A code is counted as
//! wrong before it is looked at, as a failed sign-in with the address, too, so that whoever knows a
//! password guesses no faster than whoever guesses passwords. Waits count from the last wrong code of
//! this sign-in: a right password is never followed by a wait that outlasts it (promise A5).

use super::door::{Door, MINUTE, lock};
use super::factor::{self, Shows};
use super::opening::{Opening, opened, record};
use super::secret;
use super::sign_in::{NewSession, SignInRefused};
use super::throttle::{MOST_ON_DEVICE, wait};
use crate::store::factors::{self, Half, MOST_WRONG};
use crate::store::sign_ins::{self, SignIn};
use crate::store::{Db, Sight, StoreError, access, guesses};

/// A code is waited for so long.
pub const WAITS: i64 = 10 * MINUTE;

/// Waits for a code; inside the transaction in which the password was right.
pub(super) fn ask(
    db: &mut Db,
    who: &SignIn,
    half: &str,
    source: &str,
    now: i64,
) -> Result<(), StoreError> {
    factors::add_half(db, who, &secret::hashed(half), now, now + WAITS)?;
    let record = record(who, None, "code_asked", source, now);
    access::add(db, who.of.org, &record)
}

/// What is shown in the second step.
pub struct CodeShown<'a> {
    /// The secret that the first step gave.
    pub half: &'a str,
    /// What was typed.
    pub code: &'a str,
    /// The address of the network.
    pub source: &'a str,
    /// The secret of a known browser.
    pub known_device: Option<&'a str>,
}

/// What came of a code, as it is kept.
enum Came {
    In(Box<NewSession>),
    Wrong(i64),
    Later(u32),
    Over,
}

/// Takes a code; opens the session, or says why not.
pub fn take(
    door: &Door,
    db: &mut Db,
    shown: &CodeShown<'_>,
    now: i64,
) -> Result<NewSession, SignInRefused> {
    if !secret::looks_right(shown.half) {
        return Err(SignInRefused::Restart);
    }
    let device = shown.known_device.filter(|text| secret::looks_right(text));
    let device = device.map(secret::hashed);
    let admitted = lock(&door.throttle).admit(shown.source, now);
    if let (Err(seconds), None) = (admitted, device) {
        return Err(SignInRefused::Later { seconds });
    }
    let secret = secret::hashed(shown.half);
    let half = factors::half_by_secret(db, &secret)?;
    let half = half.filter(|half| half.expires_at > now && half.version == half.sign_in.version);
    let Some(half) = half else {
        return Err(SignInRefused::Restart);
    };
    let all = sign_ins::of_email(db, &half.sign_in.email)?;
    let step = Step {
        door,
        shown,
        secret,
        device,
        half,
        all,
        now,
    };
    let org = step.half.sign_in.of.org;
    let came = db.writing(Sight::Organisations(&[org]), |db| step.take(db))?;
    match came {
        Came::In(session) => {
            lock(&door.throttle).forgive(shown.source, now);
            Ok(*session)
        }
        Came::Wrong(left) => Err(SignInRefused::CodeWrong {
            left: u32::try_from(left).unwrap_or(0),
        }),
        Came::Later(seconds) => Err(SignInRefused::Later { seconds }),
        Came::Over => Err(SignInRefused::Restart),
    }
}

struct Step<'a> {
    door: &'a Door,
    shown: &'a CodeShown<'a>,
    secret: [u8; 32],
    device: Option<[u8; 32]>,
    half: Half,
    all: Vec<SignIn>,
    now: i64,
}

impl Step<'_> {
    /// Inside one transaction: whatever comes of it is kept.
    fn take(&self, db: &mut Db) -> Result<Came, StoreError> {
        let (org, now) = (self.half.sign_in.of.org, self.now);
        let account = guesses::account(&self.half.sign_in.email);
        // This holds everybody else with the address until the transaction ends.
        let counted = guesses::failures(db, &account)?.map_or(0, |(failures, _)| failures);
        // Read anew under that lock: what was begun may be over, or the person shut out.
        let who = sign_ins::of_person(db, org, self.half.sign_in.person)?;
        let same = |who: &SignIn| who.disabled_at.is_none() && who.version == self.half.version;
        let (Some(who), Some((wrong, last))) = (
            who.filter(same),
            factors::wrong_of_half(db, org, &self.secret)?,
        ) else {
            return Ok(Came::Over);
        };
        let failures = (counted - who.forgiven).max(0);
        let waits = match wrong {
            0 => 0,
            _ => wait(failures, last, now),
        };
        if waits > 0 && !self.is_known(db, &who)? {
            return Ok(Came::Later(waits));
        }
        // The address before the sign-in that waits, in that order always: two requests that took them
        // in different orders would wait for each other.
        let most = self.all.iter().map(|it| it.forgiven).max().unwrap_or(0);
        guesses::count(db, &account, most, now)?;
        if !factors::count_wrong(db, org, &self.secret, now)? {
            return Ok(Came::Over);
        }
        match factor::shows(self.door, db, &who, self.shown.code, now)? {
            Shows::Nothing => self.wrong(db, &who, wrong + 1),
            shown => {
                // Of two right codes at once the other finds nothing that waits.
                if !factors::end_half(db, org, &self.secret)? {
                    return Ok(Came::Over);
                }
                let it = Opening {
                    account: &account,
                    alone: self.all.len() == 1,
                    // The password was counted before it was looked at.
                    failures: (failures - 1).max(0),
                    source: self.shown.source,
                    known_device: self.device,
                    replaces: None,
                };
                let session = opened(self.door, db, &it, &who, now)?;
                let by = session.signed_in.key;
                factor::recorded(db, &who, Some(by), shown, self.shown.source, now)?;
                Ok(Came::In(Box::new(session)))
            }
        }
    }

    fn wrong(&self, db: &mut Db, who: &SignIn, wrong: i64) -> Result<Came, StoreError> {
        let org = who.of.org;
        let record = record(who, None, "code_failed", self.shown.source, self.now);
        access::add(db, org, &record)?;
        if wrong < MOST_WRONG {
            return Ok(Came::Wrong(MOST_WRONG - wrong));
        }
        factors::end_half(db, org, &self.secret)?;
        Ok(Came::Over)
    }

    /// A known browser need not wait, five times between two good sign-ins.
    fn is_known(&self, db: &mut Db, who: &SignIn) -> Result<bool, StoreError> {
        let Some(device) = self.device else {
            return Ok(false);
        };
        let failures = guesses::device_failures(db, who, &device)?;
        let known = failures.is_some_and(|failures| failures < MOST_ON_DEVICE);
        if known {
            guesses::count_on_device(db, who, &device)?;
        }
        Ok(known)
    }
}
