//! Mail: each morning's lists and reminders, once, to whoever chose them and still may be written to.
//!
//! The messages lie in a folder and are read back by a library that did not write them. Days by hand:
//! the repair at HG-RACK-A is due on 12 September 2026 (duties.rs works it out); 14 days before is
//! 29 August, 3 days before 9 September.

mod morning;
mod secrecy;
mod way;

use crate::duties::{adopt, assigned, charge, two_sites_over};
use crate::row_security::{on_postgres, refused, seen};
use crate::signing_in::person;
use api::actions::mail::Making;
use api::actions::manage_people::{self, By};
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

fn done(made: usize, sent: usize, failed: usize) -> Done {
    Done { made, sent, failed }
}
