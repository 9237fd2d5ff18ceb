//! The invented firm, its book and its people, in a line each.
//!
//! A [`Shop`] is Tamarack Ridge Mechanical with an empty book on the engine under test. Its clock
//! is made up and stands at noon of 14 July 2026 in Denver until a test moves it.

use crate::database::{Database, Location};
use api::actions;
use api::actions::begin::{Beginning, begin};
use api::actions::post::post;
use api::actions::{ActionError, Posted, Refusal};
use api::auth::access::Asker;
use api::auth::calendar::{self, Calendar};
use api::ledger::actor::{Actor, Role};
use api::ledger::checkpoint::SigningKey;
use api::ledger::id::Id;
use api::store::open::Organisation;
use api::store::writer::{Books, Clock, transact};
use api::store::{Address, Db, Purpose, StoreError, migrations};
use reports::refrigerant::Table;
use serde_json::{Value, json};
use std::cell::Cell;

thread_local! {
    static NOW: Cell<i64> = const { Cell::new(1_784_052_000_000_000) };
}

/// The made-up time of this test.
pub fn now() -> i64 {
    NOW.with(Cell::get)
}

/// The clock that shows it.
pub const CLOCK: Clock = Clock::made_up(now);

/// A firm with its book.
pub struct Shop {
    /// Where its book is kept.
    pub database: Database,
    /// A connection.
    pub db: Db,
    /// Its books in memory.
    pub books: Books,
    /// The organisation.
    pub of: Organisation,
    /// Signs the checkpoints.
    pub key: SigningKey,
    /// Who acts unless a test says otherwise.
    pub manager: Actor,
    /// Ines Vallory.
    pub technician: Actor,
}

/// The address of a test database.
pub fn address(database: &Database) -> Address {
    match database.location() {
        Location::Data(folder) => Address::Folder(folder.clone()),
        Location::Url(url) => Address::from_url(url).expect("a PostgreSQL URL"),
    }
}

/// Founds a book and signs nothing yet.
fn founded(db: &mut Db, organisation: &str, administrator: &str) -> (Organisation, SigningKey) {
    let log = format!("tarebook/{}", Id::random());
    let key = SigningKey::generate(&log).expect("a key");
    let recovery = SigningKey::generate(&log).expect("a key");
    let what = Beginning {
        organisation,
        zone: "America/Denver",
        log: &log,
        signing: &key.verification_key(),
        recovery: &recovery.verification_key(),
        administrator: Some((administrator, "no password")),
    };
    let of = begin(db, CLOCK, &what).expect("a new book");
    (of, key)
}

impl Shop {
    /// Founds the book of another firm in the same database; from now on everything is done there.
    pub fn another(&mut self, organisation: &str, administrator: &str) -> Organisation {
        (self.of, self.key) = founded(&mut self.db, organisation, administrator);
        self.of.clone()
    }

    /// An empty book.
    pub fn open() -> Shop {
        Shop::named("Tamarack Ridge Mechanical", "juno@tamarack.example")
    }

    /// An empty book of another firm.
    pub fn named(organisation: &str, administrator: &str) -> Shop {
        NOW.with(|now| now.set(1_784_052_000_000_000));
        let database = Database::new();
        let mut db = Db::open(&address(&database), Purpose::Write, true).expect("a database");
        migrations::migrate(&mut db).expect("tables");
        let (of, key) = founded(&mut db, organisation, administrator);
        let person = |role| Actor::person(Id::random(), role, None);
        let (manager, technician) = (person(Role::ComplianceManager), person(Role::Technician));
        let books = Books::new();
        Shop {
            database,
            db,
            books,
            of,
            key,
            manager,
            technician,
        }
    }

    /// The book with the site, the appliances and the cylinders of the scenario.
    pub fn stocked() -> Shop {
        let mut shop = Shop::open();
        shop.register("counterparty", json!({"tag": "Halfmoon Grocers"}));
        shop.register("counterparty", json!({"tag": "Quillfeather Kitchen"}));
        shop.register("counterparty", json!({"tag": "Corvane Reclaim"}));
        shop.register("counterparty", json!({"tag": "Dunmore Supply"}));
        shop.register("scale", json!({"tag": "S-2", "resolution": "0.25 oz"}));
        shop.register(
            "site",
            json!({"tag": "Alder Street", "zone": "America/Denver", "region": "US-CO"}),
        );
        shop.register(
            "appliance",
            json!({"tag": "HG-RACK-A", "site": "Alder Street", "refrigerant": "R-448A",
                   "category": "commercial_refrigeration", "owner": "Halfmoon Grocers",
                   "installed": "2019-05-20",
                   "full_charge": [{"from": "2019-05-20", "is": {"mass": "210 lb",
                       "method": "calculation", "established_on": "2024-03-12"}}]}),
        );
        shop.register(
            "appliance",
            json!({"tag": "QK-WIC-1", "refrigerant": "R-404A", "owner": "Quillfeather Kitchen",
                   "category": "commercial_refrigeration", "full_charge": "11 lb 14 oz"}),
        );
        shop.register(
            "cylinder",
            json!({"tag": "SUP-88231", "use": "disposable", "refrigerant": "R-448A",
                   "capacity": "24 lb"}),
        );
        shop.register(
            "cylinder",
            json!({"tag": "TR-0417", "use": "recovery", "water_capacity": "47.7 lb",
                   "tare": "27.6 lb", "retest_on": "2027-05-31"}),
        );
        shop.ok(
            json!({"kind": "purchase", "body": {"from": "counterparty:Dunmore Supply",
            "to": "cylinder:SUP-88231", "refrigerant": "R-448A", "mass": "24 lb",
            "state": "new", "invoice": "D-1177"}}),
        );
        shop
    }

