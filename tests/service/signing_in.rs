//! Signing in, sessions and tokens: promises A5 (guessing never locks a person out), A6 (an unknown
//! name looks like a wrong password), S1 (one organisation learns nothing of another) and S5
//! (secrets are kept only as hashes).

use api::actions::manage_people::{self, By, PersonAsked};
use api::auth::password::{self, Hashing};
use api::auth::session::{self, NewSession, SignInAsked, SignInRefused};
use api::auth::{Door, Limits, SignedIn};
use api::ledger::actor::{Actor, Role};
use api::ledger::id::Id;
use harness::shop::{Shop, now};

/// A second of made-up time.
pub const SECOND: i64 = 1_000_000;
pub const PASSWORD: &str = "nine kettles on a windy roof";
const WRONG: &str = "eight kettles on a windy roof";
const HERE: &str = "192.0.2.7";
const ELSEWHERE: &str = "198.51.100.9";

/// Cheap hashes, so that a hundred guesses take no time.
pub fn cheap() -> Hashing {
    Hashing {
        memory: 64,
        passes: 1,
        lanes: 1,
    }
}

pub fn door() -> Door {
    Door::new(Limits {
        hashing: cheap(),
        ..Limits::default()
    })
}

/// Adds somebody who can sign in with [`PASSWORD`].
pub fn person(shop: &mut Shop, email: &str, roles: &[Role]) -> Id {
    let asked = PersonAsked {
        email: email.to_string(),
        roles: roles.to_vec(),
        password_hash: Some(cheap().hash(PASSWORD).expect("a hash")),
        ..PersonAsked::default()
    };
    let by = By {
        actor: &Actor::OPERATOR,
        source: "host",
    };
    shop.managing(|tx| manage_people::add(tx, by, &asked))
        .expect("somebody new")
        .person
}

pub struct Try<'a> {
    pub email: &'a str,
    pub password: &'a str,
    pub organisation: Option<&'a str>,
    pub source: &'a str,
    pub device: Option<&'a str>,
    pub after: i64,
}

pub const INES: Try<'_> = Try {
    email: "ines@tamarack.example",
    password: PASSWORD,
    organisation: None,
    source: HERE,
    device: None,
    after: 0,
};

pub fn attempt(door: &Door, shop: &mut Shop, it: &Try<'_>) -> Result<NewSession, SignInRefused> {
    let asked = SignInAsked {
        email: it.email.to_string(),
        password: it.password.to_string(),
        organisation: it.organisation.map(str::to_string),
    };
    let moment = now() + it.after * SECOND;
    session::sign_in(door, &mut shop.db, &asked, it.source, it.device, moment)
}

/// What happened, in one word, so that two outcomes can be compared.
fn outcome(result: Result<NewSession, SignInRefused>) -> String {
    match result {
        Ok(_) => "in".to_string(),
        Err(SignInRefused::Wrong) => "wrong".to_string(),
        Err(SignInRefused::Later { seconds }) => format!("later {seconds}"),
        Err(SignInRefused::ChooseOrganisation(names)) => format!("choose {}", names.join(", ")),
        Err(SignInRefused::Failed(error)) => panic!("{error}"),
    }
}

fn find(door: &Door, shop: &mut Shop, secret: &str, after: i64) -> Option<SignedIn> {
    session::find(door, &mut shop.db, secret, now() + after * SECOND).expect("a look-up")
}

#[test]
fn a_session_is_found_by_its_secret_until_it_ends() {
    let (door, mut shop) = (door(), Shop::open());
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let asked = Try {
        email: " Ines@Tamarack.Example ",
        ..INES
    };
    let session = attempt(&door, &mut shop, &asked).ok().expect("a session");
    let found = find(&door, &mut shop, &session.secret, 1).expect("somebody");
    assert_eq!(found, session.signed_in);
    assert_eq!(found.person, Some(ines));
    assert_eq!(found.roles, [Role::Technician]);
    assert_eq!(found.of, shop.of);
    for wrong in [
        "",
        "short",
        &session.secret[1..],
        &"A".repeat(43),
        &"é".repeat(43),
    ] {
        assert_eq!(find(&door, &mut shop, wrong, 1), None, "{wrong}");
    }
    session::end(&mut shop.db, &found).expect("an end");
    assert_eq!(find(&door, &mut shop, &session.secret, 1), None);
}

