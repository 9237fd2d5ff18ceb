//! A database of its own for every test, on the engine under test.
//!
//! `TEST_ENGINE=sqlite` (also when unset) gives each test an empty folder; `TEST_ENGINE=postgres`
//! gives each test an empty database in one throw-away cluster per test program. Nothing has to be
//! installed or started by hand but the packages: the cluster is made from the newest PostgreSQL
//! on the machine (or `PG_BINDIR`), listens on a Unix socket in a temporary folder only, and goes
//! when the test program ends, however it ends. As root it runs as the user `postgres`.
//! A machine without PostgreSQL fails these tests with a sentence; it never skips them in silence.

mod interruptible;

pub use interruptible::Interruptible;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// The two engines that everything must work on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Engine {
    /// A file in a folder.
    Sqlite,
    /// A database of a cluster.
    Postgres,
}

impl Engine {
    /// The engine that `TEST_ENGINE` names; SQLite when it names none.
    pub fn under_test() -> Engine {
        match std::env::var("TEST_ENGINE").as_deref() {
            Err(_) | Ok("" | "sqlite") => Engine::Sqlite,
            Ok("postgres") => Engine::Postgres,
            Ok(other) => panic!("TEST_ENGINE is sqlite or postgres, not {other}"),
        }
    }
}

/// An empty database; it goes when the value does.
pub struct Database {
    location: Location,
    _kept: Kept,
}

/// What holds a database; it is removed with it.
enum Kept {
    Folder {
        _folder: TempDir,
    },
    Named(&'static Cluster, String),
    /// Goes with a cluster of its own.
    Elsewhere,
}

impl Drop for Kept {
    /// Hundreds of databases of 9 MB each would fill the disk of a small machine.
    fn drop(&mut self) {
        if let Kept::Named(cluster, name) = self {
            cluster.drop_database(name);
        }
    }
}

/// Where a database is, as the program's `--data` or `--database-url` says it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Location {
    /// A folder for SQLite.
    Data(PathBuf),
    /// A URL for PostgreSQL.
    Url(String),
}

impl Database {
    /// An empty database on the engine under test. It does not wait for the disk.
    pub fn new() -> Database {
        Database::on(Engine::under_test(), Syncing::Off)
    }

    /// An empty database that really syncs, for tests of what survives a crash.
    pub fn durable() -> Database {
        Database::on(Engine::under_test(), Syncing::On)
    }

    /// An empty database on the engine that is named. SQLite always syncs: the program sees to it.
    pub fn on(engine: Engine, syncing: Syncing) -> Database {
        match engine {
            Engine::Sqlite => {
                let folder = TempDir::with_prefix("tarebook-test-").expect("a temporary folder");
                let location = Location::Data(folder.path().to_path_buf());
                Database {
                    location,
                    _kept: Kept::Folder { _folder: folder },
                }
            }
            Engine::Postgres => {
                let cluster = Cluster::running(syncing);
                let name = cluster.new_database();
                Database {
                    location: Location::Url(cluster.url(&name)),
                    _kept: Kept::Named(cluster, name),
                }
            }
        }
    }

    /// Folder or URL.
    pub fn location(&self) -> &Location {
        &self.location
    }

    /// The two command line arguments that name this database.
    pub fn arguments(&self) -> [String; 2] {
        match &self.location {
            Location::Data(folder) => ["--data".to_owned(), folder.display().to_string()],
            Location::Url(url) => ["--database-url".to_owned(), url.clone()],
        }
    }
}

impl Default for Database {
    fn default() -> Database {
        Database::new()
    }
}

/// Whether a commit waits for the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Syncing {
    /// As in operation.
    On,
    /// Faster; nothing about durability may be concluded.
    Off,
    /// Syncs, and cannot mend a page that a power cut tore: for the test that refuses it.
    TornPages,
}

/// A PostgreSQL of our own. A small shell watches over it: when the pipe to the shell closes,
/// because this process ended or was killed, the shell stops the server and removes the folder.
struct Cluster {
    binaries: PathBuf,
    folder: PathBuf,
    databases: AtomicU32,
    _keeper: Child,
}

