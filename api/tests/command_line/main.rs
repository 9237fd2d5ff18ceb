//! The real program as other programs drive it: what it prints, and how it ends.
//!
//! Exit codes are a contract: 0 good, 1 failed, 2 usage, 3 a verification found a break, 4 not
//! ready. Whatever goes wrong is said on standard error and never on standard output.

mod desk;
mod rules;
mod verifying;

use desk::*;

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
    // One organisation needs no name; of two, one must be named.
    with(&["--data", "book"]).ends_with(0);
    desk.good(&[
        "init",
        "--data",
        "book",
        "--organisation",
        "Pinecroft Clinic",
    ]);
    with(&["--data", "book"])
        .ends_with(2)
        .says("--organisation NAME");
    desk.run(&["init", "--data", "other"])
        .ends_with(2)
        .says("the name of the organisation");
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
    desk.run(&["demo", "--report", "--listen", "127.0.0.1:0"])
        .ends_with(2)
        .says("cannot be used with");
    // An address of documentation (RFC 5737), which no machine has: said before the year is booked.
    desk.run(&["demo", "--listen", "192.0.2.1:8080"])
        .ends_with(1)
        .says("Nothing was booked");
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