/// Idle 12 h and absolute 7 days in the field; idle 30 min and absolute 12 h in the office.
#[test]
fn sessions_end_by_themselves() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let both = [Role::Technician, Role::ComplianceManager];
    person(&mut shop, "osric@tamarack.example", &both);
    let (minute, hour) = (60, 3600);
    let open = |shop: &mut Shop, email| {
        let opened = attempt(&door, shop, &Try { email, ..INES });
        opened.ok().expect("a session").secret
    };
    let ines = open(&mut shop, "ines@tamarack.example");
    let osric = open(&mut shop, "osric@tamarack.example");
    assert!(find(&door, &mut shop, &ines, 12 * hour - 1).is_some());
    assert!(
        find(&door, &mut shop, &osric, 30 * minute).is_none(),
        "idle"
    );

    let osric = open(&mut shop, "osric@tamarack.example");
    let mut last = 0;
    for at in (0..12 * hour).step_by(29 * 60) {
        assert!(find(&door, &mut shop, &osric, at).is_some(), "after {at} s");
        last = at;
    }
    assert!(last > 11 * hour);
    assert!(
        find(&door, &mut shop, &osric, 12 * hour).is_none(),
        "absolute"
    );

    // Seen is written behind the requests; another process then knows it, too.
    for at in [11 * hour, 22 * hour] {
        assert!(find(&door, &mut shop, &ines, at).is_some());
        assert!(door.write_seen(&mut shop.db).expect("a write") > 0);
    }
    let other = self::door();
    assert!(find(&other, &mut shop, &ines, 33 * hour).is_some());
    assert!(
        find(&other, &mut shop, &ines, 7 * 24 * hour).is_none(),
        "absolute"
    );
}

#[test]
fn a5_ten_wrong_passwords_make_wait_and_lock_nobody_out() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let wrong = Try {
        password: WRONG,
        ..INES
    };
    // 5 free, then 1, 2, 4, 8, 16 s between two attempts: tried as early as they are allowed.
    let mut after = 0;
    for (n, wait) in [0, 0, 0, 0, 0, 1, 2, 4, 8, 16].into_iter().enumerate() {
        if wait > 0 {
            let early = Try { after, ..wrong };
            let said = outcome(attempt(&door, &mut shop, &early));
            assert_eq!(said, format!("later {wait}"), "attempt {n}");
        }
        after += wait;
        let said = outcome(attempt(&door, &mut shop, &Try { after, ..wrong }));
        assert_eq!(said, "wrong", "attempt {n}");
    }
    let said = outcome(attempt(&door, &mut shop, &Try { after, ..INES }));
    assert_eq!(said, "later 32", "the right password is delayed, too");
    let after = after + 32;
    let session = attempt(&door, &mut shop, &Try { after, ..INES });
    let session = session.ok().expect("not locked out");
    assert_eq!(session.failures, 10, "and is told of it");
    let said = outcome(attempt(&door, &mut shop, &Try { after, ..wrong }));
    assert_eq!(said, "wrong", "a good sign-in begins anew");
}

#[test]
fn a5_a_known_browser_is_not_held_up_by_attacks_on_the_name() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let before = attempt(&door, &mut shop, &INES).ok().expect("a session");
    let cookie = before.known_device.expect("this browser was not known");
    for after in 0..60 {
        let wrong = Try {
            password: WRONG,
            source: ELSEWHERE,
            after: after * 1_000,
            ..INES
        };
        assert_eq!(outcome(attempt(&door, &mut shop, &wrong)), "wrong");
    }
    let after = 59_001;
    let said = outcome(attempt(&door, &mut shop, &Try { after, ..INES }));
    assert!(said.starts_with("later"), "{said}");
    // The session that is open goes on, and the known browser may open another.
    assert!(find(&door, &mut shop, &before.secret, 60).is_some());
    let known = Try {
        device: Some(&cookie),
        after,
        ..INES
    };
    let again = attempt(&door, &mut shop, &known).ok().expect("at once");
    assert_eq!(again.failures, 60);
    assert_eq!(again.known_device, None, "the cookie stays good");

    // A stolen cookie buys five guesses, and somebody else's none.
    person(&mut shop, "dov@tamarack.example", &[Role::Technician]);
    for _ in 0..5 {
        let wrong = Try {
            email: "dov@tamarack.example",
            password: WRONG,
            device: Some(&cookie),
            ..INES
        };
        assert_eq!(outcome(attempt(&door, &mut shop, &wrong)), "wrong");
    }
    let dov = Try {
        email: "dov@tamarack.example",
        device: Some(&cookie),
        ..INES
    };
    assert_eq!(outcome(attempt(&door, &mut shop, &dov)), "later 1");
    let wrong = Try {
        password: WRONG,
        ..known
    };
    let said: Vec<String> = (0..12)
        .map(|_| outcome(attempt(&door, &mut shop, &wrong)))
        .collect();
    assert_eq!(
        said[..10],
        ["wrong"; 10],
        "five of the name's, five of the browser's"
    );
    assert!(said[10].starts_with("later"), "{said:?}");
}

