//! The owner's record: every field of the law that a visit has, unknown ones in words.

use super::super::sample;
use super::*;
use std::collections::BTreeMap;

fn record(tag: &str) -> Record {
    let over = sample::standing(Some(210), vec![sample::addition(Some(sample::over()))]);
    let charge = sample::line(tag);
    let mut repair = sample::line(tag);
    repair.seq = 4_808;
    repair.kind = "repair".to_string();
    repair.about = Some(charge.moved[0].to.clone());
    repair.moved = Vec::new();
    repair.texts = BTreeMap::from([
        ("place".to_string(), "joint at case 4".to_string()),
        ("work_done".to_string(), "brazed again".to_string()),
    ]);
    repair.words = BTreeMap::from([("all_leaks".to_string(), "yes".to_string())]);
    Record {
        lines: vec![charge, repair],
        overview: sample::overview(tag, "R-448A", over),
        site: None,
        owner: None,
        people: Vec::new(),
        checkpoint: None,
    }
}

/// 14 lb 8 oz = 14.5 lb; 14.5 x 0.45359237 kg = 6.577 kg; 26.25 % is worked by hand in the job.
#[test]
fn it_says_what_moved_what_was_done_the_rate_with_its_method_and_what_is_owed() {
    let mut record = record("HG-RACK-A");
    record.overview.standing.duties = vec![sample::duty(Some("2026-08-13"))];
    let page = RecordPage::of(
        &record,
        "Tamarack Ridge Mechanical",
        "4807",
        "https://b.example/r/1",
    );
    let html = page.render().unwrap();
    for part in [
        "HG-RACK-A, 14 July 2026",
        "Charged R-448A, top-up after a leak",
        "14 lb 8 oz",
        "6.577",
        "joint at case 4",
        "Repaired: brazed again",
        "Are all leaks that were found repaired? Yes.",
        "26.25\u{202f}% a year",
        "By the annualising method",
        "210 lb 0 oz = 95.254 kg",
        "Find the leaks and repair them",
        "5a5a5a5a5a5a5a5a",
        "No checkpoint is signed yet.",
        "No corrections so far.",
        "not known to the book",
        "Technician: name, signature, date",
        "Owner, or who stands for the owner: name, signature, date",
    ] {
        assert!(html.contains(part), "{part} in {html}");
    }
    assert!(page.code.starts_with("R-") && page.square.side >= 41);
}

#[test]
fn a_corrected_entry_is_struck_and_does_not_count() {
    let mut record = record("HG-RACK-A");
    record.lines[0].corrected_by = Some(4_810);
    let mut again = sample::line("HG-RACK-A");
    (again.seq, again.corrects) = (4_810, Some(4_807));
    record.lines.push(again);
    let page = RecordPage::of(&record, "", "4807", "https://b.example/r/1");
    assert_eq!(
        page.net.as_ref().unwrap().lb_oz,
        "14 lb 8 oz",
        "counted once"
    );
    let html = page.render().unwrap();
    assert!(html.contains("no. 4\u{202f}807 is replaced by no. 4\u{202f}810"));
    // Every cell of the old row, and nothing of the new one.
    let row = html.split("<tr class=\"struck\">").nth(1).unwrap();
    let row = row.split("</tr>").next().unwrap();
    let cells = row.matches("</td>").count() + row.matches("</th>").count();
    assert_eq!((cells, row.matches("<del>").count()), (6, 6), "{row}");
    assert_eq!(html.matches("<del>").count(), 6, "{html}");
}

#[test]
fn hostile_names_stay_text() {
    let page = RecordPage::of(&record(&sample::hostile()), &sample::hostile(), "1", "x");
    sample::is_clean(&page.render().unwrap());
}
