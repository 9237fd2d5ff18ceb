//! What the difference view says of two versions of a rule set.
//!
//! The changes are planted in a shipped set and what they mean is worked out by hand. Numbers and
//! clauses are those of the set: 40 CFR 82.157(c)(2), 20 % for commercial refrigeration since 2019.

use reports::rules::{RuleFile, differences, shipped_texts};

const TRIGGER: &str = r#"{ from = "2019-01-01", for = ["commercial"], is = "20", clause = "40 CFR 82.157(c)(2)(i)" },"#;

fn ods() -> &'static str {
    let ods = shipped_texts()
        .iter()
        .find(|(name, _)| *name == "us-federal-ods.toml");
    ods.expect("the set").1
}

fn read(text: &str) -> RuleFile {
    RuleFile::from_toml("set", text).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

/// What is said when `from` becomes `to` in the shipped set.
fn said(from: &str, to: &str) -> Vec<String> {
    let changed = ods().replacen(from, to, 1);
    assert_ne!(changed, ods(), "{from}");
    differences(&read(ods()), &read(&changed))
}

#[test]
fn the_same_rules_written_otherwise_are_no_difference() {
    assert_eq!(
        differences(&read(ods()), &read(ods())),
        Vec::<String>::new()
    );
    // The same number said twice, and rows in another order.
    let again = TRIGGER.replace("2019-01-01", "2021-01-01");
    assert_eq!(
        said(TRIGGER, &format!("{again} {TRIGGER}")),
        Vec::<String>::new()
    );
}

#[test]
fn a_number_says_from_when_for_whom_and_which_way_it_turned() {
    let (stricter, looser) = (
        TRIGGER.replace("\"20\"", "\"15\""),
        TRIGGER.replace("\"20\"", "\"20.5\""),
    );
    let clause = "[40 CFR 82.157(c)(2)(i)]";
    assert_eq!(
        said(TRIGGER, &stricter),
        [format!(
            "values.trigger for commercial from 2019-01-01: 20 {clause} becomes 15 {clause} \
                  percent_per_year, stricter"
        )]
    );
    assert_eq!(
        said(TRIGGER, &looser),
        [format!(
            "values.trigger for commercial from 2019-01-01: 20 {clause} becomes 20.5 {clause} \
                  percent_per_year, looser"
        )]
    );
    // 12 % from 2028 to 2029 only: what comes after is as it was.
    let for_two_years = format!(
        "{TRIGGER} {} {}",
        r#"{ from = "2028-01-01", for = ["commercial"], is = "12", clause = "new" },"#,
        TRIGGER.replace("2019-01-01", "2030-01-01")
    );
    assert_eq!(
        said(TRIGGER, &for_two_years),
        [format!(
            "values.trigger for commercial from 2028-01-01: 20 {clause} becomes 12 [new] \
                  percent_per_year, stricter"
        )]
    );
    // The same number under another clause.
    assert_eq!(
        said(TRIGGER, &TRIGGER.replace("82.157(c)(2)(i)", "82.999")),
        [format!(
            "values.trigger for commercial from 2019-01-01: 20 {clause} becomes 20 \
                  [40 CFR 82.999] percent_per_year"
        )]
    );
    // The row is gone: 35 % of the row before stands on.
    let gone = said(TRIGGER, "");
    assert_eq!(gone.len(), 1, "{gone:?}");
    assert!(gone[0].starts_with(&format!(
        "values.trigger for commercial from 2019-01-01: 20 {clause} becomes 35 "
    )));
    assert!(
        gone[0].ends_with("(unconfirmed) percent_per_year, looser"),
        "{gone:?}"
    );
}

#[test]
fn blocks_are_compared_by_name_and_examples_are_counted() {
    let title = ods()
        .lines()
        .find(|line| line.starts_with("title"))
        .expect("a title");
    let said_of_title = said(title, "title = \"Another\"");
    assert_eq!(said_of_title.len(), 1);
    assert!(
        said_of_title[0].starts_with("title: \"")
            && said_of_title[0].ends_with(" becomes \"Another\"")
    );
    let (old, new) = (read(ods()), read(ods()));
    let RuleFile::Set(mut more) = new else {
        panic!("a set")
    };
    let duties = more.duties.len();
    let first = more.duties.remove(0).name;
    more.limits[0].clause = "elsewhere".to_string();
    more.examples.pop();
    let examples = more.examples.len();
    let lines = differences(&old, &RuleFile::Set(more.clone()));
    let begins = |with: &str| lines.iter().filter(|line| line.starts_with(with)).count();
    assert_eq!(
        begins(&format!("duties.{first}: gone; it was {{")),
        1,
        "{lines:#?}"
    );
    assert_eq!(
        begins(&format!("limits.{}.clause: ", more.limits[0].name)),
        1,
        "{lines:#?}"
    );
    assert_eq!(
        begins(&format!(
            "examples: {} become {examples}, or others",
            examples + 1
        )),
        1
    );
    assert_eq!(
        (lines.len(), more.duties.len()),
        (3, duties - 1),
        "{lines:#?}"
    );
    let back = differences(&RuleFile::Set(more), &old);
    assert!(
        back.iter()
            .any(|line| line.starts_with(&format!("duties.{first}: new: {{"))),
        "{back:#?}"
    );
}

#[test]
fn layers_are_compared_too() {
    let layer = |is: &str| {
        read(&format!(
            "id = \"county\"\noverlays = \"us-federal-ods\"\nlayer = \"local\"\ntitle = \"t\"\n\
             reason = \"r (invented)\"\n[values.trigger]\nrows = [{{ from = \"2024-06-01\", is = \"{is}\", clause = \"c\" }}]\n"
        ))
    };
    // A layer alone does not know which way is stricter.
    assert_eq!(
        differences(&layer("15"), &layer("12")),
        ["values.trigger from 2024-06-01: 15 [c] becomes 12 [c]"]
    );
}
