//! Organisations to be served: somebody in each role, and the things of the scenario.

use crate::database::Database;
use crate::service::Service;
use crate::shop::address;
use api::actions::begin::{Beginning, begin};
use api::actions::desk::Tx;
use api::actions::manage_people::{self, By, PersonAsked};
use api::actions::{ActionError, StoreError};
use api::auth::access::Asker;
use api::auth::token::{Scopes, TokenAsked, issue};
use api::ledger::actor::{Actor, Role};
use api::ledger::checkpoint::SigningKey;
use api::ledger::id::Id;
use api::store::open::Organisation;
use api::store::writer::{Books, Clock, transact};
use api::store::{Db, Purpose, migrations};
use reports::refrigerant::Table;
use serde_json::{Value, json};
use std::path::Path;

/// A password that is taken; every person of the harness has it.
pub const PASSWORD: &str = "wet boots and a good scale";

/// An organisation and somebody in each role.
pub struct Firm {
    /// The organisation.
    pub of: Organisation,
    /// Nadia Fenn, compliance manager.
    pub manager: Who,
    /// Ines Vallory, technician.
    pub technician: Who,
    /// Somebody who only reads.
    pub auditor: Who,
    /// Handles people.
    pub administrator: Who,
    /// A scale.
    pub device: Who,
}

/// Who asks, and by what.
#[derive(Clone, Debug)]
pub enum Who {
    /// Nobody.
    Nobody,
    /// Somebody with a bearer token.
    Token(String),
    /// Somebody in a browser, with the cookies of a session.
    Cookie(String),
}

impl Service {
    /// The site, the appliances and the cylinders of the scenario.
    pub fn stock(&self, firm: &Firm) {
        let register = |kind: &str, facts: Value| {
            let entry = json!({"kind": kind, "body": {"facts": facts}});
            self.booked(&firm.manager, entry)
        };
        for tag in ["Halfmoon Grocers", "Corvane Reclaim", "Dunmore Supply"] {
            register("counterparty", json!({"tag": tag}));
        }
        register(
            "site",
            json!({"tag": "Alder Street", "zone": "America/Denver",
                                "region": "US-CO"}),
        );
        register(
            "appliance",
            json!({
            "tag": "HG-RACK-A", "site": "Alder Street", "refrigerant": "R-448A",
            "category": "commercial_refrigeration", "owner": "Halfmoon Grocers",
            "installed": "2019-05-20", "full_charge": [{"from": "2019-05-20", "is": {
                "mass": "210 lb", "method": "calculation", "established_on": "2024-03-12"}}]}),
        );
        register(
            "cylinder",
            json!({"tag": "SUP-88231", "use": "disposable",
                                    "refrigerant": "R-448A", "capacity": "24 lb"}),
        );
        register(
            "cylinder",
            json!({"tag": "TR-0417", "use": "recovery", "tare": "27.6 lb",
                                    "water_capacity": "47.7 lb", "retest_on": "2099-05-31"}),
        );
        self.booked(
            &firm.manager,
            json!({"kind": "purchase", "body": {
            "from": "counterparty:Dunmore Supply", "to": "cylinder:SUP-88231",
            "refrigerant": "R-448A", "mass": "24 lb", "state": "new", "invoice": "D-1177"}}),
        );
    }
}

/// A charge of the rack.
pub fn charge(mass: &str) -> Value {
    json!({"kind": "charge", "body": {
        "from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A", "refrigerant": "R-448A",
        "mass": mass, "reason": "leak_top_up"}})
}

/// Founds an organisation with somebody in each role, beside a running service or before it.
pub fn found(database: &Database, keys: &Path, name: &str) -> Firm {
    let mut db = Db::open(&address(database), Purpose::Write, true).expect("a database");
    migrations::migrate(&mut db).expect("tables");
    let log = format!("tarebook/{}", Id::random());
    let key = SigningKey::generate(&log).expect("a key");
    let recovery = SigningKey::generate(&log).expect("a key");
    let file = api::service::keys::signing_key_file(keys, &log);
    std::fs::write(file, key.private_text()).expect("a key file");
    let what = Beginning {
        organisation: name,
        zone: "America/Denver",
        log: &log,
        signing: &key.verification_key(),
        recovery: &recovery.verification_key(),
        administrator: None,
    };
    let of = begin(&mut db, Clock::real(), &what).expect("a new book");
    let mut person = |role: Role, email: &str| {
        let hash = api::auth::Limits::default()
            .hashing
            .hash(PASSWORD)
            .expect("a hash");
        let host = name.split(' ').next().unwrap_or_default().to_lowercase();
        let asked = PersonAsked {
            email: format!("{email}@{host}.example"),
            name: Some(email.to_string()),
            roles: vec![role],
            password_hash: Some(hash),
            ..PersonAsked::default()
        };
        let added = inside(&mut db, &of, |tx| {
            let by = By {
                actor: &Actor::OPERATOR,
                source: "host",
            };
            manage_people::add(tx, by, &asked)
        });
        token(&mut db, &of, Some(added.person), role)
    };
    let manager = person(Role::ComplianceManager, "nadia");
    let technician = person(Role::Technician, "ines");
    let auditor = person(Role::Auditor, "otto");
    let administrator = person(Role::Administrator, "juno");
    let device = token(&mut db, &of, None, Role::Device);
    Firm {
        of,
        manager,
        technician,
        auditor,
        administrator,
        device,
    }
}

/// A bearer token, issued on the host.
pub fn token(db: &mut Db, of: &Organisation, person: Option<Id>, role: Role) -> Who {
    let may = match role {
        Role::Device => vec!["movements:write".to_string()],
        _ => Vec::new(),
    };
    let asked = TokenAsked {
        name: "of a test".to_string(),
        person,
        role,
        scopes: Scopes {
            may,
            ..Scopes::default()
        },
        days: 90,
    };
    let now = (Clock::real().now)();
    let issued = issue(db, of, &Asker::HOST, &asked, now);
    Who::Token(issued.unwrap_or_else(|error| panic!("{error:?}")).0)
}

fn inside<T>(
    db: &mut Db,
    of: &Organisation,
    mut action: impl FnMut(&mut Tx<'_>) -> Result<T, ActionError>,
) -> T {
    let (table, clock) = (Table::shipped(), Clock::real());
    let done = transact(db, &mut Books::new(), of, &[], table, clock, |tx| {
        action(tx).map_err(|error| match error {
            ActionError::Failed(error) => error,
            ActionError::Refused(refusal) => StoreError::Broken(refusal.to_string()),
        })
    });
    done.unwrap_or_else(|error| panic!("{error}"))
}
