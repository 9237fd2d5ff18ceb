//! The technician's pages as a phone keeps them: what it has already is not sent again, cylinders are
//! found by tag and by code, and go from hand to hand. Expected texts are read as a person reads the
//! page; the rules of a conditional request are those of RFC 9110, section 13.1.2.

use harness::browsing::{hidden, send, sign_in};
use harness::service::{PASSWORD, Service, Who};
use serde_json::{Value, json};

const KEPT: [&str; 6] = [
    "/field",
    "/field/cage",
    "/field/cylinders",
    "/field/cylinders/SUP-88231",
    "/field/appliances/HG-RACK-A",
    "/appliances/HG-RACK-A/charge",
];

/// A page that says the same is answered with 304 and no body; one that says something else comes whole,
/// and to somebody else it comes whole, too.
#[test]
fn what_a_phone_has_is_not_sent_again() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    let prints = KEPT.map(|path| {
        let reply = service.get(&ines, path).expect(200);
        let print = reply.header("etag").expect("a print").to_string();
        assert!(print.starts_with("W/\""), "{path}: {print}");
        print
    });
    let again = |who: &Who, at: usize| {
        let has = [("If-None-Match", prints[at].as_str())];
        service.send(who, "GET", KEPT[at], &has, None)
    };
    for (at, path) in KEPT.iter().enumerate() {
        let same = again(&ines, at).expect(304);
        assert_eq!(same.body.len(), 0, "{path}");
        assert_eq!(same.header("etag"), Some(prints[at].as_str()), "{path}");
        assert!(same.header("date").is_some(), "{path}");
    }
    let other = sign_in(&service, "nadia@tamarack.example", PASSWORD);
    again(&other, 5).expect(200);
    // 8 oz leave the cylinder: every page that names it or the appliance says something else now.
    service.booked(
        &ines,
        json!({"kind": "charge", "body": {"from": "cylinder:SUP-88231",
               "to": "appliance:HG-RACK-A", "refrigerant": "R-448A", "mass": "8 oz"}}),
    );
    for (at, path) in KEPT.iter().enumerate().skip(1) {
        let changed = again(&ines, at).expect(200);
        assert_ne!(changed.header("etag"), Some(prints[at].as_str()), "{path}");
    }
}

fn code_of(service: &Service, who: &Who, tag: &str) -> String {
    let list: Value = service.get(who, "/field/cylinders").expect(200).json();
    let all = list["cylinders"].as_array().expect("a list");
    let one = all.iter().find(|one| one["tag"] == tag).expect("it");
    one["code"].as_str().expect("a code").to_string()
}

/// The tag, its beginning and the code of the label find a cylinder; its card says what must be known.
#[test]
fn a_cylinder_is_found_by_its_tag_and_by_its_code() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    let code = code_of(&service, &ines, "SUP-88231");
    assert!(code.len() == 8 && code.starts_with('C'), "{code}");
    let card = "/field/cylinders/SUP-88231";
    let found = service.get(&ines, "/field?find=SUP-88231").expect(303);
    assert_eq!(found.header("location"), Some(card));
    let by_code = service
        .get(&ines, &format!("/field?find={code}"))
        .expect(303);
    let label = by_code.header("location").expect("a label").to_string();
    let found = service.get(&ines, &label).expect(303);
    assert_eq!(found.header("location"), Some(card));
    let begun = service.get(&ines, "/field?find=SUP").expect(200).text();
    assert!(begun.contains(card), "{begun}");
    let page = service.get(&ines, card).expect(200).text();
    for part in [
        "R-448A",
        "Room left",
        "Disposable: never refilled",
        "Test due",
        "Charge from it",
    ] {
        assert!(page.contains(part), "{part} in {page}");
    }
    assert!(
        !page.contains("Recover into it"),
        "a disposable one takes nothing"
    );
    // From the card to the form, with the cylinder written in it.
    let form = service.get(&ines, &format!("{card}?appliance=HG-RACK-A&deed=charge"));
    let form = form
        .expect(303)
        .header("location")
        .expect("a form")
        .to_string();
    let form = service.get(&ines, &form).expect(200).text();
    assert!(
        form.contains("value=\"SUP-88231\" aria-describedby"),
        "{form}"
    );
    let missed = service.get(&ines, &format!("{card}?appliance=NO-SUCH-1&deed=charge"));
    let missed = missed.expect(200).text();
    assert!(
        missed.contains("No appliance has the tag NO-SUCH-1"),
        "{missed}"
    );
    let label = service.get(&ines, "/labels?of=cylinders&ids=SUP-88231,TR-0417");
    let label = label.expect(200).text();
    assert_eq!(label.matches("DO NOT REFILL").count(), 1, "{label}");
}

