//! How SQLite reads each statement of the store: what concerns one thing must not read a whole book.
//!
//! A wrong plan gives right answers, and only a large book shows it: a reading of one appliance once
//! took a tenth of a second because SQLite began with all entries. So every statement is explained on
//! an empty book, where the planner has nothing but its own rules, as in operation.

use crate::statements::declared;
use api::store::migrations;
use api::store::{Address, Db, Purpose};
use diesel::RunQueryDsl;
use diesel::sql_types::Text;
use std::collections::BTreeSet;

/// Statements that read all rows of a table or of a book, each on purpose.
const WHOLE: &[&[&str]] = &[
    // Lists of everything of a sort, and what a rebuild reads or throws away.
    &[
        "AllFindings",
        "AllOutgoing",
        "Adopted",
        "AdoptedAndCorrected",
        "AttachmentHashes",
        "Balances",
        "Corrections",
    ],
    &[
        "Counts",
        "EntryIds",
        "Links",
        "RegisterIds",
        "Registers",
        "Standings",
        "Subjects",
        "Tiles",
    ],
    &[
        "DropAdopted",
        "DropBalances",
        "DropCorrections",
        "DropLinks",
        "DropOutgoing",
        "DropRegisters",
    ],
    &[
        "DropStandings",
        "DropSubjects",
        "DropTiles",
        "ImportIds",
        "UnfinishedImports",
    ],
    // A few rows a book: people and what is theirs, the head.
    &[
        "Assignments",
        "CalendarsOfPerson",
        "DropMailStops",
        "DropStepsOfRevoked",
        "EndOldSessions",
    ],
    &[
        "EndSessionsOfPerson",
        "EndSurplusSessions",
        "ForgetReasons",
        "MailChoicesBefore",
        "MailCounts",
    ],
    &[
        "RevokeCalendarsOfPerson",
        "RevokeTokensOfPerson",
        "SessionsOfPerson",
        "SignIns",
        "Tokens",
    ],
    &[
        "Head",
        "NextSeq",
        "SetHead",
        "OrganisationNumbered",
        "SignInOfEmail",
        "SignInOfPerson",
    ],
    &["EndOldHalves", "FactorPolicy"],
    // All books of a database: what the service itself goes through.
    &[
        "AccessBooks",
        "ForgetLeastFailures",
        "MailBooks",
        "NewestBooking",
        "Organisations",
        "Unsigned",
    ],
    // They go backwards, or forwards, to the first rows that fit and end there.
    &[
        "AccessRecords",
        "AccessRecordsOfPerson",
        "EntriesAfter",
        "EntriesOfCylinder",
        "EventOfDays",
        "IdsHolding",
    ],
    &[
        "NewestCheckpoint",
        "NewestPlace",
        "NewestSealWithin",
        "NewestSeq",
        "SecurityRecords",
        "SentBefore",
    ],
    &["SeqBookedAt"],
    // Stretches of a book, and reports of all that moved.
    &[
        "CheckpointsAbove",
        "DisclosuresOfBlock",
        "EntriesOfBlock",
        "Hashes",
        "LeavesOfBlock",
        "MovementsByAppliance",
    ],
    &["MovementsOfBlock", "MovementsUntil"],
    // What is cleaned away.
    &["CleanAccessRecords", "ForgetOutgoing"],
    // Links of statements are few beside entries.
    &["StatementsOfCorrected"],
    // Findings are few beside entries.
    &["FindingsAfter", "OpenFindingsOfPlace"],
    // Tables of migrations.
    &["AppliedMigrations", "HasMigrationsOnSqlite"],
];

#[derive(diesel::QueryableByName)]
struct Step {
    #[diesel(sql_type = Text)]
    detail: String,
}

/// Steps of a plan that read every row of a table, or every row of one book.
fn whole(db: &mut Db, text: &str) -> Vec<String> {
    let Db::Sqlite(connection, _) = db else {
        panic!("SQLite was opened")
    };
    let explained = diesel::sql_query(format!("EXPLAIN QUERY PLAN {text}"));
    let steps: Vec<Step> = explained
        .load(connection)
        .unwrap_or_else(|error| panic!("{text}: {error}"));
    let steps = steps.into_iter().map(|step| step.detail);
    let reads_all = |step: &String| {
        let of_rows = !step.contains("(subquery") && !step.contains("SCAN own");
        let (_, terms) = step.rsplit_once("(org=?").unwrap_or_default();
        let of_book = step.contains("(org=?") && !terms.contains("=?");
        (step.starts_with("SCAN ") && of_rows) || of_book
    };
    steps.filter(reads_all).collect()
}

#[test]
fn no_statement_reads_a_whole_book_unless_it_is_meant_to() {
    let folder = tempfile::tempdir().expect("a folder");
    let address = Address::Folder(folder.path().to_path_buf());
    let mut db = Db::open(&address, Purpose::Write, true).expect("a database");
    migrations::migrate(&mut db).expect("tables");
    let all = declared();
    let mut found = BTreeSet::new();
    for (name, text) in &all {
        // What only PostgreSQL understands.
        let other = [
            "unnest(",
            "FOR UPDATE",
            "ANY(",
            "::",
            "FROM pg_",
            "to_regclass",
        ]
        .iter()
        .any(|word| text.contains(word));
        if other || text.starts_with("INSERT") {
            continue;
        }
        let whole = whole(&mut db, text);
        if !whole.is_empty() {
            println!("{name}: {}", whole.join("; "));
            found.insert(name.as_str());
        }
    }
    let meant: BTreeSet<&str> = WHOLE.iter().flat_map(|some| some.iter().copied()).collect();
    assert_eq!(found, meant);
}
