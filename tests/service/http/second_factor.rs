//! The second factor over HTTP and on pages, as a person and a program meet it: promises A5, S3, S5.
//! What a code is at a moment is pinned by the vectors of RFC 6238 beside `auth/totp.rs`, and worked
//! out by Python in `tests/independent/second_factor.py`; here it is only typed.

mod host;

use api::auth::totp;
use harness::browsing::{send, sign_in};
use harness::database::Database;
use harness::service::{LOG_FILE, PASSWORD, Reply, Service, Who};
use serde_json::{Value, json};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

const EMAIL: &str = "nadia@tamarack.example";
const WADE: &str = "wade@tamarack.example";
const OF_WADE: &str = "three valves and a kettle";

/// What an app with this seed shows, so many steps from now.
fn shown(seed: &str, steps: i64) -> String {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    let now = i64::try_from(since.expect("a clock").as_micros()).expect("a moment");
    let mut bits = String::new();
    for letter in seed.bytes().filter(u8::is_ascii_alphanumeric) {
        let five = match letter {
            b'A'..=b'Z' => letter - b'A',
            _ => letter - b'2' + 26,
        };
        bits.push_str(&format!("{five:05b}"));
    }
    let byte = |eight: &[u8]| {
        let eight = std::str::from_utf8(eight).expect("digits");
        u8::from_str_radix(eight, 2).expect("a byte")
    };
    let bytes: Vec<u8> = bits.as_bytes().chunks_exact(8).map(byte).collect();
    totp::code(&bytes, totp::step(now) + steps, 6)
}

fn texts(value: &Value) -> Vec<String> {
    let items = value.as_array().expect("a list");
    let text = |item: &Value| item.as_str().expect("text").to_string();
    items.iter().map(text).collect()
}

struct Held {
    who: Who,
    seed: String,
    codes: Vec<String>,
}

/// Sets a factor up through the interface.
fn set_up(service: &Service, email: &str, password: &str) -> Held {
    let who = sign_in(service, email, password);
    let begun = service.post(&who, "/api/v1/second-factor", &json!({}));
    let begun = begun.expect(201).json();
    let seed = begun["seed"].as_str().expect("a seed").to_string();
    let address = begun["address"].as_str().expect("an address");
    assert!(address.starts_with("otpauth://totp/"), "{address}");
    assert!(address.contains(&format!("secret={seed}&")), "{address}");
    let path = "/api/v1/second-factor/confirm";
    let code = json!({"code": shown(&seed, 0)});
    let codes = service.post(&who, path, &code).expect(200).json();
    let codes = texts(&codes["recovery_codes"]);
    Held { who, seed, codes }
}

fn password(service: &Service, email: &str, password: &str) -> Reply {
    let body = json!({"email": email, "password": password});
    service.post(&Who::Nobody, "/api/v1/sessions", &body)
}

fn code(service: &Service, who: &Who, code: &str) -> Reply {
    service.post(who, "/api/v1/sessions/code", &json!({"code": code}))
}

#[test]
fn a_program_shows_the_password_and_then_a_code() {
    let service = Service::stocked();
    let held = set_up(&service, EMAIL, PASSWORD);
    let stands = service.get(&held.who, "/api/v1/second-factor");
    let stands = stands.expect(200).json();
    assert_eq!(stands["recovery_codes_left"], 10);
    assert_eq!(
        (&stands["required_of"], &stands["owed"]),
        (&json!("nobody"), &json!(false))
    );
    let asked = password(&service, EMAIL, PASSWORD).expect_problem(401, "code-needed");
    assert_eq!(asked.json()["asked"], json!(["code", "recovery_code"]));
    let cookie = asked.header("set-cookie").expect("a cookie").to_string();
    for part in ["tarebook-code=", "HttpOnly", "SameSite=Lax", "Max-Age=600"] {
        assert!(cookie.contains(part), "{cookie}");
    }
    // It opens nothing by itself.
    let who = asked.cookies();
    let current = "/api/v1/sessions/current";
    service
        .get(&who, current)
        .expect_problem(401, "not-signed-in");
    let wrong = code(&service, &who, "000000").expect_problem(401, "code-needed");
    assert_eq!(wrong.json()["left"], 4);
    let reply = code(&service, &who, &shown(&held.seed, 1)).expect(201);
    let opened = reply.cookies();
    service.get(&opened, current).expect(200);
    code(&service, &who, &held.codes[0]).expect_problem(401, "not-signed-in");
    // Without a cookie nothing waits.
    code(&service, &Who::Nobody, &held.codes[0]).expect_problem(401, "not-signed-in");
    let who = password(&service, EMAIL, PASSWORD).cookies();
    let opened = code(&service, &who, &held.codes[0]).expect(201).cookies();
    let stands = service.get(&opened, "/api/v1/second-factor").json();
    assert_eq!(stands["recovery_codes_left"], 9);
    let path = "/api/v1/second-factor/off";
    let used = json!({"code": held.codes[0]});
    let refused = service.post(&opened, path, &used);
    refused.expect_problem(422, "invalid-value");
    let left = json!({"code": held.codes[1]});
    service.post(&opened, path, &left).expect(204);
    password(&service, EMAIL, PASSWORD).expect(201);
}

