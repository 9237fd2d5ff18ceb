//! Promise S2 on PostgreSQL: a statement that forgets its organisation still sees nothing of
//! another, and nothing at all where no organisation was named. SQLite has no row security; there
//! tests/tidy reads every statement.

use crate::signing_in::{INES, Try, attempt, door, person};
use api::actions::report;
use api::auth::access::{Asker, Whose};
use api::auth::session::{self, SignInAsked};
use api::auth::token::{self, Scopes, TokenAsked};
use api::auth::{access, secret};
use api::ledger::actor::Role;
use api::ledger::verify::{Options, verify};
use api::store::source::StoredBook;
use api::store::writer::Writer;
use api::store::{Address, Db, Purpose, Sight, log, migrations};
use harness::database::Engine;
use harness::people::{SERVICE, psql};
use harness::shop::{CLOCK, Shop, now};
use reports::refrigerant::Table;
use serde_json::json;

pub fn on_postgres() -> bool {
    let postgres = Engine::under_test() == Engine::Postgres;
    if !postgres {
        eprintln!("SQLite has no row security: tests/tidy reads its statements instead");
    }
    postgres
}

/// Two firms with something in every table that has an organisation.
pub fn two_firms() -> (Shop, Vec<String>) {
    let mut shop = Shop::stocked();
    let mut secrets = vec![busy(&mut shop)];
    let log = format!("{}-2", shop.of.log);
    shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    assert_ne!(shop.of.log, log);
    shop.books.clear();
    shop.register("site", json!({"tag": "Alder Street"}));
    shop.register(
        "appliance",
        json!({"tag": "HG-RACK-A", "site": "Alder Street", "refrigerant": "R-448A",
               "category": "commercial_refrigeration", "full_charge": "210 lb"}),
    );
    secrets.push(busy(&mut shop));
    (shop, secrets)
}

/// Signs in, issues a token, signs the log; gives the secret of the session.
fn busy(shop: &mut Shop) -> String {
    let (door, name) = (door(), shop.of.name.clone());
    person(shop, "ines@tamarack.example", &[Role::Technician]);
    let named = Try {
        organisation: Some(&name),
        ..INES
    };
    let opened = attempt(&door, shop, &named).expect("a session");
    let asked = TokenAsked {
        name: "scale".to_string(),
        person: None,
        role: Role::Device,
        scopes: Scopes {
            may: vec!["movements:write".to_string()],
            ..Scopes::default()
        },
        days: 9,
    };
    let of = shop.of.clone();
    token::issue(&mut shop.db, &of, &Asker::HOST, &asked, now()).expect("a token");
    log::sign(&mut shop.db, of.org, &shop.key, &of.log).expect("a checkpoint");
    opened.secret
}

/// What the service's role sees in a transaction that sets something.
pub fn seen(shop: &Shop, set: &str, query: &str) -> String {
    let text = format!("BEGIN; {set}; {query}; ROLLBACK");
    let done = psql(&shop.url(SERVICE), &["-c", &text]);
    assert!(
        done.status.success(),
        "{text}: {}",
        String::from_utf8_lossy(&done.stderr)
    );
    String::from_utf8_lossy(&done.stdout).trim().to_string()
}

pub fn refused(shop: &Shop, set: &str, statement: &str) -> String {
    let text = format!("BEGIN; {set}; {statement}; ROLLBACK");
    let done = psql(&shop.url(SERVICE), &["-c", &text]);
    assert!(!done.status.success(), "{statement} was done");
    String::from_utf8_lossy(&done.stderr).into_owned()
}

const TABLES: &str = "SELECT relname FROM pg_class JOIN pg_attribute ON attrelid = pg_class.oid \
                      WHERE attname = 'org' AND relkind = 'r' \
                      AND relnamespace = 'public'::regnamespace ORDER BY relname";

