//! Handling people and tokens: promises S1 (nothing of another organisation), S3 (what the table
//! does not allow is refused) and S6 (every change leaves a record).

use crate::signing_in::{INES, PASSWORD, Try, attempt, cheap, door, person};
use api::actions::manage_people::{self, By, PersonAsked};
use api::actions::permit::{Reach, TABLE, may, reach};
use api::actions::{ActionError, Refusal, device};
use api::auth::access::{self, Asker, Whose};
use api::auth::token::{self, Scopes, TokenAsked, TokenRefused};
use api::auth::{SignedIn, session};
use api::ledger::actor::{Actor, Role};
use api::ledger::id::Id;
use harness::shop::{Shop, now};
use serde_json::json;

const DAY: i64 = 86_400 * 1_000_000;
const HOST: By<'_> = By {
    actor: &Actor::OPERATOR,
    source: "host",
};

fn forbidden<T: std::fmt::Debug>(result: Result<T, ActionError>) -> String {
    match result {
        Err(ActionError::Refused(Refusal::Forbidden { detail })) => detail,
        other => panic!("expected it to be forbidden, got {other:?}"),
    }
}

fn refused<T: std::fmt::Debug>(result: Result<T, ActionError>) -> Refusal {
    match result {
        Err(ActionError::Refused(refusal)) => refusal,
        other => panic!("expected a refusal, got {other:?}"),
    }
}

fn asked(email: &str, roles: &[Role]) -> PersonAsked {
    PersonAsked {
        email: email.to_string(),
        roles: roles.to_vec(),
        ..PersonAsked::default()
    }
}

/// The table of roles as it was decided (design of roles and permissions): W whole organisation, A
/// assigned sites, O own, S security events, - not at all. Columns: technician, compliance manager,
/// auditor, administrator, device, operator on the host.
const DECIDED: &str = "
ReadBook           A W W - O W
ReadPeople         O W W W - W
ReadFollowUps      A W W - - W
Report             - W W - - W
ReadLog            O W W - O W
ReadCheckpoint     W W W W W W
Register           A W - - - W
AdoptRules         - W - - - W
PreviewRules       - W W - - W
ClosePeriod        - W - - - -
ReopenPeriod       - W - - - -
Grant              - W - - - -
ManagePeople       - - - W - W
IssueTokens        - W - - - W
RevokeTokens       - W - W - W
OwnSessions        O O O O - -
RequestErasure     - W - - - -
Erase              - - - W - -
ReadAccessRecords  O W W S - W
Import             - W - - - W
KeepService        - - - - - W
";

#[test]
fn s3_the_table_of_roles_is_the_one_that_was_decided() {
    let columns = [
        Role::Technician,
        Role::ComplianceManager,
        Role::Auditor,
        Role::Administrator,
        Role::Device,
        Role::Operator,
    ];
    let rows: Vec<&str> = DECIDED.trim().lines().collect();
    assert_eq!(rows.len(), TABLE.len());
    for (row, (deed, _)) in rows.iter().zip(TABLE) {
        let mut words = row.split_whitespace();
        assert_eq!(words.next(), Some(&format!("{deed:?}")[..]));
        for role in columns {
            let expected = match words.next() {
                Some("W") => Reach::Whole,
                Some("A") => Reach::AssignedSites,
                Some("O") => Reach::Own,
                Some("S") => Reach::Security,
                Some("-") => Reach::Nothing,
                other => panic!("{other:?} in {row}"),
            };
            assert_eq!(reach(role, *deed), expected, "{role:?} {deed:?}");
        }
        assert!(
            !may(Role::System, *deed),
            "the program itself asks for nothing"
        );
    }
}

