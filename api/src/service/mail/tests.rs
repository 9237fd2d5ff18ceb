//! The settings of mail: whole, or refused with what is missing.

use super::*;
use crate::config::{Config, Environment};
use std::path::Path;

fn plan(pairs: &[(&str, &str)]) -> Result<Option<MailPlan>, String> {
    let name = |key: &str| format!("TAREBOOK_{}", key.to_uppercase());
    let pairs = pairs
        .iter()
        .map(|(key, value)| (name(key), value.to_string()));
    let none = tempfile::NamedTempFile::new().expect("a file");
    let file: &Path = none.path();
    let config = Config::read(
        Default::default(),
        Environment::from_iter(pairs),
        Some(file),
    );
    let config = config.map_err(|error| error.0)?;
    let origin = config.get("origin").map(str::to_string);
    MailPlan::of(&config, origin.as_deref()).map_err(|error| error.0)
}

const SMTP: [(&str, &str); 4] = [
    ("mail_transport", "smtp"),
    ("mail_host", "mail.tamarack.example"),
    ("mail_from", "Ridge book <book@tamarack.example>"),
    ("origin", "https://book.example:8443"),
];

fn and<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut all = SMTP.to_vec();
    all.extend(more);
    all
}

#[test]
fn mail_is_off_unless_a_way_out_is_named() {
    assert!(plan(&[]).expect("good").is_none());
    assert!(plan(&SMTP[3..]).expect("good").is_none());
}

/// Ports: RFC 6409 (587), RFC 8314 (465), RFC 5321 (25).
#[test]
fn a_mail_server_is_asked_with_tls_on_the_port_of_its_sort() {
    for (more, port, secrecy) in [
        (&[][..], 587, Secrecy::StartTls),
        (&[("mail_tls", "tls")], 465, Secrecy::Tls),
        (
            &[("mail_tls", "tls"), ("mail_port", "2465")],
            2465,
            Secrecy::Tls,
        ),
    ] {
        let plan = plan(&and(more)).expect("good").expect("mail");
        let Way::Server(server) = &plan.way else {
            panic!("{plan:?}")
        };
        assert_eq!((server.port, server.secrecy), (port, secrecy));
        assert_eq!((plan.making.hour, plan.host.as_str()), (6, "book.example"));
        assert!(Carrier::of(&plan).is_ok());
    }
    let own = plan(&[
        SMTP[0],
        ("mail_host", "localhost"),
        SMTP[2],
        SMTP[3],
        ("mail_tls", "none"),
    ]);
    let Some(Way::Server(server)) = own.expect("good").map(|plan| plan.way) else {
        panic!("no server")
    };
    assert_eq!((server.port, server.secrecy), (25, Secrecy::Nothing));
}

#[test]
fn s_a_password_is_read_from_a_file_and_shown_to_nobody() {
    let file = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(file.path(), "hush hush\n").expect("written");
    let path = file.path().to_str().expect("a path");
    let plan = plan(&and(&[("mail_user", "book"), ("mail_password_file", path)]));
    let plan = plan.expect("good").expect("mail");
    let Way::Server(server) = &plan.way else {
        panic!("no server")
    };
    let pair = server.sign_in.clone().expect("a sign-in");
    assert_eq!(pair, ("book".to_string(), "hush hush".to_string()));
    assert!(!format!("{plan:?} {}", plan.shown()).contains("hush"));
}

#[test]
fn half_a_setting_is_refused_with_what_is_missing() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path().to_str().expect("a path");
    for (pairs, words) in [
        (vec![("mail_host", "x")], "expected mail_transport"),
        (vec![("mail_hour", "5")], "expected mail_transport"),
        (
            vec![("mail_transport", "pigeon")],
            "smtp or file, came 'pigeon'",
        ),
        (vec![("mail_transport", "file")], "expected mail_folder"),
        (
            vec![("mail_transport", "file"), ("mail_folder", "/no/such")],
            "came '/no/such'. Make it first",
        ),
        (
            vec![
                ("mail_transport", "file"),
                ("mail_folder", folder),
                ("mail_host", "x"),
            ],
            "expected no mail_host",
        ),
        (
            vec![("mail_transport", "file"), ("mail_folder", folder)],
            "expected the setting origin",
        ),
        (
            vec![("mail_transport", "file"), ("mail_folder", folder), SMTP[3]],
            "expected mail_from",
        ),
        (vec![SMTP[0], SMTP[2], SMTP[3]], "expected mail_host"),
        (SMTP[..3].to_vec(), "expected the setting origin"),
        (and(&[("mail_folder", folder)]), "expected no mail_folder"),
        (and(&[("mail_tls", "none")]), "on this machine only"),
        (and(&[("mail_tls", "ssl3")]), "came 'ssl3'"),
        (and(&[("mail_port", "0")]), "from 1 to 65535, came '0'"),
        (and(&[("mail_port", "smtp")]), "came 'smtp'"),
        (and(&[("mail_user", "book")]), "expected mail_password"),
        (and(&[("mail_password", "x")]), "expected mail_user"),
        (and(&[("mail_hour", "24")]), "from 0 to 23, came '24'"),
        (
            and(&[("mail_form", "x")]),
            "Did you mean 'TAREBOOK_MAIL_FROM'?",
        ),
        (
            vec![
                SMTP[0],
                SMTP[1],
                SMTP[3],
                ("mail_from", "two@x.example, three@y.example"),
            ],
            "expected mail_from to be an address",
        ),
        (
            vec![
                SMTP[0],
                SMTP[1],
                SMTP[3],
                ("mail_from", "a@b.example\r\nBcc: c@d.example"),
            ],
            "expected mail_from to be an address",
        ),
    ] {
        let error = plan(&pairs).expect_err(words);
        assert!(error.contains(words), "{pairs:?}: {error}");
    }
}
