//! Masses as people type them, against references from outside the program.
//!
//! `data/mass-text.json` was written by hand beside the grammar, its masses worked out with exact
//! rationals; the factors are those of the international yard and pound agreement of 1959
//! (NIST SP 811, appendix B: 1 lb = 0.45359237 kg exactly, 1 oz = lb/16). `data/mass-units.csv`
//! cites its source in every row.

use proptest::prelude::*;
use reports::mass::{
    Answer, Mass, Reading, Reason, Unit, Way, echo, grams_text, in_unit, kg_text, lb_oz_text,
    lb_text, leaf_text, read, read_scale, read_with_answer, weighing,
};

fn outcome(reading: &Reading) -> (&'static str, Option<String>, Vec<String>) {
    match reading {
        Reading::Mass(mass) => ("mass", Some(mass.to_string()), vec![]),
        Reading::Question { code, choices, .. } => {
            let choices = choices
                .iter()
                .map(|choice| choice.mass.to_string())
                .collect();
            ("question", Some(code.word().to_string()), choices)
        }
        Reading::Refused { reason, .. } => ("refused", Some(reason.word().to_string()), vec![]),
    }
}

/// E5: the grammar; the script of the field pages is held to the same table.
#[test]
fn every_text_of_the_fixture_reads_as_it_says() {
    let fixture: serde_json::Value =
        serde_json::from_str(include_str!("data/mass-text.json")).unwrap();
    let cases = fixture["cases"].as_array().unwrap();
    assert!(cases.len() > 100, "the fixture has lost its cases");
    let mut wrong = Vec::new();
    for case in cases {
        let text = |name: &str| case[name].as_str();
        let default = text("default_unit").map(|word| Unit::from_word(word).unwrap());
        let reading = read(text("text").unwrap(), default);
        let (word, detail, choices) = outcome(&reading);
        let expected = text("expect").unwrap();
        let same = match expected {
            "mass" => word == "mass" && detail.as_deref() == text("g"),
            "question" => {
                let named: Option<Vec<String>> =
                    serde_json::from_value(case["choices_g"].clone()).ok();
                word == "question"
                    && detail.as_deref() == text("reason")
                    && named.is_none_or(|named| named == choices)
            }
            // The fixture leaves the word of a refusal free where the user needs none of these.
            _ => {
                let needed = [
                    "zero",
                    "unit_missing",
                    "ounces_not_below_16",
                    "ambiguous_comma",
                ];
                let free = !needed.contains(&text("reason").unwrap())
                    || text("note").is_some_and(|note| note.contains("any refusal is right"));
                word == "refused" && (free || detail.as_deref() == text("reason"))
            }
        };
        // Where the grammar is silent only a wrong mass is wrong; 0,250 kg can only be decimals.
        let open = text("level") == Some("open")
            && (word != "mass" || (text("id"), detail.as_deref()) == (Some("M146"), Some("250")));
        if !same && !open {
            wrong.push(format!(
                "{} {:?}: {expected}, got {reading:?}",
                case["id"], case["text"]
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn masses_of_the_unit_table_agree() {
    let mut rows = csv::Reader::from_reader(include_str!("data/mass-units.csv").as_bytes());
    let mut seen = 0;
    for row in rows.records() {
        let row = row.unwrap();
        let (kind, input, unit, expected) = (&row[1], &row[2], &row[3], &row[4]);
        // Nobody weighs a cylinder in short tons: that row is for reports of whole plants.
        if !kind.starts_with("mass") || unit == "short ton" {
            continue;
        }
        seen += 1;
        let unit = if unit == "lb-oz" { "lb" } else { unit };
        let Reading::Mass(mass) = read(input, Unit::from_word(unit)) else {
            panic!("{input} {unit} is not read");
        };
        let steps = i128::from(mass.steps());
        let got = match (kind, &row[5]) {
            ("mass", "g") => grams_text(steps),
            ("mass", "lb") => to_places(&in_unit(steps, Unit::Pound), 12),
            ("mass-display", "lb-oz") => lb_oz_text(steps),
            ("mass-rounded", to) => {
                let size = if to.starts_with("ug") {
                    100_000
                } else {
                    100_000_000
                };
                ((steps + size / 2) / size).to_string()
            }
            other => panic!("no check for {other:?}"),
        };
        assert_eq!(got, expected, "{}", &row[0]);
    }
    assert_eq!(seen, 38, "rows about mass");
}

/// Printed decimals rounded to fewer, half up: the table prints twelve.
fn to_places(text: &str, places: usize) -> String {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = format!("{whole}{part:0<14}");
    let rounded = (digits.parse::<u128>().unwrap() + 50) / 100;
    let digits = format!("{rounded:0>width$}", width = places + 1);
    let (whole, part) = digits.split_at(digits.len() - places);
    let part = part.trim_end_matches('0');
    if part.is_empty() {
        whole.to_string()
    } else {
        format!("{whole}.{part}")
    }
}

fn mass(text: &str) -> i128 {
    match read(text, None) {
        Reading::Mass(mass) => i128::from(mass.steps()),
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn the_echo_shows_three_forms() {
    // 3288.5446825 g: exact product of 7.25 and the pound, rounded by hand.
    assert_eq!(echo(mass("7 lb 4 oz")), "7 lb 4 oz = 7.25 lb = 3.289 kg");
    assert_eq!(lb_text(mass("7 lb 4.5 oz")), "7.28125 lb");
    // A step below 8 lb: the ounces round up to sixteen and carry.
    assert_eq!(lb_oz_text(mass("8 lb") - 1), "8 lb 0 oz");
    assert_eq!(kg_text(mass("1 oz")), "0.02835 kg");
    assert_eq!(kg_text(mass("0.1 mg")), "0.0000001 kg");
    assert_eq!(lb_oz_text(-mass("7 lb 4 oz")), "-7 lb 4 oz");
    assert_eq!(lb_oz_text(0), "0 lb 0 oz");
}

#[test]
fn machine_forms_are_exact_and_short() {
    let steps = mass("7 lb 4 oz");
    assert_eq!(in_unit(steps, Unit::Kilogram), "3.2885446825");
    assert_eq!(in_unit(steps, Unit::Gram), "3288.5446825");
    assert_eq!(in_unit(steps, Unit::Milligram), "3288544.6825");
    assert_eq!(in_unit(steps, Unit::Microgram), "3288544682.5");
    assert_eq!(in_unit(-steps, Unit::Pound), "-7.25");
    assert_eq!(in_unit(steps, Unit::Ounce), "116");
    assert_eq!(in_unit(0, Unit::Pound), "0");
    assert_eq!(in_unit(1, Unit::Pound), "0.00000000000002");
    assert_eq!(
        in_unit(steps * 1_000_000_000_000, Unit::Pound),
        "7250000000000"
    );
}

#[test]
fn a_question_answered_is_a_mass() {
    let answered = |text, answer| read_with_answer(text, Some(Unit::Pound), Some(answer));
    let is = |text, grams| match read(text, Some(Unit::Pound)) {
        Reading::Mass(mass) => assert_eq!(mass.to_string(), grams),
        other => panic!("{other:?}"),
    };
    is("7.25 lb", "3288.5446825");
    // 7 lb 12 oz and 7.12 lb, as the fixture has them (M026).
    let grams = |reading| outcome(&reading).1.unwrap();
    assert_eq!(grams(answered("7.12", Answer::AsPounds)), "3229.5776744");
    assert_eq!(
        grams(answered("7.12", Answer::AsPoundsAndOunces)),
        "3515.3408675"
    );
    // Whoever writes ounces after the point writes them so in every reading of the entry.
    assert_eq!(
        grams(answered("7.4", Answer::AsPoundsAndOunces)),
        "3288.5446825"
    );
    assert_eq!(
        grams(answered("29.25", Answer::AsPoundsAndOunces)),
        "ounces_not_below_16"
    );
    // An eighth of an ounce is 3.543690390625 g, half a step over the last whole one.
    assert_eq!(
        grams(answered("1/8 oz", Answer::StepBelow)),
        "3.54369039062"
    );
    assert_eq!(
        grams(answered("1/8 oz", Answer::NearestStep)),
        "3.54369039063"
    );
}

#[test]
fn what_an_entry_keeps_reads_the_same() {
    let kept = [
        ("7 4", Unit::PoundsAndOunces, None, "7 lb 4 oz"),
        ("7 4 1/2", Unit::PoundsAndOunces, None, "7 lb 4 1/2 oz"),
        ("7", Unit::PoundsAndOunces, None, "7 lb"),
        (
            "7.5",
            Unit::PoundsAndOunces,
            Some(Answer::AsPoundsAndOunces),
            "7 lb 5 oz",
        ),
        (
            "7.12",
            Unit::PoundsAndOunces,
            Some(Answer::AsPounds),
            "7.12 lb",
        ),
        (" 29 lb 4 oz ", Unit::Kilogram, None, "29 lb 4 oz"),
        ("7.12", Unit::Pound, Some(Answer::AsPoundsAndOunces), "7.12"),
        ("7257478", Unit::Milligram, None, "7257478"),
    ];
    for (typed, unit, answer, text) in kept {
        let leaf = leaf_text(typed, Some(unit), answer).unwrap();
        assert_eq!(leaf.text, text);
        let again = Unit::from_code(leaf.unit.code());
        assert_eq!(
            read_with_answer(&leaf.text, again, answer),
            read_with_answer(typed, Some(unit), answer),
            "{typed}"
        );
    }
    assert_eq!(leaf_text("7.12", Some(Unit::Pound), None), None);
    assert_eq!(leaf_text("3 kg", None, None).unwrap().unit, Unit::Kilogram);
}

#[test]
fn two_readings_make_a_mass() {
    // 29 lb 4 oz less 14 lb 12 oz is 14 lb 8 oz, 232 oz of 28.349523125 g each.
    let out = weighing("29 lb 4 oz", "14 lb 12 oz", None, Way::Leaving, None);
    assert_eq!(outcome(&out).1.unwrap(), "6577.089365");
    let swapped = weighing("14 lb 12 oz", "29 lb 4 oz", None, Way::Leaving, None);
    assert_eq!(outcome(&swapped).1.unwrap(), "swapped");
    let into = weighing("0", "14.5", Some(Unit::Pound), Way::Entering, None);
    assert_eq!(outcome(&into).1.unwrap(), "6577.089365");
    let none = weighing("14.5", "14 lb 8 oz", Some(Unit::Pound), Way::Entering, None);
    assert_eq!(outcome(&none).1.unwrap(), "zero");
    // 29.4 and 14.12: decimals, or 29 lb 4 oz and 14 lb 12 oz.
    let (word, code, choices) = outcome(&weighing(
        "29.4",
        "14.12",
        Some(Unit::Pound),
        Way::Leaving,
        None,
    ));
    assert_eq!(
        (word, code.as_deref()),
        ("question", Some("pounds_or_ounces"))
    );
    assert_eq!(choices, ["6930.8914136", "6577.089365"]);
    assert_eq!(
        read_scale("0", Some(Unit::Pound), None),
        Reading::Mass(Mass::ZERO)
    );
}

#[test]
fn slips_at_the_joint_are_refused() {
    for text in [
        "7 lb.4 oz",
        "7 lb ,4 oz",
        "7 lb 4",
        "7 Mg",
        "7½ lb 4 oz",
        "+7 lb",
        "7 lb 4 fl oz",
    ] {
        let reading = read(text, Some(Unit::PoundsAndOunces));
        assert!(
            matches!(
                reading,
                Reading::Refused {
                    reason: Reason::NotAMass,
                    ..
                }
            ),
            "{text}: {reading:?}"
        );
    }
    for text in ["7 lb. 4 oz.", "7 lb,4 oz", "7 lb, and 4 oz", "7 LBS 4 OZ"] {
        assert_eq!(mass(text), mass("7 lb 4 oz"), "{text}");
    }
}

proptest! {
    #[test]
    fn nothing_typed_panics(text in any::<String>(), unit in 0..8_usize) {
        read(&text, Unit::ALL.get(unit).copied());
        leaf_text(&text, Unit::ALL.get(unit).copied(), Some(Answer::AsPoundsAndOunces));
    }

    #[test]
    fn nothing_like_a_mass_panics(text in "[0-9½ .,/#lbozkg-]{0,24}", unit in 0..8_usize) {
        let default = Unit::ALL.get(unit).copied();
        for answer in [None, Some(Answer::AsPoundsAndOunces), Some(Answer::NearestStep)] {
            read_with_answer(&text, default, answer);
            if let Some(leaf) = leaf_text(&text, default, answer) {
                let again = Unit::from_code(leaf.unit.code());
                prop_assert_eq!(
                    read_scale(&leaf.text, again, answer),
                    read_scale(&text, default, answer),
                    "{} kept as {:?}", text, leaf
                );
            }
        }
    }

    #[test]
    fn printed_masses_come_back_to_the_step(steps in 1..i64::MAX, unit in 0..7_usize) {
        let unit = Unit::ALL[unit];
        let text = in_unit(i128::from(steps), unit);
        prop_assert!(text.split_once('.').is_none_or(|(_, part)| part.len() <= 14));
        let counted = if unit == Unit::PoundsAndOunces { Unit::Pound } else { unit };
        let named = format!("{text} {}", counted.word());
        // Exact units need no answer; a dozen decimals of a pound need the nearest step, and two
        // need to be told that they are no ounces.
        let back = match read(&named, None) {
            Reading::Question { code, .. } if code.word() == "pounds_or_ounces" => {
                read_with_answer(&named, None, Some(Answer::AsPounds))
            }
            Reading::Question { .. } => read_with_answer(&named, None, Some(Answer::NearestStep)),
            mass => mass,
        };
        prop_assert_eq!(back, Reading::Mass(Mass::from_steps(steps)), "{}", named);
    }

    #[test]
    fn small_masses_come_back_too(steps in 1..10_000_i64) {
        for unit in [Unit::Pound, Unit::Ounce] {
            let text = in_unit(i128::from(steps), unit);
            let back = read_with_answer(&text, Some(unit), Some(Answer::NearestStep));
            prop_assert_eq!(back, Reading::Mass(Mass::from_steps(steps)), "{}", text);
        }
    }
}
