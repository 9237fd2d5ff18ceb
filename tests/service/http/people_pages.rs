//! The pages of people, tokens, records and one's own sign-in: promises S3 (what the table of roles
//! does not allow is refused) and S6 (who reads personal data leaves a record), seen through the
//! forms that a browser sends. Who may do what is the table that `tests/service/people.rs` holds against
//! the decided one; expected texts are read as a person reads the page.

use api::auth::mail::{MailKind, Message, Stand};
use api::ledger::id::Id;
use api::store::outgoing::{self, Came};
use api::store::{Db, Purpose, Sight};
use harness::browsing::{hidden, send, sign_in};
use harness::service::{PASSWORD, Service, Who};
use harness::shop::address;
use serde_json::json;

const TAM: &str = "a ladder and two gauges";

fn administrator(service: &Service) -> Who {
    let wade = json!({"entry_id": "01981f00-0000-7000-8000-00000000000a",
                      "email": "wade@tamarack.example", "name": "Wade Ost", "tag": "WADE",
                      "roles": ["administrator"], "password": "three valves and a kettle"});
    service
        .post(&service.firm.administrator, "/api/v1/people", &wade)
        .expect(201);
    sign_in(
        service,
        "wade@tamarack.example",
        "three valves and a kettle",
    )
}

/// S3: an administrator adds somebody by a form, once however often it is pressed.
#[test]
fn s3_somebody_is_added_on_a_page() {
    let service = Service::stocked();
    let wade = administrator(&service);
    let begin = service.get(&wade, "/").expect(303);
    assert_eq!(begin.header("location"), Some("/people"));
    let page = service.get(&wade, "/people").expect(200).text();
    assert!(page.contains("nadia@tamarack.example"), "{page}");
    let entry = hidden(&page, "entry_id");
    let new = [
        ("entry_id", entry.as_str()),
        ("email", "tam@tamarack.example"),
        ("name", "Tam <Oakes>"),
        ("tag", "TAM"),
        ("role", "technician"),
    ];
    let weak = [&new[..], &[("password", "short")]].concat();
    let refused = send(&service, &wade, &page, "/people", &weak)
        .expect(422)
        .text();
    assert!(refused.contains("Nobody was added"), "{refused}");
    assert!(
        refused.contains("value=\"tam@tamarack.example\""),
        "what was typed stays"
    );
    assert!(!refused.contains("short\""), "a password never comes back");
    let good = [&new[..], &[("password", TAM)]].concat();
    let added = send(&service, &wade, &page, "/people", &good).expect(303);
    let again = send(&service, &wade, &page, "/people", &good).expect(303);
    let path = added.header("location").expect("a page").to_string();
    assert_eq!(
        again.header("location"),
        Some(path.as_str()),
        "pressed twice, added once"
    );
    let path = path.split('?').next().unwrap_or_default();
    let page = service.get(&wade, path).expect(200).text();
    assert!(
        page.contains("Tam &#60;Oakes&#62;"),
        "names are text: {page}"
    );
    sign_in(&service, "tam@tamarack.example", TAM);
}

/// S3: an administrator changes roles and shuts somebody out by forms; what is stale changes nothing.
#[test]
fn s3_people_are_changed_on_pages() {
    let service = Service::stocked();
    let wade = administrator(&service);
    let new = json!({"entry_id": "01981f00-0000-7000-8000-00000000000c", "tag": "TAM",
                     "email": "tam@tamarack.example", "roles": ["technician"], "password": TAM});
    let added = service.post(&service.firm.administrator, "/api/v1/people", &new);
    let path =
        added.expect(201).header("location").expect("an address")["/api/v1".len()..].to_string();
    let path = path.as_str();
    let page = service.get(&wade, path).expect(200).text();
    let version = hidden(&page, "version");
    let tam = sign_in(&service, "tam@tamarack.example", TAM);

    let roles = [
        ("version", version.as_str()),
        ("change", "roles"),
        ("role", "technician"),
        ("role", "auditor"),
    ];
    send(&service, &wade, &page, path, &roles).expect(303);
    let stale = send(&service, &wade, &page, path, &roles)
        .expect(412)
        .text();
    assert!(
        stale.contains("Somebody else changed it meanwhile"),
        "{stale}"
    );
    let version = hidden(&stale, "version");
    let none = [("version", version.as_str()), ("change", "roles")];
    let none = send(&service, &wade, &stale, path, &none)
        .expect(422)
        .text();
    assert!(none.contains("Nothing was changed"), "{none}");
    // What was open before ended; an auditor reads who may sign in and changes nothing.
    service.get(&tam, "/me").expect(303);
    let tam = sign_in(&service, "tam@tamarack.example", TAM);
    let seen = service.get(&tam, "/people").expect(200).text();
    assert!(
        !seen.contains("Somebody new") && !seen.contains(path),
        "{seen}"
    );
    service.get(&tam, path).expect(403);

    let out = [("version", version.as_str()), ("change", "disable")];
    send(&service, &wade, &stale, path, &out).expect(303);
    let gone = service.get(&tam, "/me").expect(303);
    assert!(
        gone.header("location")
            .is_some_and(|it| it.starts_with("/sign-in"))
    );
    let records = service.get(&wade, "/records").expect(200).text();
    for what in ["Added somebody", "Changed roles", "Shut somebody out"] {
        assert!(records.contains(what), "{what} is missing in {records}");
    }
    assert!(!records.contains(TAM));
}

