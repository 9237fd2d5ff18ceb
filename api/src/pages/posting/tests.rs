//! The form of a posting as it is drawn.

use super::*;
use crate::actions::refusal::QuestionChoice;
use crate::pages::sample;

fn form(deed: Deed) -> PostPage {
    PostPage {
        known: Known::default(),
        field: FieldFrame::default(),
        appliance: String::new(),
        place: sample::hostile(),
        deed,
        action: "/appliances/HG-RACK-A/charge".to_string(),
        form_token: "f".repeat(64),
        tag: sample::hostile(),
        site: sample::hostile(),
        refrigerant: "R-290".to_string(),
        about: sample::hostile(),
        cylinders: vec![Fitting {
            tag: sample::hostile(),
            says: "R-290, 24 lb 0 oz".to_string(),
        }],
        fields: Fields {
            cylinder: sample::hostile(),
            note: sample::hostile(),
            unit: "lb".to_string(),
            ..Fields::default()
        },
        problems: Vec::new(),
        questions: Vec::new(),
        stops: Vec::new(),
        echo: None,
        cautions: deed.cautions("R-290"),
        may_lift: false,
        corrects: None,
    }
}

fn mixing() -> Stop {
    Stop {
        word: "mixing",
        text: "Cylinder TR-0422 holds R-404A.".to_string(),
        may_lift: true,
    }
}

#[test]
fn the_refrigerant_is_asked_for_where_nobody_recorded_it_and_nowhere_else() {
    let mut unknown = form(Deed::Recover);
    let problem = BoxProblem {
        field: "refrigerant",
        text: "Expected a designation".to_string(),
    };
    let mut known = unknown.clone();
    known.known.runs_on = "R-290".to_string();
    unknown.put_right(problem.clone());
    known.put_right(problem);
    assert!(
        unknown
            .render()
            .unwrap()
            .contains("id=\"refrigerant-problem\"")
    );
    // What it runs on is known: the cylinder is put right.
    let html = known.render().unwrap();
    assert!(!html.contains("name=\"refrigerant\"") && html.contains("id=\"cylinder-problem\""));
}

#[test]
fn what_was_typed_comes_back_as_text() {
    let html = form(Deed::Recover).render().unwrap();
    sample::is_clean(&html);
    assert!(html.contains("burns easily and explosively"));
    assert!(html.contains("Never fill a disposable"));
    assert!(html.contains(">Check</button>"));
}

#[test]
fn a_problem_stands_in_title_summary_and_at_its_box() {
    let mut page = form(Deed::Charge);
    page.problems.push(BoxProblem {
        field: "cylinder",
        text: "No cylinder \"X\" is registered in this book.".to_string(),
    });
    let html = page.render().unwrap();
    assert!(html.contains("<title>Error: Charge"));
    assert!(html.contains("<a href=\"#cylinder\">No cylinder"));
    assert!(html.contains("id=\"cylinder-problem\""));
    assert!(
        html.contains("aria-describedby=\"cylinder-hint cylinder-problem\" aria-invalid=\"true\"")
    );
}

#[test]
fn a_question_shows_what_each_answer_books_and_chooses_none() {
    let choice = QuestionChoice {
        choice: "as_pounds",
        text: "as pounds".to_string(),
        books: "1 lb 0.32 oz".to_string(),
    };
    let question = Question {
        code: "pounds_or_ounces",
        text: "28.12 lb or 28 lb 12 oz?".to_string(),
        choices: vec![choice],
    };
    let html = form(Deed::Charge).ask(vec![question]).render().unwrap();
    assert!(html.contains("<title>Not booked yet: Charge"));
    assert!(html.contains("name=\"answer.pounds_or_ounces\" value=\"as_pounds\"> <span>As pounds.<br>Books 1 lb 0.32 oz"));
    assert!(!html.contains("value=\"as_pounds\" checked"));
    assert!(html.contains(">Go on</button>"));
}

#[test]
fn only_a_manager_is_offered_to_lift_a_stop() {
    let html = form(Deed::Recover).stop(vec![mixing()]).render().unwrap();
    assert!(html.contains("It has already happened."));
    assert!(!html.contains("value=\"lifted\""));
    assert!(html.contains("A compliance manager can lift this stop with a written reason."));
    let mut page = form(Deed::Recover);
    page.may_lift = true;
    let html = page.stop(vec![mixing()]).render().unwrap();
    assert!(html.contains("value=\"lifted\"") && html.contains("id=\"reason_text\""));
}

#[test]
fn answers_given_before_are_kept_when_something_else_is_asked() {
    let mut page = form(Deed::Charge);
    let given = ("rate_jump".to_string(), "as_stated".to_string());
    page.fields.answers.extend([given]);
    let html = page.stop(vec![mixing()]).render().unwrap();
    assert!(html.contains("type=\"hidden\" name=\"answer.rate_jump\" value=\"as_stated\""));
}

/// 14 lb 8 oz = 14.5 lb = 6.577 kg (14.5 x 453.59237 g = 6577.089365 g).
#[test]
fn the_mass_is_shown_in_three_forms_before_it_is_booked() {
    let mass = Mass::from_grams_text("6577.089365").unwrap();
    let html = form(Deed::Charge).show(mass, "29 lb 4 oz − 14 lb 12 oz =".to_string());
    let html = html.render().unwrap();
    assert!(html.contains("name=\"checked\" value=\"6577.089365\""));
    assert!(html.contains("<b>14 lb 8 oz</b> <small>14.5 lb = 6.577 kg</small>"));
    assert!(html.contains(">Book 14 lb 8 oz</button>"));
}
