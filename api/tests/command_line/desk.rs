//! A desk to run the program at: a folder with a book and files, and what a command said.

use std::path::Path;
use std::process::{Command, Output};

/// The organisation of the desk's book.
pub const FIRM: &str = "Halfmoon Grocers";
/// One rack.
pub const APPLIANCES: &str = "appliance,site,category,refrigerant,full_charge_lb,commissioned_on\n\
                          HG-RACK-A,HG-ALDER,commercial_refrigeration,R-448A,210,2019-05-20\n";
/// One supply cylinder.
pub const CYLINDERS: &str =
    "cylinder,refrigerant,use,capacity_lb\nSUP-88231,R-448A,disposable,24\n";
/// A year in three rows.
pub const MOVEMENTS: &str = "movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician\n\
                         m-1,2025-01-02,opening,,HG-RACK-A,R-448A,210,osric\n\
                         m-2,2025-01-09,purchase,Dunmore,SUP-88231,R-448A,24,osric\n\
                         m-3,2025-04-09,charge,SUP-88231,HG-RACK-A,R-448A,9.25,ines\n";

/// A folder with a book in `book` and files beside it.
pub struct Desk(tempfile::TempDir);

impl Desk {
    pub fn new() -> Desk {
        Desk(tempfile::tempdir().unwrap())
    }

    pub fn with_book() -> Desk {
        let desk = Desk::new();
        desk.good(&["init", "--data", "book", "--organisation", FIRM]);
        for (table, text) in [
            ("appliances", APPLIANCES),
            ("cylinders", CYLINDERS),
            ("movements", MOVEMENTS),
        ] {
            let file = format!("{table}.csv");
            desk.write(&file, text);
            desk.on_book(&["import", table, &file]).ends_with(0);
        }
        desk
    }

    pub fn write(&self, name: &str, text: &str) {
        std::fs::write(self.0.path().join(name), text).unwrap();
    }

    pub fn path(&self) -> &Path {
        self.0.path()
    }

    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tarebook"));
        command
            .args(arguments)
            .current_dir(self.path())
            .env_clear()
            .env("HOME", self.path());
        command
    }

    pub fn run(&self, arguments: &[&str]) -> Ended {
        Ended(
            self.command(arguments).output().unwrap(),
            arguments.join(" "),
        )
    }

    pub fn good(&self, arguments: &[&str]) -> Ended {
        self.run(arguments).ends_with(0)
    }

    /// The command with the book and the firm of this desk.
    pub fn on_book(&self, arguments: &[&str]) -> Ended {
        let book = ["--data", "book", "--organisation", FIRM];
        self.run(&[arguments, &book[..]].concat())
    }
}

/// How a command ended, and which it was.
pub struct Ended(pub Output, pub String);

impl Ended {
    pub fn out(&self) -> String {
        String::from_utf8_lossy(&self.0.stdout).into_owned()
    }

    pub fn words(&self) -> String {
        String::from_utf8_lossy(&self.0.stderr).into_owned()
    }

    pub fn ends_with(self, code: i32) -> Ended {
        let (out, words) = (self.out(), self.words());
        assert_eq!(
            self.0.status.code(),
            Some(code),
            "{}\n{out}\n{words}",
            self.1
        );
        self
    }

    pub fn says(self, words: &str) -> Ended {
        assert!(
            self.words().contains(words),
            "{}: no '{words}' in\n{}",
            self.1,
            self.words()
        );
        self
    }
}