/// NIST SP 800-63B-4 (as reported): never more than 100 consecutive failures.
#[test]
fn a5_after_a_hundred_failures_an_administrator_or_a_known_browser_helps() {
    let (door, mut shop) = (door(), Shop::open());
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let day = 86_400;
    for n in 0..100 {
        let wrong = Try {
            password: WRONG,
            after: n * 1_000,
            ..INES
        };
        assert_eq!(outcome(attempt(&door, &mut shop, &wrong)), "wrong", "{n}");
    }
    let later = Try {
        after: 300 * day,
        ..INES
    };
    assert_eq!(outcome(attempt(&door, &mut shop, &later)), "later 900");
    let hash = cheap().hash(PASSWORD).expect("a hash");
    let by = By {
        actor: &Actor::OPERATOR,
        source: "host",
    };
    shop.managing(|tx| manage_people::set_password(tx, by, ines, &hash))
        .expect("another password");
    assert_eq!(outcome(attempt(&door, &mut shop, &later)), "in");
}

/// Many guesses at once are many guesses: each is counted before its password is looked at.
#[test]
fn a5_guesses_side_by_side_are_counted() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let asked = SignInAsked {
        email: INES.email.to_string(),
        password: PASSWORD.to_string(),
        organisation: None,
    };
    let begin = |db: &mut _| session::begin(&door, db, &asked, HERE, None, now());
    let begun: Vec<_> = (0..20).filter_map(|_| begin(&mut shop.db).ok()).collect();
    assert_eq!(begun.len(), 5);
}

#[test]
fn a_network_address_may_fail_sixty_times_a_minute() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    for n in 0..60 {
        let email = format!("nobody-{n}@tamarack.example");
        let wrong = Try {
            email: &email,
            ..INES
        };
        assert_eq!(outcome(attempt(&door, &mut shop, &wrong)), "wrong");
    }
    let said = outcome(attempt(&door, &mut shop, &INES));
    assert!(said.starts_with("later"), "{said}");
    let elsewhere = Try {
        source: ELSEWHERE,
        ..INES
    };
    assert_eq!(outcome(attempt(&door, &mut shop, &elsewhere)), "in");
    assert_eq!(
        outcome(attempt(&door, &mut shop, &Try { after: 60, ..INES })),
        "in"
    );
}

/// The same attempts at a name that somebody has and at one that nobody has end the same.
#[test]
fn a6_an_unknown_name_is_answered_and_delayed_like_a_known_one() {
    let mut shop = Shop::open();
    let disabled = person(
        &mut shop,
        "osric@tamarack.example",
        &[Role::ComplianceManager],
    );
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    person(&mut shop, "juno-2@tamarack.example", &[Role::Administrator]);
    let by = By {
        actor: &Actor::OPERATOR,
        source: "host",
    };
    shop.managing(|tx| manage_people::disable(tx, by, disabled, true))
        .expect("disabled");
    let tell = |shop: &mut Shop, email: &str, password: &str, organisation: Option<&str>| {
        let door = door();
        let one = |n: i64| {
            let wrong = Try {
                email,
                password,
                organisation,
                after: n * 3,
                ..INES
            };
            outcome(attempt(&door, shop, &wrong))
        };
        (0..14).map(one).collect::<Vec<String>>()
    };
    let unknown = tell(&mut shop, "nobody@tamarack.example", WRONG, None);
    assert!(
        unknown.contains(&"wrong".to_string()) && unknown.iter().any(|it| it.contains("later"))
    );
    let known = tell(&mut shop, "ines@tamarack.example", WRONG, None);
    assert_eq!(known, unknown);
    let disabled = tell(&mut shop, "osric@tamarack.example", PASSWORD, None);
    assert_eq!(disabled, unknown, "not even the right password tells");
    let nowhere = tell(
        &mut shop,
        "juno-2@tamarack.example",
        PASSWORD,
        Some("No Such Firm"),
    );
    assert_eq!(nowhere, unknown);
}

