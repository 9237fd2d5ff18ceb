//! Messages on their way, for whoever looks after people: what waits, what failed and why.
//!
//! Neither subjects nor texts stand here: they name appliances, and an administrator handles people.

use crate::actions::show::instant;
use crate::auth::mail::{self, Message, Stand};
use crate::http::{Problem, people};
use crate::ledger::id::Id;
use crate::pages::frame::{Around, Frame, Part};
use crate::pages::people::called;
use crate::pages::way::{Visit, go_to, page};
use crate::pages::{figures, words};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// Messages that are shown.
const MOST: i64 = 200;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "mail-messages.html")]
pub struct MessagesPage {
    /// Around the content.
    pub frame: Frame,
    /// The headline as one sentence.
    pub lede: String,
    /// Does mail go out at all?
    pub goes_out: bool,
    /// One was just taken up again.
    pub done: bool,
    /// Those that failed, then the others, newest first.
    pub rows: Vec<MessageRow>,
}

/// A message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MessageRow {
    /// Its id.
    pub id: String,
    /// To whom.
    pub who: String,
    /// What it is.
    pub kind: String,
    /// When it was made.
    pub made: String,
    /// Where it is on its way.
    pub state: &'static str,
    /// It failed.
    pub failed: bool,
    /// How often it was tried.
    pub attempts: String,
    /// What the last attempt that failed was told.
    pub why: String,
}

impl MessageRow {
    /// The row of a message; `who`: its person.
    pub fn of(message: &Message, who: String) -> MessageRow {
        MessageRow {
            id: message.id.to_string(),
            who,
            kind: words::capital(message.kind.word()),
            made: figures::instant(&instant(message.made_at)),
            state: message.stand.word(),
            failed: message.stand == Stand::Failed,
            attempts: match message.attempts {
                0 => "not tried yet".to_string(),
                tried => reports::plural::counted(tried, "attempts"),
            },
            why: message.why.clone(),
        }
    }
}

/// `2 messages failed, 1 waits.`
fn lede(messages: &[Message]) -> String {
    let count = |stand| messages.iter().filter(|one| one.stand == stand).count();
    let (failed, waiting) = (count(Stand::Failed), count(Stand::Waiting));
    let failed = match failed {
        0 => "No message failed".to_string(),
        1 => "One message failed".to_string(),
        failed => format!("{failed} messages failed"),
    };
    let waiting = match waiting {
        0 => "none waits".to_string(),
        1 => "one waits".to_string(),
        waiting => format!("{waiting} wait"),
    };
    format!("{failed}, {waiting}.")
}

/// `GET /mail/messages`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let around = Around::of(&visit)?;
    let of = visit.by()?.signed_in.of.clone();
    let everybody = people::members(&visit.asked).await?;
    let done = visit.asked.query.text("done").is_some();
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::People)?;
        let mut messages = state.desk.read(|db| mail::list(db, &of, MOST))?;
        messages.sort_by_key(|message| message.stand != Stand::Failed);
        let who = |id: Id| {
            let member = everybody.iter().find(|member| member.person == id);
            member.map_or("somebody", called).to_string()
        };
        Ok(MessagesPage {
            frame,
            lede: lede(&messages),
            goes_out: state.sends_mail,
            done,
            rows: (messages.iter())
                .map(|message| MessageRow::of(message, who(message.person)))
                .collect(),
        })
    });
    Ok(page(StatusCode::OK, &read.await?))
}

/// `POST /mail/messages/{id}/again`: it is tried anew.
pub async fn again(visit: Visit) -> Result<HttpResponse, Problem> {
    let of = visit.by()?.signed_in.of.clone();
    let (name, now) = (visit.asked.name("id").to_string(), visit.asked.now);
    let unknown = || {
        Problem::new(
            "not-found",
            "There is no message that failed under this name.",
        )
    };
    let id = Id::parse(&name).ok_or_else(unknown)?;
    let again = visit
        .asked
        .read(move |state| Ok(state.desk.read(|db| mail::again(db, &of, id, now))?));
    match again.await? {
        true => Ok(go_to("/mail/messages?done=again")),
        false => Err(unknown()),
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::sample;
    use super::*;
    use crate::auth::mail::MailKind;
    use crate::ledger::actor::Role;

    fn message(stand: Stand, why: &str) -> Message {
        Message {
            id: Id::from_bits(9),
            person: Id::from_bits(10),
            kind: MailKind::Daily,
            subject: "Your duties: HG-RACK-A".to_string(),
            body: "HG-RACK-A".to_string(),
            made_at: 0,
            stand,
            attempts: 8,
            next_at: 0,
            ended_at: 0,
            why: why.to_string(),
        }
    }

    #[test]
    fn a_failed_message_says_why_and_can_be_tried_again_and_no_text_is_shown() {
        let hostile = sample::hostile();
        let all = [
            message(Stand::Failed, &format!("550 no such mailbox {hostile}")),
            message(Stand::Sent, ""),
        ];
        let page = MessagesPage {
            frame: sample::frame(Role::Administrator, Part::People),
            lede: lede(&all),
            goes_out: false,
            done: false,
            rows: (all.iter())
                .map(|one| MessageRow::of(one, hostile.clone()))
                .collect(),
        };
        let html = page.render().unwrap();
        assert!(html.contains("One message failed, none waits."));
        assert!(html.contains("550 no such mailbox"), "{html}");
        assert!(html.contains("8 attempts"), "{html}");
        assert_eq!(html.matches("/again\"").count(), 1, "{html}");
        assert!(html.contains("sends no mail yet"), "{html}");
        assert!(!html.contains("HG-RACK-A"), "no figures, no tags: {html}");
        sample::is_clean(&html);
    }
}
