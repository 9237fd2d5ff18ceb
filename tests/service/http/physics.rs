//! Physics over HTTP: pure questions, by query and as JSON, in the words of the problems.
//!
//! Expected values: saturation, densities and fill limits of CoolProp 8.0.0 as tables worked out apart
//! from this program hold them; nitrogen by constant density (CoolProp 8.0.0); units by NIST SP 811.

use harness::measured;
use harness::service::{Service, Who};
use serde_json::{Value, json};

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

#[allow(clippy::float_arithmetic)] // Physics is compared within its tolerance.
fn near(value: &Value, expected: f64, percent: f64) {
    let off = (number(value) - expected).abs();
    assert!(
        off <= expected.abs() * percent / 100.0,
        "{value} is not {expected}"
    );
}

/// R-410A at 5 degC has 936.3 kPa (CoolProp 8.0.0); 121.1 psig of the same table are 936.3 kPa.
#[test]
fn saturation_answers_everybody_in_both_ways() {
    let service = Service::start();
    let path = "/api/v1/physics/saturation?refrigerant=R-410A&temperature=5&unit=Cel";
    let by_query = service.get(&Who::Nobody, path).expect(200).json();
    near(&by_query["bubble_kpa"], 936.3, 0.1);
    assert!(number(&by_query["dew_kpa"]) < number(&by_query["bubble_kpa"]));
    near(&by_query["liquid_density_kg_m3"], 1_150.0, 1.0);
    assert!(number(&by_query["vapour_density_kg_m3"]) > 30.0);
    assert_eq!(by_query["model_doubt_percent"], 0.5);
    assert!(
        by_query["caution"]
            .as_str()
            .expect("a text")
            .contains("Not for safety-critical")
    );
    let asked = json!({"refrigerant": "R-410A", "temperature": {"value": "5", "unit": "Cel"}});
    let path = "/api/v1/physics/saturation";
    let by_body = service.post(&Who::Nobody, path, &asked).expect(200).json();
    assert_eq!(by_body, by_query);
    let back = format!(
        "{path}?refrigerant=R-410A&pressure=121.1&unit=psig&gauge=vented&altitude=0&altitude_unit=m"
    );
    let back = service.get(&Who::Nobody, &back).expect(200).json();
    near(&back["bubble_cel"], 5.0, 1.0);
}

/// 47.7 lb of water, R-32: 0.80 x 21.6810 L x 961.01 kg/m3 = 36.7477 lb, below 0.8 x 47.7 = 38.16 lb.
#[test]
fn a_fill_limit_names_its_rule_and_source_and_what_comes_of_a_fill() {
    let service = Service::start();
    let ask = |more: Value| {
        let mut body = json!({"refrigerant": "R-32", "water_capacity": "47.7",
                              "water_capacity_unit": "[lb_av]", "tare": "27.5 lb"});
        for (name, value) in more.as_object().expect("an object") {
            body[name] = value.clone();
        }
        service.post(&Who::Nobody, "/api/v1/physics/fill-limit", &body)
    };
    let limit = ask(json!({"gross": "57.5 lb", "adding": "7 lb"}))
        .expect(200)
        .json();
    assert_eq!(limit["rule_id"], "GK80_25C");
    let most = limit["limit"]["lb_oz"].as_str().expect("a mass");
    assert!(most.starts_with("36 lb 11.9"), "{most}");
    assert!(
        limit["rules"][0]["source"]
            .as_str()
            .expect("a source")
            .contains("Guideline K")
    );
    assert_eq!(limit["room"]["net"]["lb_oz"], "30 lb 0 oz");
    assert_eq!(limit["fill"]["verdict"], "stopped");
    let unknown = ask(json!({"refrigerant": "unknown"})).expect(200).json();
    assert!(
        unknown["limit"]["kg"]
            .as_str()
            .expect("a mass")
            .starts_with("8.54"),
        "{unknown}"
    );
    for (more, field) in [
        (json!({"water_capacity": "20"}), "water_capacity"),
        (json!({"refrigerant": "R-401A"}), "refrigerant"),
        (json!({"refrigerant": "R-9999"}), "refrigerant"),
        (json!({"gross": "20 lb"}), "gross"),
        (json!({"gross": "57.5 lb", "tare": null}), "tare"),
        (json!({"adding": "1 lb"}), "gross"),
        (json!({"water_capacity_unit": "gallons"}), "water_capacity"),
    ] {
        problem(ask(more), field);
    }
}

/// What is wrong is named: field, what was expected, what came, what to do.
fn problem(reply: harness::service::Reply, field: &str) -> Value {
    let problem = reply.expect(422).json();
    assert_eq!(problem["field"], field, "{problem}");
    for member in ["expected", "came", "to_do"] {
        let text = problem[member].as_str().unwrap_or_default();
        assert!(!text.is_empty(), "{member}: {problem}");
    }
    let pointer = problem["errors"][0]["pointer"].as_str().expect("a pointer");
    assert!(pointer.ends_with(field), "{problem}");
    problem
}

