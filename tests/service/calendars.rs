//! Calendars of what is owed: what changes raises its sequence, what is over is called off for
//! thirty days, and (promise S) who does not know the address learns nothing.

use crate::duties::{assigned, two_sites_over};
use crate::row_security::{on_postgres, refused, seen, two_firms};
use crate::signing_in::person;
use api::actions::calendar::text;
use api::actions::manage_people::{self, By};
use api::auth::access::Asker;
use api::auth::calendar::{self, Calendar, Found};
use api::ledger::actor::{Actor, Role};
use api::ledger::id::Id;
use api::store::columns::Sort;
use harness::shop::{Shop, now};
use serde_json::json;
use std::collections::BTreeMap;

const DAY: i64 = 24 * 60;

fn made(shop: &mut Shop, person: Id, names: bool) -> String {
    let calendar = Calendar {
        org: shop.of.org,
        id: Id::random(),
        person,
        names,
        everything: false,
        made_at: now(),
        read_at: 0,
        revoked_at: 0,
    };
    let of = shop.of.clone();
    let made = calendar::make(&mut shop.db, &of, &Asker::HOST, &calendar);
    made.expect("stored").expect("a secret")
}

fn found(shop: &mut Shop, secret: &str) -> Option<Found> {
    calendar::find(&mut shop.db, secret).expect("a look-up")
}

fn fetched(shop: &mut Shop, secret: &str) -> String {
    let found = found(shop, secret).expect("a calendar");
    let base = "https://book.example";
    let written = text(&mut shop.db, &found.of, &found.calendar, false, base, now());
    written.expect("readable").expect("a calendar")
}

/// The events by title, each with the properties that matter; unfolded by hand (RFC 5545, 3.1).
fn events(text: &str) -> BTreeMap<String, BTreeMap<String, String>> {
    let unfolded = text.replace("\r\n ", "");
    let mut events = BTreeMap::new();
    for part in unfolded.split("BEGIN:VEVENT\r\n").skip(1) {
        let lines = part.split("\r\n").take_while(|line| *line != "END:VEVENT");
        let event: BTreeMap<String, String> = lines
            .filter_map(|line| line.split_once(':'))
            .map(|(name, value)| (name.to_string(), value.to_string()))
            .collect();
        events.insert(event["SUMMARY"].clone(), event);
    }
    events
}

fn one(shop: &mut Shop, secret: &str, about: &str) -> BTreeMap<String, String> {
    let all = events(&fetched(shop, secret));
    let mut fitting = all.iter().filter(|(title, _)| title.contains(about));
    let found = fitting
        .next()
        .unwrap_or_else(|| panic!("{about} in {all:?}"));
    assert!(fitting.next().is_none(), "{about} is there once: {all:?}");
    found.1.clone()
}

/// Ines follows Alder Street.
fn ines_follows() -> (Shop, Id, String) {
    let mut shop = two_sites_over();
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    assigned(&mut shop, Sort::Site, "Alder Street", Some(ines)).expect("assigned");
    let secret = made(&mut shop, ines, false);
    (shop, ines, secret)
}

const REPAIR: &str = "find the leaks and repair";

#[test]
fn a_change_raises_the_sequence_and_what_is_over_is_called_off() {
    let (mut shop, ines, secret) = ines_follows();
    let first = one(&mut shop, &secret, REPAIR);
    assert_eq!(first["DTSTART;VALUE=DATE"], "20260912");
    assert_eq!(
        (&first["SEQUENCE"][..], &first["STATUS"][..]),
        ("0", "CONFIRMED")
    );
    // 13 August 2026, 18:00 UTC by the clock of these books.
    assert_eq!(first["DTSTAMP"], "20260813T180000Z");
    assert!(first["URL"].starts_with("https://book.example/appliances/"));
    shop.wait_minutes(DAY);
    assert_eq!(one(&mut shop, &secret, REPAIR), first, "nothing changed");
    // 13 September: late.
    shop.wait_minutes(30 * DAY);
    let late = one(&mut shop, &secret, REPAIR);
    assert_eq!((&late["UID"], &late["SEQUENCE"][..]), (&first["UID"], "1"));
    assert!(late["SUMMARY"].starts_with("Late: HG-RACK-A"), "{late:?}");
    // Somebody else does it: gone for her, and back again.
    assigned(&mut shop, Sort::Site, "Alder Street", None).expect("taken back");
    let gone = one(&mut shop, &secret, REPAIR);
    assert_eq!(
        (&gone["SEQUENCE"][..], &gone["STATUS"][..]),
        ("2", "CANCELLED")
    );
    assert_eq!(gone["UID"], first["UID"]);
    shop.wait_minutes(30 * DAY);
    assert!(
        fetched(&mut shop, &secret).contains("STATUS:CANCELLED"),
        "thirty days"
    );
    shop.wait_minutes(1);
    assert!(
        !fetched(&mut shop, &secret).contains("VEVENT"),
        "and no longer"
    );
    assigned(&mut shop, Sort::Site, "Alder Street", Some(ines)).expect("assigned again");
    let back = one(&mut shop, &secret, REPAIR);
    assert_eq!(
        (&back["SEQUENCE"][..], &back["STATUS"][..]),
        ("3", "CONFIRMED")
    );
}