/// S5: neither what the app keeps nor a recovery code stands in the log, in errors or in the bundle.
#[test]
fn s5_seeds_and_codes_stand_in_no_log_and_no_bundle() {
    let log = tempfile::NamedTempFile::new().expect("a file");
    let file = log.path().display().to_string();
    let settings = [("TAREBOOK_LOG_LEVEL", "debug"), (LOG_FILE, file.as_str())];
    let service = Service::on(Database::new(), &settings);
    service.stock(&service.firm);
    let held = set_up(&service, EMAIL, PASSWORD);
    let asked = password(&service, EMAIL, PASSWORD);
    let who = asked.cookies();
    let almost = format!("{}X", held.codes[2]);
    let refused = code(&service, &who, &almost).expect_problem(401, "code-needed");
    code(&service, &who, &held.codes[2]).expect(201);
    let bundle = service.get(&service.firm.manager, "/api/v1/log/bundle");
    let bundle = bundle.expect(200).text();
    let told = std::fs::read_to_string(log.path()).expect("a log");
    assert!(told.contains("/api/v1/second-factor/confirm"), "{told}");
    let Who::Cookie(half) = &who else {
        panic!("a cookie")
    };
    let half = half.split('=').next_back().expect("a secret").to_string();
    let hidden = [held.seed.clone(), half, almost];
    for secret in hidden.iter().chain(&held.codes) {
        assert!(!told.contains(secret), "{secret} stands in the log");
        assert!(!bundle.contains(secret), "{secret} stands in the bundle");
        assert!(!refused.text().contains(secret), "{secret} comes back");
    }
}

/// Sends a form that brings no token, as those at the door.
fn form(service: &Service, path: &str, who: &Who, boxes: &str) -> Reply {
    let headers = [
        ("Sec-Fetch-Site", "same-origin"),
        ("Content-Type", "application/x-www-form-urlencoded"),
    ];
    service.send(who, "POST", path, &headers, Some(boxes.as_bytes()))
}

/// Sets a factor up on pages; gives its seed and a recovery code.
fn set_up_on_pages(service: &Service) -> (String, String) {
    let who = sign_in(service, EMAIL, PASSWORD);
    let own = service.get(&who, "/me").expect(200).text();
    assert!(own.contains("the password alone opens the book"), "{own}");
    let page = service.get(&who, "/me/factor").expect(200).text();
    let begun = send(service, &who, &page, "/me/factor/begin", &[]);
    let begun = begun.expect(200).text();
    assert!(begun.contains("<svg class=\"qr seed\""), "{begun}");
    let (_, seed) = begun.split_once("seed-letters\">").expect("letters");
    let seed = seed.split('<').next().expect("letters").to_string();
    assert_eq!(seed.replace(' ', "").len(), 32, "160 bits in base 32");
    let wrong = [("code", "000000")];
    let refused = send(service, &who, &begun, "/me/factor/confirm", &wrong);
    let refused = refused.expect(422).text();
    assert!(refused.contains("Nothing was changed"), "{refused}");
    assert!(!refused.contains(&seed), "the seed is shown once");
    let now = shown(&seed, 0);
    let good = [("code", now.as_str())];
    let codes = send(service, &who, &refused, "/me/factor/confirm", &good);
    let codes = codes.expect(200).text();
    let listed: Vec<&str> = codes.split("<code>").skip(1).collect();
    assert_eq!(listed.len(), 10, "{codes}");
    let recovery = listed[0].split('<').next().expect("a code").to_string();
    let own = service.get(&who, "/me").expect(200).text();
    assert!(own.contains("10 recovery codes left"), "{own}");
    (seed, recovery)
}

