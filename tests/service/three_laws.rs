//! The same work at three places under three laws, told through the door: each answer is another,
//! and each says why.
//!
//! Worked by hand, with the clause beside each value:
//! - 40 CFR 84.106(c)(2)(i): commercial refrigeration over 20 % a year; 84.106(d)(1): repair within
//!   30 days of the addition. 5 lb of 210 lb within 30 days of the last: 28.9682 %.
//! - 17 CCR 95386 (as in the shipped set, unconfirmed): repair within 14 days of the detection,
//!   whatever the rate.
//! - Regulation (EU) 2024/573, Art. 4: repair without undue delay; a check within a month of it.

use api::actions::standings::Standings;
use harness::shop::{Shop, now};
use reports::day::Day;
use reports::rules::shipped_texts;
use reports::standing::{DutyShown, Standing};
use serde_json::{Value, json};

const SETS: [&str; 3] = ["us-federal-hfc", "us-california", "eu-2024-573"];
/// Tag, region and zone of the three racks.
const RACKS: [(&str, &str, &str); 3] = [
    ("HG-RACK-A", "US-CO", "America/Denver"),
    ("HG-RACK-W", "US-CA", "America/Los_Angeles"),
    ("HG-RACK-E", "EU-DE", "Europe/Berlin"),
];

fn shop() -> Shop {
    let mut shop = Shop::stocked();
    for id in SETS {
        let file = format!("{id}.toml");
        let (_, toml) = (shipped_texts().iter())
            .find(|(name, _)| *name == file)
            .expect("a shipped set");
        shop.ok(json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}}));
    }
    for (tag, region, zone) in &RACKS[1..] {
        let site = format!("Site of {tag}");
        shop.register("site", json!({"tag": site, "zone": zone, "region": region}));
        shop.register(
            "appliance",
            json!({"tag": tag, "site": site, "refrigerant": "R-448A",
                   "category": "commercial_refrigeration", "owner": "Halfmoon Grocers",
                   "installed": "2019-05-20", "residential": "no", "hermetic": "no",
                   "full_charge": [{"from": "2019-05-20", "is": {"mass": "210 lb",
                       "method": "calculation", "established_on": "2024-03-12"}}]}),
        );
    }
    shop.register(
        "cylinder",
        json!({"tag": "SUP-90000", "use": "supply", "refrigerant": "R-448A",
               "water_capacity": "100 lb", "tare": "40 lb", "retest_on": "2030-01-31"}),
    );
    shop.ok(
        json!({"kind": "purchase", "body": {"from": "counterparty:Dunmore Supply",
        "to": "cylinder:SUP-90000", "refrigerant": "R-448A", "mass": "60 lb",
        "state": "new", "invoice": "D-2001"}}),
    );
    shop
}

fn charge(shop: &mut Shop, tag: &str, mass: &str) -> u64 {
    let entry = json!({"kind": "charge",
        "answers": {"rate_jump": "as_stated", "same_mass": "as_stated"},
        "body": {"from": "cylinder:SUP-90000", "to": format!("appliance:{tag}"),
                 "refrigerant": "R-448A", "mass": mass, "reason": "leak_top_up",
                 "returned_to_full_charge": true}});
    shop.ok(entry).seq
}

fn leak_found(shop: &mut Shop, tag: &str) -> u64 {
    shop.ok(json!({"kind": "leak_found", "body": {"appliance": tag}}))
        .seq
}

fn standing(shop: &mut Shop, tag: &str) -> Standing {
    let standings = Standings::open(&mut shop.db, &shop.of, now()).expect("standings");
    let places = api::store::standings::counts(&mut shop.db, shop.of.org).expect("appliances");
    let mut found = None;
    for (place, _) in places {
        let read = standings.of(&mut shop.db, place, None).expect("a standing");
        let (name, standing) = read.expect("it is registered");
        if name == tag {
            found = Some(standing);
        }
    }
    found.expect("an appliance of that tag")
}

fn owed<'s>(standing: &'s Standing, duty: &str) -> Vec<&'s DutyShown> {
    let named = |it: &&DutyShown| it.duty == duty && it.is_owed;
    standing.duties.iter().filter(named).collect()
}

