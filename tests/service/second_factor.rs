//! The second factor: promises A5 (guessing codes locks nobody out and is no faster than guessing
//! passwords), S5 (seeds and recovery codes lie nowhere in clear), and RFC 6238, section 5.2: a code is
//! taken once. What a code is at a moment is pinned by the vectors of RFC 6238 and RFC 4226 beside
//! `auth/totp.rs`; here it is only asked for. Bounds (five codes, ten minutes, ten recovery codes, one
//! step before and after) are those of the design of second factors.

use crate::people::{HOST, refused};
use crate::signing_in::{
    HERE, INES, PASSWORD, SECOND, Try, WRONG, attempt, cheap, outcome, person,
};
use api::actions::manage_people;
use api::auth::access::{self, AccessRecord, Asker, Whose};
use api::auth::factor::{self, Deed, FactorRefused, Required};
use api::auth::seal::Seals;
use api::auth::second_step::{self, CodeShown};
use api::auth::session::{self, NewSession, SignInRefused};
use api::auth::totp;
use api::auth::{Door, Limits, SignedIn};
use api::ledger::actor::{Actor, Role};
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

/// A5: five codes for one password; they count as failed sign-ins, so that the password waits; and
/// nobody is locked out.
#[test]
fn a5_five_wrong_codes_begin_again_and_lock_nobody_out() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let (mut after, mut said) = (10 * 60, Vec::new());
    let waits = half(&door, &mut shop, &Try { after, ..INES });
    // The password counts one and each code one: from five on 1, 2, ... s between two of them.
    for wait in [0, 0, 0, 0, 1] {
        if wait > 0 {
            let early = outcome(shows(&door, &mut shop.db, &waits, "000000", after));
            assert_eq!(early, format!("later {wait}"));
        }
        after += wait;
        said.push(outcome(shows(
            &door,
            &mut shop.db,
            &waits,
            "no code",
            after,
        )));
    }
    let left = |left: u32| format!("wrong code, {left} left");
    let last = "again".to_string();
    assert_eq!(said, [left(4), left(3), left(2), left(1), last]);
    let right = outcome(shows(&door, &mut shop.db, &waits, &held.code(after), after));
    assert_eq!(right, "again", "also the right one comes too late");
    let early = outcome(attempt(&door, &mut shop, &Try { after, ..INES }));
    assert_eq!(early, "later 2", "six failures so far");
    after += 2;
    let waits = half(&door, &mut shop, &Try { after, ..INES });
    // A right password is followed by no wait.
    let code = held.code(after);
    let session = shows(&door, &mut shop.db, &waits, &code, after).expect("not locked out");
    assert_eq!(session.failures, 6, "and is told of it");
    let failed = words(&mut shop);
    let failed = failed.iter().filter(|word| *word == "code_failed");
    assert_eq!(failed.count(), 5);
}

/// A5: a hundred failures end it for strangers, however right the password is, and not for a browser
/// that is known.
#[test]
fn a5_codes_are_guessed_a_hundred_times_at_most() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let cookie = held.session.known_device.clone().expect("a new browser");
    let (mut after, mut guessed) = (3_600, 0);
    'guessing: for _ in 0..60 {
        after += 3_600;
        let it = Try {
            source: "198.51.100.9",
            after,
            ..INES
        };
        let waits = match attempt(&door, &mut shop, &it) {
            Err(SignInRefused::CodeAsked { secret }) => secret,
            Err(SignInRefused::Later { .. }) => break 'guessing,
            other => panic!("{}", outcome(other)),
        };
        for nth in 0..5 {
            // The longest wait is a quarter of an hour, so only the first is looked at in time.
            let later = after + nth * 60;
            if outcome(shows(&door, &mut shop.db, &waits, "000000", later)).starts_with("wrong") {
                guessed += 1;
            }
        }
    }
    assert!((30..=100).contains(&guessed), "{guessed}");
    let known = Try {
        device: Some(&cookie),
        after,
        ..INES
    };
    let waits = half(&door, &mut shop, &known);
    let shown = CodeShown {
        half: &waits,
        code: &held.code(after),
        source: HERE,
        known_device: Some(&cookie),
    };
    let session = second_step::take(&door, &mut shop.db, &shown, at(after));
    assert_eq!(outcome(session), "in");
}

