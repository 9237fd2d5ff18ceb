//! Mail: each morning's lists and reminders, once, to whoever chose them and still may be written to.
//!
//! The messages lie in a folder and are read back by a library that did not write them. Days by hand:
//! the repair at HG-RACK-A is due on 12 September 2026 (duties.rs works it out); 14 days before is
//! 29 August, 3 days before 9 September.

use crate::duties::{adopt, assigned, charge, two_sites_over};
use crate::row_security::{on_postgres, refused, seen};
use crate::signing_in::person;
use api::actions::mail::Making;
use api::actions::manage_people::{self, By};
use api::actions::show::duties::{self, DutiesAsked};
use api::auth::access::Asker;
use api::auth::mail::{self, Choice, Digest};
use api::ledger::actor::{Actor, Role};
use api::ledger::id::Id;
use api::service::mail::{Carrier, Done, MailPlan, Way, round};
use api::store::columns::Sort;
use api::store::outgoing::Stand;
use api::store::{Address, Db, Purpose};
use harness::people::SERVICE;
use harness::shop::{Shop, now};
use mail_parser::{HeaderValue, MessageParser};
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet};
use tempfile::TempDir;

const DAY: i64 = 24 * 60;
const REPAIR: &str = "find the leaks and repair";
const HOST: By<'_> = By {
    actor: &Actor::OPERATOR,
    source: "host",
};

/// A folder that messages fall into.
struct Box {
    folder: TempDir,
    plan: MailPlan,
}

/// A message as another library reads it.
#[derive(Clone, Debug)]
struct Read {
    id: String,
    to: String,
    subject: String,
    body: String,
    stop: String,
    headers: Vec<String>,
    raw: String,
}

impl Box {
    fn new() -> Box {
        let folder = TempDir::new().expect("a folder");
        let plan = MailPlan {
            making: Making {
                hour: 6,
                base: "https://book.example".to_string(),
            },
            from: "Book <book@tamarack.example>".parse().expect("a sender"),
            host: "book.example".to_string(),
            way: Way::Folder(folder.path().to_path_buf()),
        };
        Box { folder, plan }
    }

    fn round_on(&self, db: &mut Db) -> Done {
        let carrier = Carrier::of(&self.plan).expect("a carrier");
        round(db, &self.plan, &carrier, now, || true).expect("a round")
    }

    fn round(&self, shop: &mut Shop) -> Done {
        self.round_on(&mut shop.db)
    }

    /// Takes the messages out.
    fn emptied(&self) -> Vec<Read> {
        let mut all = Vec::new();
        for file in std::fs::read_dir(self.folder.path()).expect("a folder") {
            let path = file.expect("readable").path();
            assert_eq!(path.extension().and_then(|it| it.to_str()), Some("eml"));
            all.push(read(&std::fs::read(&path).expect("a message")));
            std::fs::remove_file(path).expect("taken out");
        }
        all.sort_by(|one, other| (&one.to, &one.subject).cmp(&(&other.to, &other.subject)));
        all
    }
}

fn read(bytes: &[u8]) -> Read {
    let message = MessageParser::default().parse(bytes).expect("a message");
    let header = |name: &str| match message.header(name) {
        Some(HeaderValue::Text(text)) => text.to_string(),
        Some(HeaderValue::Address(all)) => {
            let first = all.first().and_then(|one| one.address());
            first.unwrap_or_default().to_string()
        }
        _ => String::new(),
    };
    assert_eq!(header("Auto-Submitted"), "auto-generated");
    let stop = message.header_raw("List-Unsubscribe").expect("a way out");
    let stop = stop.trim().trim_start_matches('<').trim_end_matches('>');
    let one_click = message.header_raw("List-Unsubscribe-Post").map(str::trim);
    assert_eq!(one_click, Some("List-Unsubscribe=One-Click"));
    let body = message
        .body_text(0)
        .expect("plain text")
        .replace("\r\n", "\n");
    assert!(body.contains(stop), "people find it, too: {body}");
    Read {
        id: message.message_id().expect("a Message-ID").to_string(),
        to: header("To"),
        subject: message.subject().expect("a subject").to_string(),
        body,
        stop: stop.to_string(),
        headers: (message.headers().iter())
            .map(|header| header.name().to_string())
            .collect(),
        raw: String::from_utf8(bytes.to_vec()).expect("mail is ASCII, encoded"),
    }
}

