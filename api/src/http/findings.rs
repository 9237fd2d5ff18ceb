//! Worked-out answers: standings, the flagged list, findings.

use super::answer::Asked;
use super::listed;
use super::problem::Problem;
use crate::actions::show::flagged::{self, FlaggedAsked};
use crate::actions::show::{findings, standing};
use actix_web::HttpResponse;

/// `GET /api/v1/appliances/{id}/standing`.
pub async fn standing(asked: Asked) -> Result<HttpResponse, Problem> {
    let (of, name) = (asked.by()?.signed_in.of.clone(), asked.name("id"));
    let (on, now) = (asked.query.day("on")?, asked.now);
    let shown = asked
        .read(move |state| state.desk.read(|db| standing::one(db, &of, &name, on, now)))
        .await?;
    Ok(HttpResponse::Ok().json(shown))
}

/// `GET /api/v1/follow-ups`.
pub async fn flagged(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let question = FlaggedAsked {
        after: asked.query.text("after").unwrap_or_default().to_string(),
        most: asked.query.limit()?,
        since: asked.query.day("since")?,
        now: asked.now,
    };
    let page = asked
        .read(move |state| state.desk.read(|db| flagged::page(db, &of, &question)))
        .await?;
    Ok(listed::answer(&asked, &page))
}

/// `GET /api/v1/findings`.
pub async fn page(asked: Asked) -> Result<HttpResponse, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let after = asked.query.text("after").map(str::to_string);
    let settled = asked.query.word("settled", &["no", "yes"])? == "yes";
    let most = asked.query.limit()?;
    let page = asked
        .read(move |state| {
            state
                .desk
                .read(|db| findings::page(db, &of, after.as_deref(), settled, most))
        })
        .await?;
    Ok(listed::answer(&asked, &page))
}
