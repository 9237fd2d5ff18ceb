//! On its way: no header from a name, one hand at a time, tried again, and through a mail server.

use super::*;
use api::service::mail::{Secrecy, Server as MailServer};
use std::io::{BufRead, BufReader, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};

/// A name that would begin a header or a line of its own, or turn the writing, does neither. The door
/// takes no such name; what came into the database otherwise is not trusted for that.
#[test]
fn s_a_name_begins_no_header() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let evil = "Tamarack\r\nBcc: all@elsewhere.example\r\n\r\n\u{202e}Ünder";
    let set = format!("UPDATE organisations SET name = '{evil}'");
    shop.db.batch(&set).expect("planted");
    letters.round(&mut shop);
    let letter = letters.emptied().remove(0);
    let bcc = |name: &String| name.eq_ignore_ascii_case("bcc");
    assert!(!letter.headers.iter().any(bcc), "{:?}", letter.headers);
    let planted = "Tamarack Bcc: all@elsewhere.example Ünder";
    assert!(
        letter
            .subject
            .starts_with(&format!("Your duties at {planted}")),
        "{}",
        letter.subject
    );
    assert!(letter.body.contains(planted) && !letter.body.contains('\u{202e}'));
    assert!(
        !letter.body.lines().any(|line| line.starts_with("Bcc")),
        "{}",
        letter.body
    );
    let head = letter.raw.split("\r\n\r\n").next().expect("a head");
    assert!(head.is_ascii() && !head.contains("\r\nBcc"), "{head}");
}

/// What nobody takes is tried again with growing waits and then stands as failed, with the reason,
/// until somebody asks for it again.
#[test]
fn what_nobody_takes_is_tried_again() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let nowhere = letters.folder.path().join("gone");
    let mut plan = letters.plan.clone();
    plan.way = Way::Folder(nowhere.clone());
    let broken = Box {
        folder: TempDir::new().expect("a folder"),
        plan,
    };
    assert_eq!(broken.round(&mut shop), done(1, 0, 1));
    let mut failures = 1;
    // The waits of service/mail.rs, common practice, no source.
    for minutes in [1, 5, 30, 120, 360, 720, 960] {
        assert_eq!(broken.round(&mut shop).failed, 0, "not before its time");
        assert_eq!(stands(&mut shop)[0], Stand::Waiting);
        let wait = |shop: &mut Shop, minutes| shop.wait_minutes(minutes);
        wait(&mut shop, minutes);
        failures += broken.round(&mut shop).failed;
    }
    // On the second day its list was made and failed beside it.
    let of = shop.of.clone();
    let all = mail::list(&mut shop.db, &of, 9).expect("a list");
    let first = all.last().expect("a message");
    assert_eq!(
        (first.stand, first.attempts),
        (Stand::Failed, 8),
        "{failures} failures"
    );
    assert!(first.why.contains("gone"), "{}", first.why);
    assert!(first.body.contains(REPAIR), "kept, to be tried again");
    letters.round(&mut shop);
    assert!(
        letters
            .emptied()
            .iter()
            .all(|letter| !letter.id.contains(&first.id.to_string()))
    );
    assert!(mail::again(&mut shop.db, &of, first.id, now()).expect("a look"));
    assert!(
        !mail::again(&mut shop.db, &of, first.id, now()).expect("a look"),
        "it waits"
    );
    letters.round(&mut shop);
    let sent = letters.emptied();
    let id = format!("{}@book.example", first.id);
    assert_eq!(
        sent.iter().filter(|letter| letter.id == id).count(),
        1,
        "{sent:?}"
    );
}

/// Whoever sends holds the message; a process that dies with it leaves it to another, ten minutes
/// later. Two at once do not get the same one.
#[test]
fn a_message_is_in_one_hand_at_a_time() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let of = shop.of.clone();
    let made = api::actions::mail::make(&mut shop.db, &of, &letters.plan.making, now());
    assert_eq!(made.expect("made"), 1);
    let may = |_: &[Role]| true;
    let held = mail::next(&mut shop.db, &of, may, now())
        .expect("a look")
        .expect("one");
    assert!(
        mail::next(&mut shop.db, &of, may, now())
            .expect("a look")
            .is_none()
    );
    assert_eq!(letters.round(&mut shop), done(0, 0, 0));
    shop.wait_minutes(10);
    assert_eq!(
        letters.round(&mut shop),
        done(0, 1, 0),
        "the other one died"
    );
    // It comes back after all: what it says of the message is not heard any more.
    let late = api::store::outgoing::Came::Later(now(), "late");
    mail::came(&mut shop.db, &of, &held, late, now()).expect("a word");
    assert_eq!(stands(&mut shop), [Stand::Sent]);
    assert_eq!(letters.emptied().len(), 1);
}

/// A mail server that says little: takes each message, or does to it what a test wants.
struct Server {
    port: u16,
    taken: Arc<Mutex<Vec<String>>>,
}