const REMINDERS: Choice = Choice {
    digest: Digest::Never,
    fortnight: true,
    three_days: true,
    on_the_day: true,
    late: true,
    everything: false,
    names: false,
};
const DAILY: Choice = Choice {
    digest: Digest::Daily,
    fortnight: false,
    three_days: false,
    on_the_day: false,
    late: false,
    everything: true,
    names: false,
};

fn choose(shop: &mut Shop, person: Id, choice: Choice) {
    let of = shop.of.clone();
    mail::choose(&mut shop.db, &of, &Asker::HOST, person, &choice, now()).expect("kept");
}

fn stands(shop: &mut Shop) -> Vec<Stand> {
    let of = shop.of.clone();
    let all = mail::list(&mut shop.db, &of, 99).expect("a list");
    all.into_iter().map(|message| message.stand).collect()
}

/// Ines does what is owed at Alder Street and chose something.
fn ines_chose(choice: Choice) -> (Shop, Id, Box) {
    let mut shop = two_sites_over();
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    assigned(&mut shop, Sort::Site, "Alder Street", Some(ines)).expect("assigned");
    choose(&mut shop, ines, choice);
    (shop, ines, Box::new())
}

/// C7: two looks a day for six weeks make each reminder once, on its day, and none of what is
/// assigned to nobody.
#[test]
fn a_duty_that_comes_due_is_reminded_of_once() {
    let (mut shop, _, letters) = ines_chose(REMINDERS);
    let mut days = Vec::new();
    let mut ids = BTreeSet::new();
    // From 13 August 2026 to 23 September.
    for day in 13..=54 {
        for _ in 0..2 {
            letters.round(&mut shop);
            for letter in letters.emptied() {
                assert_eq!(letter.to, "ines@tamarack.example");
                assert!(ids.insert(letter.id.clone()), "sent twice: {letter:?}");
                assert!(!letter.body.contains("SD-RACK-B"), "not hers: {letter:?}");
                if letter.body.contains(REPAIR) {
                    days.push(day);
                }
            }
        }
        shop.wait_minutes(DAY);
    }
    // 29 August; 9, 12 and 13 September, counted on from 31 August.
    assert_eq!(days, [29, 31 + 9, 31 + 12, 31 + 13]);
    assert!(stands(&mut shop).iter().all(|stand| *stand == Stand::Sent));
}

/// A morning that was missed is made up for; a day that has not begun at the organisation makes
/// nothing. 13 August 2026, 06:00 in Denver is 12:00 UTC, and the clock of these books shows 18:00.
#[test]
fn mail_is_made_from_the_morning_on() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    shop.wait_minutes(-6 * 60 - 1);
    assert_eq!(letters.round(&mut shop).made, 0, "05:59");
    shop.wait_minutes(1);
    assert_eq!(letters.round(&mut shop).made, 1, "06:00");
    assert_eq!(letters.round(&mut shop).made, 0, "once a day");
    shop.wait_minutes(3 * DAY - 60);
    assert_eq!(letters.round(&mut shop).made, 0, "05:00");
    shop.wait_minutes(60);
    assert_eq!(
        letters.round(&mut shop),
        done(1, 1, 0),
        "three days later one"
    );
}

fn done(made: usize, sent: usize, failed: usize) -> Done {
    Done { made, sent, failed }
}

