//! The refrigerant table and the lists, against published values and against each other.

use reports::day::Day;
use reports::number::{Decimal, Fraction};
use reports::refrigerant::{
    Basis, LISTS_BYTES, Lists, MIXTURE, Refrigerant, SafetyGroup, TABLE_BYTES, Table, UNKNOWN,
};

fn day() -> Day {
    Day::parse("2026-07-14").unwrap()
}

fn fraction(text: &str) -> Fraction {
    Decimal::parse(text).unwrap().fraction()
}

/// Whether two values differ by no more than a tolerance.
fn within(a: Fraction, b: Fraction, tolerance: Fraction) -> bool {
    let difference = Fraction::new(
        a.numerator() * b.denominator() - b.numerator() * a.denominator(),
        a.denominator() * b.denominator(),
    );
    let size = Fraction::new(difference.numerator().abs(), difference.denominator());
    size <= tolerance
}

#[test]
fn every_blend_gwp_follows_from_its_parts() {
    // The table prints four decimals, half up. A blend has a value where its parts have one; parts
    // counted as nothing are named in the source, so that nobody takes the sum for complete.
    let table = Table::shipped();
    let half_a_digit = fraction("0.00005");
    let mut judged = 0;
    for blend in table.rows().iter().filter(|row| row.is_blend()) {
        for basis in Basis::ALL {
            let gwp = blend.gwp(basis);
            let (sum, missing) = table.gwp_from_parts(blend, basis);
            let told = missing.iter().all(|part| gwp.source.contains(part));
            match gwp.value {
                Some(value) => assert!(
                    within(value.fraction(), sum, half_a_digit) && told,
                    "{} {}: {value}, from parts {sum}, without {missing:?}",
                    blend.designation,
                    basis.word()
                ),
                // 40 CFR 84.64(b) gives no value to a blend without a regulated substance.
                None => assert!(
                    !missing.is_empty() || basis == Basis::Us8464 && !blend.hfc_40cfr84,
                    "{} {} is empty without a reason",
                    blend.designation,
                    basis.word()
                ),
            }
            judged += 1;
        }
    }
    assert_eq!(judged, 132 * 5);
}

/// The published figure of a check, worked out by the convention of its publisher.
fn by_convention(table: &Table, blend: &Refrigerant, basis: Basis, convention: &str) -> Fraction {
    if !convention.starts_with("HFC+PFC only") {
        return table.gwp_from_parts(blend, basis).0;
    }
    // The emission factors of the US EPA leave out what the Montreal Protocol covers.
    let mut kept = blend.clone();
    kept.parts.retain(|part| {
        let class = table.named(&part.refrigerant).unwrap().class.as_str();
        matches!(class, "HFC" | "PFC")
    });
    table.gwp_from_parts(&kept, basis).0
}

#[test]
fn published_blend_gwps_agree() {
    // Each row cites its source. Two published values do not follow from their own composition and
    // are marked so; should one of them agree one day, the mark is what is wrong.
    let table = Table::shipped();
    let mut checks = csv::Reader::from_reader(include_str!("data/gwp-blend-checks.csv").as_bytes());
    let (mut rows, mut astray) = (0, Vec::new());
    for check in checks.records() {
        let check = check.unwrap();
        let blend = table.named(&check[0]).unwrap();
        let basis = Basis::from_word(&check[1]).unwrap();
        let got = by_convention(table, blend, basis, &check[2]);
        let agrees = within(got, fraction(&check[3]), fraction(&check[4]));
        assert_eq!(
            agrees,
            &check[9] == "yes",
            "{} {}: {got}",
            &check[0],
            &check[1]
        );
        if !agrees {
            astray.push((check[0].to_string(), check[1].to_string()));
        }
        rows += 1;
    }
    assert_eq!(rows, 56);
    let named = [("R-422A", "AR4"), ("R-424A", "AR5")];
    assert_eq!(
        astray,
        named.map(|(name, basis)| (name.to_string(), basis.to_string()))
    );
}