/// What a mail server does with a message.
#[derive(Clone, Copy, PartialEq)]
enum Mood {
    /// Takes it.
    Takes,
    /// Has no room just now (RFC 5321, 4.2.3: 452).
    IsFull,
    /// Takes it and hangs up before it says so.
    HangsUp,
}

impl Server {
    /// Serves one connection for each mood, in turn.
    fn start(moods: &'static [Mood]) -> Server {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let port = listener.local_addr().expect("an address").port();
        let taken = Arc::new(Mutex::new(Vec::new()));
        let of_thread = Arc::clone(&taken);
        std::thread::spawn(move || {
            for mood in moods {
                let Ok((stream, _)) = listener.accept() else {
                    return;
                };
                // Whoever hangs up early, as one that insists on TLS does, ends its own talk only.
                let _ = talk(stream, *mood, &of_thread);
            }
        });
        Server { port, taken }
    }

    fn taken(&self) -> Vec<Read> {
        let taken = self.taken.lock().expect("held by nobody");
        taken.iter().map(|text| read(text.as_bytes())).collect()
    }

    fn plan(&self, secrecy: Secrecy) -> MailPlan {
        let mut plan = Box::new().plan;
        plan.way = Way::Server(MailServer {
            host: "127.0.0.1".to_string(),
            port: self.port,
            secrecy,
            sign_in: None,
        });
        plan
    }
}

/// The talk of RFC 5321, appendix D.1, from the server's side; it offers no TLS.
fn talk(stream: TcpStream, mood: Mood, taken: &Mutex<Vec<String>>) -> std::io::Result<()> {
    let mut says = stream.try_clone()?;
    let mut heard = BufReader::new(stream).lines();
    let mut say = move |line: &str| says.write_all(format!("{line}\r\n").as_bytes());
    say("220 mail.example")?;
    while let Some(line) = heard.next() {
        let line = line?;
        match line.split([' ', ':']).next().unwrap_or_default() {
            "EHLO" => say("250 mail.example")?,
            "DATA" if mood == Mood::IsFull => say("452 no room just now")?,
            "DATA" => {
                say("354 go on")?;
                let mut text = String::new();
                for line in heard.by_ref() {
                    match line?.as_str() {
                        "." => break,
                        line => text.push_str(&format!("{line}\r\n")),
                    }
                }
                taken.lock().expect("held by nobody").push(text);
                if mood == Mood::HangsUp {
                    return Ok(());
                }
                say("250 taken")?;
            }
            "QUIT" => return say("221 bye"),
            _ => say("250 good")?,
        }
    }
    Ok(())
}

/// A server that is full is asked again a minute later. One whose answer is lost may have taken the
/// message: it goes out again under the same Message-ID, so that nothing is lost and a mail program
/// can tell.
#[test]
fn a_mail_server_may_be_full_or_hang_up() {
    let (mut shop, ..) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let server = Server::start(&[Mood::IsFull, Mood::HangsUp, Mood::Takes]);
    let letters = Box {
        plan: server.plan(Secrecy::Nothing),
        folder: TempDir::new().expect("a folder"),
    };
    let of = shop.of.clone();
    assert_eq!(letters.round(&mut shop), done(1, 0, 1));
    let why = mail::list(&mut shop.db, &of, 1).expect("a list")[0]
        .why
        .clone();
    assert!(why.contains("no room just now"), "{why}");
    assert!(server.taken().is_empty());
    shop.wait_minutes(1);
    assert_eq!(
        letters.round(&mut shop),
        done(0, 0, 1),
        "the answer is lost"
    );
    shop.wait_minutes(5);
    assert_eq!(letters.round(&mut shop), done(0, 1, 0));
    let taken = server.taken();
    assert_eq!(taken.len(), 2, "at least once, not at most once");
    assert_eq!(taken[0].id, taken[1].id);
    assert_eq!(taken[0].to, "ines@tamarack.example");
    // The first copy may be the one that is read: its way out holds as well.
    for letter in &taken {
        let secret = letter.stop.rsplit('/').next().expect("a secret");
        let whose = mail::stopping(&mut shop.db, secret).expect("a look");
        assert!(whose.is_some(), "{}", letter.stop);
    }
}

/// Where TLS is set, not one word of a message goes to a server that offers none.
#[test]
fn s_nothing_goes_out_without_the_tls_that_was_asked_for() {
    let (mut shop, ..) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    let server = Server::start(&[Mood::Takes, Mood::Takes]);
    for (secrecy, result) in [
        (Secrecy::StartTls, done(1, 0, 1)),
        (Secrecy::Tls, done(0, 0, 1)),
    ] {
        let letters = Box {
            plan: server.plan(secrecy),
            folder: TempDir::new().expect("a folder"),
        };
        assert_eq!(letters.round(&mut shop), result, "{secrecy:?}");
        shop.wait_minutes(1);
    }
    assert!(server.taken().is_empty());
    assert_eq!(stands(&mut shop), [Stand::Waiting]);
}
