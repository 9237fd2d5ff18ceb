//! Local days, deadlines and periods against `data/date-cases.json`, whose answers were computed
//! with Python's `zoneinfo` and checked by hand; each case says why.

use jiff::{SignedDuration, Timestamp};
use reports::day::{Day, MonthEnd, Period, PeriodKind, Wall, Window, Zone, clock_text};
use serde_json::{Value, json};

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name]
        .as_str()
        .unwrap_or_else(|| panic!("{name} is missing in {value}"))
}

fn day(value: &Value, name: &str) -> Day {
    Day::parse(text(value, name)).unwrap()
}

fn zone(given: &Value) -> Zone {
    Zone::named(text(given, "zone")).unwrap()
}

fn at(given: &Value, name: &str) -> Timestamp {
    text(given, name).parse().unwrap()
}

fn number(given: &Value, name: &str) -> i32 {
    i32::try_from(given[name].as_i64().unwrap()).unwrap()
}

fn months(from: Day, months: i32) -> Day {
    from.plus_months(months, MonthEnd::LastDay)
}

/// The program's answer to a case, in the members the case expects.
fn answer(op: &str, given: &Value) -> Value {
    match op {
        "deadline_days" => {
            let due = day(given, "start_date").plus(number(given, "days"));
            let too_late = zone(given).too_late(due);
            let last = too_late - SignedDuration::from_secs(1);
            json!({ "due_date": due.to_string(), "due_before_utc": too_late.to_string(),
                    "last_second_utc": last.to_string() })
        }
        "in_time" => {
            let due = day(given, "start_date").plus(number(given, "days"));
            let (zone, at) = (zone(given), at(given, "instant"));
            assert_eq!(at < zone.too_late(due), zone.day(at) <= due);
            json!({ "in_time": at < zone.too_late(due), "due_date": due.to_string(),
                    "local_date": zone.day(at).to_string() })
        }
        "local_date" => {
            let local = zone(given).local(at(given, "instant"));
            json!({ "local_date": local.day.to_string(), "offset": local.offset_text(),
                    "local_time": clock_text(local.second, true) })
        }
        "wall_time" => wall_time(given),
        "deadline_hours" => {
            let due = at(given, "instant")
                + SignedDuration::from_hours(i64::from(number(given, "hours")));
            let local = zone(given).local(due);
            let clock = clock_text(local.second, true);
            json!({ "due_utc": due.to_string(), "offset": local.offset_text(),
                    "due_local": format!("{}T{clock}", local.day) })
        }
        "period" => {
            let period = Period::parse(text(given, "period")).unwrap();
            let (from, to) = zone(given).span(period);
            json!({ "from_utc": from.to_string(), "to_utc_exclusive": to.to_string() })
        }
        "days_between_instants" => {
            let zone = zone(given);
            let (previous, on) = (zone.day(at(given, "previous")), zone.day(at(given, "on")));
            json!({ "previous_date": previous.to_string(), "on_date": on.to_string(),
                    "days": on.days_since(previous) })
        }
        "zone_text" => json!({ "valid": Zone::named(text(given, "text")).is_some() }),
        _ => answer_without_zone(op, given),
    }
}

fn answer_without_zone(op: &str, given: &Value) -> Value {
    match op {
        "add_months" => {
            json!({ "date": months(day(given, "start_date"), number(given, "months")).to_string() })
        }
        "add_months_chain" => {
            let start = day(given, "start_date");
            let steps: Vec<i32> = serde_json::from_value(given["months"].clone()).unwrap();
            let chain = steps.iter().fold(start, |from, n| months(from, *n));
            let whole = months(start, steps.iter().sum());
            json!({ "date": chain.to_string(), "in_one_step": whole.to_string() })
        }
        "yearly_and_15_months" => {
            let last = day(given, "last_test");
            let year_end = Period::around(last, PeriodKind::Year)
                .unwrap()
                .following(1)
                .last;
            let plus = months(last, 15);
            json!({ "due_date": year_end.min(plus).to_string(),
                    "end_of_next_year": year_end.to_string(), "plus_15_months": plus.to_string() })
        }
        "window_365" => {
            let window = Window::up_to(day(given, "on"));
            let dates: Vec<String> = serde_json::from_value(given["dates"].clone()).unwrap();
            let holds = |date: &String| window.holds(Day::parse(date).unwrap());
            let inside: Vec<String> = dates.into_iter().filter(holds).collect();
            json!({ "inside": inside, "first_day_inside": window.first().to_string(),
                    "last_day_outside": window.first().plus(-1).to_string() })
        }
        "days_between" => {
            let days = day(given, "on").days_since(day(given, "previous"));
            json!({ "days": days, "capped": days.min(Window::DAYS) })
        }
        "half_year_report" => {
            let half = Period::around(day(given, "date"), PeriodKind::HalfYear).unwrap();
            let due = [
                half.last.next_month_day(7, 31),
                half.last.next_month_day(1, 31),
            ];
            json!({ "due_date": due.iter().flatten().min().unwrap().to_string() })
        }
        "date_text" => json!({ "valid": Day::parse(text(given, "text")).is_some() }),
        _ => panic!("no check for {op}"),
    }
}

fn wall_time(given: &Value) -> Value {
    let (date, clock) = text(given, "local").split_once('T').unwrap();
    let (second, _) = reports::day::parse_clock(clock).unwrap();
    let (kind, instants) = match zone(given).resolve(Day::parse(date).unwrap(), second) {
        Wall::Skipped => ("does_not_exist", vec![]),
        Wall::Once(at) => ("once", vec![at]),
        Wall::Twice(first, second) => ("twice", vec![first, second]),
    };
    let instants: Vec<String> = instants.iter().map(Timestamp::to_string).collect();
    json!({ "kind": kind, "instants_utc": instants })
}

#[test]
fn every_case_of_the_fixture_has_its_date() {
    let fixture: Value = serde_json::from_str(include_str!("data/date-cases.json")).unwrap();
    let cases = fixture["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 119, "the fixture has lost its cases");
    let wrong: Vec<String> = (cases.iter())
        .map(|case| (case, answer(text(case, "op"), &case["given"])))
        .filter(|(case, got)| *got != case["expect"])
        .map(|(case, got)| format!("{}: expected {}, got {got}", case["id"], case["expect"]))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
