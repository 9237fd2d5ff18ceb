//! One number of a rule set, changed by a local layer: the form, what it would change, the
//! adoption.
//!
//! The manager names the number, the place and the clause; the layer is written by the program.
//! Where the layer is adopted already, the number is added to it and the others stay.

use super::super::frame::Frame;
use super::super::way::{Visit, go_to, page};
use super::super::{figures, words};
use super::Question;
use super::trial::{Outcome, Trial};
use super::written::with_unit;
use crate::actions::ActionError;
use crate::actions::show::Organisation;
use crate::actions::show::rule_files::FileShown;
use crate::actions::show::things::{self, Sort};
use crate::http::{Problem, State};
use crate::pages::appliances::fact;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::day::Day;
use reports::rules::conditions::{Test, WordTest};
use reports::rules::file::{OverlayRows, Row, RuleSet};
use reports::rules::region::{SHAPE, is_region};
use reports::rules::text::Date;
use reports::rules::words::Layer;
use reports::rules::{Overlay, RuleFile};
use std::collections::{BTreeMap, BTreeSet};

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "rule-change.html")]
pub struct RuleChangePage {
    /// Around the content.
    pub frame: Frame,
    /// The set whose number is changed.
    pub set: String,
    /// Its title.
    pub title: String,
    /// Its numbers: name, what it is and what it is now.
    pub values: Vec<(String, String)>,
    /// Its bands.
    pub bands: Vec<String>,
    /// Ids of layers over it.
    pub layers: Vec<String>,
    /// Regions in which the book has sites.
    pub regions: Vec<String>,
    /// What was filled in.
    pub fields: Fields,
    /// The text of the layer, once it could be written.
    pub toml: Option<String>,
    /// What was filled in beside it, and what came of it.
    pub trial: Trial,
}

/// What was filled in.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fields {
    /// The value that is changed.
    pub value: String,
    /// The bands it is for; none: all.
    pub bands: Vec<String>,
    /// The number.
    pub is: String,
    /// Where it stands.
    pub clause: String,
    /// The region; empty: everywhere.
    pub region: String,
    /// The place of the layer.
    pub layer: String,
    /// Its id.
    pub id: String,
    /// Its title.
    pub title: String,
    /// The row may be looser than the set.
    pub loosens: bool,
}

/// Sites whose regions are offered.
const SITES: usize = 1_000;

/// Layers that the form writes.
const LAYERS: [Layer; 3] = [Layer::State, Layer::Local, Layer::Site];

/// The codes of a box, divided by commas or spaces.
fn words_of(region: &str) -> impl Iterator<Item = &str> {
    region.split([',', ' ']).filter(|word| !word.is_empty())
}

impl Fields {
    fn filled(visit: &Visit) -> Fields {
        let text = |name: &str| visit.filled(name).trim().to_string();
        let bands = visit.form.iter().filter(|(name, _)| name == "for");
        Fields {
            value: text("value"),
            bands: bands.map(|(_, band)| band.clone()).collect(),
            is: text("is"),
            clause: text("clause"),
            region: text("region"),
            layer: text("layer"),
            id: text("id"),
            title: text("title"),
            loosens: visit.filled("loosens") == "yes",
        }
    }

    /// What stands against the places: words that are no codes.
    fn no_region(&self, known: &[String]) -> Option<String> {
        let wrong: Vec<&str> = words_of(&self.region)
            .filter(|word| !is_region(word))
            .collect();
        if wrong.is_empty() {
            return None;
        }
        let (wrong, known) = (wrong.join("', '"), known.join(", "));
        let known = match known.as_str() {
            "" => "No site of this book has a region yet.".to_string(),
            known => format!("The sites of this book are in {known}."),
        };
        Some(format!("Where: expected {SHAPE}, came '{wrong}'. {known}"))
    }

    /// Was this band ticked?
    pub fn has(&self, band: &str) -> bool {
        self.bands.iter().any(|one| one == band)
    }

