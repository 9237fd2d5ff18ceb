//! Who does what is owed at an appliance, or at all appliances of its site.

use super::frame::{Around, Frame, Part};
use super::way::{Visit, go_to, page};
use crate::actions::assign::{self, AssignmentShown};
use crate::actions::permit::Deed;
use crate::actions::show::duties::PersonNamed;
use crate::actions::show::overview;
use crate::actions::show::things::Sort;
use crate::actions::{ActionError, Refusal};
use crate::http::Problem;
use crate::http::answer::PATIENCE;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "assign.html")]
pub struct AssignPage {
    /// Around the content.
    pub frame: Frame,
    /// The appliance.
    pub tag: String,
    /// Its address; the form comes back to it.
    pub back: String,
    /// One of them was changed since its form was made.
    pub stale: bool,
    /// One form for the appliance, one for its site.
    pub forms: Vec<AssignForm>,
    /// Whom it can be given to.
    pub people: Vec<PersonNamed>,
}

/// A form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AssignForm {
    /// What it is for.
    pub title: String,
    /// Where it goes.
    pub action: String,
    /// Id of its box.
    pub field: &'static str,
    /// Id of who does it now.
    pub person: String,
    /// Who does it now, where they cannot be chosen any more.
    pub other: Option<PersonNamed>,
    /// The state it changes.
    pub version: i64,
    /// What was chosen, what holds now and what held before, where it was changed meanwhile: value,
    /// and name.
    pub columns: Vec<(&'static str, String, String)>,
}

/// What was sent by a form that somebody else's change overtook.
struct Overtaken {
    /// `appliance` or `site`.
    kind: &'static str,
    yours: String,
    before: String,
}

impl AssignForm {
    fn of(shown: &AssignmentShown, people: &[PersonNamed]) -> AssignForm {
        let known = |one: &&PersonNamed| people.iter().any(|other| other.id == one.id);
        let (title, field) = match shown.kind {
            "site" => (
                format!("All appliances of {} that name nobody", shown.tag),
                "of-site",
            ),
            _ => (format!("Only {}", shown.tag), "of-appliance"),
        };
        AssignForm {
            title,
            field,
            action: format!("/{}s/{}/assign", shown.kind, shown.id),
            person: shown
                .person
                .as_ref()
                .map_or(String::new(), |who| who.id.clone()),
            other: shown.person.clone().filter(|one| !known(&one)),
            version: shown.version,
            columns: Vec::new(),
        }
    }

    /// Lays what was sent beside what holds now and what held when the form was made.
    fn beside(&mut self, sent: &Overtaken, people: &[PersonNamed]) {
        let name = |id: &str| match people.iter().chain(&self.other).find(|one| one.id == id) {
            Some(one) => one.name.clone(),
            None if id.is_empty() => "nobody in particular".to_string(),
            None => "somebody who signs in no longer".to_string(),
        };
        let columns = [
            ("Yours", &sent.yours),
            ("Now", &self.person),
            ("Before", &sent.before),
        ];
        let columns = columns.map(|(head, id)| (head, id.clone(), name(id)));
        self.columns = columns.to_vec();
    }
}

/// `GET /appliances/{id}/assign`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let name = visit.asked.name("id");
    form(&visit, name, None).await
}

async fn form(
    visit: &Visit,
    name: String,
    overtaken: Option<Overtaken>,
) -> Result<HttpResponse, Problem> {
    let stale = overtaken.is_some();
    let (around, of) = (Around::of(visit)?, visit.by()?.signed_in.of.clone());
    let now = visit.asked.now;
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Duties)?;
        let people = state.desk.read(|db| assign::choices(db, &of))?;
        let appliance = |db: &mut _| assign::one(db, &of, Sort::Appliance, &name);
        let appliance = state.desk.read(appliance)?;
        let site = state
            .desk
            .read(|db| overview::one(db, &of, &appliance.id, now))?
            .site;
        let mut forms = vec![AssignForm::of(&appliance, &people)];
        if !site.is_empty() {
            let site = state
                .desk
                .read(|db| assign::one(db, &of, Sort::Site, &site))?;
            forms.push(AssignForm::of(&site, &people));
        }
        if let Some(sent) = overtaken {
            let about = format!("/{}s/", sent.kind);
            let own = forms
                .iter_mut()
                .filter(|one| one.action.starts_with(&about));
            own.for_each(|one| one.beside(&sent, &people));
        }
        Ok(AssignPage {
            frame,
            back: appliance.id.clone(),
            tag: appliance.tag,
            stale,
            forms,
            people,
        })
    });
    let status = if stale {
        StatusCode::PRECONDITION_FAILED
    } else {
        StatusCode::OK
    };
    Ok(page(status, &read.await?))
}

/// `POST /appliances/{id}/assign`.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    taken(visit, Sort::Appliance).await
}

/// `POST /sites/{id}/assign`.
pub async fn take_site(visit: Visit) -> Result<HttpResponse, Problem> {
    taken(visit, Sort::Site).await
}

async fn taken(visit: Visit, sort: Sort) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let actor = by.acting(Deed::Assign)?;
    let name = visit.asked.name("id");
    let person = Some(visit.filled("person").to_string()).filter(|person| !person.is_empty());
    let versions = vec![visit.filled("version").to_string()];
    let done = visit.asked.state.desk.act(&by.signed_in.of, move |tx| {
        assign::set(tx, &actor, sort, &name, person.as_deref(), Some(&versions))
    });
    let done = tokio::time::timeout(PATIENCE, done).await;
    let done = done.map_err(|_| Problem::unavailable("the writer did not answer in time"))?;
    match done {
        Ok(()) => Ok(go_to("/duties")),
        Err(ActionError::Refused(Refusal::StaleVersion { .. })) => {
            let back = visit.filled("back").to_string();
            let sent = Overtaken {
                kind: sort.word(),
                yours: visit.filled("person").to_string(),
                before: visit.filled("before").to_string(),
            };
            form(&visit, back, Some(sent)).await
        }
        Err(error) => Err(error.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ledger::actor::Role;
    use crate::pages::sample;

    #[test]
    fn what_was_changed_meanwhile_stands_in_three_columns() {
        let person = |id: &str, name: &str| PersonNamed {
            id: id.to_string(),
            name: name.to_string(),
        };
        let people = vec![person("1", "Ines Vallory"), person("2", &sample::hostile())];
        let shown = AssignmentShown {
            kind: "site",
            id: "s".to_string(),
            tag: "Alder Street".to_string(),
            person: Some(people[1].clone()),
            version: 4,
        };
        let mut form = AssignForm::of(&shown, &people);
        let sent = Overtaken {
            kind: "site",
            yours: "1".to_string(),
            before: String::new(),
        };
        form.beside(&sent, &people);
        let heads: Vec<&str> = form.columns.iter().map(|(head, ..)| *head).collect();
        assert_eq!(heads, ["Yours", "Now", "Before"]);
        assert_eq!(form.columns[2].2, "nobody in particular");
        let page = AssignPage {
            frame: sample::frame(Role::ComplianceManager, Part::Duties),
            tag: "HG-RACK-A".to_string(),
            back: String::new(),
            stale: true,
            forms: vec![form],
            people,
        };
        let html = page.render().expect("a page");
        sample::is_clean(&html);
        assert!(html.contains("Ines Vallory"), "{html}");
    }
}
