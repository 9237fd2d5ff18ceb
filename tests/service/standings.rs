//! Standings: what a posting answers, what lists show, and that no stale one is ever shown.
//!
//! Figures by hand from 40 CFR 84.106(b) and (c) (annualising method, 20 % for commercial
//! refrigeration) and the scenario: HG-RACK-A has a full charge of 210 lb. 5 lb, and 30 days later
//! 5 lb more: 5 / 210 x 365 / 30 = 28.9682 % a year (cut); within a year 10 / 210 = 4.7619 %.

use api::actions::show::{changed, fleet};
use api::actions::standings::{Listed, Standings};
use api::store::columns::Sort;
use harness::shop::{Shop, now};
use reports::day::Day;
use reports::rules::shipped_texts;
use reports::standing::Over;
use serde_json::json;

fn adopt(shop: &mut Shop, id: &str) {
    let file = format!("{id}.toml");
    let found = shipped_texts().iter().find(|(name, _)| *name == file);
    let toml = found.expect("a shipped set").1;
    shop.ok(json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}}));
}

/// A rack that went over on 13 August 2026, and what the posting answered.
fn over() -> (Shop, api::actions::Posted) {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "us-federal-hfc");
    let charge = |shop: &mut Shop| {
        shop.ok(
            json!({"kind": "charge", "answers": {"rate_jump": "as_stated"},
            "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                     "refrigerant": "R-448A", "mass": "5 lb", "reason": "leak_top_up",
                     "returned_to_full_charge": true}}),
        )
    };
    let first = charge(&mut shop);
    let newest = &first.standings[0].newest;
    assert_eq!((newest.over, newest.exceedances), (Over::No, 0));
    assert_eq!(newest.percent.as_deref(), Some("2.3809"), "5 / 210");
    shop.wait_minutes(30 * 24 * 60);
    let second = charge(&mut shop);
    (shop, second)
}

fn rack(shop: &mut Shop) -> Listed {
    let standings = Standings::open(&mut shop.db, &shop.of, now()).expect("standings");
    let mut list = standings.list(&mut shop.db).expect("a list");
    let rate = |listed: &Listed| listed.row.percent.is_some();
    let at = list
        .iter()
        .position(rate)
        .expect("an appliance with a rate");
    list.swap_remove(at)
}

#[test]
fn a_posting_says_at_once_that_the_limit_is_passed() {
    let (_, posted) = over();
    let [told] = &posted.standings[..] else {
        panic!("one appliance, not {}", posted.standings.len());
    };
    assert_eq!((told.tag.as_str(), told.as_of), ("HG-RACK-A", posted.seq));
    let newest = &told.newest;
    assert_eq!((newest.over, newest.exceedances), (Over::Yes, 1));
    assert_eq!(newest.percent.as_deref(), Some("28.9682"));
    assert_eq!(newest.exceeded_on, Day::parse("2026-08-13"));
    // 40 CFR 84.106(d)(1): within 30 days of the addition.
    assert_eq!(newest.due, Day::parse("2026-09-12"));
    let standing = &newest.standing;
    assert_eq!(standing.additions.len(), 1, "the newest only");
    assert_eq!(standing.additions[0].entries, [posted.seq]);
    let over = &standing.exceedances[0];
    assert!(over.bounds[0].number.clause.contains("84.106"), "{over:?}");
    assert!(
        over.worked.contains("29 % a year of 210 lb"),
        "{}",
        over.worked
    );
    // The entry returned it to its full charge.
    let content = standing.content.as_ref().map(|mass| mass.lb.as_str());
    assert_eq!(content, Some("210 lb"));
}