    /// The layer that these fields mean, over what is adopted under its id.
    fn overlay(&self, base: &str, adopted: Option<&Overlay>, trial: &Trial) -> Overlay {
        let region = |region: &str| Test {
            region: Some(WordTest {
                is: Some(words_of(region).map(str::to_string).collect()),
                is_not: None,
            }),
            ..Test::default()
        };
        let known = adopted.cloned();
        let own = |text: &str, known: Option<&String>| match (text, known) {
            ("", Some(known)) => known.clone(),
            (text, _) => text.to_string(),
        };
        let mut overlay = Overlay {
            id: self.id.clone(),
            overlays: base.to_string(),
            layer: Layer::named(&self.layer).unwrap_or(Layer::Local),
            title: own(&self.title, known.as_ref().map(|it| &it.title)),
            reason: own(&trial.reason, known.as_ref().map(|it| &it.reason)),
            place: match self.region.as_str() {
                "" => known.as_ref().and_then(|it| it.place.clone()),
                text => Some(region(text)),
            },
            values: known.map_or_else(BTreeMap::new, |it| it.values),
            days: None,
        };
        let rows = overlay.values.entry(self.value.clone());
        let rows = &mut rows
            .or_insert_with(|| OverlayRows { rows: Vec::new() })
            .rows;
        if let Some(row) = self.row(trial) {
            rows.retain(|other| other.from != row.from || other.bands != row.bands);
            rows.push(row);
            rows.sort_by_key(|row| row.from);
        }
        overlay
    }

    fn row(&self, trial: &Trial) -> Option<Row> {
        let text = |text: &str| Some(text.to_string()).filter(|text| !text.is_empty());
        Some(Row {
            from: Date(Day::parse(&trial.from)?),
            is: self.is.clone(),
            bands: Some(self.bands.clone()).filter(|bands| !bands.is_empty()),
            clause: text(&self.clause),
            published: None,
            confidence: None,
            source: None,
            loosens: self.loosens,
            reason: text(&trial.reason).filter(|_| self.loosens),
        })
    }
}

/// `GET /rules/{id}/change`.
pub async fn show(visit: Visit) -> Result<HttpResponse, Problem> {
    let (mut shown, today, _) = begun(&visit).await?;
    shown.trial = Trial::new(&visit, today)?;
    shown.fields = Fields {
        value: visit
            .asked
            .query
            .text("value")
            .unwrap_or_default()
            .to_string(),
        layer: Layer::Local.word().to_string(),
        id: match shown.layers.first() {
            Some(known) => known.clone(),
            None => format!("{}-local", shown.set),
        },
        ..Fields::default()
    };
    Ok(page(StatusCode::OK, &shown))
}

/// `POST /rules/{id}/change`.
pub async fn take(visit: Visit) -> Result<HttpResponse, Problem> {
    let (mut shown, _, files) = begun(&visit).await?;
    shown.fields = Fields::filled(&visit);
    let mut trial = Trial::filled(&visit)?;
    if trial.reason.is_empty() {
        let why = "Reason: expected why the number changes (an ordinance, a notice), came nothing.";
        trial.problems.push(why.to_string());
    }
    trial
        .problems
        .extend(shown.fields.no_region(&shown.regions));
    let adopted = files.iter().find_map(|file| match &file.file {
        RuleFile::Overlay(layer) if file.id == shown.fields.id => Some(&**layer),
        _ => None,
    });
    let overlay = shown.fields.overlay(&shown.set, adopted, &trial);
    let toml = RuleFile::Overlay(Box::new(overlay)).to_toml();
    let toml = toml.map_err(|why| Problem::new("malformed", why))?;
    shown.toml = Some(toml.clone());
    if trial.problems.is_empty() {
        let name = format!("{}.toml", shown.fields.id);
        match trial.tried(&visit, &name, &toml).await? {
            Outcome::Adopted { id, entry } => {
                return Ok(go_to(&format!("/rules/{id}?adopted={entry}")));
            }
            Outcome::Shown(tried) => trial = *tried,
        }
    }
    let status = match trial.problems.is_empty() {
        true => StatusCode::OK,
        false => StatusCode::UNPROCESSABLE_ENTITY,
    };
    shown.trial = trial;
    Ok(page(status, &shown))
}

/// The page of a set with nothing filled in; of a layer: of the set below it.
async fn begun(visit: &Visit) -> Result<(RuleChangePage, Day, Vec<FileShown>), Problem> {
    let (question, id) = (Question::of(visit)?, visit.asked.name("id"));
    let of = visit.by()?.signed_in.of.clone();
    let read = visit.asked.read(move |state| {
        let (frame, today, files) = question.files(state)?;
        let set = files.iter().find_map(|file| match &file.file {
            RuleFile::Set(set) if file.id == id => Some(set.clone()),
            _ => None,
        });
        let set = set.ok_or_else(|| crate::actions::show::unknown("rule set", &id))?;
        let layers = files.iter().filter_map(|file| match &file.file {
            RuleFile::Overlay(layer) if layer.overlays == id => Some(file.id.clone()),
            _ => None,
        });
        let mut bands: Vec<String> = set.bands.iter().map(|band| band.name.clone()).collect();
        bands.dedup();
        let page = RuleChangePage {
            frame,
            title: set.title.clone(),
            values: values(&set, today),
            bands,
            layers: layers.collect(),
            regions: regions(state, &of)?,
            fields: Fields::default(),
            toml: None,
            trial: Trial::default(),
            set: id,
        };
        Ok((page, today, files))
    });
    read.await
}

