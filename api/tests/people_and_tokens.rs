//! `tarebook user` and `tarebook token` as an operator runs them: what they print, how they end, and
//! that no password or token is ever repeated on a screen or in a message (promise S5).

use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const FIRM: &str = "Halfmoon Grocers";
const PASSWORD: &str = "nine kettles on a windy roof";

struct Ended {
    code: i32,
    out: String,
    words: String,
}

/// Runs the real program in a folder with `input` on its standard input.
fn run(folder: &Path, arguments: &[&str], input: &str) -> Ended {
    let book = ["--data", "book", "--organisation", FIRM];
    let mut child = Command::new(env!("CARGO_BIN_EXE_tarebook"))
        .args(arguments)
        .args(book)
        .current_dir(folder)
        .env_clear()
        .env("HOME", folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A command that reads no password may have ended already.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    let ended = child.wait_with_output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    let (out, words) = (text(ended.stdout), text(ended.stderr));
    for said in [&out, &words] {
        assert!(
            !said.contains(PASSWORD),
            "S5: {arguments:?} repeats the password"
        );
    }
    Ended {
        code: ended.status.code().unwrap(),
        out,
        words,
    }
}

fn desk() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let init = ["init", "--administrator", "Teodor@halfmoon.example"];
    let begun = run(folder.path(), &init, &format!("{PASSWORD}\n"));
    assert_eq!(begun.code, 0, "{}", begun.words);
    folder
}

#[test]
fn people_are_added_changed_listed_and_disabled() {
    let desk = desk();
    let good = |arguments: &[&str], input: &str| {
        let ended = run(desk.path(), arguments, input);
        assert_eq!(ended.code, 0, "{arguments:?}: {}", ended.words);
        ended
    };
    let (ines, signe) = ("ines@tamarack.example", "signe@aldworth.example");
    let add = [
        "user",
        "add",
        ines,
        "--role",
        "technician",
        "--name",
        "Ines Vallory",
    ];
    let said = good(&add, &format!("{PASSWORD}\r\n")).words;
    assert!(
        said.contains("ines@tamarack.example is technician, may sign in"),
        "{said}"
    );
    let add = ["user", "add", signe, "--role", "auditor", "--no-password"];
    good(&add, "");
    let roles = [
        "user",
        "roles",
        ines,
        "--role",
        "compliance_manager",
        "--role",
        "technician",
    ];
    good(&roles, "");
    good(&["user", "disable", signe], "");
    good(&["user", "password", signe], &format!("{PASSWORD}\n"));
    let listed = good(&["user", "list"], "").out;
    let rows: Vec<Vec<&str>> = listed
        .lines()
        .map(|line| line.split('\t').collect())
        .collect();
    assert_eq!(rows[0], ["email", "roles", "state", "name", "person"]);
    let shown: Vec<&[&str]> = rows[1..].iter().map(|row| &row[..4]).collect();
    assert_eq!(
        shown,
        [
            [
                ines,
                "technician compliance_manager",
                "may sign in",
                "Ines Vallory"
            ],
            [signe, "auditor", "disabled", ""],
            [
                "teodor@halfmoon.example",
                "administrator",
                "may sign in",
                ""
            ],
        ]
    );
    // By id as well as by address; the book still verifies.
    good(&["user", "enable", rows[2][4]], "");
    assert!(
        good(&["user", "list"], "")
            .out
            .contains("auditor\tmay sign in")
    );
    good(&["verify"], "");
}

/// Runs command lines that must fail: what comes in, exit code, a word of what is said.
fn refused(desk: &Path, cases: &[(&str, &str, i32, &str)]) {
    for (line, input, code, says) in cases {
        let arguments: Vec<&str> = line.split(' ').collect();
        let ended = run(desk, &arguments, input);
        assert_eq!(ended.code, *code, "{line}: {}", ended.words);
        assert!(ended.words.contains(says), "{line}: {}", ended.words);
        assert_eq!(ended.out, "", "{line}");
    }
}