#[test]
fn a_standing_with_another_stamp_is_worked_out_anew() {
    let (mut shop, _) = over();
    let listed = rack(&mut shop);
    assert_eq!((listed.row.over, listed.row.exceedances), (Over::Yes, 1));
    assert_eq!(listed.row.share, Some(14_484), "28.9682 % of 20 %, cut");
    assert!(
        listed.row.stamp.nth > 0,
        "this one was cached by the posting"
    );
    let judged_by = listed.row.stamp.judged_by;
    // Another method judges: the cached answer is no longer true.
    shop.ok(json!({"kind": "method", "body": {"method": "rolling", "from": "2026-01-01"}}));
    let listed = rack(&mut shop);
    assert_eq!((listed.row.over, listed.row.exceedances), (Over::No, 0));
    assert_eq!(listed.row.percent.as_deref(), Some("4.7619"), "10 / 210");
    assert_eq!(listed.row.share, Some(2_380), "4.7619 % of 20 %, cut");
    assert!(listed.row.stamp.judged_by > judged_by, "worked out anew");
    assert_eq!(rack(&mut shop), listed, "remembered");
    // A day later nothing that was cached or remembered is shown either.
    shop.wait_minutes(24 * 60);
    assert_eq!(
        rack(&mut shop).row.stamp.day,
        Day::parse("2026-08-14").expect("a day")
    );
    // What judges by what was remembered: another method once more.
    shop.ok(json!({"kind": "method", "body": {"method": "annualising", "from": "2026-01-01"}}));
    assert_eq!(rack(&mut shop).row.percent.as_deref(), Some("28.9682"));
}

/// What uses most of its limit stands first, whatever its tag; the pages after it go on without it.
#[test]
fn the_fleet_begins_with_what_uses_most_of_its_limit() {
    let (mut shop, posted) = over();
    let (of, now) = (shop.of.clone(), now());
    let first = fleet::page(&mut shop.db, &of, 0, 1, now).expect("a fleet");
    assert!(first.all > 1, "{} appliances", first.all);
    let [rack] = &first.rows[..] else {
        panic!("{} rows", first.rows.len());
    };
    assert_eq!(rack.thing.tag, "HG-RACK-A");
    assert_eq!(rack.standing.additions.len(), 2);
    assert_eq!(rack.standing.additions[1].entries, [posted.seq]);
    assert_eq!(rack.days.len(), 2, "two days on which it was charged");
    let others = fleet::page(&mut shop.db, &of, 1, 50, now).expect("a fleet");
    assert_eq!((others.all, others.rows.len()), (first.all, first.all - 1));
    assert!(others.rows.iter().all(|row| row.thing.tag != "HG-RACK-A"));
}

#[test]
fn the_whole_standing_of_an_appliance_is_read_for_any_day() {
    let (mut shop, posted) = over();
    let standings = Standings::open(&mut shop.db, &shop.of, now()).expect("standings");
    assert_eq!(standings.as_of(), posted.seq);
    let place = rack(&mut shop).place;
    assert_eq!(place.sort(), Sort::Appliance);
    let mut on = |day: Option<&str>| {
        let day = day.and_then(Day::parse);
        let read = standings.of(&mut shop.db, place, day).expect("a standing");
        read.expect("it is registered")
    };
    let (tag, today) = on(None);
    assert_eq!(
        (tag.as_str(), today.day.as_str()),
        ("HG-RACK-A", "2026-08-13")
    );
    assert_eq!((today.additions.len(), today.exceedances.len()), (2, 1));
    let (_, before) = on(Some("2026-08-12"));
    assert_eq!((before.additions.len(), before.exceedances.len()), (1, 0));
}

/// M4: what is cached follows from the book. A row edited by hand is named.
#[test]
fn an_edited_standing_is_found() {
    let (mut shop, _) = over();
    let check = |shop: &mut Shop| {
        let standings = Standings::open(&mut shop.db, &shop.of, now()).expect("standings");
        standings.check(&mut shop.db).expect("a check")
    };
    assert_eq!(check(&mut shop), Vec::<String>::new());
    let edit = "UPDATE standings SET over_limit = 0, exceedances = 0 WHERE exceedances = 1";
    shop.db.batch(edit).expect("edited");
    let found = check(&mut shop);
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].contains("stored over: no"), "{}", found[0]);
    assert!(found[0].contains("worked out over: yes"), "{}", found[0]);
}

