//! The record of who read personal data, exported or changed who may (promise S6).

use super::answer::Asked;
use super::listed;
use super::problem::Problem;
use super::query::invalid;
use crate::actions::permit::{Deed, Reach};
use crate::actions::show::{self, Page};
use crate::auth::access::{self, AccessRecord, Asker as Recorder, Whose};
use crate::ledger::id::Id;
use actix_web::HttpResponse;
use serde_json::{Value, json};

impl Asked {
    /// Leaves a record before what it is about is answered.
    pub async fn record(
        &self,
        deed: Deed,
        what: &'static str,
        about: String,
    ) -> Result<(), Problem> {
        let by = self.by()?.clone();
        let (role, source, now) = (by.acting(deed)?.role, self.source(), self.now);
        self.read(move |state| {
            let record = Recorder::new(&by.signed_in, role, &source).did(what, &about, now);
            Ok(state
                .desk
                .read(|db| access::record(db, by.signed_in.of.org, &record))?)
        })
        .await
    }
}

/// `GET /api/v1/access-records`.
pub async fn page(asked: Asked) -> Result<HttpResponse, Problem> {
    Ok(listed::answer(&asked, &read(&asked).await?.map(shown)))
}

/// The newest records that whoever asks may read, before the key of an earlier page.
pub async fn read(asked: &Asked) -> Result<Page<AccessRecord>, Problem> {
    let by = asked.by()?;
    let org = by.signed_in.of.org;
    let whose = match (by.reach(Deed::ReadAccessRecords), by.signed_in.person) {
        (Reach::Whole, _) => Whose::Everybody,
        (Reach::Security, _) => Whose::Security,
        (_, Some(person)) => Whose::Person(person),
        (_, None) => return Err(super::asker::forbidden(Deed::ReadAccessRecords)),
    };
    let most = asked.query.limit()?;
    let before = asked.query.text("after").map(key_of).transpose()?;
    let found = asked
        .read(move |state| {
            let most = u32::try_from(most + 1).unwrap_or(u32::MAX);
            Ok(state
                .desk
                .read(|db| access::list(db, org, whose, before, most))?)
        })
        .await?;
    let key = |record: &AccessRecord| format!("{}.{}", record.at, record.id);
    Ok(Page::of(found, most, key))
}

fn key_of(text: &str) -> Result<(i64, Id), Problem> {
    let parts = text.split_once('.');
    let key = parts.and_then(|(at, id)| Some((at.parse().ok()?, Id::parse(id)?)));
    key.ok_or_else(|| invalid("after", "the value that an earlier page gave", text))
}

fn shown(record: AccessRecord) -> Value {
    json!({
        "at": show::instant(record.at),
        "person": record.person.map(|person| person.to_string()),
        "device": record.device.map(|device| device.to_string()),
        "role": record.role.map(|role| role.word()),
        "what": record.what,
        "about": record.about,
        "source": record.source,
    })
}
