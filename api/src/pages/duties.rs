//! What is owed: late first, then this week, then week by week; or as thirteen weeks by site.
//!
//! What was asked for stands in the address, so that a view can be sent to a colleague. Whoever
//! works in the field sees first what is assigned to them.

use super::duty::DutyLine;
use super::figures;
use super::frame::{Around, Frame, Part};
use super::message::MessagePage;
use super::taken::{self, Taken};
use super::way::{Visit, page};
use super::weeks::{self, Shape, Weeks};
use super::words;
use crate::actions::assign;
use crate::actions::permit::Deed;
use crate::actions::show::duties::{
    self, DutiesAsked, DutyItem, DutyList, PersonNamed, Row, Stands, Word,
};
use crate::http::Problem;
use crate::http::duties::asked_for;
use crate::http::query::Query;
use crate::ledger::actor::Role;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "duties.html")]
pub struct DutiesPage {
    /// Around the content.
    pub frame: Frame,
    /// Today, written out.
    pub day: String,
    /// The headline as one sentence.
    pub lede: String,
    /// What was asked for.
    pub asked: Filled,
    /// Whom duties can be assigned to.
    pub people: Vec<PersonNamed>,
    /// May the reader assign?
    pub may_assign: bool,
    /// The groups of the list.
    pub groups: Vec<Group>,
    /// The address of what comes after this page.
    pub next: Option<String>,
    /// Thirteen weeks, where they were asked for.
    pub weeks: Option<Weeks>,
    /// The address of the other view.
    pub other_view: String,
    /// The same rows as a file; empty where there are none.
    pub taken: String,
}

/// The filters as they are filled in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs)]
pub struct Filled {
    pub site: String,
    pub person: String,
    pub from: String,
    pub to: String,
    pub state: String,
}

/// Duties under one heading.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Group {
    /// The heading.
    pub title: String,
    /// Its duties.
    pub rows: Vec<DutyRow>,
}

/// A duty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DutyRow {
    /// Its day, short.
    pub day: String,
    /// The same as `2026-10-09`, for a file; empty: it has none.
    pub iso: String,
    /// Where the appliance is; empty: the whole organisation.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// Its site.
    pub site: String,
    /// The duty in words.
    pub line: DutyLine,
    /// Is it late?
    pub late: bool,
    /// The local layers whose numbers it rests on: where each stands, and what it says.
    pub layers: Vec<(String, String)>,
    /// Its clause.
    pub clause: String,
    /// The clause itself was not read.
    pub unconfirmed: bool,
    /// The rule set.
    pub set: String,
    /// Who does it.
    pub who: String,
}

impl Filled {
    fn of(query: &Query) -> Filled {
        let text = |name| query.text(name).unwrap_or_default().trim().to_string();
        Filled {
            site: text("site"),
            person: text("person"),
            from: text("from"),
            to: text("to"),
            state: text("state"),
        }
    }

    /// The address of the same view with other members.
    pub fn address(&self, more: &[(&str, &str)]) -> String {
        let own = [
            ("site", &self.site),
            ("person", &self.person),
            ("from", &self.from),
            ("to", &self.to),
            ("state", &self.state),
        ];
        let own = own.into_iter().map(|(name, value)| (name, value.as_str()));
        let kept = own.filter(|(name, _)| more.iter().all(|(other, _)| other != name));
        let members: Vec<String> = (kept.chain(more.iter().copied()))
            .filter(|(_, value)| !value.is_empty())
            .map(|(name, value)| format!("{name}={}", super::encoded(value)))
            .collect();
        match members.is_empty() {
            true => "/duties".to_string(),
            false => format!("/duties?{}", members.join("&")),
        }
    }

    /// Is this the state that is shown? Where none was asked for, what is owed is.
    fn is_state(&self, word: &str) -> bool {
        match self.state.as_str() {
            "" => word == Stands::WORDS[0],
            state => word == state,
        }
    }

