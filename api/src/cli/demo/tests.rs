//! The demo: it can be booked, every state of a book occurs, and no typed text is in a leaf.

use super::year;
use crate::actions::begin::{Beginning, begin};
use crate::actions::report::{ReportAsked, ReportName, report};
use crate::ledger::checkpoint::SigningKey;
use crate::ledger::id::Id;
use crate::store::open::Organisation;
use crate::store::{Address, Db, Purpose, migrations};
use reports::sheet::Options;
use serde_json::Value;

struct Demo {
    db: Db,
    of: Organisation,
    booked: year::Booked,
    _folder: tempfile::TempDir,
}

fn demo() -> Demo {
    let folder = tempfile::tempdir().unwrap();
    let address = Address::Folder(folder.path().to_path_buf());
    let mut db = Db::open(&address, Purpose::Write, true).unwrap();
    migrations::migrate(&mut db).unwrap();
    let log = format!("tarebook/{}", Id::random());
    let key = SigningKey::generate(&log).unwrap();
    let what = Beginning {
        organisation: year::ORGANISATION,
        zone: year::ZONE,
        log: &log,
        signing: &key.verification_key(),
        recovery: &SigningKey::generate(&log).unwrap().verification_key(),
        administrator: None,
    };
    let of = begin(&mut db, year::CLOCK, &what).unwrap();
    let booked = year::book(&mut db, &of).unwrap();
    Demo {
        db,
        of,
        booked,
        _folder: folder,
    }
}

fn csv(demo: &mut Demo, name: ReportName) -> Vec<Vec<String>> {
    let (options, rules, as_of) = (Options::of_year(year::YEAR), None, None);
    let mut bytes = Vec::new();
    let asked = ReportAsked {
        name,
        options,
        rules,
        as_of,
    };
    report(&mut demo.db, &demo.of, asked, &mut bytes, None).unwrap();
    let mut reader = csv::Reader::from_reader(&bytes[..]);
    let header = reader
        .headers()
        .unwrap()
        .iter()
        .map(str::to_string)
        .collect();
    let rows = reader
        .records()
        .map(|row| row.unwrap().iter().map(str::to_string).collect());
    std::iter::once(header).chain(rows).collect()
}

fn cell(rows: &[Vec<String>], key: &[&str], column: &str) -> String {
    let at = rows[0].iter().position(|name| name == column).unwrap();
    let row = rows
        .iter()
        .find(|row| key.iter().zip(*row).all(|(key, cell)| key == cell));
    row.unwrap_or_else(|| panic!("no row {key:?}"))[at].clone()
}

#[test]
fn the_worked_figures_of_the_story_come_out() {
    let mut demo = demo();
    let rows = csv(&mut demo, ReportName::Additions);
    // 14.5/210 x 365/96 = 26.2524 %, 23.75/210 = 11.3095 %, cut after four decimals.
    let rack = ["HG-RACK-A", "2025-07-14"];
    assert_eq!(cell(&rows, &rack, "added_lb"), "14.5");
    assert_eq!(cell(&rows, &rack, "days"), "96");
    assert_eq!(cell(&rows, &rack, "annualised_percent"), "26.2524");
    assert_eq!(cell(&rows, &rack, "rolling_percent"), "11.3095");
    assert_eq!(cell(&rows, &rack, "annualised_over"), "yes");
    assert_eq!(cell(&rows, &rack, "rolling_over"), "no");
    // 22 lb less 20 lb 10 oz are 1.375 lb; 1.375/22 x 365/140 = 16.2946 %, over the house's 10 %.
    let roof = ["HG-RTU-07", "2025-07-14"];
    assert_eq!(cell(&rows, &roof, "added_lb"), "1.375");
    assert_eq!(cell(&rows, &roof, "annualised_percent"), "16.2946");
    assert_eq!(cell(&rows, &roof, "annualised_over"), "yes");
    // 10 lb 8 oz less 4 lb, joined by a link: 6.5/64 x 365/106 = 34.9719 %.
    let chiller = ["PINE-CH-1", "2025-07-02"];
    assert_eq!(cell(&rows, &chiller, "added_lb"), "6.5");
    assert_eq!(cell(&rows, &chiller, "annualised_percent"), "34.9719");
    // The correction: 33 lb 8 oz less 31 lb are 2 lb 8 oz.
    assert_eq!(cell(&rows, &["QK-WIC-1", "2025-05-20"], "added_lb"), "2.5");
    // An unknown full charge leaves its figures empty.
    assert_eq!(
        cell(&rows, &["PINE-AHU-2", "2025-06-11"], "annualised_percent"),
        ""
    );
    // Installation is no addition: QK-ICE-2 has none.
    assert!(!rows.iter().any(|row| row[0] == "QK-ICE-2"));
}

