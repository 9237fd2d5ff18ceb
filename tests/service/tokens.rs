//! Tokens of programs and devices: what they may be, how long they hold, and (promise S3) that a
//! device posts only within its bounds.

use crate::people::{HOST, refused};
use crate::signing_in::{door, person};
use api::actions::{Refusal, device, manage_people};
use api::auth::access::Asker;
use api::auth::session;
use api::auth::token::{self, Scopes, TokenAsked, TokenRefused};
use api::ledger::actor::Role;
use api::ledger::id::Id;
use harness::shop::{Shop, now};
use serde_json::json;

const DAY: i64 = 86_400 * 1_000_000;

pub fn device_token(name: &str) -> TokenAsked {
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