    /// Registers a thing.
    pub fn register(&mut self, kind: &str, facts: Value) -> Posted {
        self.ok(json!({"kind": kind, "body": {"facts": facts}}))
    }

    /// Says more of a registered thing, by its tag or id.
    pub fn register_as(&mut self, subject: &str, kind: &str, facts: Value) -> Id {
        let body = json!({"subject": subject, "facts": facts});
        self.ok(json!({"kind": kind, "body": body})).entry_id
    }

    /// Moves the clock on.
    pub fn wait_minutes(&self, minutes: i64) {
        NOW.with(|now| now.set(now.get() + minutes * 60_000_000));
    }

    /// Posts as somebody; an entry without an id gets one.
    pub fn post_as(&mut self, actor: &Actor, mut request: Value) -> Result<Posted, ActionError> {
        if request.get("entry_id").is_none() {
            request["entry_id"] = json!(Id::at(now().unsigned_abs() / 1000));
        }
        self.send(actor, &request)
    }

    /// The calendar of the whole organisation as its text, folded lines joined (RFC 5545, 3.1).
    pub fn calendar_text(&mut self) -> String {
        let of = self.of.clone();
        let all = Calendar {
            org: of.org,
            id: Id::random(),
            person: Id::random(),
            names: false,
            everything: true,
            made_at: now(),
            read_at: 0,
            revoked_at: 0,
        };
        let made = calendar::make(&mut self.db, &of, &Asker::HOST, &all);
        made.expect("stored").expect("a secret");
        let base = "https://book.example";
        let text = actions::calendar::text(&mut self.db, &of, &all, true, base, now());
        let text = text.expect("readable").expect("a calendar");
        text.replace("\r\n ", "")
    }

    /// Posts a request exactly as it is.
    pub fn send(&mut self, actor: &Actor, request: &Value) -> Result<Posted, ActionError> {
        let table = Table::shipped();
        let mut outcome = None;
        let done = transact(
            &mut self.db,
            &mut self.books,
            &self.of,
            &[],
            table,
            CLOCK,
            |tx| {
                match post(tx, actor, request) {
                    Err(ActionError::Failed(error)) => return Err(error),
                    other => outcome = Some(other),
                }
                Ok(())
            },
        );
        match (done, outcome) {
            (Ok(()), Some(outcome)) => outcome,
            (Err(error), _) => Err(ActionError::Failed(error)),
            (Ok(()), None) => Err(ActionError::Failed(StoreError::Busy)),
        }
    }

    /// Posts as the manager and expects it to be booked.
    pub fn ok(&mut self, request: Value) -> Posted {
        let manager = self.manager;
        let shown = request.to_string();
        self.post_as(&manager, request)
            .unwrap_or_else(|error| panic!("{shown}: {error}"))
    }

    /// Posts as the manager and expects a refusal.
    pub fn refused(&mut self, request: Value) -> Refusal {
        let manager = self.manager;
        let shown = request.to_string();
        match self.post_as(&manager, request) {
            Err(ActionError::Refused(refusal)) => refusal,
            Err(ActionError::Failed(error)) => panic!("{shown}: {error}"),
            Ok(posted) => panic!("{shown}: was booked as no. {}", posted.seq),
        }
    }

    /// Codes of the questions of a refusal.
    pub fn questions(refusal: &Refusal) -> Vec<&'static str> {
        match refusal {
            Refusal::NeedsAnswer(questions) => questions.iter().map(|q| q.code).collect(),
            other => panic!("expected questions, got {other}"),
        }
    }

    /// Words of the stops of a refusal.
    pub fn stops(refusal: &Refusal) -> Vec<&'static str> {
        match refusal {
            Refusal::HardStop(stops) => stops.iter().map(|stop| stop.word).collect(),
            other => panic!("expected stops, got {other}"),
        }
    }

    /// How many entries the book has.
    pub fn size(&mut self) -> u64 {
        api::store::open::size(&mut self.db, self.of.org).expect("a head")
    }
}