    fn is_narrow(&self) -> bool {
        *self != Filled::default()
    }
}

impl DutyRow {
    fn of(item: &DutyItem) -> DutyRow {
        let day = match Word::named(item.stands) {
            Some(Word::Done | Word::Waived) => item.duty.on.as_ref().or(item.duty.due.as_ref()),
            _ => item.duty.due.as_ref(),
        };
        DutyRow {
            day: day.map_or("no day".to_string(), |day| short(day, &item.day)),
            iso: (day.and_then(|day| day.get(..10)))
                .unwrap_or_default()
                .to_string(),
            href: match &item.appliance {
                Some(id) => super::appliance_path(&item.tag, id),
                None => String::new(),
            },
            tag: item.tag.clone(),
            site: item.site.as_ref().map_or("", |site| &site.tag).to_string(),
            line: DutyLine::of(&item.duty, &item.day),
            late: item.stands == "late",
            layers: (item.duty.layers.iter())
                .map(|layer| (layer.stands(), layer.says()))
                .collect(),
            clause: item.duty.clause.clone(),
            unconfirmed: item.duty.confidence.is_some(),
            set: words::plain(&item.duty.set.replace('-', " ")),
            who: item
                .assigned
                .as_ref()
                .map_or("", |who| &who.name)
                .to_string(),
        }
    }
}

/// A day for the margin, with its year where that is another.
fn short(day: &str, today: &str) -> String {
    let written = figures::day_text(day);
    let mut words = written.split(' ');
    let (of_month, month) = (words.next(), words.next());
    let month = month.and_then(|month| month.get(..3)).unwrap_or_default();
    let year = match day.get(..4) == today.get(..4) {
        true => "",
        false => day.get(..4).unwrap_or_default(),
    };
    format!("{} {month} {year}", of_month.unwrap_or_default())
        .trim_end()
        .to_string()
}

