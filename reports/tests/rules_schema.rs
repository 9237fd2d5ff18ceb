//! The JSON Schema of rule files says the same as the parser: every draft is valid, and what the
//! parser refuses for its words the schema refuses too (JSON Schema 2020-12, by the library
//! jsonschema).

use crate::sets;

use reports::rules::schema::{overlay_schema, rule_set_schema, situations_schema};
use serde_json::Value;

fn drafts() -> impl Iterator<Item = (String, Value)> {
    sets::files().into_iter().map(|(name, text)| {
        let value: toml::Value = toml::from_str(&text).unwrap();
        (name, serde_json::to_value(value).unwrap())
    })
}

#[test]
fn every_draft_is_valid() {
    let schema = rule_set_schema();
    for (name, draft) in drafts() {
        assert_eq!(validate(&schema, &draft), Ok(()), "{name}");
    }
    let situations: Value =
        serde_json::from_str(include_str!("data/rule-situations.json")).unwrap();
    let schema = situations_schema();
    assert_eq!(validate(&schema, &situations), Ok(()));
}

#[test]
fn what_the_parser_refuses_is_not_valid() {
    let schema = rule_set_schema();
    let draft = |name: &str| {
        drafts()
            .into_iter()
            .find(|(draft, _)| draft == name)
            .unwrap()
            .1
    };
    type Spoil = fn(&mut Value);
    let spoilt: [(&str, Spoil); 6] = [
        ("/leak_rate", |set| {
            set["leak_rate"]["neting"] = "visit".into()
        }),
        ("/limits/0/measure", |set| {
            set["limits"][0]["measure"] = "leakrate".into()
        }),
        ("/values/size/unit", |set| {
            set["values"]["size"]["unit"] = "pounds".into()
        }),
        ("/values/size/rows/0/is", |set| {
            set["values"]["size"]["rows"][0]["is"] = 50.into()
        }),
        ("/covers/0/from", |set| {
            set["covers"][0]["from"] = "1995".into()
        }),
        ("", |set| {
            drop(set.as_object_mut().unwrap().remove("caution"))
        }),
    ];
    for (place, spoil) in spoilt {
        let mut set = draft("us-federal-ods.toml");
        spoil(&mut set);
        let wrong = validate(&schema, &set).unwrap_err();
        assert!(wrong.starts_with(&format!("{place}:")), "{wrong}");
    }
}

#[test]
fn a_layer_has_its_own_schema() {
    let schema = overlay_schema();
    let mut layer = serde_json::json!({
        "id": "county", "overlays": "us-federal-ods", "layer": "local",
        "title": "County (invented)", "reason": "ordinance (invented)",
        "where": { "region": { "is": ["US-CO-101"] } },
        "values": { "trigger": { "rows": [{ "from": "2024-06-01", "is": "15", "clause": "s. \
         3" }] } },
    });
    assert_eq!(validate(&schema, &layer), Ok(()));
    layer["values"]["trigger"]["unit"] = "lb".into();
    assert!(validate(&schema, &layer).is_err());
}

/// Whether a value is valid; the error says where it is not and why.
fn validate(schema: &Value, value: &Value) -> Result<(), String> {
    let validator = jsonschema::draft202012::new(schema).expect("a schema");
    let wrong = validator.iter_errors(value).next();
    wrong.map_or(Ok(()), |error| {
        Err(format!("{}: {error}", error.instance_path()))
    })
}