/// RFC 5545, 3.1: lines end in CR LF and hold at most 75 octets. Names of sites, which are those of
/// customers, stand in it only where the person asked for them; hostile ones stay in their line.
#[test]
fn s_a_calendar_names_no_site_unless_it_shall() {
    let (mut shop, ines, secret) = ines_follows();
    let plain = fetched(&mut shop, &secret);
    assert!(
        plain.contains("HG-RACK-A") && !plain.contains("Alder"),
        "{plain}"
    );
    assert!(!plain.contains("5 lb"), "no figures: {plain}");
    let hostile = "Alder, \"Street\"; \\ Näämä 夜 BEGIN VEVENT ".repeat(3);
    shop.register_as("Alder Street", "site", json!({"tag": hostile}));
    let named = made(&mut shop, ines, true);
    let text = fetched(&mut shop, &named);
    assert!(text.contains("Alder\\, "), "commas are escaped: {text}");
    assert!(text.ends_with("END:VCALENDAR\r\n"));
    for line in text.split_terminator("\r\n") {
        assert!(line.len() <= 75, "{} octets: {line}", line.len());
        assert!(!line.contains(['\r', '\n']), "{line:?}");
    }
    let begun = text
        .replace("\r\n ", "")
        .matches("\r\nBEGIN:VEVENT\r\n")
        .count();
    assert_eq!(begun, events(&text).len(), "no name begins an event");
    assert!(text.contains("REFRESH-INTERVAL;VALUE=DURATION:PT6H\r\n"));
}

/// S1, S5: only the hash of an address is kept; what was revoked, belongs to nobody, or to somebody
/// who signs in no longer, opens nothing. Another person's calendar is not there to be revoked.
#[test]
fn s_an_address_holds_until_it_is_revoked_or_its_person_leaves() {
    let (mut shop, ines, secret) = ines_follows();
    assert_eq!(secret.len(), 43, "256 bits, six a character");
    let of = shop.of.clone();
    let own = calendar::list(&mut shop.db, &of, ines).expect("a list");
    let [kept] = &own[..] else {
        panic!("{} calendars", own.len())
    };
    assert!(!format!("{own:?}").contains(&secret));
    let mut almost = secret.clone();
    almost.replace_range(0..1, if secret.starts_with('A') { "B" } else { "A" });
    for wrong in ["", "x", &almost, &format!("{secret}x")] {
        assert!(found(&mut shop, wrong).is_none(), "{wrong}");
    }
    let dov = person(&mut shop, "dov@tamarack.example", &[Role::Technician]);
    let revoke = |shop: &mut Shop, person| {
        calendar::revoke(&mut shop.db, &of, &Asker::HOST, person, kept.id, now()).expect("done")
    };
    assert!(!revoke(&mut shop, dov), "it is not his");
    assert!(found(&mut shop, &secret).is_some());
    assert!(revoke(&mut shop, ines));
    assert!(
        found(&mut shop, &secret).is_none(),
        "from the next fetch on"
    );
    assert!(!revoke(&mut shop, ines), "nothing is left to revoke");
    let second = made(&mut shop, ines, false);
    fetched(&mut shop, &second);
    let by = By {
        actor: &Actor::OPERATOR,
        source: "host",
    };
    shop.managing(|tx| manage_people::disable(tx, by, ines, true))
        .expect("disabled");
    assert!(found(&mut shop, &second).is_none());
    shop.managing(|tx| manage_people::disable(tx, by, ines, false))
        .expect("back");
    assert!(
        found(&mut shop, &second).is_none(),
        "as with tokens, it ended for good"
    );
    for _ in 0..calendar::MOST {
        made(&mut shop, ines, false);
    }
    let one_more = Calendar {
        id: Id::random(),
        ..kept.clone()
    };
    let of = shop.of.clone();
    let refused = calendar::make(&mut shop.db, &of, &Asker::HOST, &one_more);
    assert_eq!(
        refused.expect("looked at"),
        None,
        "a person has at most ten"
    );
}

/// S2 on PostgreSQL: the hash of an address opens the row of its calendar, in no other table anything,
/// and lets nobody change it.
#[test]
fn s2_the_address_of_a_calendar_opens_its_row_only() {
    if !on_postgres() {
        return;
    }
    let (mut shop, _) = two_firms();
    let ines = person(&mut shop, "lone@halfmoon.example", &[Role::Technician]);
    let (secret, other) = (made(&mut shop, ines, false), made(&mut shop, ines, false));
    assert_ne!(secret, other);
    shop.grant_service_role();
    let hash = api::auth::secret::hashed(&secret);
    let hex: String = hash.iter().map(|byte| format!("{byte:02x}")).collect();
    let set = format!("SET LOCAL tarebook.secret = '{hex}'");
    assert_eq!(seen(&shop, &set, "SELECT org FROM calendars"), "2");
    for table in [
        "sessions",
        "tokens",
        "sign_ins",
        "assignments",
        "calendar_steps",
    ] {
        let orgs = format!("SELECT org FROM {table}");
        assert_eq!(seen(&shop, &set, &orgs), "", "{table}");
    }
    let change = "UPDATE calendars SET names = 1 RETURNING org";
    assert_eq!(seen(&shop, &set, change), "");
    let first = "SET LOCAL tarebook.orgs = '1'";
    assert_eq!(
        seen(&shop, first, "SELECT org FROM calendars"),
        "",
        "of the other firm"
    );
    let forged = "INSERT INTO assignments VALUES (2, '\\x01', NULL, 1, NULL, 0)";
    let why = refused(&shop, first, forged);
    assert!(why.contains("row-level security"), "{why}");
}