#[test]
fn s3_only_administrators_handle_people_and_nobody_themselves() {
    let mut shop = Shop::open();
    let juno = shop.sign_in_of("juno@tamarack.example").person;
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    for role in Role::ALL {
        let actor = Actor::person(Id::random(), role, None);
        let by = By {
            actor: &actor,
            source: "192.0.2.7",
        };
        let email = format!("{}@tamarack.example", role.word());
        let new = asked(&email, &[Role::Auditor]);
        let roles = [Role::Auditor];
        let size = shop.size();
        let outcomes = [
            shop.managing(|tx| manage_people::add(tx, by, &new)),
            shop.managing(|tx| manage_people::set_roles(tx, by, ines, &roles)),
            shop.managing(|tx| manage_people::disable(tx, by, ines, true)),
            shop.managing(|tx| manage_people::disable(tx, by, ines, false)),
            shop.managing(|tx| manage_people::set_password(tx, by, ines, "a hash")),
            shop.managing(|tx| manage_people::end_sessions(tx, by, ines)),
        ];
        if matches!(role, Role::Administrator | Role::Operator) {
            outcomes.into_iter().for_each(|outcome| {
                outcome.expect("an administrator may");
            });
            assert_eq!(shop.size(), size + 1, "one person was registered");
        } else {
            for outcome in outcomes {
                assert!(forbidden(outcome).contains("administrator"), "{role:?}");
            }
            assert_eq!(shop.size(), size, "{role:?} booked nothing");
        }
    }
    let own = Actor::person(juno, Role::Administrator, None);
    let by = By {
        actor: &own,
        source: "192.0.2.7",
    };
    let all = manage_people::HELD;
    let outcome = shop.managing(|tx| manage_people::set_roles(tx, by, juno, &all));
    assert!(forbidden(outcome).contains("their own roles"));
    let outcome = shop.managing(|tx| manage_people::disable(tx, by, juno, true));
    assert!(forbidden(outcome).contains("their own sign-in"));
}

#[test]
fn the_last_administrator_stays() {
    let mut shop = Shop::open();
    let juno = shop.sign_in_of("juno@tamarack.example").person;
    let second = person(&mut shop, "osric@tamarack.example", &[Role::Administrator]);
    let manager = [Role::ComplianceManager];
    shop.managing(|tx| manage_people::disable(tx, HOST, second, true))
        .expect("juno is left");
    let outcome = shop.managing(|tx| manage_people::set_roles(tx, HOST, juno, &manager));
    assert!(
        forbidden(outcome).contains("last administrator"),
        "a disabled one is none"
    );
    let outcome = shop.managing(|tx| manage_people::disable(tx, HOST, juno, true));
    assert!(forbidden(outcome).contains("last administrator"));
    shop.managing(|tx| manage_people::disable(tx, HOST, second, false))
        .expect("enabled again");
    let changed = shop
        .managing(|tx| manage_people::set_roles(tx, HOST, juno, &manager))
        .expect("osric is left");
    assert_eq!(changed.roles, manager);
}

/// A person is a thing of the book: what was typed is committed, never in clear in a leaf.
#[test]
fn somebody_new_is_registered_by_one_entry_once() {
    let mut shop = Shop::open();
    let mut new = asked("Dov@Tamarack.example", &[Role::Auditor, Role::Technician]);
    new.name = Some("Dov Haldane".to_string());
    new.entry_id = Some(Id::at(1));
    let dov = shop
        .managing(|tx| manage_people::add(tx, HOST, &new))
        .expect("somebody new");
    assert_eq!(dov.email, "dov@tamarack.example");
    assert_eq!(
        dov.roles,
        [Role::Technician, Role::Auditor],
        "in their order"
    );
    assert_eq!(dov.name.as_deref(), Some("Dov Haldane"));
    assert!(!dov.has_password);
    let size = shop.size();
    let again = shop.managing(|tx| manage_people::add(tx, HOST, &new));
    assert_eq!(again.expect("the same"), dov, "O1: nobody twice");
    assert_eq!(shop.size(), size);
    let leaf = shop.leaf(size - 1);
    assert_eq!(leaf["kind"], "person");
    assert!(!leaf.to_string().to_lowercase().contains("dov"), "{leaf}");
    shop.sound();

    // Somebody who is registered without a sign-in gets one; nothing is booked for it.
    shop.register("person", json!({"tag": "T-9", "name": "Pia Ostrander"}));
    let size = shop.size();
    let mut known = asked("pia@tamarack.example", &[Role::Technician]);
    known.person = Some("T-9".to_string());
    let pia = shop
        .managing(|tx| manage_people::add(tx, HOST, &known))
        .expect("a sign-in");
    assert_eq!((pia.tag.as_deref(), shop.size()), (Some("T-9"), size));
    known.email = "pia.2@tamarack.example".to_string();
    let outcome = shop.managing(|tx| manage_people::add(tx, HOST, &known));
    assert!(matches!(refused(outcome), Refusal::InvalidValue { .. }));
}