#[test]
fn what_cannot_be_is_said_and_changes_nothing() {
    let desk = desk();
    let before = run(desk.path(), &["user", "list"], "").out;
    let new = "user add dov@tamarack.example --role technician";
    let unnamed = "user add no-address --role auditor --no-password";
    let taken = "user add teodor@halfmoon.example --role auditor --no-password";
    let lowered = "user roles teodor@halfmoon.example --role auditor";
    refused(
        desk.path(),
        &[
            (new, "too short", 1, "15 to 256"),
            (new, "Halfmoon-Grocers-2026", 1, "name of the organisation"),
            (new, "passwordpassword1", 1, "first to be tried"),
            (new, "", 2, "standard input"),
            (
                "user add d@x.example --role boss",
                "",
                2,
                "compliance_manager",
            ),
            ("user add d@x.example", "", 2, "--role"),
            (unnamed, "", 1, "e-mail"),
            (taken, "", 1, "nobody else"),
            (
                "user disable teodor@halfmoon.example",
                "",
                1,
                "last administrator",
            ),
            (lowered, "", 1, "last administrator"),
            ("user disable nobody@halfmoon.example", "", 1, "No person"),
            (
                "user password nobody@halfmoon.example",
                PASSWORD,
                1,
                "No person",
            ),
        ],
    );
    assert_eq!(run(desk.path(), &["user", "list"], "").out, before);
}

#[test]
fn a_token_is_printed_once_listed_without_its_secret_and_revoked() {
    let desk = desk();
    let issue = "token issue --role auditor --days 30 --name nightly-export";
    let issued = run(desk.path(), &issue.split(' ').collect::<Vec<_>>(), "");
    assert_eq!(issued.code, 0, "{}", issued.words);
    let token = issued.out.trim_end();
    assert_eq!(issued.out, format!("{token}\n"), "nothing else");
    // tb_, eight characters, _, 256 bits in base64url.
    assert_eq!((token.len(), &token[..3], &token[11..12]), (55, "tb_", "_"));
    assert!(!issued.words.contains(&token[12..]), "S5");
    let scale = run(desk.path(), &["token", "issue", "--role", "device"], "");
    assert_eq!(scale.code, 0, "a device posts movements by default");
    let listed = run(desk.path(), &["token", "list"], "").out;
    assert_eq!(listed.lines().count(), 3, "{listed}");
    assert!(!listed.contains(&token[12..]), "S5");
    let row: Vec<&str> = listed.lines().nth(1).unwrap().split('\t').collect();
    assert_eq!(row[..3], [&token[..11], "auditor", "holds"]);
    assert_eq!((row[4], row[5]), ("", "nightly-export"));
    // Also by the whole token, as somebody pastes it who found it where it should not be.
    let revoked = run(desk.path(), &["token", "revoke", token], "");
    assert_eq!(revoked.code, 0, "{}", revoked.words);
    assert!(!revoked.words.contains(&token[12..]), "S5");
    let listed = run(desk.path(), &["token", "list"], "").out;
    assert!(listed.contains("auditor\trevoked"), "{listed}");
}

#[test]
fn a_token_that_cannot_be_is_refused() {
    let scoped = "token issue --role auditor --scope movements:write";
    let boundless = "token issue --role device --scope everything";
    refused(
        desk().path(),
        &[
            ("token revoke tb_aaaaaaaa", "", 1, "token list"),
            ("token issue --role operator", "", 2, "device"),
            ("token issue --role auditor --days 366", "", 2, "365"),
            ("token issue --role auditor --days 0", "", 2, "365"),
            (
                "token issue --role auditor --person nobody",
                "",
                1,
                "No person",
            ),
            (scoped, "", 1, "none for"),
            (boundless, "", 1, "readings:write"),
        ],
    );
}