// A server that has just begun still ignores the signal, so it is sent until the server is gone.
const KEEPER: &str = r#"initdb="$1/initdb -N -A trust -U postgres -E UTF8 --locale=C"
if $initdb -D "$2/data" >"$2/log" 2>&1; then
    "$1/postgres" -D "$2/data" -k "$2" -c listen_addresses= -c max_connections=100 $3 \
        >>"$2/log" 2>&1 </dev/null &
    cat >/dev/null
    while kill -QUIT $! 2>/dev/null; do sleep 0.1; done
else
    cat >/dev/null
fi
rm -rf "$2""#;

impl Cluster {
    /// The program's one cluster of this sort, started by the first test that asks.
    fn running(syncing: Syncing) -> &'static Cluster {
        static SYNCED: OnceLock<Cluster> = OnceLock::new();
        static UNSYNCED: OnceLock<Cluster> = OnceLock::new();
        static TORN: OnceLock<Cluster> = OnceLock::new();
        match syncing {
            Syncing::On => SYNCED.get_or_init(|| Cluster::start("")),
            Syncing::TornPages => TORN.get_or_init(|| Cluster::start("-c full_page_writes=off")),
            Syncing::Off => UNSYNCED.get_or_init(|| {
                let unsynced = "-c tarebook.unsynced=allowed";
                Cluster::start(&format!(
                    "-c fsync=off -c full_page_writes=off -c max_wal_size=128MB {unsynced}"
                ))
            }),
        }
    }

    fn start(options: &str) -> Cluster {
        let binaries = binaries().unwrap_or_else(|| {
            panic!("No initdb found. Install the package postgresql, or set PG_BINDIR.")
        });
        // A socket's path may have about 100 bytes, so the system's temporary folder it is.
        let folder = TempDir::with_prefix("tarebook-pg-")
            .expect("a temporary folder")
            .keep();
        if let Some((user, group)) = unprivileged_user() {
            std::os::unix::fs::chown(&folder, Some(user), Some(group)).expect("chown");
        }
        let mut keeper = command(Path::new("/bin/sh"), &folder);
        keeper
            .args(["-c", KEEPER, "keeper"])
            .arg(&binaries)
            .arg(&folder)
            .arg(options);
        // A process group of its own: what is sent to the group of the tests does not reach it.
        std::os::unix::process::CommandExt::process_group(&mut keeper, 0);
        let keeper = keeper.stdin(Stdio::piped()).spawn().expect("a shell");
        let cluster = Cluster {
            binaries,
            folder,
            databases: AtomicU32::new(0),
            _keeper: keeper,
        };
        cluster.wait_until_ready();
        cluster
    }

    fn wait_until_ready(&self) {
        let deadline = Instant::now() + Duration::from_secs(60);
        loop {
            let mut ready = command(&self.binaries.join("pg_isready"), &self.folder);
            let status = ready.arg("-q").arg("-h").arg(&self.folder).status();
            if status.expect("pg_isready runs").success() {
                return;
            }
            if Instant::now() > deadline {
                let log = std::fs::read_to_string(self.folder.join("log")).unwrap_or_default();
                panic!("PostgreSQL did not start:\n{log}");
            }
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// Runs statements as the superuser.
    fn psql(&self, statements: &[&str]) {
        succeed(&mut self.psql_command(statements));
    }

    fn psql_command(&self, statements: &[&str]) -> Command {
        let mut psql = command(&self.binaries.join("psql"), &self.folder);
        psql.args(["-X", "-q", "-v", "ON_ERROR_STOP=1", "-o", "/dev/null"]);
        psql.args(["-U", "postgres", "-d", "postgres", "-h"])
            .arg(&self.folder);
        for statement in statements {
            psql.args(["-c", statement]);
        }
        psql
    }

    fn new_database(&self) -> String {
        let name = format!("test_{}", self.databases.fetch_add(1, Ordering::Relaxed));
        self.psql(&[&format!("CREATE DATABASE {name}")]);
        name
    }

    fn url(&self, name: &str) -> String {
        let host = self.folder.display().to_string().replace('/', "%2F");
        format!("postgres://postgres@{host}/{name}")
    }

    /// Cuts off whoever is still connected. A failure is told and fails no test: it is none of its own.
    fn drop_database(&self, name: &str) {
        let statement = format!("DROP DATABASE {name} WITH (FORCE)");
        let told = self.psql_command(&[&statement]).output();
        if let Some(told) = told.ok().filter(|told| !told.status.success()) {
            eprintln!("{statement}: {}", String::from_utf8_lossy(&told.stderr));
        }
    }
}

/// The folder of initdb: `PG_BINDIR`, else the newest of Debian's.
fn binaries() -> Option<PathBuf> {
    let has_initdb = |folder: &PathBuf| folder.join("initdb").is_file();
    if let Some(given) = std::env::var_os("PG_BINDIR") {
        return Some(PathBuf::from(given)).filter(has_initdb);
    }
    let versions = std::fs::read_dir("/usr/lib/postgresql").ok()?;
    let mut found: Vec<(u32, PathBuf)> = versions
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            let version = path
                .file_name()?
                .to_str()?
                .split('.')
                .next()?
                .parse()
                .ok()?;
            Some((version, path.join("bin")))
        })
        .filter(|(_, folder)| has_initdb(folder))
        .collect();
    found.sort();
    found.pop().map(|(_, folder)| folder)
}