/// What is hashed for a name that nobody has costs what anybody's costs: the same number of hashes
/// with the same parameters, whatever is known of the name.
#[test]
fn a6_every_attempt_costs_the_same_hashes() {
    let (door, mut shop) = (Door::default(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let hash = password::hash(PASSWORD, &[]).expect("a hash at full price");
    shop.rehash("ines@tamarack.example", &hash);
    let mut costs = Vec::new();
    for (email, password) in [
        ("ines@tamarack.example", WRONG),
        ("nobody@tamarack.example", WRONG),
    ] {
        let asked = SignInAsked {
            email: email.to_string(),
            password: password.to_string(),
            organisation: None,
        };
        let attempt = session::begin(&door, &mut shop.db, &asked, HERE, None, now());
        let attempt = attempt.ok().expect("an attempt");
        costs.push(attempt.costs());
    }
    let dear = "argon2id m=19456 t=2 p=1".to_string();
    assert_eq!(costs[0], vec![dear; 2]);
    assert_eq!(costs[1], costs[0]);
}

#[test]
fn a_hash_is_made_anew_at_the_next_sign_in_when_its_price_rose() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    assert_eq!(outcome(attempt(&door, &mut shop, &INES)), "in");
    assert!(shop.hash_of("ines@tamarack.example").contains("m=64,t=1"));
    let dearer = Door::new(Limits {
        hashing: Hashing {
            memory: 128,
            passes: 2,
            lanes: 1,
        },
        ..Limits::default()
    });
    let wrong = Try {
        password: WRONG,
        ..INES
    };
    assert_eq!(outcome(attempt(&dearer, &mut shop, &wrong)), "wrong");
    assert!(shop.hash_of("ines@tamarack.example").contains("m=64,t=1"));
    assert_eq!(outcome(attempt(&dearer, &mut shop, &INES)), "in");
    assert!(shop.hash_of("ines@tamarack.example").contains("m=128,t=2"));
    assert_eq!(outcome(attempt(&dearer, &mut shop, &INES)), "in");
}

/// A password shown again gives a fresh session in the place of the old one.
#[test]
fn who_shows_the_password_again_has_a_fresh_session() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let first = attempt(&door, &mut shop, &INES).ok().expect("a session");
    let later = now() + 6 * 60 * SECOND;
    assert!(!session::is_fresh(&first.signed_in, later));
    let begin = |db: &mut _| session::again(&door, db, &first.signed_in, HERE, None, later);
    let wrong = begin(&mut shop.db).ok().expect("an attempt").check(WRONG);
    let said = outcome(session::conclude(&door, &mut shop.db, wrong, later));
    assert_eq!(said, "wrong");
    assert!(
        find(&door, &mut shop, &first.secret, 1).is_some(),
        "the old one stays"
    );
    let right = begin(&mut shop.db)
        .ok()
        .expect("an attempt")
        .check(PASSWORD);
    let second = session::conclude(&door, &mut shop.db, right, later);
    let second = second.ok().expect("a session");
    assert!(session::is_fresh(&second.signed_in, later));
    assert!(find(&door, &mut shop, &first.secret, 1).is_none());
    assert!(find(&door, &mut shop, &second.secret, 361).is_some());
}

/// Every secret that is handed out is absent from the database; only its SHA-256 is there.
#[test]
fn s5_secrets_are_kept_only_as_hashes() {
    use api::auth::access::Asker;
    use api::auth::token::{self, Scopes, TokenAsked};
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let session = attempt(&door, &mut shop, &INES).ok().expect("a session");
    let asked = TokenAsked {
        name: "nightly export".to_string(),
        person: None,
        role: Role::Auditor,
        scopes: Scopes::default(),
        days: 30,
    };
    let (bearer, _) =
        token::issue(&mut shop.db, &shop.of, &Asker::HOST, &asked, now()).expect("a token");
    let device = session.known_device.expect("a new browser");
    let dump = shop.dump();
    assert!(
        dump.contains("nightly export"),
        "the dump shows what is stored"
    );
    for secret in [
        &session.secret[..],
        &device,
        &bearer,
        &bearer[12..],
        PASSWORD,
    ] {
        assert!(!dump.contains(secret), "{secret}");
        let hex: String = secret.bytes().map(|b| format!("{b:02x}")).collect();
        assert!(
            !dump.to_lowercase().contains(&hex),
            "{secret} in hexadecimal"
        );
    }
}
