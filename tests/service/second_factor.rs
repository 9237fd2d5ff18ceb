//! The second factor: promises A5 (guessing codes locks nobody out and is no faster than guessing
//! passwords), S5 (seeds and recovery codes lie nowhere in clear), and RFC 6238, section 5.2: a code is
//! taken once. What a code is at a moment is pinned by the vectors of RFC 6238 and RFC 4226 beside
//! `auth/totp.rs`; here it is only asked for. Bounds (five codes, ten minutes, ten recovery codes, one
//! step before and after) are those of the design of second factors.

mod changed;
mod guessing;

use crate::signing_in::{HERE, INES, SECOND, Try, attempt, cheap, outcome, person};
use api::auth::access::{self, AccessRecord, Whose};
use api::auth::factor::{self, FactorRefused};
use api::auth::seal::Seals;
use api::auth::second_step::{self, CodeShown};
use api::auth::session::{self, NewSession, SignInRefused};
use api::auth::totp;
use api::auth::{Door, Limits};
use api::ledger::actor::Role;
use api::ledger::id::Id;
use api::store::{Db, Purpose};
use harness::shop::{Shop, address, now};

const OSRIC: &str = "osric@tamarack.example";
const STEP: i64 = 30;

pub fn door() -> Door {
    let limits = Limits {
        hashing: cheap(),
        ..Limits::default()
    };
    Door::new(limits).sealing(Seals::new(|_| Some([9; 32])))
}

fn at(after: i64) -> i64 {
    now() + after * SECOND
}

/// Bytes of base 32 (RFC 4648, section 6), written here so that the tests read what people type.
fn seed_of(text: &str) -> Vec<u8> {
    let (mut bits, mut held, mut bytes) = (0_u32, 0, Vec::new());
    for letter in text.bytes().filter(|letter| *letter != b' ') {
        let five = match letter {
            b'A'..=b'Z' => letter - b'A',
            _ => letter - b'2' + 26,
        };
        bits = bits << 5 | u32::from(five);
        held += 5;
        if held >= 8 {
            held -= 8;
            bytes.push((bits >> held & 0xff) as u8);
        }
    }
    bytes
}

/// Somebody with a second factor.
struct Held {
    seed: Vec<u8>,
    codes: Vec<String>,
    session: NewSession,
}

impl Held {
    fn code(&self, after: i64) -> String {
        totp::code(&self.seed, totp::step(at(after)), 6)
    }
}

fn signed_in(door: &Door, shop: &mut Shop, email: &str) -> NewSession {
    attempt(door, shop, &Try { email, ..INES }).expect("a session")
}

fn set_up(door: &Door, shop: &mut Shop, email: &str) -> Held {
    let session = signed_in(door, shop, email);
    let begun = factor::begin(door, &mut shop.db, &session.signed_in, at(0)).expect("a seed");
    let seed = seed_of(&begun.seed);
    assert_eq!(seed.len() * 8, 160, "RFC 4226, section 4, R6: 160 bits");
    let first = totp::code(&seed, totp::step(at(0)), 6);
    let by = &session.signed_in;
    let codes = factor::confirm(door, &mut shop.db, by, &first, HERE, at(0));
    let codes = codes.expect("set up");
    assert_eq!(codes.len(), 10);
    Held {
        seed,
        codes,
        session,
    }
}

/// The password, which must be followed by a code.
fn half(door: &Door, shop: &mut Shop, it: &Try<'_>) -> String {
    match attempt(door, shop, it) {
        Err(SignInRefused::CodeAsked { secret }) => secret,
        other => panic!("expected to be asked for a code, got {}", outcome(other)),
    }
}

fn shows(
    door: &Door,
    db: &mut Db,
    half: &str,
    code: &str,
    after: i64,
) -> Result<NewSession, SignInRefused> {
    let shown = CodeShown {
        half,
        code,
        source: HERE,
        known_device: None,
    };
    second_step::take(door, db, &shown, at(after))
}

fn records(shop: &mut Shop) -> Vec<AccessRecord> {
    let list = access::list(&mut shop.db, shop.of.org, Whose::Security, None, 200);
    list.expect("records")
}