/// A wrong password of somebody with a factor looks like one of anybody: promise A6.
#[test]
fn a6_only_the_right_password_is_asked_for_a_code() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    set_up(&door, &mut shop, INES.email);
    for (email, password) in [(INES.email, WRONG), ("nobody@tamarack.example", PASSWORD)] {
        let it = Try {
            email,
            password,
            ..INES
        };
        assert_eq!(outcome(attempt(&door, &mut shop, &it)), "wrong");
    }
    for nonsense in ["", "short", &"A".repeat(43)] {
        let said = outcome(shows(&door, &mut shop.db, nonsense, "000000", 0));
        assert_eq!(said, "again", "{nonsense}");
    }
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

#[test]
fn giving_it_up_and_other_codes_ask_for_the_password_and_a_code() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let by = held.session.signed_in.clone();
    let change = |shop: &mut Shop, by: &SignedIn, deed, code: &str, after| {
        factor::change(&door, &mut shop.db, by, deed, code, HERE, at(after))
    };
    let stale = change(&mut shop, &by, Deed::Off, &held.code(301), 301);
    assert!(matches!(stale, Err(FactorRefused::NotFresh)));
    let wrong = change(&mut shop, &by, Deed::Off, "000000", 60);
    assert!(matches!(wrong, Err(FactorRefused::Wrong)));
    let others = change(&mut shop, &by, Deed::OtherCodes, &held.code(60), 60);
    let others = others.expect("ten others");
    assert!(others.iter().all(|code| !held.codes.contains(code)));
    let twice = change(&mut shop, &by, Deed::OtherCodes, &held.code(60), 60);
    assert!(matches!(twice, Err(FactorRefused::Wrong)), "each step once");
    let old = change(&mut shop, &by, Deed::Off, &held.codes[0], 60);
    assert!(matches!(old, Err(FactorRefused::Wrong)), "those before");
    change(&mut shop, &by, Deed::Off, &others[0], 60).expect("given up");
    signed_in(&door, &mut shop, INES.email);
    let none = change(&mut shop, &by, Deed::Off, &others[1], 60);
    assert!(matches!(none, Err(FactorRefused::NotThere)));
    let words = words(&mut shop);
    let of_factors: Vec<&str> = (words.iter().map(String::as_str))
        .filter(|word| {
            word.starts_with("factor") || word.starts_with("rec") || *word == "code_failed"
        })
        .collect();
    let expected = [
        "factor_on",
        "code_failed",
        "recovery_codes_made",
        "code_failed",
        "code_failed",
        "recovery_code_used",
        "factor_off",
    ];
    // They may have been left in the same microsecond: only their number is sure.
    let sorted = |mut words: Vec<&str>| {
        words.sort_unstable();
        words.join(" ")
    };
    assert_eq!(sorted(of_factors), sorted(expected.to_vec()));
}

/// A5: who is signed in and guesses codes waits as at the door.
#[test]
fn a5_codes_of_somebody_who_is_signed_in_wait_as_passwords_do() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let by = &held.session.signed_in;
    let mut guess = |code: &str, after| match factor::change(
        &door,
        &mut shop.db,
        by,
        Deed::Off,
        code,
        HERE,
        at(after),
    ) {
        Err(FactorRefused::Wrong) => "wrong".to_string(),
        Err(FactorRefused::Later(seconds)) => format!("later {seconds}"),
        Err(other) => format!("{other:?}"),
        Ok(_) => "off".to_string(),
    };
    for nth in 0..5 {
        assert_eq!(guess("000000", 60), "wrong", "{nth}");
    }
    assert_eq!(guess(&held.code(60), 60), "later 1");
    assert_eq!(guess(&held.code(61), 61), "off");
}