/// The same history under federal, Californian and European rules.
#[test]
fn the_same_work_is_answered_by_each_law_in_its_own_way() {
    let mut shop = shop();
    for (tag, ..) in RACKS {
        charge(&mut shop, tag, "5 lb");
    }
    shop.wait_minutes(30 * 24 * 60);
    let found: Vec<u64> = RACKS.iter().map(|it| leak_found(&mut shop, it.0)).collect();
    let added: Vec<u64> = (RACKS.iter())
        .map(|it| charge(&mut shop, it.0, "5 lb"))
        .collect();

    let colorado = standing(&mut shop, "HG-RACK-A");
    let repairs = owed(&colorado, "repair");
    assert_eq!(repairs.len(), 1, "{repairs:?}");
    assert_eq!(repairs[0].set, "us-federal-hfc");
    assert_eq!(repairs[0].due.as_deref(), Some("2026-09-12"));
    assert_eq!(repairs[0].started_by.kind, "limit");
    assert_eq!(repairs[0].started_by.entries, [added[0]]);
    assert!(repairs[0].clause.contains("84.106(d)"), "{:?}", repairs[0]);

    // E49: two sets on one appliance, both shown, the earliest leads.
    let california = standing(&mut shop, "HG-RACK-W");
    let repairs = owed(&california, "repair");
    let mut due: Vec<(&str, Option<&str>)> = (repairs.iter())
        .map(|it| (it.set.as_str(), it.due.as_deref()))
        .collect();
    due.sort_unstable();
    assert_eq!(
        due,
        [
            ("us-california", Some("2026-08-27")),
            ("us-federal-hfc", Some("2026-09-12"))
        ]
    );
    let of_state = repairs.iter().find(|it| it.set == "us-california");
    let of_state = of_state.expect("the state's repair");
    assert_eq!(of_state.started_by.kind, "event");
    assert_eq!(of_state.started_by.entries, [found[1]]);
    let first = (california.duties.iter())
        .filter(|it| it.is_owed)
        .find_map(|it| it.due.as_deref());
    assert_eq!(first, Some("2026-08-27"), "{:?}", california.duties);

    let germany = standing(&mut shop, "HG-RACK-E");
    let repairs = owed(&germany, "repair");
    assert_eq!(repairs.len(), 1, "{repairs:?}");
    assert_eq!(
        (repairs[0].set.as_str(), repairs[0].state),
        ("eu-2024-573", "no_date")
    );
    assert_eq!(repairs[0].no_number.as_deref(), Some("without undue delay"));
    assert!(germany.exceedances.is_empty(), "no rate is judged there");
    let of_another_law = |it: &DutyShown| it.set != "eu-2024-573";
    assert!(!germany.duties.iter().any(of_another_law));
}

/// E47: a leak found without a weight opens its clock only where the rule says detection.
#[test]
fn a_leak_without_a_weight_starts_what_detection_starts() {
    let mut shop = shop();
    for (tag, ..) in RACKS {
        leak_found(&mut shop, tag);
    }
    assert!(owed(&standing(&mut shop, "HG-RACK-A"), "repair").is_empty());
    let california = standing(&mut shop, "HG-RACK-W");
    let repairs = owed(&california, "repair");
    assert_eq!(repairs.len(), 1);
    assert_eq!(repairs[0].due.as_deref(), Some("2026-07-28"), "14 days");
    assert_eq!(owed(&standing(&mut shop, "HG-RACK-E"), "repair").len(), 1);
}

/// E48: two additions on one day are one addition, divided by the days since the day before.
#[test]
fn two_additions_of_a_day_are_one() {
    let mut shop = shop();
    charge(&mut shop, "HG-RACK-A", "5 lb");
    shop.wait_minutes(30 * 24 * 60);
    let two = [
        charge(&mut shop, "HG-RACK-A", "2 lb"),
        charge(&mut shop, "HG-RACK-A", "3 lb"),
    ];
    let standing = standing(&mut shop, "HG-RACK-A");
    let [_, day] = &standing.additions[..] else {
        panic!("two days, not {:?}", standing.additions);
    };
    // Booked within one second: their ids decide which stands first.
    let mut entries = day.entries.clone();
    entries.sort_unstable();
    assert_eq!((day.mass.lb.as_str(), &entries[..]), ("5 lb", &two[..]));
    assert_eq!(day.days, 30);
    // 5 / 210 x 365 / 30, cut after four decimals.
    let rate = day.rates.annualising.as_ref().expect("a rate");
    assert_eq!(rate.percent, "28.9682");
}

/// E12: what a worked line says can be worked out again from the line itself.
#[test]
fn a_worked_line_gives_its_own_figure() {
    let mut shop = shop();
    let mut said = Vec::new();
    for (wait, mass) in [(0, "5 lb"), (30, "5 lb"), (77, "17 lb"), (200, "29 lb")] {
        shop.wait_minutes(wait * 24 * 60);
        charge(&mut shop, "HG-RACK-A", mass);
    }
    let standing = standing(&mut shop, "HG-RACK-A");
    for over in &standing.exceedances {
        // `5 lb put in on 2026-08-13 (entry 17) is 29 % a year of 210 lb (30 days since ...)`
        let words: Vec<&str> = over.worked.split_whitespace().collect();
        let before = |word: &str, nth: usize| -> f64 {
            let at = words
                .iter()
                .enumerate()
                .filter(|(_, it)| it.starts_with(word));
            let (at, _) = at
                .clone()
                .nth(nth)
                .unwrap_or_else(|| panic!("{word}: {words:?}"));
            words[at - 1]
                .trim_start_matches('(')
                .parse()
                .expect("a number")
        };
        let (added, percent, full, days) = (
            before("lb", 0),
            before("%", 0),
            before("lb", 1),
            before("days", 0),
        );
        let again = added / full * 365.0 / days * 100.0;
        assert!((again - percent).abs() < 0.051, "{}: {again}", over.worked);
        let on = Day::parse(&over.on).expect("a day");
        said.push((on, json!(percent)));
    }
    let of: Vec<Value> = said.into_iter().map(|(_, percent)| percent).collect();
    // 5/210 x 365/30 = 28.97 and 17/210 x 365/77 = 38.37; 29/210 x 365/200 = 25.20.
    assert_eq!(of.len(), 3, "{of:?}");
}
