//! Rules: which sets and layers judge this book, which the program brings, and trying a change.
//!
//! `one` shows what a set says, `change` is the form for one number of a local layer, `text` is for
//! the whole file. Both of these check, show what would change on the fleet, and adopt. Everything
//! is done by the same actions as on the command line.

pub mod change;
pub mod one;
mod previewed;
pub mod text;
mod trial;
mod written;

use super::figures;
use super::frame::{Around, Frame, Part};
use super::way::{Visit, page};
use crate::actions::ActionError;
use crate::actions::show::rule_files::{self, FileShown, Status};
use crate::actions::show::unknown;
use crate::http::{Problem, State};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::rules::RuleFile;
use reports::rules::file::Row;
pub use written::with_unit;

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "rules.html")]
pub struct RulesPage {
    /// Around the content.
    pub frame: Frame,
    /// The headline as one sentence.
    pub lede: String,
    /// Sets that judge, or will.
    pub adopted: Vec<FileLine>,
    /// Layers over them.
    pub layers: Vec<FileLine>,
    /// Sets that nobody adopted.
    pub offered: Vec<FileLine>,
}

/// A set or a layer in a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FileLine {
    /// The entry that adopted it last.
    pub entry: Option<u64>,
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// Whose law it is; of a layer, over which set it lies.
    pub whose: String,
    /// Whether it judges.
    pub status: String,
    /// How many numbers it has, and how many of them were not confirmed.
    pub numbers: String,
}

impl RulesPage {
    /// The page of what was read.
    pub fn of(frame: Frame, today: Day, files: &[FileShown]) -> RulesPage {
        let lines = |wanted: fn(&FileShown) -> bool| -> Vec<FileLine> {
            let wanted = files.iter().filter(|file| wanted(file));
            wanted.map(|file| FileLine::of(file, today)).collect()
        };
        let is_set = |file: &FileShown| matches!(file.file, RuleFile::Set(_));
        let judging = |file: &&FileShown| matches!(file.status, Status::InForce(_));
        let sets = files.iter().filter(|file| is_set(file)).filter(judging);
        let lede = match sets.count() {
            0 => "No rule set judges this book, so no limit is passed and nothing is owed."
                .to_string(),
            1 => "One rule set judges this book.".to_string(),
            count => {
                format!("{count} rule sets judge this book side by side; what is due first leads.")
            }
        };
        RulesPage {
            frame,
            lede,
            adopted: lines(|file| {
                matches!(file.file, RuleFile::Set(_)) && file.status != Status::Offered
            }),
            layers: lines(|file| matches!(file.file, RuleFile::Overlay(_))),
            offered: lines(|file| file.status == Status::Offered),
        }
    }
}

impl FileLine {
    fn of(file: &FileShown, today: Day) -> FileLine {
        let rows = rows(&file.file);
        let unconfirmed = rows.iter().filter(|row| row.confidence.is_some()).count();
        let numbers = match (rows.len(), unconfirmed) {
            (count, 0) => count.to_string(),
            (count, some) => format!("{count}, {some} unconfirmed"),
        };
        let (title, whose) = match &file.file {
            RuleFile::Set(set) => (set.title.clone(), set.jurisdiction.clone()),
            RuleFile::Overlay(layer) => (layer.title.clone(), format!("over {}", layer.overlays)),
        };
        FileLine {
            entry: file.adoptions.last().map(|one| one.entry),
            id: file.id.clone(),
            title,
            whose,
            status: status(file.status, today),
            numbers,
        }
    }
}

/// Whether it judges, in words.
pub(super) fn status(status: Status, _today: Day) -> String {
    match status {
        Status::InForce(since) => format!("in force since {}", figures::day(since)),
        Status::ToCome(since) => format!("from {}", figures::day(since)),
        Status::Ended(since) => format!("ended on {}", figures::day(since.plus(-1))),
        Status::Offered => "not adopted".to_string(),
    }
}

/// Every dated number of a file.
fn rows(file: &RuleFile) -> Vec<&Row> {
    match file {
        RuleFile::Set(set) => set.values.values().flat_map(|one| &one.rows).collect(),
        RuleFile::Overlay(layer) => layer.values.values().flat_map(|one| &one.rows).collect(),
    }
}

/// `GET /rules`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let question = Question::of(&visit)?;
    let read = visit.asked.read(move |state| {
        let (frame, today, files) = question.files(state)?;
        Ok(RulesPage::of(frame, today, &files))
    });
    Ok(page(StatusCode::OK, &read.await?))
}