/// Mondays by the calendar of August 2026: the 10th, the 17th, the 24th; the 13th is a Thursday.
#[test]
fn a_weekly_list_comes_once_a_week() {
    let (mut shop, ines, letters) = ines_chose(Choice {
        digest: Digest::Weekly,
        ..DAILY
    });
    choose(
        &mut shop,
        ines,
        Choice {
            digest: Digest::Weekly,
            everything: false,
            ..DAILY
        },
    );
    let mut days = Vec::new();
    for day in 13..=31 {
        if letters.round(&mut shop).made > 0 {
            days.push(day);
        }
        shop.wait_minutes(DAY);
    }
    assert_eq!(days, [13, 17, 24, 31], "the first at once, then on Mondays");
}

/// C7: the list in the message is the list of the page, in its order, and says no more than a
/// calendar: no figures, no site unless it shall.
#[test]
fn a_digest_lists_what_the_page_lists() {
    let mut shop = two_sites_over();
    let nadia = person(
        &mut shop,
        "nadia@tamarack.example",
        &[Role::ComplianceManager],
    );
    choose(&mut shop, nadia, DAILY);
    // 14 September: late at both sites.
    shop.wait_minutes(32 * DAY);
    let letters = Box::new();
    assert_eq!(letters.round(&mut shop), done(1, 1, 0));
    let letter = letters.emptied().remove(0);
    let of = shop.of.clone();
    let asked = DutiesAsked {
        now: now(),
        most: 500,
        ..DutiesAsked::default()
    };
    let items = duties::page(&mut shop.db, &of, &asked)
        .expect("a list")
        .page
        .items;
    assert!(items.len() > 4, "{} duties", items.len());
    let expected: Vec<String> = (items.iter())
        .map(|item| {
            let about = match item.tag.as_str() {
                "" => "The whole organisation",
                tag => tag,
            };
            let day = item.duty.due.as_deref().map_or("no day", |due| &due[..10]);
            format!("{day}  {about}: {}", item.duty.means)
        })
        .collect();
    let lines: Vec<&str> = letter.body.lines().collect();
    let clauses = |line: &&str| line.contains(". Owed since ");
    let steps: Vec<&str> = (lines.windows(2))
        .filter(|pair| clauses(&pair[1]))
        .map(|pair| pair[0])
        .collect();
    assert_eq!(steps, expected, "{}", letter.body);
    let late = items.iter().filter(|item| item.stands == "late").count();
    let open = items.len() - late;
    let subject = format!("Duties of Tamarack Ridge Mechanical: {late} late, {open} to come");
    assert_eq!(letter.subject, subject);
    let first = lines.iter().find(|line| line.starts_with("LATE"));
    assert!(first.is_some(), "late stands first: {}", letter.body);
    for secret in ["Alder", "Sandstone", " lb", "%"] {
        assert!(!letter.body.contains(secret), "{secret}: {}", letter.body);
    }
    let rack = items
        .iter()
        .find(|item| item.tag == "HG-RACK-A")
        .expect("the rack");
    let link = format!(
        "https://book.example/appliances/{}",
        rack.appliance.as_deref().expect("an id")
    );
    assert!(
        lines.iter().any(|line| line.trim() == link),
        "{}",
        letter.body
    );
    choose(
        &mut shop,
        nadia,
        Choice {
            names: true,
            ..DAILY
        },
    );
    shop.wait_minutes(DAY);
    letters.round(&mut shop);
    let named = letters.emptied().remove(0);
    assert!(
        named.body.contains("HG-RACK-A, Alder Street: "),
        "{}",
        named.body
    );
}