/// The same on pages, without any script.
#[test]
fn a_person_sets_it_up_on_a_page_and_signs_in_on_two() {
    let service = Service::stocked();
    let (seed, recovery) = set_up_on_pages(&service);
    let boxes = format!(
        "next=%2Fcylinders&email={EMAIL}&password={}",
        PASSWORD.replace(' ', "+")
    );
    let asked = form(&service, "/sign-in", &Who::Nobody, &boxes).expect(303);
    assert_eq!(
        asked.header("location"),
        Some("/sign-in/code?next=%2Fcylinders")
    );
    let half = asked.cookies();
    let page = service.get(&half, "/sign-in/code?next=%2Fcylinders");
    let page = page.expect(200).text();
    assert!(page.contains("autocomplete=\"one-time-code\""), "{page}");
    let wrong = form(
        &service,
        "/sign-in/code",
        &half,
        "next=%2Fcylinders&code=000000",
    );
    let wrong = wrong.expect(401).text();
    assert!(wrong.contains("4 tries left"), "{wrong}");
    let boxes = format!("next=%2Fcylinders&code={recovery}");
    let opened = form(&service, "/sign-in/code", &half, &boxes).expect(303);
    assert_eq!(opened.header("location"), Some("/cylinders"));
    service.get(&opened.cookies(), "/cylinders").expect(200);
    let over = form(&service, "/sign-in/code", &half, &boxes)
        .expect(401)
        .text();
    assert!(over.contains("Begin again with the password"), "{over}");
    let nothing = service.get(&Who::Nobody, "/sign-in/code").expect(303);
    assert_eq!(nothing.header("location"), Some("/sign-in?next=%2F"));
    // Given up on the page; the password is enough again.
    let who = opened.cookies();
    let page = service.get(&who, "/me/factor").expect(200).text();
    let next = shown(&seed, 1);
    let off = send(
        &service,
        &who,
        &page,
        "/me/factor/off",
        &[("code", next.as_str())],
    );
    assert_eq!(
        off.expect(303).header("location"),
        Some("/me?done=factor-off")
    );
    sign_in(&service, EMAIL, PASSWORD);
}

fn administrator(service: &Service) -> Who {
    let wade = json!({"entry_id": "01981f00-0000-7000-8000-00000000000a", "email": WADE,
                      "tag": "WADE", "roles": ["administrator"], "password": OF_WADE});
    service
        .post(&service.firm.administrator, "/api/v1/people", &wade)
        .expect(201);
    sign_in(service, WADE, OF_WADE)
}

/// S3: whoever must have a factor and has none does nothing else, from the next request on; programs
/// with tokens go on.
#[test]
fn s3_whoever_must_and_has_not_does_nothing_else() {
    let service = Service::stocked();
    let (wade, nadia) = (administrator(&service), sign_in(&service, EMAIL, PASSWORD));
    let page = service.get(&wade, "/people").expect(200).text();
    assert!(page.contains("Who must have one"), "{page}");
    let path = "/api/v1/second-factor/required";
    let asked = json!({"required_of": "managers_and_administrators"});
    service
        .post(&nadia, path, &asked)
        .expect_problem(403, "forbidden");
    service
        .post(&service.firm.administrator, path, &asked)
        .expect_problem(403, "forbidden");
    let odd = service.post(&wade, path, &json!({"required_of": "some"}));
    odd.expect_problem(422, "invalid-value");
    let office = [("required_of", "managers_and_administrators")];
    let set = send(&service, &wade, &page, "/people/second-factor", &office).expect(303);
    assert_eq!(set.header("location"), Some("/people?done=second-factor"));
    for (who, path) in [
        (&wade, "/people"),
        (&nadia, "/today"),
        (&nadia, "/"),
        (&nadia, "/me"),
    ] {
        let led = service.get(who, path).expect(303);
        assert_eq!(led.header("location"), Some("/me/factor"), "{path}");
    }
    let appliance = "/api/v1/appliances/HG-RACK-A";
    service
        .get(&nadia, appliance)
        .expect_problem(401, "factor-needed");
    service
        .entry(&nadia, harness::service::charge("1 lb"))
        .expect_problem(401, "factor-needed");
    service.get(&service.firm.manager, appliance).expect(200);
    let page = service.get(&nadia, "/me/factor").expect(200).text();
    assert!(page.contains("asks for a second factor"), "{page}");
    let form = send(
        &service,
        &nadia,
        &page,
        "/me/password",
        &[("password", "x")],
    );
    let form = form.expect(401).text();
    assert!(form.contains("A second factor first"), "{form}");
    // A sign-in anew says so; setting it up opens the book.
    let opened = password(&service, EMAIL, PASSWORD).expect(201);
    assert_eq!(opened.json()["second_factor_owed"], true);
    let held = set_up(&service, EMAIL, PASSWORD);
    service.get(&held.who, appliance).expect(200);
    service.get(&held.who, "/today").expect(200);
    let current = "/api/v1/sessions/current";
    let current = service.get(&held.who, current).expect(200).json();
    assert_eq!(current["second_factor_owed"], false);
    service
        .get(&nadia, appliance)
        .expect_problem(401, "not-signed-in");
}