/// The heading a duty stands under; `own`: who reads, where their duties stand first.
fn title(item: &DutyItem, own: Option<&str>) -> String {
    let today = Day::parse(&item.day);
    let due = item
        .duty
        .due
        .as_deref()
        .and_then(|due| Day::parse(due.get(..10)?));
    let title = match (Word::named(item.stands), due, today) {
        (Some(Word::Late), ..) => "Late".to_string(),
        (Some(Word::Done), ..) => "Done".to_string(),
        (Some(Word::Waived), ..) => "Not needed, or not any more".to_string(),
        (_, Some(due), Some(today)) if due <= weeks::monday(today).plus(6) => {
            "This week".to_string()
        }
        (_, Some(due), _) => format!("Week of {}", figures::day(weeks::monday(due))),
        (Some(Word::NotDue), None, _) => "The clock does not run, or a fact is missing".to_string(),
        _ => "Owed without a day".to_string(),
    };
    let assigned = item.assigned.as_ref().map(|who| who.id.as_str());
    match own {
        Some(own) if assigned == Some(own) => format!("Yours: {}", lower(&title)),
        _ => title,
    }
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters
        .next()
        .map(|letter| letter.to_lowercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

fn groups(items: &[DutyItem], own: Option<&str>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for item in items {
        let title = title(item, own);
        if groups.last().is_none_or(|group| group.title != title) {
            let rows = Vec::new();
            groups.push(Group { title, rows });
        }
        if let Some(group) = groups.last_mut() {
            group.rows.push(DutyRow::of(item));
        }
    }
    groups
}

fn lede(list: &DutyList, narrow: bool) -> String {
    let count = |word| list.rows.iter().filter(|row| row.word == word).count();
    let (late, due, ahead) = (count(Word::Late), count(Word::Due), count(Word::NotDue));
    let over = list.rows.len() - late - due - ahead;
    let of = if narrow {
        "Of what was asked for"
    } else {
        "In all"
    };
    let some = |count: usize| match count {
        0 => "none".to_string(),
        count => figures::number(count as u64),
    };
    let late = match late {
        0 => "nothing is late".to_string(),
        1 => "one is late".to_string(),
        late => format!("{} are late", figures::number(late as u64)),
    };
    let mut text = format!(
        "{of}: {late}, {} due within seven days or at once, {} further ahead",
        some(due),
        some(ahead)
    );
    if over > 0 {
        text.push_str(&format!(
            ", {} done or not needed",
            figures::number(over as u64)
        ));
    }
    text + ". A day ends at midnight at the site."
}

impl DutiesPage {
    /// The page of what was read.
    pub fn of(
        frame: Frame,
        asked: Filled,
        list: &DutyList,
        people: Vec<PersonNamed>,
        own: Option<&str>,
        weeks: Option<Weeks>,
    ) -> DutiesPage {
        let as_weeks = weeks.is_some();
        let next = list.page.next.as_deref();
        DutiesPage {
            day: figures::weekday(list.today),
            lede: lede(list, asked.is_narrow()),
            groups: match as_weeks {
                true => Vec::new(),
                false => groups(&list.page.items, own),
            },
            taken: String::new(),
            next: next.map(|after| asked.address(&[("after", after)])),
            weeks,
            other_view: asked.address(&[("view", if as_weeks { "" } else { "weeks" })]),
            may_assign: frame.may(Deed::Assign),
            frame,
            asked,
            people,
        }
    }
}

/// Duties of one page.
const MOST: usize = 100;

/// `GET /duties`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let own = by.signed_in.person;
    let query = &visit.asked.query;
    let as_weeks = query.word("view", &["list", "weeks"])? == "weeks";
    let most = if as_weeks { 0 } else { MOST };
    let in_the_field = by
        .signed_in
        .roles
        .iter()
        .all(|role| *role == Role::Technician);
    let question = DutiesAsked {
        first: own.filter(|_| in_the_field),
        ..asked_for(query, own, most, visit.asked.now)?
    };
    let (around, of) = (Around::of(&visit)?, by.signed_in.of.clone());
    let asked = Filled::of(query);
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Duties)?;
        let list = state.desk.report(|db| duties::page(db, &of, &question))?;
        let people = match frame.may(Deed::Assign) {
            true => state.desk.read(|db| assign::choices(db, &of))?,
            false => Vec::new(),
        };
        let mut weeks = as_weeks.then(|| Weeks::of(&list.rows, list.today, &asked));
        if let Some(weeks) = &mut weeks {
            let shown = weeks.late();
            let late: Vec<&Row> = (list.rows.iter())
                .filter(|row| shown.contains(&row.step))
                .collect();
            let known_late =
                (state.desk).report(|db| duties::known_late(db, &of, &late, question.now))?;
            weeks.mark(&known_late);
        }
        let first = question.first.map(|person| person.to_string());
        Ok(DutiesPage::of(
            frame,
            asked,
            &list,
            people,
            first.as_deref(),
            weeks,
        ))
    });
    match read.await {
        Ok(shown) if !as_weeks && taken::is_asked(&visit)? => {
            taken::answer(&visit, Deed::ReadFollowUps, Taken::from(&shown)).await
        }
        Ok(mut shown) => {
            shown.taken = taken::address(&visit, !shown.groups.is_empty());
            Ok(page(StatusCode::OK, &shown))
        }
        // A filter that names nobody is put right in the same form.
        Err(problem) if problem.kind.slug == "not-found" => {
            let said = MessagePage::not_here(&problem.detail);
            Ok(page(StatusCode::NOT_FOUND, &said))
        }
        Err(problem) => Err(problem),
    }
}

/// States that can be asked for, with their words.
pub const STATES: [(&str, &str); 7] = [
    ("owed", "owed"),
    ("late", "late"),
    ("due", "due"),
    ("not_due", "not due"),
    ("done", "done"),
    ("waived", "not needed"),
    ("all", "all"),
];

#[cfg(test)]
mod tests;