#[test]
fn s2_no_row_of_another_organisation_is_seen_by_a_statement_that_names_none() {
    if !on_postgres() {
        return;
    }
    let (shop, _) = two_firms();
    shop.grant_service_role();
    let owner = shop.url("postgres");
    let answer = |query: &str| {
        let said = psql(&owner, &["-c", query]).stdout;
        String::from_utf8(said).expect("text").trim().to_string()
    };
    let tables = answer(TABLES);
    assert!(tables.lines().count() >= 23, "{tables}");
    let open = answer(&format!(
        "SELECT relname FROM pg_class WHERE relname IN ({TABLES}) \
         AND NOT (relrowsecurity AND relforcerowsecurity)"
    ));
    assert_eq!(
        open, "",
        "these tables have an organisation and no forced row security"
    );
    // Tables that stay empty in this scenario prove nothing here; the shape of all is proved above.
    let mut proved = 0;
    for table in tables.lines() {
        let orgs = format!("SELECT DISTINCT org FROM {table} ORDER BY org");
        let both = answer(&orgs) == "1\n2";
        proved += u32::from(both);
        let one = seen(&shop, "SET LOCAL tarebook.orgs = '1'", &orgs);
        assert!(one == "1" || (!both && one.is_empty()), "{table}: {one}");
        let two = seen(&shop, "SET LOCAL tarebook.orgs = '1,2'", &orgs);
        assert!(
            two == "1\n2" || !both,
            "{table}: a batch may name several: {two}"
        );
        for nothing in [
            "SELECT 1 WHERE false",
            "SET LOCAL tarebook.orgs = ''",
            "SET LOCAL tarebook.orgs = '3'",
            // Who does not own the tables is no operator.
            "SET LOCAL tarebook.orgs = '*'",
        ] {
            assert_eq!(seen(&shop, nothing, &orgs), "", "{table}: {nothing}");
        }
    }
    assert!(proved >= 12, "only {proved} tables hold rows of both");
}

#[test]
fn s2_rows_of_another_organisation_are_neither_changed_nor_added() {
    if !on_postgres() {
        return;
    }
    let (shop, _) = two_firms();
    shop.grant_service_role();
    let first = "SET LOCAL tarebook.orgs = '1'";
    for (table, change) in [
        (
            "sign_ins",
            "UPDATE sign_ins SET roles = 'administrator' RETURNING org",
        ),
        ("balances", "UPDATE balances SET mass = '0' RETURNING org"),
        ("sessions", "DELETE FROM sessions RETURNING org"),
        ("registers", "DELETE FROM registers RETURNING org"),
    ] {
        let touched = seen(&shop, first, change);
        assert!(!touched.is_empty(), "{table}: nothing to prove");
        assert!(touched.lines().all(|org| org == "1"), "{table}: {touched}");
    }
    for add in [
        "INSERT INTO known_devices VALUES (2, '\\x01', '\\x02', 0, 0)",
        "INSERT INTO checkpoints VALUES (2, 77, 'forged')",
        "UPDATE sessions SET org = 2",
        "INSERT INTO organisations VALUES (3, 'Another', 'tarebook/x')",
    ] {
        let why = refused(&shop, first, add);
        assert!(why.contains("row-level security"), "{add}: {why}");
    }
}

/// A secret opens its own session and no other; an address its own sign-ins; a name its own
/// organisation. None of them opens a way to change anything.
#[test]
fn s2_the_narrow_ways_lead_to_one_row_only() {
    if !on_postgres() {
        return;
    }
    let (shop, secrets) = two_firms();
    shop.grant_service_role();
    let hex = |bytes: &[u8]| -> String { bytes.iter().map(|b| format!("{b:02x}")).collect() };
    let secret = format!(
        "SET LOCAL tarebook.secret = '{}'",
        hex(&secret::hashed(&secrets[1]))
    );
    assert_eq!(seen(&shop, &secret, "SELECT org FROM sessions"), "2");
    assert_eq!(seen(&shop, &secret, "SELECT org FROM tokens"), "");
    assert_eq!(seen(&shop, &secret, "SELECT org FROM sign_ins"), "");
    assert_eq!(
        seen(&shop, &secret, "DELETE FROM sessions RETURNING org"),
        ""
    );
    let hash = |text: &str| hex(&api::ledger::tree::sha256(text.as_bytes()));
    let email = format!(
        "SET LOCAL tarebook.email = '{}'",
        hash("teodor@halfmoon.example")
    );
    let teodor = seen(&shop, &email, "SELECT org, email FROM sign_ins");
    assert_eq!(teodor, "2|teodor@halfmoon.example");
    assert_eq!(
        seen(
            &shop,
            &email,
            "UPDATE sign_ins SET roles = '' RETURNING org"
        ),
        ""
    );
    let name = format!("SET LOCAL tarebook.name = '{}'", hash("Halfmoon Grocers"));
    assert_eq!(seen(&shop, &name, "SELECT org FROM organisations"), "2");
    assert_eq!(seen(&shop, &name, "SELECT org FROM heads"), "");
}

