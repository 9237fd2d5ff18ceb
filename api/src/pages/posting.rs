//! The form of a charge or a recovery as it is drawn: boxes, questions with what each answer would
//! book, hard stops with what to do instead.

use super::cautions;
use super::field::FieldFrame;
use super::form::{BoxProblem, Deed, Fields};
pub use super::known::{Known, corrected_id, retired};
use super::{figures, words};
use crate::actions::correct::REASONS;
use crate::actions::refusal::{Question, QuestionChoice, Stop};
use crate::actions::show::fitting::Fitting;
use crate::actions::{CHARGE_REASONS, CLASSES, RECOVER_REASONS};
use askama::Template;
use reports::mass::{self, Mass};

/// What a scale can show.
const UNITS: [&str; 3] = ["lb+oz", "lb", "kg"];

/// The page.
#[derive(Clone, Debug, Template)]
#[template(path = "post.html")]
pub struct PostPage {
    /// Around the page.
    pub field: FieldFrame,
    /// Charge or recover.
    pub deed: Deed,
    /// The appliance's id; empty: small ones that are not registered.
    pub appliance: String,
    /// Where it stands at its site.
    pub place: String,
    /// Where the form goes.
    pub action: String,
    /// The token of the form.
    pub form_token: String,
    /// The appliance.
    pub tag: String,
    /// Its site.
    pub site: String,
    /// Its refrigerant.
    pub refrigerant: String,
    /// What is known of it, as one line.
    pub about: String,
    /// What the phone asks by when there is no signal.
    pub known: Known,
    /// Cylinders that fit.
    pub cylinders: Vec<Fitting>,
    /// What was typed.
    pub fields: Fields,
    /// What is to be put right.
    pub problems: Vec<BoxProblem>,
    /// Questions.
    pub questions: Vec<AskedQuestion>,
    /// Hard stops.
    pub stops: Vec<AskedStop>,
    /// The mass to check.
    pub echo: Option<Echo>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// May the reader lift stops?
    pub may_lift: bool,
    /// The number of the entry that this corrects.
    pub corrects: Option<u64>,
}

/// A question with the answer given so far.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AskedQuestion {
    /// Its code.
    pub code: &'static str,
    /// In words.
    pub text: String,
    /// The answers.
    pub choices: Vec<QuestionChoice>,
    /// The answer given.
    pub answered: String,
}

/// A stop with the answer given so far.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AskedStop {
    /// Its word.
    pub word: &'static str,
    /// Why.
    pub text: String,
    /// May the reader lift it?
    pub may_lift: bool,
    /// Who else may.
    pub who_lifts: &'static str,
    /// The answer given.
    pub answered: String,
}

/// The mass to check before it is booked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Echo {
    /// The two readings.
    pub sum: String,
    /// The mass in pounds and ounces.
    pub lb_oz: String,
    /// In decimal pounds and kilograms.
    pub others: String,
}

impl Echo {
    /// The echo of a mass.
    pub fn of(mass: Mass, sum: String) -> Echo {
        let steps = i128::from(mass.steps());
        Echo {
            sum,
            lb_oz: mass::lb_oz_text(steps),
            others: format!("{} = {}", mass::lb_text(steps), mass::kg_text(steps)),
        }
    }
}

impl PostPage {
    /// Shows the mass before it is booked.
    pub fn show(mut self, mass: Mass, sum: String) -> PostPage {
        self.fields.checked = mass.to_string();
        self.echo = Some(Echo::of(mass, sum));
        self
    }

    /// Asks.
    pub fn ask(mut self, questions: Vec<Question>) -> PostPage {
        let asked = |question: Question| AskedQuestion {
            answered: self.answer(question.code),
            code: question.code,
            text: question.text,
            choices: question.choices,
        };
        self.questions = questions.into_iter().map(asked).collect();
        self
    }

