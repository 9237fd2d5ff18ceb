//! Tools at hand: saturation, and what a pressure test shows. Plain forms that work without script.
//!
//! They book nothing. Where the numbers come from stands beside them, and so does the caution.

mod saturated;

use super::cautions;
use super::frame::{Around, Frame, Part};
use super::way::{Visit, page};
use crate::actions::measured::sentence;
use crate::actions::physics::{self, Given};
use crate::http::Problem;
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::physics::{
    PRESSURE_TEST_CAUTION, PressureResult, PressureVerdict, SATURATION_CAUTION, SaturationTable,
};

/// A page with a tool.
#[derive(Clone, Debug, Template)]
#[template(path = "tool.html")]
pub struct ToolPage {
    /// Around the content.
    pub frame: Frame,
    /// What it is called.
    pub title: &'static str,
    /// What it does, in a sentence.
    pub lede: &'static str,
    /// Where its form goes.
    pub action: &'static str,
    /// Its boxes.
    pub boxes: Vec<ToolBox>,
    /// The answer in a sentence; none before it was asked.
    pub answer: Option<String>,
    /// Figures of the answer.
    pub figures: Vec<(&'static str, String)>,
    /// What is to be answered or done first, or what is wrong.
    pub open: Vec<String>,
    /// Is something wrong with what was asked?
    pub is_wrong: bool,
    /// Where the numbers come from.
    pub source: String,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// One box of the form.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolBox {
    /// Its name.
    pub name: &'static str,
    /// Its label.
    pub label: &'static str,
    /// What may be chosen: value and words; empty: it is typed.
    pub choices: &'static [(&'static str, &'static str)],
    /// What was filled in.
    pub value: String,
    /// Is it the one that is wrong?
    pub is_wrong: bool,
}

type Asked = (
    &'static str,
    &'static str,
    &'static [(&'static str, &'static str)],
    &'static str,
);

const TYPED: &[(&str, &str)] = &[];
const DEGREES: &[(&str, &str)] = &[("[degF]", "°F"), ("Cel", "°C")];
const GAUGE: &[(&str, &str)] = &[
    ("", "not needed or not stated"),
    ("vented", "vented, as manifold gauges are"),
    ("sealed", "sealed or corrected to sea level"),
];
const LENGTH: &[(&str, &str)] = &[("[ft_i]", "feet"), ("m", "metres")];
const PRESSURE: &[(&str, &str)] = &[
    ("psig", "psi, gauge"),
    ("kPa{gauge}", "kPa, gauge"),
    ("bar{gauge}", "bar, gauge"),
    ("[psi]", "psi, absolute"),
    ("kPa", "kPa, absolute"),
];
const ANSWER: &[(&str, &str)] = &[("", "not answered"), ("yes", "yes"), ("no", "no")];

/// Name, label, choices, what stands there at first.
const OF_SATURATION: &[Asked] = &[
    ("refrigerant", "Refrigerant", TYPED, ""),
    ("temperature", "Temperature of the liquid", TYPED, ""),
    ("temperature_unit", "Temperature in", DEGREES, "[degF]"),
    ("pressure", "or pressure", TYPED, ""),
    ("pressure_unit", "Pressure in", PRESSURE, "psig"),
    ("gauge", "Gauge", GAUGE, ""),
    ("altitude", "Altitude of the site", TYPED, ""),
    ("altitude_unit", "Altitude in", LENGTH, "[ft_i]"),
];
const OF_PRESSURE_TEST: &[Asked] = &[
    (
        "start_pressure",
        "Pressure at the start, after the gas settled",
        TYPED,
        "",
    ),
    (
        "start_temperature",
        "Temperature of the part at the start",
        TYPED,
        "",
    ),
    ("end_pressure", "Pressure at the end", TYPED, ""),
    (
        "end_temperature",
        "Temperature of the part at the end",
        TYPED,
        "",
    ),
    ("pressure_unit", "Pressures in", PRESSURE, "psig"),
    ("temperature_unit", "Temperatures in", DEGREES, "[degF]"),
    ("pressure_accuracy", "The gauge may be off by", TYPED, ""),
    (
        "temperature_accuracy",
        "The thermometer may be off by (degrees)",
        TYPED,
        "1",
    ),
    (
        "design_pressure",
        "Lowest design pressure of the nameplates",
        TYPED,
        "",
    ),
    ("minutes", "Stood for (minutes)", TYPED, ""),
    (
        "criterion_minutes",
        "Has to stand for (minutes)",
        TYPED,
        "60",
    ),
    ("gauge", "Gauge", GAUGE, "vented"),
    ("altitude", "Altitude of the site", TYPED, ""),
    ("altitude_unit", "Altitude in", LENGTH, "[ft_i]"),
    (
        "in_shade",
        "Were both temperatures taken in the shade?",
        ANSWER,
        "",
    ),
    (
        "on_tested_part",
        "Both on the tested part, not in the air?",
        ANSWER,
        "",
    ),
    ("same_place", "Both at the same place?", ANSWER, ""),
    (
        "settled_after_filling",
        "Had the gas settled after filling?",
        ANSWER,
        "",
    ),
];

/// What an answer of a tool says.
#[derive(Default)]
struct Said {
    answer: Option<String>,
    figures: Vec<(&'static str, String)>,
    open: Vec<String>,
    wrong: Option<String>,
    source: String,
    cautions: Vec<String>,
}

/// `GET /tools/saturation`.
pub async fn saturation(visit: Visit) -> Result<HttpResponse, Problem> {
    let said = asked(&visit, "refrigerant", physics::SATURATION, saturated::say);
    let (makers, shipped): (Vec<_>, Vec<_>) = SaturationTable::in_force()
        .fluids()
        .partition(|fluid| fluid.is_makers);
    let added = match makers.len() {
        0 => String::new(),
        count => format!(" and tables of manufacturers for {count}"),
    };
    let source = format!(
        "Where the numbers come from: equations of state for {} refrigerants at the nominal \
         composition (CoolProp 8.0.0), -40 to 65 °C{added}; each answer says whose numbers it has \
         and how far they are to be doubted. Nothing is extrapolated.",
        shipped.len()
    );
    let page = ToolPage {
        title: "Saturation",
        lede: "Bubble and dew pressure at a temperature, or the temperatures at a pressure.",
        action: "/tools/saturation",
        ..tool(said, OF_SATURATION, &visit, source, SATURATION_CAUTION)
    };
    shown(visit, page).await
}

/// `GET /tools/pressure-test`.
pub async fn pressure_test(visit: Visit) -> Result<HttpResponse, Problem> {
    let said = asked(
        &visit,
        "start_pressure",
        physics::PRESSURE_TEST,
        say_pressure_test,
    );
    let source = "Where the numbers come from: nitrogen at constant volume, with the correction for \
                  the real gas (compared with CoolProp 8.0.0 from -30 to 65 °C up to 600 psig); the \
                  uncertainty is that of both readings with a coverage factor of 2."
        .to_string();
    let page = ToolPage {
        title: "Pressure test with nitrogen",
        lede: "Was gas lost, or did it only cool down? This books nothing.",
        action: "/tools/pressure-test",
        ..tool(
            said,
            OF_PRESSURE_TEST,
            &visit,
            source,
            PRESSURE_TEST_CAUTION,
        )
    };
    shown(visit, page).await
}

/// What the tool says to what was filled in; nothing before it was.
fn asked(
    visit: &Visit,
    first: &str,
    known: &[&str],
    say: fn(&Given) -> Result<Said, reports::physics::Problem>,
) -> Said {
    if visit.asked.query.text(first).is_none() {
        return Said::default();
    }
    let given = Given::of(visit.asked.query.members(), known);
    given
        .and_then(|given| say(&given))
        .unwrap_or_else(|problem| Said {
            open: vec![format!(
                "Expected {}; came {}. {}",
                problem.expected, problem.came, problem.to_do
            )],
            wrong: Some(problem.field.replace("sensors.", "").replace('.', "_")),
            ..Said::default()
        })
}

fn tool(said: Said, boxes: &[Asked], visit: &Visit, source: String, caution: &str) -> ToolPage {
    let query = &visit.asked.query;
    let fresh = said.answer.is_none() && said.open.is_empty();
    let filled = |(name, label, choices, first): &Asked| {
        let value = query.text(name).unwrap_or(if fresh { first } else { "" });
        ToolBox {
            name,
            label,
            choices,
            value: value.to_string(),
            is_wrong: said.wrong.as_deref() == Some(*name),
        }
    };
    let mut warned = vec![caution.to_string(), cautions::PRESSURE.to_string()];
    warned.extend(said.cautions);
    ToolPage {
        frame: Frame::default(),
        title: "",
        lede: "",
        action: "",
        boxes: boxes.iter().map(filled).collect(),
        answer: said.answer,
        figures: said.figures,
        open: said.open,
        is_wrong: said.wrong.is_some(),
        source: match said.source.is_empty() {
            true => source,
            false => format!("{source} This answer: {}.", said.source),
        },
        cautions: warned,
    }
}

async fn shown(visit: Visit, mut tool: ToolPage) -> Result<HttpResponse, Problem> {
    let around = Around::of(&visit)?;
    let read = visit.asked.read(move |state| {
        let (frame, ..) = around.read(state, Part::Cylinders)?;
        Ok(frame)
    });
    tool.frame = read.await?;
    Ok(page(StatusCode::OK, &tool))
}

fn say_pressure_test(given: &Given) -> Result<Said, reports::physics::Problem> {
    let result = physics::pressure_test(given)?;
    let mut said = Said {
        answer: Some(verdict(&result)),
        open: result.open.iter().map(sentence).collect(),
        ..Said::default()
    };
    if let Some(above) = &result.above_design_pressure {
        said.cautions.push(format!(
            "The test pressure of {} is above the nameplate: {}. {}",
            above.came, above.expected, above.to_do
        ));
    }
    let unit = result.unit;
    said.figures = vec![
        (
            "Expected at the end",
            format!("{:.2} {unit}", result.expected),
        ),
        (
            "By an ideal gas",
            format!("{:.2} {unit}", result.expected_ideal),
        ),
        ("Read at the end", format!("{:.2} {unit}", result.measured)),
        (
            "Loss (below zero: gain)",
            format!("{:.2} {unit}", result.loss),
        ),
        (
            "Smallest loss it can see",
            format!("{:.2} {unit}", result.smallest_detectable_loss),
        ),
    ];
    Ok(said)
}

fn verdict(result: &PressureResult) -> String {
    let unit = result.unit;
    match result.verdict {
        PressureVerdict::LossBeyondUncertainty => "Loss beyond uncertainty".to_string(),
        PressureVerdict::NoLossBeyondUncertainty => format!(
            "No loss beyond uncertainty; the smallest it can see is {:.2} {unit}",
            result.smallest_detectable_loss
        ),
        PressureVerdict::GainBeyondUncertaintyTestInvalid => {
            "Invalid: more pressure than the gas can have".to_string()
        }
        PressureVerdict::NotDecided => "Not decided until the following is answered".to_string(),
    }
}