#[test]
fn codes_never_change() {
    // Written once from the first table; a row may be added below, none may change.
    let mut codes = csv::Reader::from_reader(include_str!("data/refrigerant-codes.csv").as_bytes());
    let table = Table::shipped();
    let mut rows = 0;
    for row in codes.records() {
        let row = row.unwrap();
        let code: u16 = row[0].parse().unwrap();
        assert_eq!(table.code(&row[1]), Some(code), "{}", &row[1]);
        assert_eq!(table.designation(code), Some(&row[1]));
        rows += 1;
    }
    assert_eq!(
        rows,
        table.rows().len(),
        "a new row belongs in refrigerant-codes.csv too"
    );
    assert_eq!(table.code("unknown"), Some(65_001));
    assert_eq!(table.code("mixture"), Some(65_002));
    assert_eq!(table.designation(UNKNOWN.1), Some(UNKNOWN.0));
    assert_eq!(table.designation(MIXTURE.1), Some(MIXTURE.0));
    assert_eq!(table.code("R-9999"), None);
}

#[test]
fn what_people_write_is_understood() {
    let table = Table::shipped();
    let understood = [
        ("R-410A", "R-410A"),
        ("R410A", "R-410A"),
        ("r-410a", "R-410A"),
        (" R 410 A ", "R-410A"),
        ("410a", "R-410A"),
        ("134A", "R-134a"),
        ("HFC-134a", "R-134a"),
        ("HCFC-22", "R-22"),
        ("HFO-1234yf", "R-1234yf"),
        ("R1234ze(E)", "R-1234ze(E)"),
        ("R-1336mzzZ", "R-1336mzz(Z)"),
        ("RC318", "R-C318"),
        ("HC-290", "R-290"),
        ("Ammonia", "R-717"),
        ("carbon dioxide", "R-744"),
    ];
    for (text, designation) in understood {
        let found = table.understood(text).map(|row| row.designation.as_str());
        assert_eq!(found, Some(designation), "{text}");
    }
    for text in [
        "",
        "R",
        "blend",
        "HFC-22",
        "R-9999",
        "unknown",
        "R-410A/R-22",
        "４10A",
        "R-410B2",
    ] {
        assert_eq!(
            table.understood(text).map(|row| &row.designation),
            None,
            "{text}"
        );
    }
    assert!(
        table.named("r-410a").is_none(),
        "only input is read loosely"
    );
}

#[test]
fn safety_groups_say_what_burns_and_what_is_toxic() {
    // ASHRAE Standard 34: ammonia is B2L, R-410A A1, R-32 A2L, propane A3 (as the table's own
    // sources have them).
    let table = Table::shipped();
    let says = |name: &str| {
        let row = table.named(name).unwrap();
        (row.safety.group, row.is_flammable(), row.is_toxic())
    };
    assert_eq!(
        says("R-717"),
        (Some(SafetyGroup::B2L), Some(true), Some(true))
    );
    assert_eq!(
        says("R-410A"),
        (Some(SafetyGroup::A1), Some(false), Some(false))
    );
    assert_eq!(
        says("R-32"),
        (Some(SafetyGroup::A2L), Some(true), Some(false))
    );
    assert_eq!(
        says("R-290"),
        (Some(SafetyGroup::A3), Some(true), Some(false))
    );
    assert_eq!(says("R-13I1"), (None, None, None));
    let unread = table.named("R-448A").unwrap();
    assert!(!unread.safety.verified && unread.safety.source.contains("from memory"));
    // AR4 has no values for HFOs; those usually named with it are from memory and say so.
    assert!(!unread.gwp(Basis::Ar4).verified && unread.gwp(Basis::Ar6).verified);
}

/// What a list must say of a row where it follows from a column of the table.
type Column = fn(&Refrigerant) -> bool;

fn in_annex(row: &Refrigerant, name: &str) -> bool {
    row.eu_annexes.iter().any(|annex| annex.starts_with(name))
}

#[test]
fn lists_that_follow_from_the_table_agree_with_it() {
    let (table, lists) = (Table::shipped(), Lists::shipped());
    let columns: [(&str, Column); 5] = [
        ("us_ods", |row| row.ods_40cfr82),
        ("us_hfc", |row| row.hfc_40cfr84),
        ("eu_annex_i", |row| in_annex(row, "I-")),
        ("eu_annex_ii_1", |row| in_annex(row, "II-1")),
        ("eu_ods", |row| in_annex(row, "ODS 2024/590")),
    ];
    for (list, holds) in columns {
        for row in table.rows() {
            let name = row.designation.as_str();
            assert_eq!(
                lists.contains(table, list, name, day()),
                Some(holds(row)),
                "{list} {name}"
            );
        }
    }
}

