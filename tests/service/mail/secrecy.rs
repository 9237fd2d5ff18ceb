//! Promise S: who gets nothing more, what an address stops, and what no other firm is told.

use super::*;

/// Whoever may no longer sign in, or has another role, gets nothing that was made before either.
#[test]
fn s_who_left_gets_nothing_more() {
    let (mut shop, ines, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let of = shop.of.clone();
    let make = |shop: &mut Shop| {
        let made = api::actions::mail::make(&mut shop.db, &of, &letters.plan.making, now());
        made.expect("made")
    };
    assert_eq!(make(&mut shop), 1);
    shop.managing(|tx| manage_people::disable(tx, HOST, ines, true))
        .expect("disabled");
    assert_eq!(letters.round(&mut shop), done(0, 0, 0));
    assert_eq!(stands(&mut shop), [Stand::Dropped]);
    shop.managing(|tx| manage_people::disable(tx, HOST, ines, false))
        .expect("back");
    shop.wait_minutes(DAY);
    assert_eq!(
        letters.round(&mut shop),
        done(0, 0, 0),
        "as with calendars, it ended"
    );
    choose(&mut shop, ines, DAILY);
    shop.wait_minutes(DAY);
    assert_eq!(make(&mut shop), 1);
    shop.managing(|tx| manage_people::set_roles(tx, HOST, ines, &[Role::Administrator]))
        .expect("another role");
    shop.wait_minutes(DAY);
    assert_eq!(
        letters.round(&mut shop),
        done(0, 0, 0),
        "handles people, sees no duties"
    );
    assert!(
        stands(&mut shop)
            .iter()
            .all(|stand| *stand == Stand::Dropped)
    );
    assert!(letters.emptied().is_empty());
}

/// S1, S5: the address in a message stops all mail to its person, as often as it is asked, and no
/// other address does; in the database only its hash is.
#[test]
fn s_an_address_in_the_message_stops_it() {
    let (mut shop, ines, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    letters.round(&mut shop);
    let letter = letters.emptied().remove(0);
    let secret = letter.stop.strip_prefix("https://book.example/mail/stop/");
    let secret = secret.expect("an address of ours").to_string();
    assert_eq!(secret.len(), 43, "256 bits, six a character");
    assert!(!shop.dump().contains(&secret), "only its hash is kept");
    let of = shop.of.clone();
    let stop = |shop: &mut Shop, secret: &str| {
        let stopped = mail::stop(&mut shop.db, secret, "192.0.2.7", now()).expect("a look");
        stopped.map(|of| of.name)
    };
    for wrong in ["", "x", &"A".repeat(43), &format!("{secret}x")] {
        assert_eq!(stop(&mut shop, wrong), None);
    }
    assert!(
        mail::chosen(&mut shop.db, &of, ines)
            .expect("a choice")
            .sends()
    );
    for _ in 0..2 {
        assert_eq!(stop(&mut shop, &secret).as_deref(), Some(of.name.as_str()));
    }
    assert!(
        !mail::chosen(&mut shop.db, &of, ines)
            .expect("a choice")
            .sends()
    );
    shop.wait_minutes(DAY);
    assert_eq!(letters.round(&mut shop), done(0, 0, 0));
}

/// Another firm in the same database, with a duty of its own.
fn another_firm(shop: &mut Shop) {
    shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    shop.books.clear();
    adopt(shop, "us-federal-hfc", "2026-01-01");
    shop.register("counterparty", json!({"tag": "Dunmore Supply"}));
    shop.register(
        "cylinder",
        json!({"tag": "SUP-88231", "use": "disposable", "refrigerant": "R-448A",
               "capacity": "24 lb"}),
    );
    shop.register("site", json!({"tag": "Alder Street", "region": "US-CO"}));
    shop.register(
        "appliance",
        json!({"tag": "QF-ICE-9", "site": "Alder Street", "refrigerant": "R-448A", "installed": "2019-05-20",
               "category": "commercial_refrigeration", "full_charge": "210 lb"}),
    );
    shop.ok(
        json!({"kind": "purchase", "body": {"from": "counterparty:Dunmore Supply",
        "to": "cylinder:SUP-88231", "refrigerant": "R-448A", "mass": "24 lb",
        "state": "new", "invoice": "D-1178"}}),
    );
    for _ in 0..2 {
        charge(shop, "QF-ICE-9");
        shop.wait_minutes(30 * DAY);
    }
}

/// S2: two firms in one database, the mail made in the narrow role of the service: each hears of its
/// own appliances and of no other.
#[test]
fn s2_no_duty_of_another_organisation_stands_in_a_message() {
    let mut shop = two_sites_over();
    let nadia = person(
        &mut shop,
        "nadia@tamarack.example",
        &[Role::ComplianceManager],
    );
    choose(&mut shop, nadia, DAILY);
    another_firm(&mut shop);
    let lone = person(
        &mut shop,
        "lone@halfmoon.example",
        &[Role::ComplianceManager],
    );
    choose(&mut shop, lone, DAILY);
    let letters = Box::new();
    let made = if on_postgres() {
        shop.grant_service_role();
        let address = Address::from_url(&shop.url(SERVICE)).expect("a URL");
        let mut service = Db::open(&address, Purpose::Write, false).expect("a connection");
        letters.round_on(&mut service)
    } else {
        letters.round(&mut shop)
    };
    assert_eq!(made, done(2, 2, 0));
    let all = letters.emptied();
    let tags = ["HG-RACK-A", "SD-RACK-B", "QF-ICE-9"];
    let said: BTreeMap<&str, Vec<bool>> = (all.iter())
        .map(|it| (&it.to[..], tags.map(|tag| it.body.contains(tag)).to_vec()))
        .collect();
    let expected = [
        ("lone@halfmoon.example", vec![false, false, true]),
        ("nadia@tamarack.example", vec![true, true, false]),
    ];
    assert_eq!(said, BTreeMap::from(expected));
    if on_postgres() {
        no_way_but_the_narrow_one(&shop, &all[0].stop);
    }
}

/// The hash of an address opens its row only; counts and books are all that is told without a name.
fn no_way_but_the_narrow_one(shop: &Shop, stop: &str) {
    let secret = stop.rsplit('/').next().expect("a secret");
    let hash = api::auth::secret::hashed(secret);
    let hex: String = hash.iter().map(|byte| format!("{byte:02x}")).collect();
    let set = format!("SET LOCAL tarebook.secret = '{hex}'");
    assert_eq!(seen(shop, &set, "SELECT org FROM mail_stops"), "2");
    for table in ["mail_choices", "mail_reasons", "outgoing"] {
        let orgs = format!("SELECT org FROM {table}");
        assert_eq!(seen(shop, &set, &orgs), "", "{table}");
        let other = seen(shop, "SET LOCAL tarebook.orgs = '1'", &orgs);
        assert!(
            other.lines().all(|org| org == "1") && !other.is_empty(),
            "{table}"
        );
    }
    assert_eq!(seen(shop, &set, "DELETE FROM mail_stops RETURNING org"), "");
    let first = "SET LOCAL tarebook.orgs = '1'";
    assert_eq!(seen(shop, first, "SELECT COUNT(*) FROM mail_books"), "2");
    assert_eq!(
        seen(shop, first, "SELECT COUNT(*) FROM organisations"),
        "1",
        "and no longer"
    );
    let forged = "INSERT INTO mail_choices VALUES (2, '\\x01', 1, 0, 1, 1, 0, 0)";
    let why = refused(shop, first, forged);
    assert!(why.contains("row-level security"), "{why}");
}