fn words(shop: &mut Shop) -> Vec<String> {
    let mut words: Vec<String> = records(shop).into_iter().map(|it| it.what).collect();
    words.reverse();
    words
}

fn ines(shop: &mut Shop) -> Id {
    person(shop, INES.email, &[Role::Technician])
}

#[test]
fn a_factor_holds_after_one_right_code_and_ends_the_other_sessions() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let other = signed_in(&door, &mut shop, INES.email);
    let session = signed_in(&door, &mut shop, INES.email);
    let by = &session.signed_in;
    let begun = factor::begin(&door, &mut shop.db, by, at(0)).expect("a seed");
    // Shown, and nothing holds yet: a wrong code changes nothing, and the password is enough.
    let wrong = factor::confirm(&door, &mut shop.db, by, "000000", HERE, at(0));
    assert!(matches!(wrong, Err(FactorRefused::Wrong)));
    signed_in(&door, &mut shop, INES.email);
    let code = totp::code(&seed_of(&begun.seed), totp::step(at(0)), 6);
    let late = factor::confirm(&door, &mut shop.db, by, &code, HERE, at(16 * 60));
    assert!(matches!(late, Err(FactorRefused::NothingBegun)));
    factor::confirm(&door, &mut shop.db, by, &code, HERE, at(0)).expect("it holds");
    let find = |shop: &mut Shop, it: &NewSession| {
        session::find(&door, &mut shop.db, &it.secret, at(1)).expect("a look-up")
    };
    assert!(find(&mut shop, &other).is_none(), "other sessions ended");
    assert!(find(&mut shop, &session).is_some(), "this one goes on");
    let again = factor::begin(&door, &mut shop.db, by, at(0));
    assert!(matches!(again, Err(FactorRefused::There)));
    half(&door, &mut shop, &INES);
    assert!(words(&mut shop).contains(&"factor_on".to_string()));
}

/// RFC 6238, section 5.2: one step before and after, and none a second time, in whatever sign-in.
#[test]
fn each_step_is_taken_once_and_only_around_now() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let minutes = 10 * 60;
    let begin = |shop: &mut Shop, after| half(&door, shop, &Try { after, ..INES });
    for far in [-2 * STEP, 2 * STEP] {
        let waits = begin(&mut shop, minutes);
        let said = outcome(shows(
            &door,
            &mut shop.db,
            &waits,
            &held.code(minutes + far),
            minutes,
        ));
        assert_eq!(said, "wrong code, 4 left", "{far} s away");
    }
    for near in [-STEP, 0, STEP] {
        let waits = begin(&mut shop, minutes);
        let code = held.code(minutes + near);
        let said = outcome(shows(&door, &mut shop.db, &waits, &code, minutes));
        assert_eq!(said, "in", "{near} s away");
        let waits = begin(&mut shop, minutes);
        let said = outcome(shows(&door, &mut shop.db, &waits, &code, minutes));
        assert_eq!(said, "wrong code, 4 left", "a second time");
    }
    // The code that set it up was a step, too.
    let (door, mut shop) = (self::door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let waits = half(&door, &mut shop, &INES);
    let said = outcome(shows(&door, &mut shop.db, &waits, &held.code(0), 0));
    assert_eq!(said, "wrong code, 4 left");
    let said = outcome(shows(&door, &mut shop.db, &waits, &held.code(STEP), 0));
    assert_eq!(said, "in");
    let said = outcome(shows(
        &door,
        &mut shop.db,
        &waits,
        &held.code(2 * STEP),
        STEP,
    ));
    assert_eq!(said, "again", "what waited is over");
}