/// The bad input of readings: each is refused with its field; a wrong unit names the one that fits.
#[test]
fn bad_readings_are_refused_by_name() {
    let service = Service::start();
    let get = |query: &str| {
        let path = format!("/api/v1/physics/saturation?refrigerant=R-410A&{query}");
        service.get(&Who::Nobody, &path)
    };
    let air = "gauge=vented&altitude=0&altitude_unit=m";
    for (query, field, says) in [
        ("temperature=90&unit=Cel", "temperature", "[degF]"),
        ("temperature=-80&unit=Cel", "temperature", ""),
        ("temperature=5", "temperature", "unit"),
        ("temperature=5,5&unit=Cel", "temperature", "comma"),
        (
            &format!("pressure=-20&unit=psig&{air}"),
            "pressure",
            "mercury",
        ),
        ("pressure=100&unit=psig&gauge=vented", "altitude", "air"),
        ("pressure=100&unit=psig", "gauge", "sealed"),
        (
            "pressure=100&unit=psig&gauge=vented&altitude=9000&altitude_unit=m",
            "altitude",
            "[ft_i]",
        ),
        (
            "temperature=5&unit=Cel&pressure=100&pressure_unit=kPa",
            "pressure",
            "Leave one",
        ),
        ("", "temperature", ""),
    ] {
        let said = problem(get(query), field).to_string();
        assert!(said.contains(says), "{query}: {said}");
    }
    let path = "/api/v1/physics/saturation?refrigerant=R-401A&temperature=5&unit=Cel";
    let no_table = problem(service.get(&Who::Nobody, path), "refrigerant");
    assert_eq!(no_table["errors"][0]["code"], "no_table");
    let body = json!({"refrigerant": "R-410A", "temperature": "5", "unit": "Cel", "colour": "red"});
    let reply = service
        .post(&Who::Nobody, "/api/v1/physics/saturation", &body)
        .expect(422);
    assert_eq!(reply.json()["type"], "/problems/unknown-field");
    let list = service.post(&Who::Nobody, "/api/v1/physics/saturation", &json!([1]));
    assert_eq!(list.expect(400).json()["type"], "/problems/malformed");
}

/// One reading of 195.3 psig at 20 degC fits R-410A and what burns: R-32, R-454B (CoolProp 8.0.0);
/// a missing full scale refuses the verdict and names itself.
#[test]
fn a_content_check_rules_out_and_names_nothing() {
    let service = Service::start();
    let path = "/api/v1/physics/content-check";
    let mut body = measured::observation();
    (body["gross"], body["tare"]) = (json!("40 lb"), json!("27.5 lb"));
    body["water_capacity"] = json!({"value": "47.7", "unit": "[lb_av]"});
    let answer = service.post(&Who::Nobody, path, &body).expect(200).json();
    assert_eq!(answer["verdict"], "ambiguous");
    let names: Vec<&str> = (answer["compatible"].as_array().expect("a list").iter())
        .map(|it| it["refrigerant"].as_str().expect("a name"))
        .collect();
    assert!(
        names.contains(&"R-410A") && names.contains(&"R-32"),
        "{names:?}"
    );
    assert_eq!(answer["possibly_flammable"], true);
    assert!(
        answer["caution"]
            .as_str()
            .expect("a text")
            .contains("only rule refrigerants out")
    );
    for (field, missing) in [("full_scale", json!(null)), ("rested", json!("no"))] {
        let mut body = body.clone();
        body[field] = missing;
        let answer = service.post(&Who::Nobody, path, &body).expect(200).json();
        assert_eq!(answer["verdict"], "refused");
        assert!(answer["refused"].to_string().contains(field), "{answer}");
    }
}

/// 150 psig cooling from 70 to 60 degF should show 146.805 psig (CoolProp 8.0.0). In the sun (85 degF
/// read where it was 70) it is not decided until the questions are answered.
#[test]
fn tests_answer_what_they_show() {
    let service = Service::start();
    let path = "/api/v1/physics/pressure-test";
    let mut body = measured::pressure_test();
    body.as_object_mut().expect("an object").remove("stage");
    let answer = service.post(&Who::Nobody, path, &body).expect(200).json();
    assert_eq!(answer["verdict"], "no_loss_beyond_uncertainty");
    near(&answer["expected"], 146.805, 0.02);
    let mut sunny = body.clone();
    (sunny["end_temperature"], sunny["end_pressure"]) = (json!("85"), json!("150"));
    let answer = service.post(&Who::Nobody, path, &sunny).expect(200).json();
    assert_eq!(answer["verdict"], "not_decided");
    assert!(answer["open"].to_string().contains("in_shade"), "{answer}");
    let mut above = body.clone();
    above["design_pressure"] = json!("149");
    let answer = service.post(&Who::Nobody, path, &above).expect(200).json();
    assert_eq!(
        answer["above_design_pressure"]["code"],
        "above_design_pressure"
    );
    let mut short = body.clone();
    short["minutes"] = json!("20");
    let answer = service.post(&Who::Nobody, path, &short).expect(200).json();
    assert_eq!(answer["open"][0]["code"], "too_short");
    let mut elsewhere = body.clone();
    elsewhere["same_place"] = json!("no");
    let answer = service
        .post(&Who::Nobody, path, &elsewhere)
        .expect(200)
        .json();
    assert_eq!(answer["verdict"], "not_decided");
    let mut rose = body.clone();
    rose["end_pressure"] = json!("150.6");
    let answer = service.post(&Who::Nobody, path, &rose).expect(200).json();
    assert_ne!(answer["verdict"], "no_loss_beyond_uncertainty", "{answer}");
    let path = "/api/v1/physics/vacuum-test";
    let held = service.post(&Who::Nobody, path, &measured::vacuum_test());
    let held = held.expect(200).json();
    assert_eq!(
        (&held["verdict"], &held["shape"]),
        (&json!("pass"), &json!("levels_off"))
    );
    let mut gauge = measured::vacuum_test();
    gauge["pressure_unit"] = json!("psig");
    problem(service.post(&Who::Nobody, path, &gauge), "readings");
}

