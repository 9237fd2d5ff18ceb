//! Rule files are read strictly: every draft is read, every unknown word is answered with its
//! place and the allowed ones, and TOML and JSON are the same types.

use crate::sets;

use reports::rules::file::Overlay;
use reports::rules::situation::SituationFile;
use reports::rules::{RuleFile, RuleSet};

fn refusal(text: &str) -> String {
    let problems = RuleFile::from_toml("x.toml", text).unwrap_err();
    assert_eq!(problems.len(), 1);
    problems[0].to_string()
}

#[test]
fn all_ten_sets_are_read_and_survive_json() {
    let files = sets::files();
    assert_eq!(files.len(), 10);
    for (name, text) in files {
        let set = RuleSet::from_toml(&name, &text).unwrap_or_else(|p| panic!("{}", p[0]));
        assert_eq!(format!("{}.toml", set.id), name);
        let json = set.to_json().to_string();
        assert!(
            !json.contains(":null"),
            "{name}: absent members are left out"
        );
        assert_eq!(RuleSet::from_json(&name, &json).unwrap(), set, "{name}");
    }
}

#[test]
fn the_file_of_situations_is_read() {
    let text = include_str!("data/rule-situations.json");
    let file = SituationFile::from_json("rule-situations.json", text).unwrap();
    assert_eq!(file.situations.len(), 197);
    let other = text.replace("rule-situations/1", "rule-situations/9");
    let problem = SituationFile::from_json("s.json", &other).unwrap_err()[0].to_string();
    assert!(
        problem.contains("expected the schema 'tarebook/rule-situations/1'"),
        "{problem}"
    );
}

#[test]
fn an_unknown_word_is_answered_with_its_place_and_the_allowed_ones() {
    let text = sets::files()
        .into_iter()
        .find(|(name, _)| name == "us-federal-ods.toml")
        .unwrap()
        .1;
    let shown = refusal(&text.replace("netting      =", "neting       ="));
    let first = "x.toml: leak_rate: unknown word 'neting'; allowed: clause, confidence, \
                 counts_from, first_days, leaves_out, netting; nearest: netting";
    assert_eq!(shown.lines().next().unwrap(), first);
    let line = text
        .lines()
        .position(|line| line.starts_with("netting"))
        .unwrap()
        + 1;
    assert!(
        shown.contains(&format!("--> line {line}, column 1\n")),
        "{shown}"
    );
    assert!(shown.ends_with("| ^^^^^^"), "{shown}");
}

#[test]
fn misspelt_facts_measures_events_and_units_are_refused_where_they_stand() {
    let text = sets::files()
        .into_iter()
        .find(|(name, _)| name == "us-federal-ods.toml")
        .unwrap()
        .1;
    for (from, to, place, words) in [
        (
            "full_charge = { over =",
            "full_charg = { over =",
            "covers",
            "nearest: full_charge",
        ),
        (
            "measure = \"leak_rate\"",
            "measure = \"leakrate\"",
            "limits.leak_rate",
            "loss_of_period",
        ),
        (
            "{ event = \"retire\" }",
            "{ event = \"retired\" }",
            "duties.repair",
            "mothball",
        ),
        (
            "unit     = \"lb\"",
            "unit     = \"pounds\"",
            "values.size",
            "percent_of_full_charge",
        ),
        (
            "{ over = \"size\" }",
            "{ more = \"size\" }",
            "covers",
            "at_least, at_most, below, over",
        ),
        (
            "layer        = \"national\"",
            "layer = \"federal\"",
            "",
            "local, national, site, state",
        ),
    ] {
        assert!(text.contains(from), "{from}");
        let shown = refusal(&text.replacen(from, to, 1));
        assert!(
            shown.contains("unknown word '") && shown.contains(words),
            "{shown}"
        );
        assert!(shown.starts_with(&format!("x.toml: {place}")), "{shown}");
    }
}

#[test]
fn numbers_and_dates_are_text_and_what_is_missing_is_named() {
    let text = sets::files()
        .into_iter()
        .find(|(name, _)| name == "us-disposal-log.toml")
        .unwrap()
        .1;
    let shown = refusal(&text.replacen("is = \"5\"", "is = 5.0", 1));
    assert!(shown.contains("numbers are written as text"), "{shown}");
    let shown = refusal(&text.replacen("from = \"2018-01-01\"", "from = 2018-01-01", 1));
    assert!(shown.contains("a date as text"), "{shown}");
    let shown = refusal(&text.replacen("from = \"2018-01-01\"", "from = \"2018-02-30\"", 1));
    assert!(shown.contains("'2018-02-30' is no date"), "{shown}");
    let shown = refusal(&text.replacen("caution ", "#", 1));
    assert!(shown.contains("the word 'caution' is missing"), "{shown}");
    let shown = refusal("id = \"x\"\nid = \"y\"\n");
    assert!(shown.contains("line 2"), "{shown}");
}

#[test]
fn a_local_layer_is_told_from_a_set_in_both_shapes() {
    let text = "id = \"pueblo-example\"\noverlays = \"us-federal-ods\"\nlayer = \"local\"\n\
                title = \"Example county (invented)\"\nreason = \"ordinance 12 (invented)\"\n\
                where = { region = { is = [\"US-CO-101\"] } }\n[values.trigger]\n\
                rows = [{ from = \"2024-06-01\", for = [\"commercial\"], is = \"15\", \
                clause = \"ordinance 12 s. 3 (invented)\" }]\n";
    let RuleFile::Overlay(overlay) = RuleFile::from_toml("o.toml", text).unwrap() else {
        panic!("read as a set");
    };
    let json = overlay.to_json().to_string();
    let RuleFile::Overlay(again) = RuleFile::from_json("o.json", &json).unwrap() else {
        panic!("read as a set");
    };
    assert_eq!(again, overlay);
    let wrong = text.replace("[values.trigger]", "[values.trigger]\nunit = \"lb\"");
    let problem = Overlay::from_toml("o.toml", &wrong).unwrap_err()[0].to_string();
    assert!(
        problem.contains("values.trigger: unknown word 'unit'; allowed: rows"),
        "{problem}"
    );
}
