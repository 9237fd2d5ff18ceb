//! The real program as other programs drive it: what it prints, and how it ends.
//!
//! Exit codes are a contract: 0 good, 1 failed, 2 usage, 3 a verification found a break, 4 not
//! ready. Whatever goes wrong is said on standard error and never on standard output.

use std::path::Path;
use std::process::{Command, Output};

const FIRM: &str = "Halfmoon Grocers";
const APPLIANCES: &str = "appliance,site,category,refrigerant,full_charge_lb,commissioned_on\n\
                          HG-RACK-A,HG-ALDER,commercial_refrigeration,R-448A,210,2019-05-20\n";
const CYLINDERS: &str = "cylinder,refrigerant,use,capacity_lb\nSUP-88231,R-448A,disposable,24\n";
const MOVEMENTS: &str = "movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician\n\
                         m-1,2025-01-02,opening,,HG-RACK-A,R-448A,210,osric\n\
                         m-2,2025-01-09,purchase,Dunmore,SUP-88231,R-448A,24,osric\n\
                         m-3,2025-04-09,charge,SUP-88231,HG-RACK-A,R-448A,9.25,ines\n";

/// A folder with a book in `book` and files beside it.
struct Desk(tempfile::TempDir);

impl Desk {
    fn new() -> Desk {
        Desk(tempfile::tempdir().unwrap())
    }

    fn with_book() -> Desk {
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

    fn write(&self, name: &str, text: &str) {
        std::fs::write(self.0.path().join(name), text).unwrap();
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tarebook"));
        command
            .args(arguments)
            .current_dir(self.path())
            .env_clear()
            .env("HOME", self.path());
        command
    }

    fn run(&self, arguments: &[&str]) -> Ended {
        Ended(
            self.command(arguments).output().unwrap(),
            arguments.join(" "),
        )
    }

    fn good(&self, arguments: &[&str]) -> Ended {
        self.run(arguments).ends_with(0)
    }

    /// The command with the book and the firm of this desk.
    fn on_book(&self, arguments: &[&str]) -> Ended {
        let book = ["--data", "book", "--organisation", FIRM];
        self.run(&[arguments, &book[..]].concat())
    }
}

struct Ended(Output, String);

impl Ended {
    fn out(&self) -> String {
        String::from_utf8_lossy(&self.0.stdout).into_owned()
    }

    fn words(&self) -> String {
        String::from_utf8_lossy(&self.0.stderr).into_owned()
    }

    fn ends_with(self, code: i32) -> Ended {
        let (out, words) = (self.out(), self.words());
        assert_eq!(
            self.0.status.code(),
            Some(code),
            "{}\n{out}\n{words}",
            self.1
        );
        self
    }