/// The two firms, seen through the narrow role of the service.
fn in_the_narrow_role() -> Shop {
    let (mut shop, _) = two_firms();
    shop.grant_service_role();
    let mut service = as_service(&shop);
    assert!(service.is_guarded().expect("an answer"));
    assert!(
        !shop.db.is_guarded().expect("an answer"),
        "the superuser bypasses it"
    );
    migrations::check(&mut service).expect("the tables are this program's");
    let of = api::store::open::organisation(&mut service, "Halfmoon Grocers").expect("by its name");
    assert_eq!(of, shop.of);
    shop.db = service;
    shop.books.clear();
    shop
}

fn as_service(shop: &Shop) -> Db {
    let address = Address::from_url(&shop.url(SERVICE)).expect("a URL");
    Db::open(&address, Purpose::Write, false).expect("a connection")
}

#[test]
fn s2_people_sign_in_and_are_handled_in_the_narrow_role() {
    if !on_postgres() {
        return;
    }
    let mut shop = in_the_narrow_role();
    let of = shop.of.clone();
    let door = door();
    let dov = person(&mut shop, "dov@halfmoon.example", &[Role::Technician]);
    let named = Try {
        email: "dov@halfmoon.example",
        ..INES
    };
    let opened = attempt(&door, &mut shop, &named).expect("a session");
    let found = session::find(&door, &mut shop.db, &opened.secret, now()).expect("a look-up");
    assert_eq!(found.as_ref().and_then(|found| found.person), Some(dov));
    door.write_seen(&mut shop.db).expect("a write");
    let wrong = SignInAsked {
        email: "dov@halfmoon.example".to_string(),
        password: "wrong".to_string(),
        organisation: None,
    };
    let refused = session::sign_in(&door, &mut shop.db, &wrong, "192.0.2.7", None, now());
    assert!(matches!(refused, Err(session::SignInRefused::Wrong)));
    let records = access::list(&mut shop.db, of.org, Whose::Person(dov), None, 9);
    assert_eq!(records.expect("records").len(), 2, "in, and not in");
    assert_eq!(token::list(&mut shop.db, &of).expect("tokens").len(), 1);
}

#[test]
fn s2_the_book_is_kept_reported_and_proved_in_the_narrow_role() {
    if !on_postgres() {
        return;
    }
    let mut shop = in_the_narrow_role();
    let of = shop.of.clone();
    shop.register(
        "cylinder",
        json!({"tag": "SUP-9", "use": "supply", "refrigerant": "R-448A",
        "capacity": "24 lb"}),
    );
    shop.ok(
        json!({"kind": "opening", "body": {"to": "cylinder:SUP-9", "refrigerant": "R-448A", "mass": "20 lb"}}),
    );
    shop.ok(json!({"kind": "charge", "body": {"from": "cylinder:SUP-9",
        "to": "appliance:HG-RACK-A", "refrigerant": "R-448A", "mass": "4 lb",
        "reason": "leak_top_up"}}));
    log::sign(&mut shop.db, of.org, &shop.key, &of.log).expect("a checkpoint");
    let mut stored = StoredBook::open(&mut shop.db, of.org).expect("a book");
    let verified = verify(&mut stored, &[], &Options::default()).expect("a readable book");
    assert!(verified.holds(), "{verified}");
    drop(stored);
    shop.caches_agree();
    let asked = report::ReportAsked {
        name: report::ReportName::ApplianceYear,
        options: reports::sheet::Options::of_year(2026),
        rules: None,
        as_of: None,
    };
    let mut sheet = Vec::new();
    report::report(&mut shop.db, &of, asked, &mut sheet, None).expect("a report");
    let sheet = String::from_utf8(sheet).expect("text");
    assert_eq!(sheet.lines().count(), 2, "{sheet}");

    // One batch of the writer may be of several organisations.
    let first = api::store::open::organisation(&mut shop.db, "Tamarack Ridge Mechanical");
    let writer = Writer::start(as_service(&shop), Table::shipped(), CLOCK);
    for of in [first.expect("by its name"), of.clone(), of] {
        let size = writer.call(&of, vec![], |tx| Ok(tx.next_seq()));
        assert!(size.expect("a look at the book") > 5);
    }
}

