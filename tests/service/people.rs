//! Handling people: promise S3 (what the table of roles does not allow is refused), and how somebody
//! is registered, changed and kept from locking everybody out.

use crate::signing_in::person;
use api::actions::manage_people::{self, By, PersonAsked};
use api::actions::permit::{Reach, TABLE, may, reach};
use api::actions::{ActionError, Refusal};
use api::ledger::actor::{Actor, Role};
use api::ledger::id::Id;
use harness::shop::Shop;
use serde_json::json;

pub const HOST: By<'_> = By {
    actor: &Actor::OPERATOR,
    source: "host",
};

fn forbidden<T: std::fmt::Debug>(result: Result<T, ActionError>) -> String {
    match result {
        Err(ActionError::Refused(Refusal::Forbidden { detail })) => detail,
        other => panic!("expected it to be forbidden, got {other:?}"),
    }
}

pub fn refused<T: std::fmt::Debug>(result: Result<T, ActionError>) -> Refusal {
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
ReadRegister       A W W - - W
ReadPeople         O W W W - W
ReadFollowUps      A W W - - W
Report             - W W - - W
ReadLog            O W W - O W
ReadCheckpoint     W W W W W W
Register           A W - - - W
Assign             - W - - - W
AdoptRules         - W - - - W
PreviewRules       - W W - - W
ClosePeriod        - W - - - -
ReopenPeriod       - W - - - -
Grant              - W - - - -
ManagePeople       - - - W - W
IssueTokens        - W - - - W
RevokeTokens       - W - W - W
OwnSessions        O O O O - -
OwnCalendars       O O O - - -
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
    let outcome = shop.managing(|tx| manage_people::set_password(tx, by, juno, "a hash"));
    assert!(forbidden(outcome).contains("their own password"));
}

/// S3: what stands in the register decides limits, owners and duties: a technician adds what stands on
/// no list, and neither changes it later nor settles that it was added.
#[test]
fn s3_a_technician_registers_and_does_not_change() {
    let mut shop = Shop::stocked();
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let ines = Actor::person(ines, Role::Technician, None);
    let change = |subject: &str| {
        json!({"kind": "appliance", "body": {"subject": subject, "facts": {
            "full_charge": {"mass": "5000 lb", "method": "maker_data"}}}})
    };
    let refused =
        |outcome: Result<_, ActionError>| match outcome.map(|_: api::actions::answer::Posted| ()) {
            Err(ActionError::Refused(Refusal::Forbidden { detail })) => detail,
            other => panic!("{other:?}"),
        };
    let size = shop.size();
    let why = refused(shop.post_as(&ines, change("HG-RACK-A")));
    assert!(why.contains("compliance manager"), "{why}");
    let new = json!({"kind": "appliance", "body": {"facts": {"tag": "LS-RTU-99",
        "site": "Alder Street", "refrigerant": "R-410A",
        "category": "residential_light_commercial_ac", "full_charge": "unknown"}}});
    let found = shop.post_as(&ines, new).expect("a new one stands at once");
    refused(shop.post_as(&ines, change("LS-RTU-99")));
    let settle = json!({"kind": "settle", "reason_text": "checked", "body": {
        "code": "registered_on_site", "entries": [found.entry_id], "reason": "checked"}});
    let why = refused(shop.post_as(&ines, settle));
    assert!(why.contains("completed by a compliance manager"), "{why}");
    assert_eq!(
        shop.size(),
        size + 1,
        "one appliance was registered, and nothing else"
    );
}

/// The id of an entry that is no registration of a person makes nobody.
#[test]
fn an_id_of_another_entry_makes_no_person() {
    let mut shop = Shop::stocked();
    let entry = Id::random();
    let site = json!({"entry_id": entry, "kind": "site", "body": {"facts": {"tag": "Birch Lane"}}});
    let manager = Actor::person(Id::random(), Role::ComplianceManager, None);
    shop.send(&manager, &site).expect("a site");
    let ghost = PersonAsked {
        entry_id: Some(entry),
        ..asked("ghost@tamarack.example", &[Role::Technician])
    };
    match shop.managing(|tx| manage_people::add(tx, HOST, &ghost)) {
        Err(ActionError::Refused(Refusal::InvalidValue { pointer, .. })) => {
            assert_eq!(pointer, "/entry_id");
        }
        other => panic!("{other:?}"),
    }
    for odd in [
        "<a@tamarack.example",
        "a;b@tamarack.example",
        "a@tamarack.example?bcc=b",
    ] {
        let odd = asked(odd, &[Role::Technician]);
        match shop.managing(|tx| manage_people::add(tx, HOST, &odd)) {
            Err(ActionError::Refused(Refusal::InvalidValue { pointer, .. })) => {
                assert_eq!(pointer, "/email");
            }
            other => panic!("{other:?}"),
        }
    }
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