    fn says(self, words: &str) -> Ended {
        assert!(
            self.words().contains(words),
            "{}: no '{words}' in\n{}",
            self.1,
            self.words()
        );
        self
    }
}

#[test]
fn a_first_day_ends_well_and_data_stays_apart_from_words() {
    let desk = Desk::with_book();
    let report = desk.on_book(&["report", "additions", "--year", "2025", "--unit", "g"]);
    let report = report.ends_with(0).says("No rule set is adopted");
    // 9.25 x 453.59237 g = 4 195.7294225 g; of 210 lb that is 4.4047 %, in 365 days.
    let expected = "appliance,on,added_g,days,rolling_g,rolling_percent,annualised_percent,\
                    rolling_over,annualised_over\r\n\
                    HG-RACK-A,2025-04-09,4195.7294225,365,4195.7294225,4.4047,4.4047,no,no\r\n";
    assert_eq!(report.out(), expected);
    let quiet = ["report", "additions", "--year", "2025", "--quiet"];
    assert_eq!(desk.on_book(&quiet).ends_with(0).words(), "");
    desk.on_book(&["import", "movements", "movements.csv"])
        .ends_with(0)
        .says("are in the book already");
    assert!(
        desk.on_book(&["verify"])
            .ends_with(0)
            .out()
            .contains("the book holds")
    );
    desk.on_book(&["rebuild", "--check"]).ends_with(0);
    desk.on_book(&["export", "--out", "book.tar"]).ends_with(0);
    desk.good(&["verify", "--bundle", "book.tar"]);
}

#[test]
fn a_bad_file_fails_and_books_nothing() {
    let desk = Desk::with_book();
    let before = desk.on_book(&["verify"]).out();
    desk.write(
        "bad.csv",
        &MOVEMENTS
            .replace("m-", "n-")
            .replace(",9.25,", ",\"9,250\","),
    );
    let ended = desk
        .on_book(&["import", "movements", "bad.csv"])
        .ends_with(1);
    let words = ended
        .says("bad.csv, row 4, column mass_lb: expected")
        .says("nothing was booked");
    assert_eq!(words.out(), "");
    assert_eq!(desk.on_book(&["verify"]).out(), before);
    desk.write("more.csv", &MOVEMENTS.replace("m-", "n-"));
    desk.on_book(&["import", "movements", "more.csv", "--dry-run"])
        .ends_with(0)
        .says("Nothing was booked");
    assert_eq!(desk.on_book(&["verify"]).out(), before);
}

/// One edited byte is a break (exit code 3), in the database and in a bundle.
#[test]
fn one_changed_byte_is_a_break() {
    let desk = Desk::with_book();
    desk.on_book(&["export", "--out", "book.tar"]).ends_with(0);
    for file in ["book.tar", "book/tarebook.sqlite"] {
        let path = desk.path().join(file);
        let mut bytes = std::fs::read(&path).unwrap();
        let word = b"4195.7294225";
        let at = bytes
            .windows(word.len())
            .position(|window| window == word)
            .unwrap();
        bytes[at] = b'5';
        std::fs::write(&path, bytes).unwrap();
    }
    let ended = desk.on_book(&["verify"]).ends_with(3);
    assert!(ended.out().contains("BREAK no. "), "{}", ended.out());
    let ended = desk.run(&["verify", "--bundle", "book.tar"]).ends_with(3);
    assert!(ended.out().contains("BREAK no. "), "{}", ended.out());
}

#[test]
fn what_is_not_ready_or_wrongly_asked_has_its_own_code() {
    let desk = Desk::with_book();
    let report = ["report", "additions", "--year", "2025"];
    let with = |more: &[&'static str]| desk.run(&[&report[..], more].concat());
    with(&["--data", "elsewhere", "--organisation", FIRM])
        .ends_with(4)
        .says("tarebook init");
    with(&["--data", "book", "--organisation", "Pinecroft"])
        .ends_with(2)
        .says("Pinecroft");
    with(&["--data", "book"])
        .ends_with(2)
        .says("--organisation NAME");
    with(&["--organisation", FIRM])
        .ends_with(2)
        .says("--data DIR");
    with(&["--database-url", "book.db", "--organisation", FIRM])
        .ends_with(2)
        .says("--data book.db");
    with(&[
        "--database-url",
        "postgres://nobody@127.0.0.1:1/x",
        "--organisation",
        FIRM,
    ])
    .ends_with(1)
    .says("127.0.0.1");
    desk.run(&["report", "monthly", "--year", "2025"])
        .ends_with(2)
        .says("appliance-year");
    desk.on_book(&["init"]).ends_with(1).says("stands already");
    let mut wrong = desk.command(&["verify", "--data", "book"]);
    wrong.env("TAREBOOK_ORGANIZATION", FIRM);
    Ended(wrong.output().unwrap(), "a misspelt variable".into())
        .ends_with(2)
        .says("Did you mean 'TAREBOOK_ORGANISATION'?");
    let mut right = desk.command(&["verify", "--data", "book"]);
    right.env("TAREBOOK_ORGANISATION", FIRM);
    Ended(right.output().unwrap(), "a variable".into()).ends_with(0);
}

/// A program that is too old must not touch the book, not even to read it (exit code 4).
#[test]
fn a_book_of_a_newer_program_is_left_alone() {
    use api::store::{Address, Db, Purpose};
    let desk = Desk::with_book();
    let address = Address::Folder(desk.path().join("book"));
    let mut db = Db::open(&address, Purpose::Write, false).unwrap();
    let newer = "INSERT INTO __diesel_schema_migrations (version) VALUES ('29990101000000')";
    db.batch(newer).unwrap();
    drop(db);
    for command in [&["verify"][..], &["import", "movements", "movements.csv"]] {
        desk.on_book(command).ends_with(4).says("newer");
    }
}

#[test]
fn the_demo_prints_its_year_and_leaves_nothing_behind() {
    let desk = Desk::new();
    let ended = desk.good(&["demo", "--report"]);
    assert!(
        ended
            .out()
            .starts_with("appliance,site,category,refrigerant,full_charge_lb,")
    );
    assert_eq!(
        ended.out().lines().count(),
        31,
        "a heading, 29 appliances, and one row more for the one that changed its refrigerant"
    );
    // Nothing but the sheet: every line has its 19 cells, and no text here has a comma in it.
    assert!(
        ended
            .out()
            .lines()
            .all(|line| line.split(',').count() == 19)
    );
    assert_eq!(std::fs::read_dir(desk.path()).unwrap().count(), 0);
    desk.run(&["demo"]).ends_with(2).says("--report");
    desk.good(&["demo", "--report", "--data", "book"]);
    desk.run(&["demo", "--report", "--data", "book"])
        .ends_with(1)
        .says("expected an empty place");
    desk.good(&[
        "verify",
        "--data",
        "book",
        "--organisation",
        "Tamarack Ridge Mechanical",
    ]);
}

#[test]
fn rules_and_masses_need_no_book() {
    let desk = Desk::new();
    desk.good(&["rules", "check"]);
    desk.good(&["rules", "test"]);
    desk.good(&["mass", "7 lb 10 oz"]);
    assert!(
        desk.run(&["mass", "7 lb 16 oz"])
            .ends_with(1)
            .out()
            .contains("below 16")
    );
    assert!(
        desk.run(&["mass", "-3", "--unit", "lb"])
            .ends_with(1)
            .out()
            .contains("refused")
    );
    desk.write("gap.toml", "id = \"x\"\n");
    desk.run(&["rules", "check", "gap.toml"])
        .ends_with(1)
        .says("gap.toml");
}

/// Adopted from a day on, a set judges what happens from that day: 9 lb 4 oz of 210 lb is 4.4 % of
/// the full charge, so that nothing is over; what counts is that a limit is asked at all.
#[test]
fn a_rule_set_is_adopted_from_the_command_line() {
    let desk = Desk::with_book();
    let report = ["report", "appliance-year", "--year", "2025"];
    desk.on_book(&report)
        .ends_with(0)
        .says("No rule set is adopted");
    desk.on_book(&["rules", "adopt", "us-federal-hfc", "--from", "2025-01-01"])
        .ends_with(0)
        .says("judges by us-federal-hfc from 2025-01-01 on: entry no.");
    desk.on_book(&report)
        .ends_with(0)
        .says("us-federal-hfc (adopted by no.");
    desk.on_book(&["verify"]).ends_with(0);
    desk.on_book(&["rules", "adopt", "no-such-set", "--from", "2025-01-01"])
        .ends_with(1)
        .says("expected a rule file (TOML) or one of us-federal-ods");
    desk.on_book(&["rules", "adopt", "us-federal-hfc", "--from", "soon"])
        .ends_with(2)
        .says("expected a day such as 2026-01-01");
    desk.write("not.toml", "id = \"x\"\nwhat = 1\n");
    desk.on_book(&["rules", "adopt", "not.toml", "--from", "2025-01-01"])
        .ends_with(1);
}

/// H2: whoever knows the key of a book is not taken in by another book that verifies in itself.
#[test]
fn a_book_that_began_with_another_key_is_a_break() {
    let desk = Desk::with_book();
    desk.good(&["init", "--data", "other", "--organisation", FIRM]);
    desk.on_book(&["export", "--out", "book.tar"]).ends_with(0);
    let key_of = |folder: &str| {
        let keys = std::fs::read_dir(desk.path().join(folder).join("keys")).unwrap();
        let file = keys.map(|file| file.unwrap().path());
        let file = file.filter(|file| file.extension().is_some_and(|end| end == "key"));
        let line = std::fs::read_to_string(file.last().unwrap()).unwrap();
        let key = api::ledger::checkpoint::SigningKey::parse(&line).unwrap();
        key.verification_key().to_string()
    };
    let (own, other) = (key_of("book"), key_of("other"));
    desk.good(&["verify", "--bundle", "book.tar", "--key", &own]);
    desk.on_book(&["verify", "--key", &own]).ends_with(0);
    let ended = desk
        .run(&["verify", "--bundle", "book.tar", "--key", &other])
        .ends_with(3);
    assert!(ended.out().contains(&other), "{}", ended.out());
    desk.run(&["verify", "--bundle", "book.tar", "--key", "no key"])
        .ends_with(2)
        .says("expected a verification key or a file of them");
    desk.write("known", &format!("{own}\n\n{other}\n"));
    desk.good(&["verify", "--bundle", "book.tar", "--key", "known"]);
    desk.write("known", &format!("{other}\n"));
    desk.run(&["verify", "--bundle", "book.tar", "--key", "known"])
        .ends_with(3);
    desk.write("known", "\n");
    desk.run(&["verify", "--bundle", "book.tar", "--key", "known"])
        .ends_with(2)
        .says("came an empty file");
}

#[test]
fn a_file_that_is_no_whole_bundle_is_a_break_and_no_file_is_a_failure() {
    let desk = Desk::with_book();
    desk.on_book(&["export", "--out", "book.tar"]).ends_with(0);
    let whole = std::fs::read(desk.path().join("book.tar")).unwrap();
    std::fs::write(desk.path().join("cut.tar"), &whole[..whole.len() / 2]).unwrap();
    desk.run(&["verify", "--bundle", "cut.tar"])
        .ends_with(3)
        .says("cut.tar: ");
    desk.write("prose.tar", "This is no bundle.");
    desk.run(&["verify", "--bundle", "prose.tar"])
        .ends_with(3)
        .says("prose.tar: expected a whole tar file");
    // A tar file without any member.
    std::fs::write(desk.path().join("empty.tar"), [0; 1024]).unwrap();
    desk.run(&["verify", "--bundle", "empty.tar"]).ends_with(3);
    // One line of the disclosures is no JSON any more: the file and the line are named.
    let (line, spoilt) = (b"{\"field\":", b"?\"field\":");
    let at = whole.windows(line.len()).rposition(|part| part == line);
    let mut torn = whole.clone();
    torn[at.unwrap()..][..line.len()].copy_from_slice(spoilt);
    std::fs::write(desk.path().join("torn.tar"), torn).unwrap();
    desk.run(&["verify", "--bundle", "torn.tar"])
        .ends_with(3)
        .says("torn.tar: disclosures/000.jsonl: line ");
    // A folder is no file: that is no proof of anything.
    desk.run(&["verify", "--bundle", "book"]).ends_with(1);
    desk.run(&["verify", "--bundle", "nowhere.tar"])
        .ends_with(1);
}
