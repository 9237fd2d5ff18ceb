//! Sessions: found by their secret until they end by themselves or somebody ends them. Promise S5:
//! secrets are kept only as hashes.

use crate::people::HOST;
use crate::signing_in::{
    HERE, INES, PASSWORD, SECOND, Try, WRONG, attempt, cheap, door, outcome, person,
};
use api::actions::manage_people;
use api::auth::{Door, SignedIn, session};
use api::ledger::actor::Role;
use harness::shop::{Shop, now};

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
    let session = attempt(&door, &mut shop, &asked).expect("a session");
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
        opened.expect("a session").secret
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

/// A password shown again gives a fresh session in the place of the old one.
#[test]
fn who_shows_the_password_again_has_a_fresh_session() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let first = attempt(&door, &mut shop, &INES).expect("a session");
    let later = now() + 6 * 60 * SECOND;
    assert!(!session::is_fresh(&first.signed_in, later));
    let begin = |db: &mut _| session::again(&door, db, &first.signed_in, HERE, None, later);
    let wrong = begin(&mut shop.db).expect("an attempt").check(WRONG);
    let said = outcome(session::conclude(&door, &mut shop.db, wrong, later));
    assert_eq!(said, "wrong");
    assert!(
        find(&door, &mut shop, &first.secret, 1).is_some(),
        "the old one stays"
    );
    let right = begin(&mut shop.db).expect("an attempt").check(PASSWORD);
    let second = session::conclude(&door, &mut shop.db, right, later);
    let second = second.expect("a session");
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
    let session = attempt(&door, &mut shop, &INES).expect("a session");
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

/// Roles, a disabled sign-in and another password count from the next request on.
#[test]
fn changes_of_people_end_what_they_had_open() {
    let (door, mut shop) = (door(), Shop::open());
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let hash = cheap().hash(PASSWORD).expect("a hash");
    let manager = [Role::ComplianceManager];
    type Change<'c> = Box<dyn FnMut(&mut Shop) + 'c>;
    let changes: [Change<'_>; 4] = [
        Box::new(|shop| {
            shop.managing(|tx| manage_people::set_roles(tx, HOST, ines, &manager))
                .expect("other roles");
        }),
        Box::new(|shop| {
            shop.managing(|tx| manage_people::set_password(tx, HOST, ines, &hash))
                .expect("another password");
        }),
        Box::new(|shop| {
            shop.managing(|tx| manage_people::end_sessions(tx, HOST, ines))
                .expect("an end");
        }),
        Box::new(|shop| {
            shop.managing(|tx| manage_people::disable(tx, HOST, ines, true))
                .expect("disabled");
        }),
    ];
    for mut change in changes {
        let opened = attempt(&door, &mut shop, &INES).expect("a session");
        let find = |shop: &mut Shop| {
            session::find(&door, &mut shop.db, &opened.secret, now()).expect("a look-up")
        };
        assert!(find(&mut shop).is_some());
        change(&mut shop);
        assert!(find(&mut shop).is_none());
    }
    assert!(attempt(&door, &mut shop, &INES).is_err(), "disabled");
}

#[test]
fn ones_own_password_is_changed_only_in_a_fresh_session_and_ends_the_others() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let other = attempt(&door, &mut shop, &INES).expect("a session");
    let own = attempt(&door, &mut shop, &INES).expect("a session");
    let better = "seven ladders behind the bakery";
    let hash = cheap().hash(better).expect("a hash");
    let change = |shop: &mut Shop, who: &SignedIn, at| {
        session::change_password(&mut shop.db, who, "192.0.2.7", &hash, at).expect("a change")
    };
    assert!(
        !change(&mut shop, &own.signed_in, now() + 301 * 1_000_000),
        "not fresh"
    );
    assert!(change(&mut shop, &own.signed_in, now()));
    let mut find = |secret: &str| session::find(&door, &mut shop.db, secret, now()).expect("found");
    assert!(find(&own.secret).is_some());
    assert!(find(&other.secret).is_none());
    assert!(
        attempt(&door, &mut shop, &INES).is_err(),
        "the old one is none any more"
    );
    let better = Try {
        password: better,
        ..INES
    };
    assert!(attempt(&door, &mut shop, &better).is_ok());
}
