//! Handling people and sign-ins of a test's firm, and looking at what is stored of them.

use crate::database::{Database, Location};
use crate::shop::{CLOCK, Shop};
use api::actions::ActionError;
use api::store::sign_ins::{self, SignIn};
use api::store::tx::Tx;
use api::store::writer::transact;
use api::store::{Address, Sight, StoreError};
use reports::refrigerant::Table;
use std::process::{Command, Output};
use std::sync::{Mutex, PoisonError};

/// The role of the service in tests.
pub const SERVICE: &str = "tarebook_service";

impl Shop {
    /// Runs an action that handles people in a transaction of its own.
    pub fn managing<T>(
        &mut self,
        mut action: impl FnMut(&mut Tx<'_>) -> Result<T, ActionError>,
    ) -> Result<T, ActionError> {
        // As in a writer's batch, a refusal is an outcome: what was written before it is kept.
        let mut outcome = None;
        let done = transact(
            &mut self.db,
            &mut self.books,
            &self.of,
            &[],
            Table::shipped(),
            CLOCK,
            |tx| match action(tx) {
                Err(ActionError::Failed(error)) => Err(error),
                other => {
                    outcome = Some(other);
                    Ok(())
                }
            },
        );
        match (done, outcome) {
            (Ok(()), Some(outcome)) => outcome,
            (Ok(()), None) => Err(ActionError::Failed(StoreError::Busy)),
            (Err(error), _) => Err(ActionError::Failed(error)),
        }
    }

    /// The URL of the database on PostgreSQL, as another role.
    pub fn url(&self, role: &str) -> String {
        url(&self.database, role)
    }

    /// Makes the role of the service and grants it what it needs, as the runbook does.
    pub fn grant_service_role(&self) {
        grant_service_role(&self.database);
    }

    /// How many entries the book has, read as the service reads.
    pub fn size_seen(&mut self) -> u64 {
        let org = self.of.org;
        let sight = Sight::Organisations(&[org]);
        let size = self.db.reading(sight, |db| api::store::open::size(db, org));
        size.expect("a head")
    }

    /// The only sign-in with an address.
    pub fn sign_in_of(&mut self, email: &str) -> SignIn {
        let found = sign_ins::of_email(&mut self.db, email).expect("sign-ins");
        let [one] = &found[..] else {
            panic!("{} sign-ins with {email}", found.len())
        };
        one.clone()
    }

    /// The stored hash of a password.
    pub fn hash_of(&mut self, email: &str) -> String {
        self.sign_in_of(email).password_hash
    }

    /// Stores another hash.
    pub fn rehash(&mut self, email: &str, hash: &str) {
        let (person, org) = (self.sign_in_of(email).person, self.of.org);
        let sight = Sight::Organisations(&[org]);
        self.db
            .writing(sight, |db| {
                sign_ins::set_password(db, org, person, hash, None)
            })
            .expect("another hash");
    }

    /// Everything the database holds, as text: the bytes of the files, or a dump.
    pub fn dump(&self) -> String {
        match self.database.location() {
            Location::Data(folder) => ["", "-wal"]
                .map(|end| folder.join(format!("{}{end}", Address::FILE)))
                .iter()
                .filter_map(|file| std::fs::read(file).ok())
                .map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
                .collect(),
            Location::Url(url) => {
                let dump = Command::new("pg_dump").arg(url).output();
                let dump = dump.expect("pg_dump comes with PostgreSQL's client package");
                assert!(
                    dump.status.success(),
                    "{}",
                    String::from_utf8_lossy(&dump.stderr)
                );
                String::from_utf8_lossy(&dump.stdout).into_owned()
            }
        }
    }
}

/// The URL of a database on PostgreSQL, as another role.
pub fn url(database: &Database, role: &str) -> String {
    let Location::Url(url) = database.location() else {
        panic!("SQLite has no roles")
    };
    url.replace("//postgres@", &format!("//{role}@"))
}

/// The command line arguments that name a database to the service, which never serves as the owner
/// of the tables: row security is at work in every test.
pub fn arguments_of_service(database: &Database) -> [String; 2] {
    let mut arguments = database.arguments();
    if matches!(database.location(), Location::Url(_)) {
        grant_service_role(database);
        arguments[1] = url(database, SERVICE);
    }
    arguments
}

/// Makes the role of the service and grants it what it needs, as the runbook does.
pub fn grant_service_role(database: &Database) {
    // Roles belong to the cluster, which all tests of this program share.
    static ONE_AT_A_TIME: Mutex<()> = Mutex::new(());
    let _held = ONE_AT_A_TIME.lock().unwrap_or_else(PoisonError::into_inner);
    let script = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../deploy/postgres/service-role.sql"
    );
    let role = format!("role={SERVICE}");
    let made = psql(&url(database, "postgres"), &["-v", &role, "-f", script]);
    assert!(
        made.status.success(),
        "{}",
        String::from_utf8_lossy(&made.stderr)
    );
}

/// Runs psql on a database.
pub fn psql(url: &str, arguments: &[&str]) -> Output {
    Command::new("psql")
        .args(["-X", "-q", "-A", "-t", "-v", "ON_ERROR_STOP=1", url])
        .args(arguments)
        .output()
        .expect("psql comes with PostgreSQL's client package")
}