/// An administrator resets a lost factor: every session ends, what waits for a code is over, and it
/// is recorded. Nobody resets their own.
#[test]
fn a_lost_factor_is_reset_by_somebody_else() {
    let (door, mut shop) = (door(), Shop::open());
    let ines = ines(&mut shop);
    let wade = person(&mut shop, "wade@tamarack.example", &[Role::Administrator]);
    let held = set_up(&door, &mut shop, INES.email);
    let waits = half(&door, &mut shop, &INES);
    let wade_by = Actor {
        person: Some(wade),
        role: Role::Administrator,
        ..Actor::OPERATOR
    };
    let by = manage_people::By {
        actor: &wade_by,
        source: HERE,
    };
    let own = shop.managing(|tx| manage_people::reset_factor(tx, by, wade, false));
    assert!(format!("{:?}", refused(own)).contains("Nobody changes their own"));
    let member = shop.managing(|tx| manage_people::reset_factor(tx, by, ines, false));
    assert!(!member.expect("reset").has_factor);
    let found = session::find(&door, &mut shop.db, &held.session.secret, at(1));
    assert!(found.expect("a look-up").is_none(), "sessions ended");
    let said = outcome(shows(&door, &mut shop.db, &waits, &held.code(60), 60));
    assert_eq!(said, "again");
    signed_in(&door, &mut shop, INES.email);
    let twice = shop.managing(|tx| manage_people::reset_factor(tx, by, ines, false));
    assert!(format!("{:?}", refused(twice)).contains("with a second factor"));
    let reset = records(&mut shop);
    let reset = reset.iter().find(|it| it.what == "factor_reset");
    let reset = reset.expect("a record");
    assert_eq!(
        (reset.person, reset.about.as_str()),
        (Some(wade), &ines.to_string()[..])
    );
}

/// What was begun with a password ends with it.
#[test]
fn another_password_ends_what_waits_for_a_code() {
    let (door, mut shop) = (door(), Shop::open());
    let ines = ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let waits = half(&door, &mut shop, &INES);
    let hash = cheap()
        .hash("four kettles on a windy roof")
        .expect("a hash");
    shop.managing(|tx| manage_people::set_password(tx, HOST, ines, &hash))
        .expect("another password");
    let said = outcome(shows(&door, &mut shop.db, &waits, &held.code(60), 60));
    assert_eq!(said, "again");
    let it = Try {
        password: "four kettles on a windy roof",
        ..INES
    };
    let waits = half(&door, &mut shop, &it);
    let late = outcome(shows(&door, &mut shop.db, &waits, &held.code(601), 601));
    assert_eq!(late, "again", "ten minutes are over");
}

/// The password alone makes a session fresh, and longer than both factors did it lasts not.
#[test]
fn the_password_once_more_makes_a_session_fresh_and_no_longer() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    let held = set_up(&door, &mut shop, INES.email);
    let hour = 3_600;
    let end = held.session.signed_in.expires_at;
    let again = session::again(
        &door,
        &mut shop.db,
        &held.session.signed_in,
        HERE,
        None,
        at(hour),
    );
    let checked = again.expect("an attempt").check(PASSWORD);
    let fresh = session::conclude(&door, &mut shop.db, checked, at(hour)).expect("a session");
    assert!(session::is_fresh(&fresh.signed_in, at(hour + 60)));
    assert_eq!(fresh.signed_in.expires_at, end);
}

/// The organisation's setting: nobody, managers and administrators, everyone.
#[test]
fn whoever_must_have_one_owes_it_until_it_is_set_up() {
    let (door, mut shop) = (door(), Shop::open());
    ines(&mut shop);
    person(&mut shop, OSRIC, &[Role::ComplianceManager]);
    person(&mut shop, "aud@tamarack.example", &[Role::Auditor]);
    person(&mut shop, "wade@tamarack.example", &[Role::Administrator]);
    let emails = [
        INES.email,
        "aud@tamarack.example",
        OSRIC,
        "wade@tamarack.example",
    ];
    let sessions: Vec<NewSession> = emails
        .iter()
        .map(|email| signed_in(&door, &mut shop, email))
        .collect();
    for (required, owe) in [
        (Required::Nobody, [false, false, false, false]),
        (Required::Office, [false, false, true, true]),
        (Required::Everyone, [true, true, true, true]),
        (Required::Office, [false, false, true, true]),
    ] {
        let of = shop.of.clone();
        factor::require(&mut shop.db, &of, &Asker::HOST, required, at(0)).expect("set");
        for ((email, session), owes) in emails.iter().zip(&sessions).zip(owe) {
            let found = session::find(&door, &mut shop.db, &session.secret, at(1));
            let found = found.expect("a look-up").expect("a session");
            assert_eq!(found.owes_factor, owes, "{email} under {}", required.word());
            let opened = signed_in(&door, &mut shop, email);
            assert_eq!(opened.signed_in.owes_factor, owes, "{email}");
        }
    }
    let held = set_up(&door, &mut shop, OSRIC);
    let found = session::find(&door, &mut shop.db, &held.session.secret, at(1));
    assert!(!found.expect("a look-up").expect("a session").owes_factor);
    let set = words(&mut shop);
    let set = set.iter().filter(|word| *word == "factor_required").count();
    assert_eq!(set, 3, "what was set before is not set again");
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
