//! The demo: its figures come out, every state of a book is in it, no typed word is in a leaf.
//!
//! The invented scenario states figures with their arithmetic; the rows below were worked out by
//! hand from the masses of the script, and each says how.

mod cage;
mod figures;
mod states;
mod sums;

use api::actions::report::{ReportAsked, ReportName, report};
use api::demo::{self, Told};
use api::ledger::actor::{Actor, Role};
use api::ledger::checkpoint::SigningKey;
use api::ledger::id::Id;
use api::ledger::verify::{Options, verify};
use api::store::source::StoredBook;
use api::store::writer::Books;
use api::store::{Db, Purpose, migrations};
use harness::database::Database;
use harness::shop::{Shop, address};
use reports::sheet;
use serde_json::Value;
use std::collections::BTreeSet;

/// The book of the demo, and what the script says of it.
struct Demo {
    shop: Shop,
    told: Told,
}

impl Demo {
    fn new() -> Demo {
        let database = Database::new();
        let mut db = Db::open(&address(&database), Purpose::Write, true).expect("a database");
        migrations::migrate(&mut db).expect("tables");
        let log = format!("tarebook/{}", Id::random());
        let new_key = || SigningKey::generate(&log).expect("a key");
        let (key, recovery) = (new_key(), new_key());
        let told = demo::tell(&mut db, &log, &key, &recovery.verification_key());
        let told = told.unwrap_or_else(|error| panic!("{error}"));
        let person = |role| Actor::person(Id::random(), role, None);
        let shop = Shop {
            database,
            db,
            books: Books::new(),
            of: told.of.clone(),
            key,
            manager: person(Role::ComplianceManager),
            technician: person(Role::Technician),
        };
        // The clock of the harness stands in July 2026; the book ends in November.
        shop.wait_minutes(200 * 24 * 60);
        Demo { shop, told }
    }

    /// A report, as the program writes it.
    fn csv(&mut self, name: ReportName, options: sheet::Options) -> String {
        let mut out = Vec::new();
        let asked = ReportAsked {
            name,
            options,
            rules: None,
            as_of: None,
        };
        report(&mut self.shop.db, &self.told.of, asked, &mut out, None).expect("a report");
        String::from_utf8(out).expect("UTF-8")
    }

    /// The yearly sheet.
    fn year(&mut self) -> String {
        self.csv(
            ReportName::ApplianceYear,
            sheet::Options::of_year(demo::YEAR),
        )
    }

    /// Number of an entry that the script names.
    fn number(&self, name: &str) -> u64 {
        let number = self.told.numbers.get(name);
        *number.unwrap_or_else(|| panic!("the script names no {name}"))
    }

    /// Leaf of an entry that the script names.
    fn leaf(&mut self, name: &str) -> Value {
        let number = self.number(name);
        self.shop.leaf(number)
    }
}

#[test]
fn verify_holds_and_every_cache_can_be_worked_out_again() {
    let mut demo = Demo::new();
    demo.shop.sound();
    demo.shop.caches_agree();
    let mut stored = StoredBook::open(&mut demo.shop.db, demo.told.of.org).expect("a book");
    let report = verify(&mut stored, &[], &Options::default()).expect("a verification");
    assert!(report.holds(), "{report}");
    // A checkpoint was signed at the end of each of twelve months with work, and one at the end.
    assert!(report.to_string().contains("13 checkpoints"), "{report}");
}

#[test]
fn two_tellings_give_the_same_csv_and_other_ids() {
    let (mut one, mut other) = (Demo::new(), Demo::new());
    assert_eq!(one.year(), other.year());
    assert_ne!(one.told.of.log, other.told.of.log);
}

/// H9: every text of a request that is no id, word of a list, day, mass or designation, and every
/// text kept beside the book, against all bytes of all leaves.
#[test]
fn no_typed_string_stands_in_any_leaf() {
    let mut demo = Demo::new();
    let mut typed = BTreeSet::from([demo::ORGANISATION.to_string()]);
    for request in &demo.told.requests {
        collect("", request, &mut typed);
    }
    let from_requests = typed.len();
    let leaves = demo.shop.leaves();
    for seq in 0..leaves.len() as u64 {
        let kept = demo.shop.inside(|tx| tx.disclosures(seq));
        typed.extend(kept.into_iter().map(|(_, _, text)| text));
    }
    assert!(from_requests > 150, "only {from_requests} texts were typed");
    // What a request typed is kept: nothing but the name of the firm's own tags is added to it.
    assert_eq!(
        typed.len(),
        from_requests,
        "a text is kept that no request typed"
    );
    // Hashes, commitments and keys are random base64, in which any three letters occur by chance.
    let random = |word: &&str| {
        (word.len() == 44 && word.ends_with('=')) || (word.contains('+') && word.len() > 80)
    };
    let leaf = |leaf: &Vec<u8>| {
        let text = String::from_utf8(leaf.clone()).expect("a leaf is UTF-8");
        let words: Vec<&str> = text.split('"').filter(|word| !random(word)).collect();
        words.join("\"").into_bytes()
    };
    let all = leaves.iter().map(leaf).collect::<Vec<_>>().concat();
    let stands = |text: &str| {
        all.windows(text.len())
            .any(|bytes| bytes == text.as_bytes())
    };
    let found: Vec<&String> = typed.iter().filter(|text| stands(text)).collect();
    assert_eq!(found, Vec::<&String>::new());
    // The search does find: a designation stands in clear on purpose.
    assert!(stands("R-448A") && stands("29 lb 4 oz"));
}

/// Members of a request whose text a person made up.
const FREE: &[&str] = &[
    "note",
    "reason_text",
    "document",
    "invoice",
    "tag",
    "name",
    "serial",
    "email",
    "place",
    "equipment_tag",
    "held_by",
    "scale",
    "did",
    "site",
    "owner",
    "subject",
    "established_by",
    "work_done",
    "parts",
    "document",
];

fn collect(member: &str, value: &Value, typed: &mut BTreeSet<String>) {
    match value {
        Value::String(text) => {
            let tag = text
                .split_once(':')
                .filter(|(word, _)| ["appliance", "cylinder", "counterparty"].contains(word));
            let text = tag.map_or(text.as_str(), |(_, tag)| tag);
            let free = (FREE.contains(&member) || tag.is_some()) && Id::parse(text).is_none();
            typed.extend(free.then(|| text.to_string()));
        }
        // The known parts of a mixture are designations.
        Value::Array(_) if member == "parts" => {}
        Value::Array(list) => list.iter().for_each(|item| collect(member, item, typed)),
        Value::Object(members) => {
            // A setting's name and a mass's text are words of the program.
            let is_setting = members.contains_key("value");
            for (name, value) in members {
                let named = if name == "is" { member } else { name };
                if !(is_setting && name == "name") {
                    collect(named, value, typed);
                }
            }
        }
        _ => {}
    }
}

#[test]
fn the_house_rule_passes_its_own_examples() {
    use reports::rules::{RuleSet, Tables, check, run_examples};
    let (file, tables) = ("halfmoon-house-rule.toml", Tables::shipped());
    let set = RuleSet::from_toml(file, demo::HOUSE_RULE).expect("a rule set");
    let today = reports::day::Day::parse("2026-01-01").expect("a day");
    assert_eq!(check(file, &set, &tables, today), []);
    let outcome = run_examples(&set, &tables);
    assert_eq!(outcome.differences, []);
    assert!(outcome.compared >= 7, "{outcome:?}");
    for words in [&set.title, &set.act] {
        assert!(words.contains("invented"), "{words}");
    }
}