/// A correction of the entry that went over is a new state: the flag goes with its reason.
#[test]
fn a_correction_takes_the_flag_back() {
    let (mut shop, posted) = over();
    let undone = shop.ok(json!({"kind": "correction", "reason_text": "wrong unit",
        "body": {"corrects": posted.entry_id.to_string(), "reason": "wrong_unit"}}));
    let newest = &undone.standings[0].newest;
    assert_eq!((newest.over, newest.exceedances), (Over::No, 0));
    assert_eq!(rack(&mut shop).row.over, Over::No);
}

/// What went over in August and was written down in October: the repair was due on 12 September
/// all the same (40 CFR 84.106(d)(1), 30 days from the addition), and it says that nobody could
/// have known. The same weights booked on their days say nothing of the kind.
#[test]
fn a_follow_up_that_was_over_before_the_book_knew_says_so() {
    let late_duties = |booked_after_days: i64| {
        let mut shop = Shop::stocked();
        adopt(&mut shop, "us-federal-hfc");
        let charge = |shop: &mut Shop, day: &str| {
            shop.ok(json!({"kind": "charge",
                "answers": {"rate_jump": "as_stated", "old_day": "as_stated"},
                "happened": {"day": day},
                "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                         "refrigerant": "R-448A", "mass": "5 lb", "reason": "leak_top_up",
                         "returned_to_full_charge": true}}))
        };
        charge(&mut shop, "2026-07-14");
        shop.wait_minutes((30 + booked_after_days) * 24 * 60);
        charge(&mut shop, "2026-08-13");
        shop.wait_minutes((90 - booked_after_days) * 24 * 60);
        let standings = Standings::open(&mut shop.db, &shop.of, now()).expect("standings");
        let place = rack(&mut shop).place;
        let read = standings.of(&mut shop.db, place, None).expect("a standing");
        let (_, standing) = read.expect("it is registered");
        let due = |id: &str| {
            let duty = standing.duties.iter().find(|duty| duty.duty == id);
            let duty = duty.unwrap_or_else(|| panic!("no {id} in {:?}", standing.duties));
            (duty.due.clone(), duty.late_on_discovery, duty.why.clone())
        };
        due("repair")
    };
    let (due, late, why) = late_duties(60);
    assert_eq!(due.as_deref(), Some("2026-09-12"), "the start never moves");
    assert!(late, "{why}");
    assert!(why.contains("late on discovery"), "{why}");
    let (due, late, why) = late_duties(0);
    assert_eq!(due.as_deref(), Some("2026-09-12"));
    assert!(!late, "{why}");
}

/// E14: an entry that comes late works everything after it out anew, and says what it changed.
/// By hand: 5 / 210 x 365 / 60 = 14.484 % before; with 5 lb more on 13 August both are 30 days after
/// another, 28.968 %, over 20 %.
#[test]
fn a_late_entry_says_what_it_changed() {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "us-federal-hfc");
    let charge = |shop: &mut Shop, day: &str| {
        let posted = shop.ok(json!({"kind": "charge",
            "answers": {"rate_jump": "as_stated", "old_day": "as_stated", "same_mass": "as_stated"},
            "happened": {"day": day},
            "body": {"from": "cylinder:SUP-88231", "to": "appliance:HG-RACK-A",
                     "refrigerant": "R-448A", "mass": "5 lb", "reason": "leak_top_up",
                     "returned_to_full_charge": true}}));
        posted.seq
    };
    charge(&mut shop, "2026-07-14");
    shop.wait_minutes(60 * 24 * 60);
    charge(&mut shop, "2026-09-12");
    let late = charge(&mut shop, "2026-08-13");
    let found = changed::by_entry(&mut shop.db, &shop.of, "HG-RACK-A", late, now());
    let (before, with) = found.expect("read").expect("it is registered");
    assert_eq!((before.exceedances.len(), with.exceedances.len()), (0, 2));
    let lines = api::pages::changed::lines("HG-RACK-A", &before, &with);
    let later = lines.iter().find(|line| line.contains("12 September 2026"));
    let later = later.unwrap_or_else(|| panic!("{lines:?}"));
    let (old, new) = later.split_once('→').expect("an old and a new figure");
    assert!(old.contains("14.5") && new.contains("29"), "{later}");
    let new = lines.iter().filter(|line| line.contains(", new: ")).count();
    assert_eq!(new, 2, "{lines:?}");
}