/// A name that would begin a header or a line of its own, or turn the writing, does neither. The door
/// takes no such name; what came into the database otherwise is not trusted for that.
#[test]
fn s_a_name_begins_no_header() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let evil = "Tamarack\r\nBcc: all@elsewhere.example\r\n\r\n\u{202e}Ünder";
    let set = format!("UPDATE organisations SET name = '{evil}'");
    shop.db.batch(&set).expect("planted");
    letters.round(&mut shop);
    let letter = letters.emptied().remove(0);
    let bcc = |name: &String| name.eq_ignore_ascii_case("bcc");
    assert!(!letter.headers.iter().any(bcc), "{:?}", letter.headers);
    let planted = "Tamarack Bcc: all@elsewhere.example Ünder";
    assert!(
        letter.subject.starts_with(&format!("Duties of {planted}")),
        "{}",
        letter.subject
    );
    assert!(letter.body.contains(planted) && !letter.body.contains('\u{202e}'));
    assert!(
        !letter.body.lines().any(|line| line.starts_with("Bcc")),
        "{}",
        letter.body
    );
    let head = letter.raw.split("\r\n\r\n").next().expect("a head");
    assert!(head.is_ascii() && !head.contains("\r\nBcc"), "{head}");
}

/// What nobody takes is tried again with growing waits and then stands as failed, with the reason,
/// until somebody asks for it again.
#[test]
fn what_nobody_takes_is_tried_again() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let nowhere = letters.folder.path().join("gone");
    let mut plan = letters.plan.clone();
    plan.way = Way::Folder(nowhere.clone());
    let broken = Box {
        folder: TempDir::new().expect("a folder"),
        plan,
    };
    assert_eq!(broken.round(&mut shop), done(1, 0, 1));
    let mut failures = 1;
    // The waits of service/mail.rs, common practice, no source.
    for minutes in [1, 5, 30, 120, 360, 720, 960] {
        assert_eq!(broken.round(&mut shop).failed, 0, "not before its time");
        assert_eq!(stands(&mut shop)[0], Stand::Waiting);
        let wait = |shop: &mut Shop, minutes| shop.wait_minutes(minutes);
        wait(&mut shop, minutes);
        failures += broken.round(&mut shop).failed;
    }
    // On the second day its list was made and failed beside it.
    let of = shop.of.clone();
    let all = mail::list(&mut shop.db, &of, 9).expect("a list");
    let first = all.last().expect("a message");
    assert_eq!(
        (first.stand, first.attempts),
        (Stand::Failed, 8),
        "{failures} failures"
    );
    assert!(first.why.contains("gone"), "{}", first.why);
    assert!(first.body.contains(REPAIR), "kept, to be tried again");
    letters.round(&mut shop);
    assert!(
        letters
            .emptied()
            .iter()
            .all(|letter| !letter.id.contains(&first.id.to_string()))
    );
    assert!(mail::again(&mut shop.db, &of, first.id, now()).expect("a look"));
    assert!(
        !mail::again(&mut shop.db, &of, first.id, now()).expect("a look"),
        "it waits"
    );
    letters.round(&mut shop);
    let sent = letters.emptied();
    let id = format!("{}@book.example", first.id);
    assert_eq!(
        sent.iter().filter(|letter| letter.id == id).count(),
        1,
        "{sent:?}"
    );
}

/// Whoever sends holds the message; a process that dies with it leaves it to another, ten minutes
/// later. Two at once do not get the same one.
#[test]
fn a_message_is_in_one_hand_at_a_time() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let of = shop.of.clone();
    let made = api::actions::mail::make(&mut shop.db, &of, &letters.plan.making, now());
    assert_eq!(made.expect("made"), 1);
    let may = |_: &[Role]| true;
    let held = mail::next(&mut shop.db, &of, may, now())
        .expect("a look")
        .expect("one");
    assert!(
        mail::next(&mut shop.db, &of, may, now())
            .expect("a look")
            .is_none()
    );
    assert_eq!(letters.round(&mut shop), done(0, 0, 0));
    shop.wait_minutes(10);
    assert_eq!(
        letters.round(&mut shop),
        done(0, 1, 0),
        "the other one died"
    );
    // It comes back after all: what it says of the message is not heard any more.
    let late = api::store::outgoing::Came::Later(now(), "late");
    mail::came(&mut shop.db, &of, &held, late, now()).expect("a word");
    assert_eq!(stands(&mut shop), [Stand::Sent]);
    assert_eq!(letters.emptied().len(), 1);
}

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
