//! Tests and run checks in words: labels of their boxes, their choices, and the lines of a record.

use crate::actions::measured::open_reasons;
use crate::actions::show::lines::Line;
use crate::pages::cautions;
use crate::pages::words::plain;
use reports::physics::{CONTENT_CAUTION, PRESSURE_TEST_CAUTION, VACUUM_CAUTION, VacuumCriteria};
use reports::plural;

/// What a box asks; `None`: it is no box of these kinds.
pub fn label(name: &str) -> Option<&'static str> {
    Some(match name {
        "start_pressure" => "Pressure at the start",
        "end_pressure" => "Pressure at the end",
        "middle_pressure" => "Pressure in between",
        "middle_minute" => "read after so many minutes",
        "pressure_unit" => "Pressures are in",
        "start_temperature" => "Temperature of the part at the start",
        "end_temperature" => "Temperature of the part at the end",
        "temperature_unit" => "Temperatures are in",
        "pressure_accuracy" => "The gauge may be off by",
        "temperature_accuracy" => "The thermometer may be off by (degrees)",
        "design_pressure" => "Lowest design pressure of the nameplates",
        "minutes" => "Stood for (minutes)",
        "criterion_minutes" => "Has to stand for (minutes)",
        "acceptance" => "Loss that still passes, if the criterion names one",
        "resolution" => "Smallest step that the gauge shows, needed if a loss still passes",
        "gauge" => "Gauge",
        "altitude" => {
            "Altitude of the site (needed with a vented gauge, unless a barometer was read)"
        }
        "altitude_unit" => "Altitude in",
        "barometer" => "Barometer at the site, if read",
        "barometer_unit" => "Barometer in",
        "in_shade" => "Were both temperatures taken in the shade?",
        "on_tested_part" => "Both on the tested part, not in the air?",
        "same_place" => "Both at the same place?",
        "settled_after_filling" => "Had the gas settled after filling?",
        "criterion" => "What it has to show",
        "volume" => "Volume of the tested part, if known",
        "volume_unit" => "Volume in",
        "mode" => "Running in",
        "high_pressure" => "High side",
        "low_pressure" => "Low side",
        "high_line_temperature" => "Temperature of the liquid line",
        "low_line_temperature" => "Temperature of the suction line",
        "outdoor_temperature" => "Outdoor temperature",
        "pressure" => "What the gauge on it shows",
        "accuracy_percent" => "The gauge may be off by (percent)",
        "full_scale" => "Largest number on the dial",
        "of_reading" => "Is that percent of the reading, not of the dial?",
        "wall_temperature" => "Temperature of its wall below the liquid, not of the air",
        "rested" => "Did it rest in the shade until wall and air agreed?",
        "gross" => "What the scale shows with it on, with the unit",
        _ => return None,
    })
}

/// What a choice means, where its word is none that people say.
pub fn choice(name: &str, word: &str) -> Option<String> {
    let known = match (name, word) {
        ("pressure_unit" | "barometer_unit", unit) => return Some(unit_text(unit)),
        ("temperature_unit", "[degF]") => "°F",
        ("temperature_unit", _) => "°C",
        ("altitude_unit", "m") => "metres",
        ("altitude_unit", _) => "feet",
        ("volume_unit", "L") => "litres",
        ("volume_unit", "[gal_us]") => "gallons",
        ("volume_unit", "[cft_i]") => "cubic feet",
        ("volume_unit", _) => "cubic metres",
        ("gauge", "vented") => "Vented, as manifold gauges are",
        ("gauge", "sealed") => "Sealed, or corrected to sea level",
        ("criterion", word) => {
            let criterion = VacuumCriteria::shipped().named(word).ok()?;
            return Some(criterion.text.clone());
        }
        _ => return None,
    };
    Some(known.to_string())
}

/// Is a pressure in this unit read against nothing, so that the air does not matter?
pub fn is_absolute(unit: &str) -> bool {
    ["[psi]", "kPa", "bar"].contains(&unit)
}

/// A text of the door with units as people write them.
pub fn in_words(text: &str) -> String {
    let units = [
        ("[ft_i]", "feet"),
        ("[degF]", "°F"),
        (" Cel", " °C"),
        ("kPa{gauge}", "kPa (gauge)"),
        ("bar{gauge}", "bar (gauge)"),
        ("[psi]", "psi (absolute)"),
        ("um[Hg]", "microns"),
        ("mm[Hg]", "torr"),
        ("[in_i'Hg]", "inches of mercury"),
        ("[gal_us]", "gallons"),
        ("[cft_i]", "cubic feet"),
    ];
    let said = |text: String, (unit, words): (&str, &str)| text.replace(unit, words);
    units.into_iter().fold(text.to_string(), said)
}

/// A unit as people write it.
fn unit_text(unit: &str) -> String {
    let known = match unit {
        "psig" => "psi, gauge",
        "[psi]" => "psi, absolute",
        "kPa{gauge}" => "kPa, gauge",
        "bar{gauge}" => "bar, gauge",
        "um[Hg]" => "microns",
        "mm[Hg]" => "torr",
        "[in_i'Hg]" => "inches of mercury",
        other => other,
    };
    known.to_string()
}