#[test]
fn the_yearly_report_has_every_appliance() {
    let mut demo = demo();
    let rows = csv(&mut demo, ReportName::ApplianceYear);
    let tags: Vec<&str> = rows[1..].iter().map(|row| row[0].as_str()).collect();
    let all = [
        "HG-RACK-A",
        "HG-RACK-B",
        "HG-RTU-07",
        "HG-RTU-09",
        "PINE-AHU-2",
        "PINE-CH-1",
        "QK-ICE-2",
        "QK-WIC-1",
    ];
    assert_eq!(tags, all);
    assert_eq!(cell(&rows, &["PINE-AHU-2"], "full_charge_lb"), "");
    // The full charge was measured anew on 1 September.
    assert_eq!(cell(&rows, &["HG-RACK-B"], "full_charge_lb"), "172");
    assert_eq!(cell(&rows, &["HG-RACK-A"], "first_over_on"), "2025-07-14");
}

#[test]
fn every_state_of_a_book_occurs() {
    let mut demo = demo();
    let mut leaves: Vec<Value> = Vec::new();
    let size = crate::store::open::size(&mut demo.db, demo.of.org).unwrap();
    let mut findings = Vec::new();
    each_leaf(&mut demo, |_, leaf, left| {
        leaves.push(serde_json::from_slice(leaf).unwrap());
        findings.extend(left);
    });
    assert_eq!(leaves.len() as u64, size);
    assert!(demo.booked.entries >= 90, "{:?}", demo.booked);
    let has = |member: &str| leaves.iter().any(|leaf| leaf[member] == true);
    assert!(has("late") && has("captured_offline"));
    for kind in [
        "genesis",
        "engine",
        "setting",
        "method",
        "rule_set",
        "site",
        "appliance",
        "cylinder",
        "counterparty",
        "person",
        "scale",
        "opening",
        "purchase",
        "charge",
        "outside_charge",
        "recover",
        "transfer",
        "send_to_reclaim",
        "send_to_destruction",
        "return",
        "loss",
        "redesignate",
        "correction",
        "link",
        "settle",
    ] {
        assert!(leaves.iter().any(|leaf| leaf["kind"] == kind), "no {kind}");
    }
    let open = |code: &str| {
        findings
            .iter()
            .any(|(known, settled)| known == code && !settled)
    };
    for code in ["mixing", "over_content", "old_day"] {
        assert!(open(code), "no open finding {code}: {findings:?}");
    }
    let settled = |code: &str| {
        findings
            .iter()
            .any(|(known, settled)| known == code && *settled)
    };
    assert!(settled("look_alike"), "{findings:?}");
}

/// No text that a person typed stands in a leaf (model: all of them are commitments).
#[test]
fn no_typed_text_stands_in_any_leaf() {
    let mut demo = demo();
    let mut typed: Vec<String> = vec![year::ORGANISATION.to_string()];
    let mut leaves: Vec<String> = Vec::new();
    each_leaf(&mut demo, |texts, leaf, _| {
        typed.extend(texts);
        leaves.push(String::from_utf8(leaf.to_vec()).unwrap());
    });
    assert!(typed.len() > 60, "only {} texts were typed", typed.len());
    for text in typed.iter().filter(|text| text.len() > 3) {
        let told = leaves.iter().find(|leaf| leaf.contains(&**text));
        assert_eq!(told, None, "'{text}' stands in a leaf");
    }
    // The check can fail: a refrigerant is in clear on purpose.
    assert!(leaves.iter().any(|leaf| leaf.contains("R-448A")));
}

/// Hands texts, leaf and findings (code, settled) of every entry to `with`.
fn each_leaf(demo: &mut Demo, mut with: impl FnMut(Vec<String>, &[u8], Vec<(String, bool)>)) {
    use crate::store::writer::{Books, transact};
    let size = crate::store::open::size(&mut demo.db, demo.of.org).unwrap();
    let table = reports::refrigerant::Table::shipped();
    transact(
        &mut demo.db,
        &mut Books::new(),
        &demo.of,
        &[],
        table,
        year::CLOCK,
        |tx| {
            for seq in 0..size {
                let (leaf, _) = tx.leaf(seq)?.unwrap();
                let texts = tx
                    .disclosures(seq)?
                    .into_iter()
                    .map(|(_, _, text)| text)
                    .collect();
                let findings = tx.findings_of(seq)?.into_iter();
                with(
                    texts,
                    &leaf,
                    findings
                        .map(|(code, .., by)| (code, by.is_some()))
                        .collect(),
                );
            }
            Ok(())
        },
    )
    .unwrap();
}

#[test]
fn the_house_rule_passes_its_own_check_and_examples() {
    use reports::rules::{RuleSet, Tables, check, run_examples};
    let text = include_str!("house-rule.toml");
    let set = RuleSet::from_toml("house-rule.toml", text).unwrap();
    let today = reports::day::Day::parse("2025-12-31").unwrap();
    let tables = Tables::shipped();
    assert_eq!(check("house-rule.toml", &set, &tables, today), []);
    let outcome = run_examples(&set, &tables);
    assert_eq!(
        (outcome.differences.len(), outcome.skipped.len()),
        (0, 0),
        "{outcome:?}"
    );
    assert!(outcome.compared >= 6);
}
