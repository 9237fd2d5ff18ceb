//! A PostgreSQL that can be taken away and given back, for tests of what happens meanwhile.

use super::{Cluster, Database, Kept, Location, command, succeed};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// A database in a PostgreSQL cluster of its own, which can be stopped and started again.
pub struct Interruptible {
    cluster: Cluster,
    again: Option<Child>,
}

impl Interruptible {
    /// A new cluster with one empty database.
    pub fn new() -> (Interruptible, Database) {
        let cluster = Cluster::start("");
        let location = Location::Url(cluster.url(&cluster.new_database()));
        let database = Database {
            location,
            _kept: Kept::Elsewhere,
        };
        let again = None;
        (Interruptible { cluster, again }, database)
    }

    /// Lets every session, open ones too, only read; or write again.
    pub fn only_reads(&self, only: bool) {
        let set = format!("ALTER SYSTEM SET default_transaction_read_only = {only}");
        self.cluster.psql(&[&set, "SELECT pg_reload_conf()"]);
    }

    /// Stops the server; whoever is connected is cut off.
    pub fn stop(&mut self) {
        let file = self.cluster.folder.join("data/postmaster.pid");
        let text = std::fs::read_to_string(&file).expect("a running server");
        let server = text.lines().next().expect("its number").to_owned();
        succeed(Command::new("kill").args(["-INT", &server]));
        if let Some(mut child) = self.again.take() {
            child.wait().expect("the server ends");
        }
        while file.exists() {
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Starts the server again.
    pub fn start(&mut self) {
        let folder = &self.cluster.folder;
        let mut server = command(&self.cluster.binaries.join("postgres"), folder);
        server
            .arg("-D")
            .arg(folder.join("data"))
            .arg("-k")
            .arg(folder);
        server.args(["-c", "listen_addresses=", "-c", "max_connections=100"]);
        server
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .stdin(Stdio::null());
        self.again = Some(server.spawn().expect("a server"));
        self.cluster.wait_until_ready();
    }
}

impl Drop for Interruptible {
    fn drop(&mut self) {
        if self.again.is_some() {
            self.stop();
        }
    }
}