/// What looks after all books learns which wait for a checkpoint, and nothing else; it leaves the
/// sight of its transaction as it was.
#[test]
fn s2_the_signer_sees_which_books_wait_and_nothing_else() {
    if !on_postgres() {
        return;
    }
    let (mut shop, _) = two_firms();
    shop.register("site", json!({"tag": "Pinecroft Clinic"}));
    shop.grant_service_role();
    let none = "SELECT 1 WHERE false";
    assert_eq!(seen(&shop, none, "SELECT org FROM unsigned_books"), "2");
    let newest = seen(&shop, none, "SELECT booked_at > 0 FROM newest_booking");
    assert_eq!(newest, "t");
    let looked = "SELECT count(*) FROM unsigned_books, newest_booking; SELECT org FROM heads";
    for (set, orgs) in [(none, ""), ("SET LOCAL tarebook.orgs = '1'", "\n1")] {
        assert_eq!(seen(&shop, set, looked), format!("1{orgs}"), "{set}");
    }
}

/// The role that owns the tables is held to row security as well, unless it is the operator.
#[test]
fn s2_also_the_owner_sees_nothing_unless_it_says_that_it_is_the_operator() {
    if !on_postgres() {
        return;
    }
    let mut shop = Shop::open();
    let owner = format!(
        "owner_of_{}",
        shop.url("x").rsplit('_').next().expect("a number")
    );
    let make = format!(
        "CREATE ROLE {owner} LOGIN NOSUPERUSER; \
         DO $$ DECLARE t text; BEGIN FOR t IN SELECT tablename FROM pg_tables WHERE \
         schemaname = 'public' LOOP EXECUTE format('DROP TABLE %I CASCADE', t); END LOOP; END $$; \
         DROP VIEW unsigned_books, newest_booking, mail_books, mail_counts, access_books; \
         DROP FUNCTION tarebook_unsigned, tarebook_newest_booking; \
         DROP FUNCTION tarebook_mail_books, tarebook_mail_counts, tarebook_access_books, refuse_to_remove_young_records; \
         DROP FUNCTION tarebook_orgs, tarebook_asked, refuse_to_change_history; \
         GRANT ALL ON SCHEMA public TO {owner}"
    );
    let made = psql(&shop.url("postgres"), &["-c", &make]);
    assert!(
        made.status.success(),
        "{}",
        String::from_utf8_lossy(&made.stderr)
    );
    let address = Address::from_url(&shop.url(&owner)).expect("a URL");
    let open = || Db::open(&address, Purpose::Write, false).expect("a connection");
    let mut operator = open().as_operator().expect("the operator");
    migrations::migrate(&mut operator).expect("tables");
    shop.db = operator;
    shop.books.clear();
    let first = shop.another("Tamarack Ridge Mechanical", "juno@tamarack.example");
    shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    shop.register("site", json!({"tag": "Alder Street"}));
    let all = api::store::open::organisations(&mut shop.db).expect("a list");
    assert_eq!(all.len(), 2, "the operator sees all");
    shop.db.keep_to(first.org).expect("one");
    assert!(
        api::store::open::size(&mut shop.db, shop.of.org).is_err(),
        "kept to the other"
    );
    assert!(api::store::open::size(&mut shop.db, first.org).is_ok());

    let asked = psql(
        &shop.url(&owner),
        &["-c", "SELECT count(*) FROM unsigned_books"],
    );
    assert_eq!(
        String::from_utf8_lossy(&asked.stdout).trim(),
        "2",
        "the narrow way works"
    );
    let mut plain = open();
    assert!(plain.is_guarded().expect("an answer"));
    assert!(
        api::store::open::organisations(&mut plain)
            .expect("none")
            .is_empty()
    );
    let sight = Sight::Organisations(&[first.org]);
    let seen = plain.reading(sight, api::store::open::organisations);
    assert_eq!(seen.expect("one"), [first]);
}