/// User and group `postgres` when we are root, whom PostgreSQL refuses to serve.
fn unprivileged_user() -> Option<(u32, u32)> {
    use std::os::unix::fs::MetadataExt;
    let ours = std::fs::metadata("/proc/self").ok()?.uid();
    if ours != 0 {
        return None;
    }
    let users = std::fs::read_to_string("/etc/passwd").expect("a list of users");
    let line = users.lines().find(|line| line.starts_with("postgres:"));
    let fields: Vec<&str> = line.expect("a user named postgres").split(':').collect();
    Some((
        fields[2].parse().expect("a number"),
        fields[3].parse().expect("a number"),
    ))
}

fn command(program: &Path, folder: &Path) -> Command {
    use std::os::unix::process::CommandExt;
    let mut command = Command::new(program);
    command.current_dir(folder).env_remove("PGOPTIONS");
    if let Some((user, group)) = unprivileged_user() {
        command.uid(user).gid(group);
    }
    command
}

fn succeed(command: &mut Command) {
    let Output {
        status,
        stdout,
        stderr,
    } = command.output().expect("a program that starts");
    if !status.success() {
        let _ = std::io::stderr().write_all(&stdout);
        panic!("{command:?} failed: {}", String::from_utf8_lossy(&stderr));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_test_has_an_empty_database_of_its_own() {
        let (first, second) = (Database::new(), Database::new());
        assert_ne!(first.location(), second.location());
        assert_eq!(
            says(
                &first,
                Syncing::Off,
                "SELECT count(*) FROM pg_stat_user_tables"
            ),
            "0"
        );
    }

    #[test]
    fn a_database_goes_with_its_value() {
        if Engine::under_test() == Engine::Sqlite {
            let first = Database::new();
            let Location::Data(folder) = first.location().clone() else {
                panic!("a folder was expected")
            };
            drop(first);
            assert!(!folder.exists());
            return;
        }
        let (first, second) = (Database::new(), Database::new());
        let Location::Url(url) = first.location().clone() else {
            panic!("a URL was expected")
        };
        let name = url.rsplit('/').next().expect("a name").to_owned();
        let query = format!("SELECT count(*) FROM pg_database WHERE datname = '{name}'");
        assert_eq!(says(&second, Syncing::Off, &query), "1");
        drop(first);
        assert_eq!(says(&second, Syncing::Off, &query), "0");
    }

    #[test]
    fn only_a_durable_database_syncs() {
        let (durable, fast) = (Database::durable(), Database::new());
        if Engine::under_test() == Engine::Sqlite {
            // There the program itself sees to it, and reads the setting back when it starts.
            assert_ne!(durable.location(), fast.location());
            return;
        }
        assert_eq!(says(&durable, Syncing::On, "SHOW fsync"), "on");
        assert_eq!(says(&fast, Syncing::Off, "SHOW fsync"), "off");
    }

    /// What PostgreSQL answers; for a folder the number of things in it.
    fn says(database: &Database, syncing: Syncing, query: &str) -> String {
        match database.location() {
            Location::Data(folder) => std::fs::read_dir(folder)
                .expect("a folder")
                .count()
                .to_string(),
            Location::Url(url) => {
                let cluster = Cluster::running(syncing);
                let mut psql = command(&cluster.binaries.join("psql"), &cluster.folder);
                let shown = psql.args(["-X", "-A", "-t", "-c", query, url]).output();
                let shown = shown.expect("psql runs").stdout;
                String::from_utf8(shown).expect("text").trim().to_owned()
            }
        }
    }
}
