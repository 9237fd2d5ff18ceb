//! What was over before the book knew of it: said in the answer of the posting, in the lists of what
//! is owed, and in the report `follow-ups`.
//!
//! By hand from 40 CFR 84.106(b), (c)(2)(i) and (d)(1): HG-RACK-A holds 210 lb; 5 lb on 14 July 2026
//! and 5 lb on 13 August are 5 / 210 x 365 / 30 = 28.97 % a year, over 20 %; the repair is due 30
//! days later, on 12 September. With 4 lb 14 oz taken out in the same visit only 2 oz were added:
//! 0.72 %, and nothing follows. The start never moves with what the book knows.

use crate::duties::{adopt, read};
use api::actions::Posted;
use api::actions::report::{ReportAsked, ReportName, report};
use api::actions::show::duties::{self, DutiesAsked, DutyItem};
use harness::shop::{Shop, now};
use reports::sheet;
use serde_json::{Value, json};

const DUE: Option<&str> = Some("2026-09-12");
const VISIT: &str = "5f0e2c1a-9b7d-4c38-8a52-0d6e4b1f7a93";

fn charge(shop: &mut Shop, day: &str) -> Posted {
    shop.ok(
        json!({"kind": "charge", "visit": VISIT.replace('5', &day[6..7]),
        "answers": {"rate_jump": "as_stated", "old_day": "as_stated", "same_mass": "as_stated"},
        "happened": {"day": day},
        "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                 "refrigerant": "R-448A", "mass": "5 lb", "reason": "leak_top_up"}}),
    )
}

fn days(shop: &Shop, days: i64) {
    shop.wait_minutes(days * 24 * 60);
}

/// Date and mark of the repair as the answer of a posting says it.
fn answered(posted: &Posted) -> (Option<String>, bool) {
    let standing = &posted.standings[0].newest.standing;
    let repair = standing.duties.iter().find(|duty| duty.duty == "repair");
    let repair = repair.expect("a repair");
    (repair.due.clone(), repair.late_on_discovery)
}

fn repair(shop: &mut Shop) -> DutyItem {
    let asked = DutiesAsked {
        most: 100,
        ..DutiesAsked::default()
    };
    let items = read(shop, &asked).expect("a list").page.items;
    let repair = items.into_iter().find(|item| item.duty.duty == "repair");
    repair.expect("a repair")
}

/// The same in the list, as the page of weeks is told, and in the report: value and mark.
fn everywhere(shop: &mut Shop, late: bool) {
    let item = repair(shop);
    assert_eq!(
        (item.duty.due.as_deref(), item.duty.late_on_discovery),
        (DUE, late)
    );
    let json: Value = json!(item);
    assert_eq!(json["duty"]["late_on_discovery"], json!(late));
    let list = read(shop, &DutiesAsked::default()).expect("a list");
    let of = shop.of.clone();
    let rows: Vec<_> = list.rows.iter().collect();
    let marked = duties::known_late(&mut shop.db, &of, &rows, now()).expect("a second look");
    let repairs = list.rows.iter().filter(|row| row.duty == "repair");
    let repairs: Vec<bool> = repairs.map(|row| marked.contains(&row.step)).collect();
    assert_eq!(repairs, [late]);
    assert_eq!(in_the_report(shop), if late { "yes" } else { "no" });
    assert_eq!(in_the_calendar(shop), late);
}

/// Whether the calendar of the whole organisation says of the repair that nobody knew.
fn in_the_calendar(shop: &mut Shop) -> bool {
    let text = shop.calendar_text();
    let events = text.split("BEGIN:VEVENT");
    let repair = events.filter(|event| event.contains("find the leaks and repair"));
    let repair: Vec<&str> = repair.collect();
    assert_eq!(repair.len(), 1, "{text}");
    repair[0].contains("over before the book knew of it")
}

/// The column of the repair.
fn in_the_report(shop: &mut Shop) -> String {
    let asked = ReportAsked {
        name: ReportName::FollowUps,
        options: sheet::Options::of_year(2026),
        rules: None,
        as_of: None,
    };
    let mut out = Vec::new();
    report(&mut shop.db, &shop.of, asked, &mut out, None).expect("a report");
    let mut table = csv::Reader::from_reader(&out[..]);
    let header = table.headers().expect("a header").clone();
    let column = |name: &str| header.iter().position(|it| it == name).expect("a column");
    let (step, late) = (column("step"), column("late_on_discovery"));
    let rows: Vec<_> = table.records().map(|row| row.expect("a row")).collect();
    let repair = rows.iter().find(|row| &row[step] == "repair");
    repair.expect("a repair")[late].to_string()
}

#[test]
fn what_was_written_down_too_late_says_so_everywhere() {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "us-federal-hfc", "2026-01-01");
    charge(&mut shop, "2026-07-14");
    days(&shop, 90);
    let late = charge(&mut shop, "2026-08-13");
    assert_eq!(answered(&late), (DUE.map(str::to_string), true));
    everywhere(&mut shop, true);
    // A later posting on its day hears the same of what is still owed.
    days(&shop, 1);
    let next = charge(&mut shop, "2026-10-13");
    assert_eq!(answered(&next), (DUE.map(str::to_string), true));
}

#[test]
fn what_was_written_down_in_time_is_merely_late() {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "us-federal-hfc", "2026-01-01");
    charge(&mut shop, "2026-07-14");
    days(&shop, 30);
    charge(&mut shop, "2026-08-13");
    days(&shop, 61);
    let next = charge(&mut shop, "2026-10-13");
    assert_eq!(answered(&next), (DUE.map(str::to_string), false));
    everywhere(&mut shop, false);
}

/// A recovery is annulled after sixty days, and with it what had kept the addition small: the book
/// could not know before.
#[test]
fn what_an_annulled_entry_uncovers_was_not_known_before() {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "us-federal-hfc", "2026-01-01");
    charge(&mut shop, "2026-07-14");
    days(&shop, 30);
    charge(&mut shop, "2026-08-13");
    let taken_out = shop.ok(json!({"kind": "recover", "visit": VISIT.replace('5', "8"),
        "body": {"from": "appliance:HG-RACK-A", "to": "cylinder:TR-0417", "class": "clean",
                 "refrigerant": "R-448A", "mass": "4 lb 14 oz", "reason": "repair"}}));
    let none = taken_out.standings[0].newest.standing.duties.iter();
    assert_eq!(none.filter(|duty| duty.duty == "repair").count(), 0);
    days(&shop, 60);
    let annulled = shop.ok(json!({"kind": "correction",
        "body": {"corrects": taken_out.entry_id.to_string(), "reason": "did_not_happen"}}));
    assert_eq!(answered(&annulled), (DUE.map(str::to_string), true));
    everywhere(&mut shop, true);
}