/// The caution that stands beside the form of a kind; empty: none of its own.
pub fn caution(kind: &str) -> &'static str {
    match kind {
        "pressure_test" => PRESSURE_TEST_CAUTION,
        "vacuum_test" => VACUUM_CAUTION,
        "observation" => CONTENT_CAUTION,
        "leak_found" | "inspection" => cautions::SEARCHING,
        "repair" => cautions::OPENING,
        "verification_test" => cautions::VERIFYING,
        "run_check" => cautions::RUNNING,
        "isolate" => cautions::ISOLATING,
        "shutdown" | "mothball" => cautions::LOCKING_OUT,
        "back_in_operation" => cautions::STARTING,
        _ => "",
    }
}

/// The words of an entry; one that it does not say is empty.
struct Said<'l>(&'l Line);

impl<'l> Said<'l> {
    fn word(&self, name: &str) -> &'l str {
        self.0.words.get(name).map_or("", String::as_str)
    }
}

/// What is said below the line of an entry; `None`: it is of another kind.
pub fn notes(line: &Line) -> Option<Vec<String>> {
    let said = Said(line);
    let word = |name| said.word(name);
    let unit = unit_text(word("pressure_unit"));
    let mut notes = match line.kind.as_str() {
        "pressure_test" => of_pressure_test(&said, &unit),
        "vacuum_test" => vec![
            format!("{}.", verdict(word("verdict"))),
            format!(
                "From {} to {} {unit} in {}: {}; the rise {}.",
                word("start_pressure"),
                word("end_pressure"),
                plural::counted(word("minutes"), "minutes"),
                choice("criterion", word("criterion")).unwrap_or_default(),
                shape(word("shape"))
            ),
            VACUUM_CAUTION.to_string(),
        ],
        "run_check" => of_run_check(&said, &unit),
        "observation" => vec![
            format!("{}.", verdict(word("verdict"))),
            format!(
                "{} {unit} at {} {}.",
                word("pressure"),
                word("wall_temperature"),
                choice("temperature_unit", word("temperature_unit")).unwrap_or_default()
            ),
        ],
        "count" => vec![format!("Gross {}.", word("gross"))],
        _ => return None,
    };
    if is_open(word("verdict")) {
        notes.splice(1..1, open(line));
    }
    Some(notes)
}

fn is_open(verdict: &str) -> bool {
    ["not_decided", "invalid_gain"].contains(&verdict)
}

/// What keeps a test open; empty: nothing.
pub fn open(line: &Line) -> Vec<String> {
    let said = line.words.iter().chain(&line.texts);
    let said = said.map(|(name, text)| (name.as_str(), text.as_str()));
    let open = open_reasons(&line.kind, said).into_iter();
    open.map(|reason| format!("Open: {reason}")).collect()
}

fn of_pressure_test(said: &Said<'_>, unit: &str) -> Vec<String> {
    let word = |name| said.word(name);
    let degrees = choice("temperature_unit", word("temperature_unit")).unwrap_or_default();
    let mut notes = vec![format!("{}.", verdict(word("verdict")))];
    if !word("loss").is_empty() {
        notes.push(format!(
            "From {} at {} {degrees} to {} at {} {degrees} in {}; expected {}, loss {}, \
             smallest it can see {} ({unit}).",
            word("start_pressure"),
            word("start_temperature"),
            word("end_pressure"),
            word("end_temperature"),
            plural::counted(word("minutes"), "minutes"),
            word("expected_pressure"),
            word("loss"),
            word("smallest_detectable_loss"),
        ));
    }
    if word("above_design") == "yes" {
        notes.push(format!(
            "Above the design pressure of {} {unit}: never test above the nameplate.",
            word("design_pressure")
        ));
    }
    notes.push(
        "A pass shows no loss larger than the stated one; it does not prove tightness.".into(),
    );
    notes
}

fn of_run_check(said: &Said<'_>, unit: &str) -> Vec<String> {
    let word = |name| said.word(name);
    let saturated = |name| match said.word(name) {
        "" => String::new(),
        cel => format!(" (saturated at {cel} °C)"),
    };
    vec![format!(
        "{}: high side {}{}, low side {}{}, in {unit}.",
        crate::pages::words::capital(word("mode")),
        word("high_pressure"),
        saturated("high_saturation_cel"),
        word("low_pressure"),
        saturated("low_saturation_cel"),
    )]
}

fn verdict(word: &str) -> String {
    let known = match word {
        "loss_beyond_uncertainty" => "Loss beyond uncertainty",
        "no_loss_beyond_uncertainty" => "No loss beyond uncertainty",
        "invalid_gain" => "Invalid: more pressure than the gas can have",
        "not_decided" => "Not decided yet",
        "pass" => "Passed",
        "fail" => "Failed",
        "ambiguous" => "Several refrigerants fit: nothing is identified",
        "one_compatible" => "One fits: that does not identify it",
        "no_match" => "Nothing of the table fits",
        "refused" => "Could not be judged",
        other => return plain(other),
    };
    known.to_string()
}

fn shape(word: &str) -> &str {
    match word {
        "levels_off" => "levels off, as moisture does",
        "steady" => "is steady, as a leak's is",
        "no_rise" => "is none",
        _ => "has no clear shape",
    }
}