#[test]
fn what_is_wrong_with_somebody_new_is_said_and_nothing_is_booked() {
    let mut shop = Shop::open();
    let size = shop.size();
    for (email, roles, pointer) in [
        ("no address", &[Role::Auditor][..], "/email"),
        ("@tamarack.example", &[Role::Auditor], "/email"),
        ("a@b@tamarack.example", &[Role::Auditor], "/email"),
        ("JUNO@tamarack.example", &[Role::Auditor], "/email"),
        ("dov@tamarack.example", &[], "/roles"),
        ("dov@tamarack.example", &[Role::Device], "/roles"),
        (
            "dov@tamarack.example",
            &[Role::Auditor, Role::Operator],
            "/roles",
        ),
    ] {
        let new = asked(email, roles);
        match refused(shop.managing(|tx| manage_people::add(tx, HOST, &new))) {
            Refusal::InvalidValue { pointer: at, .. } => assert_eq!(at, pointer, "{email}"),
            other => panic!("{email}: {other}"),
        }
    }
    assert_eq!(shop.size(), size);
    assert_eq!(
        shop.managing(|tx| Ok(tx.members()?.len())).expect("people"),
        1
    );
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
        let opened = attempt(&door, &mut shop, &INES).ok().expect("a session");
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
    let other = attempt(&door, &mut shop, &INES).ok().expect("a session");
    let own = attempt(&door, &mut shop, &INES).ok().expect("a session");
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

fn device_token(name: &str) -> TokenAsked {
    TokenAsked {
        name: name.to_string(),
        person: None,
        role: Role::Device,
        scopes: Scopes {
            may: vec!["movements:write".to_string()],
            ..Scopes::default()
        },
        days: token::USUAL_DAYS,
    }
}

#[test]
fn a_token_holds_until_it_ends_or_is_revoked() {
    let (door, mut shop) = (door(), Shop::open());
    let of = shop.of.clone();
    let asked = device_token("scale at the dock");
    let issued = token::issue(&mut shop.db, &of, &Asker::HOST, &asked, now());
    let (bearer, shown) = issued.expect("a token");
    // `tb_`, eight characters, `_`, 256 bits in base64url without padding: 43 characters.
    assert_eq!(bearer.len(), 3 + 8 + 1 + 43, "{bearer}");
    assert!(bearer.starts_with(&format!("{}_", shown.word)));
    let at = |shop: &mut Shop, bearer: &str, moment| {
        token::find(&door, &mut shop.db, bearer, moment).expect("a look-up")
    };
    let found = at(&mut shop, &bearer, now()).expect("a token");
    assert_eq!(found.scopes, asked.scopes);
    assert_eq!(found.signed_in.roles, [Role::Device]);
    assert_eq!(
        (found.signed_in.person, found.signed_in.key),
        (None, shown.id)
    );
    assert!(!session::is_fresh(&found.signed_in, now()));
    let mut forged = bearer.clone();
    forged.replace_range(3..11, "aaaaaaaa");
    for wrong in [
        "",
        "tb_",
        &bearer[3..],
        &forged,
        &bearer.to_uppercase(),
        "tb_é2345678_x",
    ] {
        assert!(at(&mut shop, wrong, now()).is_none(), "{wrong}");
    }
    assert!(at(&mut shop, &bearer, now() + 90 * DAY - 1).is_some());
    assert!(
        at(&mut shop, &bearer, now() + 90 * DAY).is_none(),
        "expired"
    );
    door.write_seen(&mut shop.db).expect("a write");
    let listed = token::list(&mut shop.db, &of).expect("a list");
    assert_eq!(listed.len(), 1);
    assert!(listed[0].used_at.is_some(), "last use is shown");
    let revoked = token::revoke(&mut shop.db, &of, &Asker::HOST, shown.id, now());
    assert!(revoked.expect("a revocation"));
    assert!(
        at(&mut shop, &bearer, now()).is_none(),
        "from the next request on"
    );
    let again = token::revoke(&mut shop.db, &of, &Asker::HOST, shown.id, now());
    assert!(!again.expect("nothing left to revoke"));
}

#[test]
fn tokens_that_may_not_be_are_refused() {
    let mut shop = Shop::open();
    let of = shop.of.clone();
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let manager = Asker {
        person: Some(Id::random()),
        role: Role::ComplianceManager,
        source: "192.0.2.7",
        ..Asker::HOST
    };
    let device = device_token("a device");
    let with = |change: &dyn Fn(&mut TokenAsked)| {
        let mut asked = device.clone();
        change(&mut asked);
        asked
    };
    let as_role = |role| {
        with(&|it| {
            it.role = role;
            it.scopes = Scopes::default();
        })
    };
    let cases = [
        (&manager, with(&|it| it.days = 0), "/days"),
        (&manager, with(&|it| it.days = 366), "/days"),
        (&manager, with(&|it| it.name = " ".to_string()), "/name"),
        (&manager, with(&|it| it.scopes.may.clear()), "/scopes"),
        (
            &manager,
            with(&|it| it.scopes.may.push("all".to_string())),
            "/scopes",
        ),
        (&manager, as_role(Role::Technician), "/role"),
        (&manager, as_role(Role::Operator), "/role"),
        (&Asker::HOST, as_role(Role::Operator), "/role"),
        (&Asker::HOST, as_role(Role::System), "/role"),
        (&Asker::HOST, with(&|it| it.role = Role::Auditor), "/scopes"),
        (
            &Asker::HOST,
            with(&|it| it.person = Some(Id::random())),
            "/person",
        ),
        (&Asker::HOST, with(&|it| it.person = Some(ines)), "/person"),
    ];
    for (by, asked, pointer) in cases {
        match token::issue(&mut shop.db, &of, by, &asked, now()) {
            Err(TokenRefused::Invalid(at, text)) => {
                assert_eq!(at, pointer, "{asked:?}: {text}");
                assert!(text.starts_with("Expected"), "{text}");
            }
            other => panic!("{asked:?}: {other:?}"),
        }
    }
    assert!(token::list(&mut shop.db, &of).expect("a list").is_empty());
    token::issue(&mut shop.db, &of, &manager, &device, now()).expect("a device's");
    token::issue(
        &mut shop.db,
        &of,
        &Asker::HOST,
        &as_role(Role::Auditor),
        now(),
    )
    .expect("on the host");
}

/// A person's token does no more than the person may today.
#[test]
fn a_persons_token_loses_what_the_person_loses() {
    let (door, mut shop) = (door(), Shop::open());
    let of = shop.of.clone();
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let mut asked = device_token("tablet in the van");
    asked.role = Role::Technician;
    asked.scopes = Scopes::default();
    asked.person = Some(ines);
    let issue = |shop: &mut Shop| {
        let issued = token::issue(&mut shop.db, &of, &Asker::HOST, &asked, now());
        issued.expect("a token").0
    };
    let holds = |shop: &mut Shop, bearer: &str| {
        token::find(&door, &mut shop.db, bearer, now())
            .expect("a look-up")
            .is_some()
    };
    let bearer = issue(&mut shop);
    assert!(holds(&mut shop, &bearer));
    let auditor = [Role::Auditor];
    shop.managing(|tx| manage_people::set_roles(tx, HOST, ines, &auditor))
        .expect("another role");
    assert!(!holds(&mut shop, &bearer));
    let technician = [Role::Technician];
    shop.managing(|tx| manage_people::set_roles(tx, HOST, ines, &technician))
        .expect("the old role");
    assert!(holds(&mut shop, &bearer));
    shop.managing(|tx| manage_people::disable(tx, HOST, ines, true))
        .expect("disabled");
    shop.managing(|tx| manage_people::disable(tx, HOST, ines, false))
        .expect("enabled");
    assert!(
        !holds(&mut shop, &bearer),
        "revoked when the person was disabled"
    );
}

#[test]
fn s3_a_device_posts_only_within_its_bounds() {
    let mut shop = Shop::stocked();
    let supply = shop.inside(|tx| {
        let place = tx.find(api::store::columns::Sort::Cylinder, "SUP-88231")?;
        Ok(tx.subject(place.expect("registered"))?.id.expect("an id"))
    });
    let rack = shop.inside(|tx| {
        let place = tx.find(api::store::columns::Sort::Appliance, "HG-RACK-A")?;
        Ok(tx.subject(place.expect("registered"))?.id.expect("an id"))
    });
    let bounds = device::Bounds {
        movements: true,
        places: vec![supply, rack],
        refrigerants: vec!["R-448A".to_string()],
    };
    let charge = |from: &str, to: &str, refrigerant: &str| {
        json!({"kind": "charge", "body": {"from": from, "to": to, "refrigerant": refrigerant,
               "mass": "1 lb", "reason": "leak_top_up"}})
    };
    let supply = "cylinder:SUP-88231";
    let mut within =
        |request: &serde_json::Value| shop.managing(|tx| device::within(tx, &bounds, request));
    let rack = format!("appliance:{rack}");
    within(&charge(supply, &rack, "r448a")).expect("all its own");
    for (request, slug) in [
        (charge("cylinder:TR-0417", &rack, "R-448A"), "not-found"),
        (charge("cylinder:NO-SUCH", &rack, "R-448A"), "not-found"),
        (charge(supply, "appliance:QK-WIC-1", "R-448A"), "not-found"),
        (charge(supply, &rack, "R-404A"), "invalid-value"),
        (
            json!({"kind": "charge", "body": {"from": supply, "to": rack}}),
            "malformed",
        ),
        (
            json!({"kind": "transfer", "body": {"movements": [{"from": supply,
            "to": "cylinder:TR-0417", "refrigerant": "R-448A"}]}}),
            "not-found",
        ),
        (
            json!({"kind": "redesignate", "body": {"place": supply, "refrigerant": "R-448A",
            "becomes": "R-404A"}}),
            "invalid-value",
        ),
        (
            json!({"kind": "redesignate", "body": {"place": "cylinder:TR-0417",
            "refrigerant": "R-448A", "becomes": "R-448A"}}),
            "not-found",
        ),
        (json!({"kind": "correction", "body": {}}), "forbidden"),
        (json!({"kind": "appliance", "body": {}}), "forbidden"),
    ] {
        assert_eq!(refused(within(&request)).slug(), slug, "{request}");
    }
    // A place it may not name and one that there is none of are the same sentence but for the name.
    let told = |name: &str, it: Refusal| it.to_string().replace(name, "NAME");
    let foreign = refused(within(&charge("cylinder:TR-0417", &rack, "R-448A")));
    let none = refused(within(&charge("cylinder:NO-SUCH", &rack, "R-448A")));
    assert_eq!(told("TR-0417", foreign), told("NO-SUCH", none));
    let deaf = device::Bounds::default();
    let outcome = shop.managing(|tx| device::within(tx, &deaf, &charge(supply, &rack, "R-448A")));
    assert_eq!(refused(outcome).slug(), "forbidden");
}

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
    let opened = attempt(&door, &mut shop, &INES).ok().expect("a session");
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
fn s1_two_organisations_know_nothing_of_each_other() {
    let (door, mut shop) = (door(), Shop::open());
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let first = shop.of.clone();
    let other = shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    let in_both = person(&mut shop, "ines@tamarack.example", &[Role::Auditor]);
    let teodor = shop.sign_in_of("teodor@halfmoon.example").person;
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
    let session = attempt(&door, &mut shop, &named).ok().expect("a session");
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