    /// Stops.
    pub fn stop(mut self, stops: Vec<Stop>) -> PostPage {
        let asked = |stop: Stop| AskedStop {
            answered: self.answer(stop.word),
            word: stop.word,
            text: stop.text,
            may_lift: stop.may_lift && self.may_lift,
            who_lifts: match (stop.may_lift, self.may_lift) {
                (true, true) => "",
                (true, false) => "A compliance manager can lift this stop with a written reason.",
                (false, _) => "Nobody lifts this stop.",
            },
        };
        self.stops = stops.into_iter().map(asked).collect();
        self
    }

    fn answer(&self, code: &str) -> String {
        self.fields.answers.get(code).cloned().unwrap_or_default()
    }

    /// Is something asked before it is booked?
    fn asks(&self) -> bool {
        !self.questions.is_empty() || !self.stops.is_empty()
    }

    /// Could a written reason be needed?
    fn asks_reason(&self) -> bool {
        self.may_lift && self.stops.iter().any(|stop| stop.may_lift) || self.wrong("reason_text")
    }

    /// Is there a problem with this box?
    fn wrong(&self, field: &str) -> bool {
        self.problems.iter().any(|problem| problem.field == field)
    }

    /// Answers given before that this page does not ask for again.
    fn kept_answers(&self) -> Vec<(&str, &str)> {
        let asked = |code: &str| {
            self.questions.iter().any(|question| question.code == code)
                || self.stops.iter().any(|stop| stop.word == code)
        };
        let answers = self.fields.answers.iter();
        let kept = answers.filter(|(code, _)| !asked(code));
        kept.map(|(code, choice)| (code.as_str(), choice.as_str()))
            .collect()
    }

    /// The id of the form: the script takes over what is posted anew, not what is corrected.
    fn form_id(&self) -> &'static str {
        match self.corrects {
            None => "post",
            Some(_) if self.is_bulk() => "correct-bulk",
            Some(_) => "correct",
        }
    }

    /// Is it about small appliances that are not registered?
    fn is_bulk(&self) -> bool {
        self.corrects.is_some() && self.appliance.is_empty()
    }

    /// The id of the entry it corrects, which its address names.
    fn corrected_id(&self) -> &str {
        corrected_id(&self.action)
    }

    /// The words of the one action.
    fn button(&self) -> String {
        match (&self.echo, self.asks()) {
            (Some(echo), false) => format!("Book {}", echo.lb_oz),
            (_, true) => "Go on".to_string(),
            (None, false) if self.fields.instead == "nothing" => "Take it back".to_string(),
            (None, false) => "Check".to_string(),
        }
    }
}

impl Deed {
    fn verb(self) -> &'static str {
        match self {
            Deed::Charge => "Charge",
            Deed::Recover => "Recover",
        }
    }

    fn past(self) -> &'static str {
        match self {
            Deed::Charge => "went in",
            Deed::Recover => "came out",
        }
    }

    fn is_charge(self) -> bool {
        self == Deed::Charge
    }

    fn cylinder_label(self) -> &'static str {
        match self {
            Deed::Charge => "From which cylinder?",
            Deed::Recover => "Into which cylinder?",
        }
    }

    fn cylinders_hint(self) -> &'static str {
        match self {
            Deed::Charge => "These hold it",
            Deed::Recover => "These have room",
        }
    }

    fn reasons(self) -> &'static [&'static str] {
        match self {
            Deed::Charge => CHARGE_REASONS,
            Deed::Recover => RECOVER_REASONS,
        }
    }

    /// Cautions of the deed with a refrigerant.
    pub fn cautions(self, refrigerant: &str) -> Vec<String> {
        match self {
            Deed::Charge => cautions::of_charge(refrigerant),
            Deed::Recover => cautions::of_recovery(refrigerant),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::actions::refusal::QuestionChoice;

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
            html.contains(
                "aria-describedby=\"cylinder-hint cylinder-problem\" aria-invalid=\"true\""
            )
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
}