/// The newest entry says who has the cylinder, on its own page and among the entries of its person.
fn said_in_words(service: &Service, ines: &Who) {
    let mine = service.get(ines, "/field/me").expect(200).text();
    for part in ["Held by nadia", "TR-0417"] {
        assert!(mine.contains(part), "{part} in {mine}");
    }
    let about = service
        .get(ines, "/api/v1/entries?limit=500")
        .expect(200)
        .json();
    let newest = about["items"]
        .as_array()
        .and_then(|all| all.last())
        .expect("an entry");
    let receipt = service
        .get(ines, &format!("/entries/{}", newest["seq"]))
        .expect(200)
        .text();
    assert!(receipt.contains("Held by nadia: TR-0417."), "{receipt}");
}

/// Custody: taken, given to a colleague, given back to the shop; each a dated fact of the book.
#[test]
fn a_cylinder_goes_from_hand_to_hand() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    let card = "/field/cylinders/TR-0417";
    let page = service.get(&ines, card).expect(200).text();
    let mark = "<form class=\"custody\" action=\"";
    let (_, rest) = page.split_once(mark).expect("a form of custody");
    let path = rest.split('"').next().expect("where").to_string();
    let hand = |to: &str| {
        let page = service.get(&ines, card).expect(200).text();
        let boxes = [("entry_id", &*hidden(&page, "entry_id")), ("to", to)]
            .map(|(n, v)| (n, v.to_string()));
        let boxes = boxes
            .each_ref()
            .map(|(name, value)| (*name, value.as_str()));
        send(&service, &ines, &page, &path, &boxes)
    };
    let taken = hand("").expect(303);
    assert_eq!(taken.header("location"), Some(card));
    let own = service.get(&ines, card).expect(200).text();
    assert!(own.contains("with you") && own.contains("Give it"), "{own}");
    let list = service.get(&ines, "/field/cage").expect(200).text();
    assert!(list.contains("<h2>With me</h2>"), "{list}");
    let people: Vec<&str> = own.split("<option value=\"").skip(1).collect();
    let nadia = people.iter().find(|one| one.contains(">nadia<"));
    let nadia = nadia
        .expect("a colleague")
        .split('"')
        .next()
        .expect("an id");
    hand(nadia).expect(303);
    let given = service.get(&ines, card).expect(200).text();
    assert!(given.contains("held by nadia"), "{given}");
    // Only who carries cylinders can be given one, by their roles; what was booked is said in words.
    let names: Vec<&str> = people
        .iter()
        .map(|one| one.split(['>', '<']).nth(1).unwrap_or_default())
        .collect();
    assert!(
        !names.contains(&"otto") && !names.contains(&"juno"),
        "{names:?}"
    );
    said_in_words(&service, &ines);
    hand("shop").expect(303);
    let back = service.get(&ines, card).expect(200).text();
    assert!(back.contains("held by the shop"), "{back}");
    hand("00000000-0000-7000-8000-000000000000").expect(404);
    let facts = service
        .get(&ines, "/api/v1/cylinders/TR-0417")
        .expect(200)
        .json();
    assert_eq!(
        facts["facts"]["held_by"].as_array().map(Vec::len),
        Some(1),
        "of one day the last holds: {facts}"
    );
}

/// Small letters find what stands in capitals, and nobody is led to register it a second time.
#[test]
fn small_letters_find_what_stands_in_capitals() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    for (asked, card) in [
        ("/field?find=hg-rack-a", "/field/appliances/HG-RACK-A"),
        ("/field?find=sup-88231", "/field/cylinders/SUP-88231"),
        ("/appliances?find=hg-rack-a", "/appliances/HG-RACK-A"),
    ] {
        let found = service.get(&ines, asked).expect(303);
        assert_eq!(found.header("location"), Some(card), "{asked}");
    }
    for (asked, card) in [
        ("/field?find=sup", "/field/cylinders/SUP-88231"),
        ("/field?find=hg-r", "/field/appliances/HG-RACK-A"),
        ("/appliances?find=hg-r", "/appliances/HG-RACK-A"),
    ] {
        let list = service.get(&ines, asked).expect(200).text();
        assert!(list.contains(card), "{asked}: {list}");
    }
    let new = |tag: &str| {
        let page = service.get(&ines, &format!("/field/new?tag={tag}"));
        page.expect(200).text()
    };
    assert!(new("hg-rack-z").contains("value=\"hg-rack-z\""));
    assert!(!new("hg-rack-a").contains("value=\"hg-rack-a\""));
    let card = "/field/cylinders/SUP-88231?appliance=hg-rack-a&deed=charge";
    let form = service.get(&ines, card).expect(303);
    let form = form.header("location").expect("a form");
    assert!(form.starts_with("/appliances/HG-RACK-A/charge"), "{form}");
}

/// What a phone without signal knows of the appliances: their tags.
#[test]
fn a_phone_carries_the_tags_of_all_appliances() {
    let service = Service::stocked();
    let ines = sign_in(&service, "ines@tamarack.example", PASSWORD);
    let list: Value = service.get(&ines, "/field/cylinders").expect(200).json();
    let units = list["units"].as_array().expect("tags");
    assert!(units.contains(&json!("HG-RACK-A")), "{list}");
    assert!(list["near"].is_array(), "{list}");
}