/// Of eight requests at once with the same right code, each after a password of its own, one wins.
#[test]
fn of_many_at_once_with_one_code_one_wins() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let after = 5 * 60;
    let halves: Vec<String> = (0..4)
        .map(|_| half(&door, &mut shop, &Try { after, ..INES }))
        .collect();
    let (code, moment) = (held.code(after), at(after));
    let place = address(&shop.database);
    let outcomes: Vec<String> = std::thread::scope(|scope| {
        let one = |half: String| {
            let (door, code, place) = (&door, &code, &place);
            scope.spawn(move || {
                let mut db = Db::open(place, Purpose::Write, false).expect("a connection");
                let shown = CodeShown {
                    half: &half,
                    code,
                    source: HERE,
                    known_device: None,
                };
                outcome(second_step::take(door, &mut db, &shown, moment))
            })
        };
        let running: Vec<_> = halves
            .iter()
            .flat_map(|half| [one(half.clone()), one(half.clone())])
            .collect();
        let ended = running.into_iter().map(|it| it.join().expect("no panic"));
        ended.collect()
    });
    let won = outcomes.iter().filter(|it| *it == "in").count();
    assert_eq!(won, 1, "{outcomes:?}");
}

#[test]
fn a_recovery_code_signs_in_once_and_says_how_many_are_left() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    for code in &held.codes {
        let letters = code.bytes().filter(u8::is_ascii_alphanumeric).count();
        assert!(letters * 5 >= 80, "at least 80 bits: {code}");
    }
    let typed = held.codes[3].to_lowercase().replace('-', " ");
    let waits = half(&door, &mut shop, &INES);
    assert_eq!(outcome(shows(&door, &mut shop.db, &waits, &typed, 0)), "in");
    let waits = half(&door, &mut shop, &INES);
    let again = outcome(shows(&door, &mut shop.db, &waits, &held.codes[3], 0));
    assert_eq!(again, "wrong code, 4 left", "it was used");
    let used = records(&mut shop);
    let used = used.iter().find(|it| it.what == "recovery_code_used");
    assert_eq!(used.expect("a record").about, "9 left");
    let standing = factor::standing(&mut shop.db, &held.session.signed_in).expect("it stands");
    assert_eq!(standing.recovery_codes, 9);
}

/// Another person's recovery code opens nothing.
#[test]
fn a_recovery_code_belongs_to_its_person() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    person(&mut shop, OSRIC, &[Role::ComplianceManager]);
    let of_ines = set_up(&door, &mut shop, INES.email);
    set_up(&door, &mut shop, OSRIC);
    let it = Try {
        email: OSRIC,
        ..INES
    };
    let waits = half(&door, &mut shop, &it);
    let said = outcome(shows(&door, &mut shop.db, &waits, &of_ines.codes[0], 0));
    assert_eq!(said, "wrong code, 4 left");
}

/// S5: neither seed nor recovery codes lie in the database, in whatever form they were shown.
#[test]
fn s5_seeds_and_recovery_codes_lie_nowhere_in_clear() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let waits = half(&door, &mut shop, &INES);
    let dump = shop.dump();
    assert!(dump.contains("factor_on"), "the dump shows what is stored");
    let raw: Vec<u8> = held.seed.clone();
    let text = totp::base32(&raw);
    let plain: Vec<String> = held.codes.iter().map(|it| it.replace('-', "")).collect();
    let shown = [text, waits].into_iter();
    for secret in shown.chain(held.codes.iter().cloned()).chain(plain) {
        assert!(!dump.contains(&secret), "{secret}");
        let hex: String = secret.bytes().map(|b| format!("{b:02x}")).collect();
        assert!(
            !dump.to_lowercase().contains(&hex),
            "{secret} in hexadecimal"
        );
    }
    let hex: String = raw.iter().map(|b| format!("{b:02x}")).collect();
    assert!(!dump.to_lowercase().contains(&hex), "the seed itself");
    let raw = String::from_utf8_lossy(&raw).into_owned();
    assert!(!dump.contains(&raw), "the bytes of the seed");
    // Without the key of the book a seed is nothing: its codes are not taken, recovery codes are.
    let keyless = Door::new(Limits {
        hashing: cheap(),
        ..Limits::default()
    });
    let waits = half(&keyless, &mut shop, &INES);
    let code = held.code(60);
    let said = outcome(shows(&keyless, &mut shop.db, &waits, &code, 60));
    assert_eq!(said, "wrong code, 4 left");
    let said = outcome(shows(&keyless, &mut shop.db, &waits, &held.codes[0], 60));
    assert_eq!(said, "in");
}