/// S3: nobody changes their own roles; a technician sees no page of everybody; forms of another
/// session are refused.
#[test]
fn s3_pages_refuse_what_the_table_refuses() {
    let service = Service::stocked();
    let wade = administrator(&service);
    let page = service.get(&wade, "/people").expect(200).text();
    let own = page
        .split("href=\"/people/")
        .skip(1)
        .filter_map(|rest| rest.split('"').next())
        .map(|id| {
            service
                .get(&wade, &format!("/people/{id}"))
                .expect(200)
                .text()
        })
        .find(|page| page.contains("This is you"));
    let own = own.expect("a page of one's own");
    assert!(!own.contains("name=\"change\""), "no form for oneself");
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let ines = json!({"entry_id": "01981f00-0000-7000-8000-00000000000b",
                      "email": "ida@tamarack.example", "roles": ["technician"], "password": TAM});
    service
        .post(&service.firm.administrator, "/api/v1/people", &ines)
        .expect(201);
    let ida = sign_in(&service, "ida@tamarack.example", TAM);
    for path in ["/people", "/devices"] {
        service.get(&ida, path).expect(403);
    }
    let mine = service.get(&ida, "/records").expect(200).text();
    assert!(
        mine.contains("ida@tamarack.example") && !mine.contains("Wade"),
        "{mine}"
    );
    // A form with the token of somebody else's session.
    let other = service.get(&nadia, "/me").expect(200).text();
    let refused = send(&service, &ida, &other, "/me/password", &[("password", TAM)]);
    assert!(refused.expect(403).text().contains("too old"));
}

/// One's own password is changed within five minutes of signing in: the old one opens nothing any
/// longer. A session ends where its owner ends it; the password once more leads only to pages of ours.
#[test]
fn somebody_changes_their_own_password_and_ends_sessions() {
    let service = Service::stocked();
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let other = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let page = service.get(&nadia, "/me").expect(200).text();
    assert!(page.contains("this browser"), "{page}");
    let (_, end) = page
        .split_once("action=\"/me/sessions/")
        .expect("another session");
    let id = end.split('/').next().unwrap_or_default();
    let ended = send(
        &service,
        &nadia,
        &page,
        &format!("/me/sessions/{id}/end"),
        &[],
    )
    .expect(303);
    assert_eq!(ended.header("location"), Some("/me?done=ended"));
    service.get(&other, "/me").expect(303);

    let new = "nine copper elbows in a row";
    let unequal = [("password", new), ("repeated", "nine copper elbows")];
    let unequal = send(&service, &nadia, &page, "/me/password", &unequal)
        .expect(422)
        .text();
    assert!(unequal.contains("the same password twice"), "{unequal}");
    let equal = [("password", new), ("repeated", new)];
    send(&service, &nadia, &page, "/me/password", &equal).expect(303);
    let old = json!({"email": "nadia@tamarack.example", "password": PASSWORD});
    service
        .post(&Who::Nobody, "/api/v1/sessions", &old)
        .expect_problem(401, "not-signed-in");
    sign_in(&service, "nadia@tamarack.example", new);

    let wrong = [("password", "not the one at all"), ("next", "/devices")];
    let wrong = send(&service, &nadia, &page, "/me/again", &wrong)
        .expect(422)
        .text();
    assert!(wrong.contains("This is not your password"), "{wrong}");
    let right = [("password", new), ("next", "//evil.example")];
    let right = send(&service, &nadia, &page, "/me/again", &right).expect(303);
    assert_eq!(
        right.header("location"),
        Some("/"),
        "only paths of ours are gone to"
    );
}