/// Who asks for what is read for every page of this part.
struct Question {
    around: Around,
    by: crate::http::asker::Asker,
    now: i64,
}

impl Question {
    fn of(visit: &Visit) -> Result<Question, Problem> {
        Ok(Question {
            around: Around::of(visit)?,
            by: visit.by()?.clone(),
            now: visit.asked.now,
        })
    }

    /// The frame, today, and every file. It blocks.
    fn files(self, state: &State) -> Result<(Frame, Day, Vec<FileShown>), ActionError> {
        let (frame, ..) = self.around.read(state, Part::Rules)?;
        let (of, sees) = (&self.by.signed_in.of, self.by.sees());
        let (today, files) = (state.desk).read(|db| rule_files::all(db, of, self.now, sees))?;
        Ok((frame, today, files))
    }

    /// The same with the file of this id.
    fn file(self, state: &State, id: &str) -> Result<(Frame, Day, FileShown), ActionError> {
        let (frame, today, files) = self.files(state)?;
        let file = files.into_iter().find(|file| file.id == id);
        let file = file.ok_or_else(|| unknown("rule set", id))?;
        Ok((frame, today, file))
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::actions::show::rule_files::Adoption;
    use crate::ledger::actor::Role;

    fn day(text: &str) -> Day {
        Day::parse(text).unwrap()
    }

    /// A layer with hostile texts over a shipped set that judges.
    fn files() -> Vec<FileShown> {
        let base = "us-federal-ods".to_string();
        let sets = reports::rules::shipped();
        let set = sets.into_iter().find(|set| set.id == base).unwrap();
        let text = format!(
            "id = \"wish\"\noverlays = \"{base}\"\nlayer = \"local\"\ntitle = '''{}'''\n\
             reason = \"<b>why</b>\"\n[values.trigger]\nrows = [{{ from = \"2026-01-01\", \
             is = \"15\", clause = \"<i>s. 3</i>\", loosens = true, reason = \"<u>r</u>\" }}]\n",
            "</td><script>alert(1)</script>"
        );
        let adoption = |entry, since: &str| Adoption {
            entry,
            since: day(since),
            ends: false,
            by: sample::hostile(),
            reason: "<script>".to_string(),
        };
        let shown = |id: &str, file, status, adoptions| FileShown {
            id: id.to_string(),
            file,
            own_text: None,
            status,
            adoptions,
        };
        let since = day("2026-01-01");
        vec![
            shown(
                &base,
                RuleFile::Set(Box::new(set)),
                Status::InForce(since),
                vec![adoption(118, "2026-01-01")],
            ),
            shown(
                "wish",
                RuleFile::from_toml("wish", &text).unwrap(),
                Status::ToCome(day("2026-12-01")),
                vec![adoption(252, "2026-12-01")],
            ),
        ]
    }

    #[test]
    fn the_list_says_what_judges_and_what_is_to_come() {
        let frame = sample::frame(Role::Auditor, Part::Rules);
        let html = RulesPage::of(frame, day("2026-11-26"), &files());
        let html = html.render().unwrap();
        assert!(html.contains("One rule set judges this book."), "{html}");
        assert!(html.contains("in force since 1 January 2026"));
        assert!(html.contains("from 1 December 2026"));
        assert!(html.contains("over us-federal-ods"));
        sample::is_clean(&html);
    }

    #[test]
    fn a_set_shows_its_layers_and_a_layer_its_mark() {
        let files = files();
        let page = |at: usize, role| {
            let frame = sample::frame(role, Part::Rules);
            let today = day("2026-11-26");
            let page = one::RuleSetPage::of(frame, today, &files[at], &files, None);
            page.render().unwrap()
        };
        let set = page(0, Role::ComplianceManager);
        assert!(
            set.contains("Layers over it") && set.contains("/rules/wish"),
            "{set}"
        );
        assert!(set.contains("40 CFR 82.157(c)(2)(i)") && set.contains("20\u{202f}% a year"));
        assert!(set.contains("Change a number for a place"));
        sample::is_clean(&set);
        let layer = page(1, Role::Auditor);
        assert!(
            layer.contains("Loosens the set below it: &#60;u&#62;r"),
            "{layer}"
        );
        assert!(
            layer.contains("15\u{202f}% a year"),
            "the unit is that of the base"
        );
        assert!(layer.contains("Try another number"), "an auditor tries");
        sample::is_clean(&layer);
    }
}
