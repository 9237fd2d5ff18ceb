//! Signing in: promises A5 (guessing never locks a person out, nor holds a known browser up) and A6
//! (an unknown name looks like a wrong password in every way).

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
pub const WRONG: &str = "eight kettles on a windy roof";
pub const HERE: &str = "192.0.2.7";
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
pub fn outcome(result: Result<NewSession, SignInRefused>) -> String {
    match result {
        Ok(_) => "in".to_string(),
        Err(SignInRefused::Wrong) => "wrong".to_string(),
        Err(SignInRefused::Later { seconds }) => format!("later {seconds}"),
        Err(SignInRefused::ChooseOrganisation(names)) => format!("choose {}", names.join(", ")),
        Err(SignInRefused::CodeAsked { .. }) => "code".to_string(),
        Err(SignInRefused::CodeWrong { left }) => format!("wrong code, {left} left"),
        Err(SignInRefused::Restart) => "again".to_string(),
        Err(SignInRefused::Failed(error)) => panic!("{error}"),
    }
}

fn find(door: &Door, shop: &mut Shop, secret: &str, after: i64) -> Option<SignedIn> {
    session::find(door, &mut shop.db, secret, now() + after * SECOND).expect("a look-up")
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
    let session = session.expect("not locked out");
    assert_eq!(session.failures, 10, "and is told of it");
    let said = outcome(attempt(&door, &mut shop, &Try { after, ..wrong }));
    assert_eq!(said, "wrong", "a good sign-in begins anew");
}

#[test]
fn a5_a_known_browser_is_not_held_up_by_attacks_on_the_name() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let before = attempt(&door, &mut shop, &INES).expect("a session");
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
    let again = attempt(&door, &mut shop, &known).expect("at once");
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
        let attempt = attempt.expect("an attempt");
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
