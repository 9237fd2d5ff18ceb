//! Worked-out answers: standings, the flagged list, duties, findings.

use super::answer::Asked;
use super::listed;
use super::problem::Problem;
use crate::actions::show::flagged::{self, FlaggedAsked, FlaggedShown};
use crate::actions::show::{Page, findings, standing};
use actix_web::HttpResponse;
use serde_json::{Value, json};

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
    let page = flagged_page(&asked).await?;
    Ok(listed::answer(&asked, &page))
}

/// `GET /api/v1/duties`.
pub async fn duties(asked: Asked) -> Result<HttpResponse, Problem> {
    let page = flagged_page(&asked).await?;
    let owed = |shown: &FlaggedShown| -> Vec<Value> {
        let duty = |duty| json!({"appliance": shown.appliance, "tag": shown.tag, "duty": duty});
        shown.duties.iter().map(duty).collect()
    };
    let items = page.items.iter().flat_map(owed).collect();
    Ok(listed::answer(
        &asked,
        &Page {
            items,
            next: page.next,
        },
    ))
}

async fn flagged_page(asked: &Asked) -> Result<Page<FlaggedShown>, Problem> {
    let of = asked.by()?.signed_in.of.clone();
    let question = FlaggedAsked {
        after: asked.query.text("after").unwrap_or_default().to_string(),
        most: asked.query.limit()?,
        since: asked.query.day("since")?,
        now: asked.now,
    };
    asked
        .read(move |state| state.desk.read(|db| flagged::page(db, &of, &question)))
        .await
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
