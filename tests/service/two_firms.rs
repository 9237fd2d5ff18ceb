//! Two firms in one database: promises S1 (neither learns or touches anything of the other) and A5,
//! and S6 (who does what leaves a record in their own firm).

use crate::people::{HOST, refused};
use crate::signing_in::{INES, Try, attempt, cheap, door, person};
use crate::tokens::device_token;
use api::actions::{Refusal, manage_people};
use api::auth::access::{self, Asker, Whose};
use api::auth::{session, token};
use api::ledger::actor::Role;
use api::ledger::id::Id;
use harness::shop::{Shop, now};

#[test]
fn s6_sign_ins_people_and_tokens_leave_records() {
    let (door, mut shop) = (door(), Shop::open());
    let of = shop.of.clone();
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let wrong = Try {
        password: "wrong",
        ..INES
    };
    assert!(attempt(&door, &mut shop, &wrong).is_err());
    let opened = attempt(&door, &mut shop, &INES).expect("a session");
    shop.managing(|tx| manage_people::disable(tx, HOST, ines, true))
        .expect("disabled");
    let asked = device_token("scale");
    let (_, shown) = token::issue(&mut shop.db, &of, &Asker::HOST, &asked, now()).expect("a token");
    token::revoke(&mut shop.db, &of, &Asker::HOST, shown.id, now()).expect("revoked");
    let osric = Asker::new(&opened.signed_in, Role::Technician, "192.0.2.7");
    let read = osric.did("report", "appliance-year 2026", now());
    access::record(&mut shop.db, of.org, &read).expect("a record");
    let list = |shop: &mut Shop, whose| {
        access::list(&mut shop.db, of.org, whose, None, 100).expect("a list")
    };
    let all = list(&mut shop, Whose::Everybody);
    let mut words: Vec<&str> = all.iter().map(|record| &record.what[..]).collect();
    words.sort_unstable();
    let expected = [
        "person_added",
        "person_disabled",
        "report",
        "sign_in",
        "sign_in_failed",
        "token_issued",
        "token_revoked",
    ];
    assert_eq!(words, expected);
    let report = all.iter().find(|it| it.what == "report").expect("one");
    assert_eq!(report, &read, "who, what, when and from where");
    assert_eq!(list(&mut shop, Whose::Security).len(), 6, "no reads");
    assert_eq!(list(&mut shop, Whose::Person(ines)).len(), 3);
    // Page by page each record comes once, also those of one moment.
    let (mut paged, mut before) = (Vec::new(), None);
    loop {
        let page = access::list(&mut shop.db, of.org, Whose::Everybody, before, 2).expect("a page");
        let Some(last) = page.last() else { break };
        before = Some((last.at, last.id));
        paged.extend(page);
    }
    assert_eq!(paged, all);
}

/// Two firms in one database, and a person who works for both with the same address.
#[test]
fn s1_people_of_another_organisation_are_like_none() {
    let (door, mut shop) = (door(), Shop::open());
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    let in_both = person(&mut shop, "ines@tamarack.example", &[Role::Auditor]);
    assert_ne!(ines, in_both);

    // Foreign ids are answered like none.
    let none =
        refused(shop.managing(|tx| manage_people::disable(tx, HOST, Id::from_bits(1), true)));
    let foreign = refused(shop.managing(|tx| manage_people::disable(tx, HOST, ines, true)));
    let bare = |refusal: Refusal, id: Id| refusal.to_string().replace(&id.to_string(), "ID");
    assert_eq!(bare(foreign, ines), bare(none, Id::from_bits(1)));
    shop.managing(|tx| manage_people::disable(tx, HOST, in_both, true))
        .expect("their own");
    assert!(
        attempt(&door, &mut shop, &INES).is_ok(),
        "the first firm's stays"
    );
    shop.managing(|tx| manage_people::disable(tx, HOST, in_both, false))
        .expect("their own");
}

#[test]
fn s1_a_session_belongs_to_one_organisation() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let first = shop.of.clone();
    let other = shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    let in_both = person(&mut shop, "ines@tamarack.example", &[Role::Auditor]);
    let teodor = shop.sign_in_of("teodor@halfmoon.example").person;
    // The password is right in both: only then is it said that there are two.
    let both = attempt(&door, &mut shop, &INES);
    let Err(session::SignInRefused::ChooseOrganisation(names)) = both else {
        panic!("expected to be asked which organisation");
    };
    assert_eq!(names, ["Tamarack Ridge Mechanical", "Halfmoon Grocers"]);
    let wrong = Try {
        password: "wrong",
        ..INES
    };
    assert!(matches!(
        attempt(&door, &mut shop, &wrong),
        Err(session::SignInRefused::Wrong)
    ));
    let named = Try {
        organisation: Some("Halfmoon Grocers"),
        ..INES
    };
    let session = attempt(&door, &mut shop, &named).expect("a session");
    assert_eq!(session.signed_in.of, other);
    assert_eq!(session.signed_in.person, Some(in_both));

    // Ending, listing, revoking by another organisation's ids does nothing.
    assert!(!session::end_one(&mut shop.db, first.org, session.signed_in.key).expect("no end"));
    assert!(
        session::list(&mut shop.db, first.org, in_both)
            .expect("a list")
            .is_empty()
    );
    assert_eq!(
        session::end_all_of(&mut shop.db, first.org, in_both, None).expect("none"),
        0
    );
    let asked = device_token("scale");
    let (_, shown) =
        token::issue(&mut shop.db, &other, &Asker::HOST, &asked, now()).expect("a token");
    assert!(!token::revoke(&mut shop.db, &first, &Asker::HOST, shown.id, now()).expect("no"));
    assert!(
        token::list(&mut shop.db, &first)
            .expect("a list")
            .is_empty()
    );
    let records = access::list(&mut shop.db, first.org, Whose::Person(teodor), None, 9);
    assert!(records.expect("a list").is_empty());
    assert!(
        session::find(&door, &mut shop.db, &session.secret, now())
            .expect("found")
            .is_some()
    );
}

/// An administrator who gives somebody else's address a password of their own choice gains no free
/// guesses at the other organisation.
#[test]
fn a5_a_second_organisation_buys_no_guesses_at_the_first() {
    let (door, mut shop) = (door(), Shop::open());
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let better = cheap()
        .hash("seven ladders behind the bakery")
        .expect("a hash");
    shop.rehash("ines@tamarack.example", &better);
    shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let mut wrong = 0;
    for n in 0..40 {
        // A guess at the first firm, then a good sign-in to the second.
        let guess = Try {
            organisation: Some("Tamarack Ridge Mechanical"),
            ..INES
        };
        match attempt(&door, &mut shop, &guess) {
            Err(session::SignInRefused::Wrong) => wrong += 1,
            Err(session::SignInRefused::Later { .. }) => {}
            _ => panic!("{n}: not in"),
        }
        let good = Try {
            organisation: Some("Halfmoon Grocers"),
            ..INES
        };
        assert!(attempt(&door, &mut shop, &good).is_ok(), "{n}");
    }
    assert!(wrong <= 5, "{wrong} guesses");
}