#[test]
fn lists_say_of_a_blend_what_they_say_of_its_parts() {
    let (table, lists) = (Table::shipped(), Lists::shipped());
    for list in lists.names() {
        let on_list = |name: &str| lists.contains(table, list, name, day()).unwrap();
        for blend in table.rows().iter().filter(|row| row.is_blend()) {
            let name = blend.designation.as_str();
            let parts = || blend.parts.iter().map(|part| on_list(&part.refrigerant));
            assert_eq!(
                on_list(name),
                parts().any(|on| on),
                "{list} contains {name}"
            );
            let only = lists.only(table, list, name, day());
            assert_eq!(only, Some(parts().all(|on| on)), "{list} only {name}");
        }
    }
}

#[test]
fn all_lists_of_the_rules_are_there() {
    let names = [
        "ca_halocarbon",
        "ca_items_1_9",
        "ch_ods",
        "ch_stable",
        "eu_annex_i",
        "eu_annex_ii_1",
        "eu_ods",
        "jp_fluorocarbon",
        "synthetic",
        "us_hfc",
        "us_ods",
        "us_substitutes",
    ];
    assert_eq!(Lists::shipped().names(), names);
}

#[test]
fn nothing_is_said_of_what_is_not_known() {
    let (table, lists) = (Table::shipped(), Lists::shipped());
    for name in ["unknown", "mixture", "R-9999", "r-22"] {
        assert_eq!(lists.contains(table, "us_ods", name, day()), None, "{name}");
        assert_eq!(lists.only(table, "us_ods", name, day()), None, "{name}");
    }
    assert_eq!(lists.contains(table, "no_such_list", "R-22", day()), None);
    assert_eq!(lists.contains(table, "us_ods", "R-22", day()), Some(true));
    assert_eq!(
        lists.contains(table, "us_ods", "R-410A", day()),
        Some(false)
    );
    assert_eq!(lists.only(table, "us_ods", "R-401A", day()), Some(false));
}

#[test]
fn lists_are_dated() {
    let table = Table::shipped();
    let csv = "list,refrigerant,contains,only,from,until,source\n\
               x,R-22,yes,,,2019-12-31,a\nx,R-22,yes,no,2021-01-01,,b\n";
    let lists = Lists::read(csv.as_bytes(), table).unwrap();
    let on = |text| {
        lists
            .contains(table, "x", "R-22", Day::parse(text).unwrap())
            .unwrap()
    };
    assert!(on("2019-12-31") && !on("2020-01-01") && !on("2020-12-31") && on("2021-01-01"));
    let overlapping = csv.replace("2021", "2019");
    assert_eq!(
        Lists::read(overlapping.as_bytes(), table).unwrap_err().line,
        3
    );
}

#[test]
fn a_broken_table_is_refused_with_its_line() {
    let text = str::from_utf8(TABLE_BYTES).unwrap();
    let faults = [
        ("R-32:50;R-125:50", "R-32:50;R-125:49", "not 100 %"),
        (
            "R-32:50;R-125:50",
            "R-32:50;R-401A:50",
            "no single substance",
        ),
        ("\n73,R-410A,", "\n74,R-410A,", "given twice"),
        ("\n73,R-410A,", "\n73,R-407C,", "stands twice"),
        ("\n73,R-410A,", "\n73,R-407-C,", "written alike"),
        (
            ",R-410A,blend,blend HFC,",
            ",R-410A,blend,blend HFC,extra,",
            "fields",
        ),
    ];
    for (sound, broken, what) in faults {
        assert!(text.contains(sound), "{sound}");
        let problem = Table::read(text.replacen(sound, broken, 1).as_bytes()).unwrap_err();
        assert!(problem.line > 1 && problem.what.contains(what), "{problem}");
    }
    assert!(Lists::read(LISTS_BYTES, Table::shipped()).is_ok());
}
