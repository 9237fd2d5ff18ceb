//! A factor that holds: other recovery codes, given up, lost, and asked of whom (design of second factors).

use super::*;
use crate::people::{HOST, refused};
use crate::signing_in::PASSWORD;
use api::actions::manage_people;
use api::auth::SignedIn;
use api::auth::access::Asker;
use api::auth::factor::{Deed, Required};
use api::ledger::actor::Actor;

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