/// S3: a lost factor is reset by an administrator whose password is fresh, and its owner is told.
#[test]
fn s3_a_lost_factor_is_reset_on_a_page_and_its_owner_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().display().to_string();
    let settings = [
        ("TAREBOOK_MAIL_TRANSPORT", "file"),
        ("TAREBOOK_MAIL_FOLDER", path.as_str()),
        ("TAREBOOK_MAIL_FROM", "book@tamarack.example"),
        ("TAREBOOK_ORIGIN", "http://book.example"),
    ];
    let service = Service::on(Database::new(), &settings);
    let wade = administrator(&service);
    let held = set_up(&service, EMAIL, PASSWORD);
    let people = service.get(&wade, "/api/v1/people").expect(200).json();
    let people = people["items"].as_array().expect("people");
    let nadia = people.iter().find(|it| it["email"] == EMAIL);
    let nadia = nadia.expect("Nadia");
    assert_eq!(nadia["has_second_factor"], true);
    let id = nadia["id"].as_str().expect("an id");
    let change = json!({"reset_factor": true});
    let program = &service.firm.administrator;
    let headers = [("If-Match", "*")];
    let body = change.to_string();
    let patched = service.send(
        program,
        "PATCH",
        &format!("/api/v1/people/{id}"),
        &headers,
        Some(body.as_bytes()),
    );
    patched.expect_problem(403, "forbidden");
    let path = format!("/people/{id}");
    let page = service.get(&wade, &path).expect(200).text();
    let version = harness::browsing::hidden(&page, "version");
    let boxes = [("version", version.as_str()), ("change", "factor")];
    let reset = send(&service, &wade, &page, &path, &boxes).expect(303);
    let expected = format!("{path}?done=factor");
    assert_eq!(reset.header("location"), Some(expected.as_str()));
    service
        .get(&held.who, "/api/v1/sessions/current")
        .expect_problem(401, "not-signed-in");
    password(&service, EMAIL, PASSWORD).expect(201);
    let until = Instant::now() + Duration::from_secs(20);
    let letter = loop {
        let files = std::fs::read_dir(folder.path()).expect("a folder");
        let paths = files.map(|file| file.expect("readable").path());
        let mut whole = paths.filter(|path| path.extension().is_some_and(|it| it == "eml"));
        if let Some(path) = whole.next() {
            break std::fs::read_to_string(path).expect("a message");
        }
        assert!(Instant::now() < until, "no mail came");
        std::thread::sleep(Duration::from_millis(100));
    };
    assert!(
        letter.contains("Subject: Your second factor was reset"),
        "{letter}"
    );
    assert!(letter.contains(&format!("To: {EMAIL}")), "{letter}");
    // Nobody chose it, so nothing offers to stop it.
    assert!(!letter.contains("List-Unsubscribe"), "{letter}");
    assert!(!letter.contains("/mail/stop/"), "{letter}");
    let records = service.get(&wade, "/records").expect(200).text();
    assert!(records.contains("Reset a second factor"), "{records}");
}