/// A token is issued on a page by a manager, shown once, and revoked there.
#[test]
fn tokens_are_issued_and_revoked_on_a_page() {
    let service = Service::stocked();
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    let page = service.get(&nadia, "/devices").expect(200).text();
    let unknown = [("name", "scale on the bench"), ("places", "cylinder:NONE")];
    let unknown = send(&service, &nadia, &page, "/devices", &unknown)
        .expect(422)
        .text();
    assert!(
        unknown.contains("No token was issued") && unknown.contains("NONE"),
        "{unknown}"
    );
    let days = [("name", "scale on the bench"), ("days", "many")];
    let days = send(&service, &nadia, &page, "/devices", &days)
        .expect(422)
        .text();
    assert!(days.contains("days as a number"), "{days}");
    let good = [
        ("name", "scale on the bench"),
        ("places", "cylinder:SUP-88231, appliance:HG-RACK-A"),
        ("refrigerants", "R-448A"),
        ("days", "30"),
    ];
    let issued = send(&service, &nadia, &page, "/devices", &good)
        .expect(200)
        .text();
    let (_, rest) = issued.split_once("readonly value=\"").expect("a secret");
    let secret = rest.split('"').next().unwrap_or_default().to_string();
    let device = Who::Token(secret.clone());
    service.booked(&device, harness::service::charge("1 lb"));
    let page = service.get(&nadia, "/devices").expect(200).text();
    assert!(!page.contains(&secret), "shown once");
    let mine = page.find("scale on the bench").expect("it is listed");
    let (_, rest) = page[mine..]
        .split_once("action=\"/devices/")
        .expect("a button");
    let id = rest.split('/').next().unwrap_or_default();
    send(
        &service,
        &nadia,
        &page,
        &format!("/devices/{id}/revoke"),
        &[],
    )
    .expect(303);
    service
        .entry(&device, harness::service::charge("1 lb"))
        .expect_problem(401, "not-signed-in");
}

/// A message that failed, as the sender left it.
fn failed_message(service: &Service) {
    let mut db = Db::open(&address(&service.database), Purpose::Write, false)
        .and_then(Db::as_operator)
        .expect("a database");
    let org = service.firm.of.org;
    let message = Message {
        id: Id::random(),
        person: Id::random(),
        kind: MailKind::Daily,
        subject: "Your duties: HG-RACK-A".to_string(),
        body: "HG-RACK-A is late".to_string(),
        made_at: 1_784_052_000_000_000,
        stand: Stand::Waiting,
        attempts: 0,
        next_at: 0,
        ended_at: 0,
        why: String::new(),
    };
    let (holder, now) = (Id::random(), 1_784_052_000_000_000);
    let sight = Sight::Organisations(&[org]);
    let left = db.writing(sight, |db| {
        outgoing::add(db, org, &message)?;
        let held = outgoing::hold(db, org, holder, now, now + 1)?.expect("held");
        let why = Came::Failed("550 no such mailbox");
        outgoing::conclude(db, org, &held, holder, why, now)
    });
    left.expect("left");
}

/// The administrator sees on a page what mail failed and why, without what it says, and lets it be
/// tried again; a manager, who handles figures, and a technician do not.
#[test]
fn s3_an_administrator_sees_failed_mail_and_has_it_tried_again() {
    let service = Service::stocked();
    let wade = administrator(&service);
    let none = service.get(&wade, "/mail/messages").expect(200).text();
    assert!(none.contains("No message was made"), "{none}");
    failed_message(&service);
    let people = service.get(&wade, "/people").expect(200).text();
    assert!(people.contains("href=\"/mail/messages\""), "{people}");
    let page = service.get(&wade, "/mail/messages").expect(200).text();
    for part in ["One message failed, none waits.", "550 no such mailbox"] {
        assert!(page.contains(part), "{part} in {page}");
    }
    assert!(
        !page.contains("HG-RACK-A"),
        "neither subject nor text: {page}"
    );
    let (_, rest) = page.split_once("action=\"/mail/messages/").expect("a form");
    let id = rest.split('/').next().expect("an id");
    let again = format!("/mail/messages/{id}/again");
    let nadia = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    service.get(&nadia, "/mail/messages").expect(403);
    let own = service.get(&nadia, "/me").expect(200).text();
    send(&service, &nadia, &own, &again, &[]).expect(403);
    let done = send(&service, &wade, &page, &again, &[]).expect(303);
    let place = done.header("location").expect("a place");
    let waits = service.get(&wade, place).expect(200).text();
    assert!(waits.contains("No message failed, one waits."), "{waits}");
    // Pressed twice: it does not fail any more.
    send(&service, &wade, &page, &again, &[]).expect(404);
}
