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
    /// The form for an appliance that the book does not know yet.
    pub fn unbooked(field: FieldFrame, deed: Deed, form_token: String, fields: Fields) -> PostPage {
        PostPage {
            field,
            deed,
            appliance: String::new(),
            place: String::new(),
            action: "/field/new".to_string(),
            form_token,
            tag: "an appliance not yet in the book".to_string(),
            site: String::new(),
            refrigerant: "refrigerant".to_string(),
            about: String::new(),
            known: Known::default(),
            cylinders: Vec::new(),
            fields,
            problems: Vec::new(),
            questions: Vec::new(),
            stops: Vec::new(),
            echo: None,
            cautions: deed.cautions("what it runs on"),
            may_lift: false,
            corrects: None,
        }
    }

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

    /// Is the refrigerant asked for, because nobody has recorded what the appliance runs on?
    fn asks_refrigerant(&self) -> bool {
        self.known.runs_on.is_empty() && !self.is_bulk()
    }

    /// The sentence with the box that it belongs to on this page.
    pub fn put_right(&mut self, mut problem: BoxProblem) {
        if problem.field == "refrigerant" && !self.asks_refrigerant() && !self.is_bulk() {
            // What the appliance runs on is known: it is the cylinder that does not fit.
            problem.field = "cylinder";
        }
        self.problems.push(problem);
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
mod tests;