/// A number with two units is no number: neither is chosen, and no body is no question.
#[test]
fn two_units_for_one_number_are_refused() {
    let service = Service::start();
    let ask = |body: Value| service.post(&Who::Nobody, "/api/v1/physics/saturation", &body);
    for body in [
        json!({"refrigerant": "R-32", "temperature": {"value": "5", "unit": "Cel"},
               "temperature_unit": "[degF]"}),
        json!({"refrigerant": "R-32", "temperature": {"value": "5", "text": "50", "unit": "Cel"}}),
        json!({"refrigerant": "R-32", "temperature": 5, "unit": "Cel",
               "temperature_unit": "[degF]"}),
    ] {
        let problem = ask(body).expect(422).json();
        let field = problem["field"].as_str().expect("a field");
        assert!(field.starts_with("temperature"), "{problem}");
        assert!(
            problem["came"].as_str().expect("what came").contains("and"),
            "{problem}"
        );
    }
    ask(Value::Null).expect_problem(400, "malformed");
    for shape in [
        json!({"value": false}),
        json!({"unit": 5}),
        json!([5]),
        json!({"value": null}),
    ] {
        ask(json!({"refrigerant": "R-32", "temperature": shape})).expect(422);
    }
}

/// A sheet of a manufacturer in a folder of the settings: its refrigerant is answered with its name, and
/// is compared in content checks; a mistyped one keeps the program from starting and names its line.
/// Invented numbers of the right size.
#[test]
fn a_manufacturers_table_is_answered_with_whose_it_is() {
    let sheet = "# refrigerant: R-438A\n# source: Halfmoon Gases, sheet 438, 2024\n\
                 # doubt_percent: 1\n# temperature: [degF]\n# pressure: psig\n\
                 temperature,bubble,dew\n32,55.0,45.0\n50,81.0,69.0\n68,113.0,99.0\n77,132.0,117.0\n";
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("r-438a.csv"), sheet).expect("a file");
    let path = folder.path().to_str().expect("a path").to_string();
    let settings = [("TAREBOOK_SATURATION_TABLES", path.as_str())];
    let service = Service::on(harness::database::Database::new(), &settings);
    let asked = "/api/v1/physics/saturation?refrigerant=R-438A&temperature=50&unit=%5BdegF%5D";
    let answer = service.get(&Who::Nobody, asked).expect(200).json();
    assert_eq!(answer["source"], "Halfmoon Gases, sheet 438, 2024");
    // (81 + 14.69595) psi x 6.894757 kPa.
    near(&answer["bubble_kpa"], 659.80, 0.01);
    let mut reading = measured::observation();
    (reading["pressure"], reading["gross"]) = (json!("113"), Value::Null);
    let checked = service.post(&Who::Nobody, "/api/v1/physics/content-check", &reading);
    let checked = checked.expect(200).json();
    let listed = checked["compatible"].as_array().expect("a list").iter();
    let it = listed.clone().find(|one| one["refrigerant"] == "R-438A");
    let it = it.expect("it fits its own table");
    assert_eq!(it["makers_table"], "Halfmoon Gases, sheet 438, 2024");
    for other in listed.filter(|one| one["refrigerant"] != "R-438A") {
        assert_eq!(other["makers_table"], Value::Null, "{other}");
    }
    let falling = sheet.replace("81.0", "18.0");
    std::fs::write(folder.path().join("r-438a.csv"), falling).expect("a file");
    let checked = std::process::Command::new(harness::service::program())
        .args(["check-config", "--data", "nowhere"])
        .env("TAREBOOK_SATURATION_TABLES", folder.path())
        .output()
        .expect("the program");
    let said = String::from_utf8_lossy(&checked.stderr).into_owned();
    assert_eq!(checked.status.code(), Some(2), "{said}");
    assert!(
        said.contains("r-438a.csv") && said.contains("line 8"),
        "{said}"
    );
}