/// Regions of the sites of a book, each once.
fn regions(state: &State, of: &Organisation) -> Result<Vec<String>, ActionError> {
    let sites = |db: &mut _| things::page(db, of, Sort::Site, "", SITES);
    let sites = state.desk.read(sites)?.items;
    let regions = sites.iter().filter_map(|site| fact(site, "region"));
    let regions: BTreeSet<String> = regions.map(str::to_string).collect();
    Ok(regions.into_iter().collect())
}

/// Each value with what it means and what it is on a day.
fn values(set: &RuleSet, today: Day) -> Vec<(String, String)> {
    let values = set.values.iter().map(|(name, series)| {
        let mut now: Vec<String> = Vec::new();
        for row in series.rows.iter().filter(|row| row.from.0 <= today) {
            let newer = |other: &&Row| {
                other.bands == row.bands && other.from.0 <= today && other.from > row.from
            };
            if !series.rows.iter().any(|other| newer(&other)) {
                now.push(with_unit(&row.is, series.unit.word()));
            }
        }
        now.dedup();
        let now = match now.is_empty() {
            true => "no number yet".to_string(),
            false => now.join(" or "),
        };
        (
            name.clone(),
            format!("{} ({now})", words::capital(&series.means)),
        )
    });
    values.collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fields(is: &str, region: &str) -> Fields {
        Fields {
            value: "trigger".to_string(),
            bands: vec!["commercial".to_string()],
            is: is.to_string(),
            clause: "s. 3".to_string(),
            region: region.to_string(),
            layer: "local".to_string(),
            id: "county".to_string(),
            title: "Lower".to_string(),
            loosens: false,
        }
    }

    fn trial(from: &str) -> Trial {
        Trial {
            from: from.to_string(),
            reason: "ordinance 12".to_string(),
            ..Trial::default()
        }
    }

    fn rows(layer: &Overlay) -> Vec<(String, &str)> {
        let rows = layer.values["trigger"].rows.iter();
        rows.map(|row| (row.from.to_string(), row.is.as_str()))
            .collect()
    }

    /// The name of a county is two words and no code (ISO 3166-2 has none for Denver).
    #[test]
    fn a_name_is_no_region_and_the_regions_of_the_book_are_named() {
        let known = ["US-CO-031".to_string(), "US-CO-041".to_string()];
        let told = fields("15", "Denver County").no_region(&known).unwrap();
        assert!(told.contains("came 'Denver', 'County'"), "{told}");
        assert!(told.contains("US-CO-031, US-CO-041"), "{told}");
        for good in ["", "US", "US-CO, US-CO-031", "EU"] {
            assert_eq!(fields("15", good).no_region(&known), None, "{good}");
        }
    }

    /// A second number joins the first, a number of the same day takes its place, and what was not
    /// filled in stays as it was adopted.
    #[test]
    fn a_number_is_added_to_an_adopted_layer_and_the_others_stay() {
        let first = fields("15", "US-CO-101, US-CO-041");
        let first = first.overlay("us-federal-hfc", None, &trial("2027-01-01"));
        let region = first.place.as_ref().and_then(|it| it.region.clone());
        let region = region.and_then(|it| it.is).unwrap();
        assert_eq!(region, ["US-CO-101", "US-CO-041"]);
        let second = Fields {
            title: String::new(),
            ..fields("12", "")
        };
        let second = second.overlay("us-federal-hfc", Some(&first), &trial("2028-01-01"));
        let expected = |number| ("2028-01-01".to_string(), number);
        assert_eq!(
            rows(&second),
            [("2027-01-01".to_string(), "15"), expected("12")]
        );
        assert_eq!(
            (&second.place, second.title.as_str()),
            (&first.place, "Lower")
        );
        let third = fields("11", "");
        let third = third.overlay("us-federal-hfc", Some(&second), &trial("2028-01-01"));
        assert_eq!(rows(&third)[1], expected("11"));
        assert_eq!(rows(&third).len(), 2);
    }
}
