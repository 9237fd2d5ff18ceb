//! Duties over the whole organisation: in which order, for which site, whose, and from when on late.
//!
//! Figures by hand from 40 CFR 84.106(b), (c) and (d): HG-RACK-A holds 210 lb; 5 lb on 14 July 2026
//! and 5 lb on 13 August are 5 / 210 x 365 / 30 = 28.97 % a year, over 20 %; the leaks are to be
//! repaired within 30 days of the addition: by 12 September.

use api::actions::show::duties::{self, DutiesAsked, DutyItem, DutyList, Stands, Whose};
use api::actions::{ActionError, Refusal, assign};
use api::ledger::actor::Role;
use api::ledger::id::Id;
use api::store::columns::Sort;
use harness::shop::{Shop, now};
use reports::day::Day;
use reports::rules::shipped_texts;
use serde_json::json;

use crate::signing_in::person;

pub fn adopt(shop: &mut Shop, id: &str, from: &str) {
    let file = format!("{id}.toml");
    let found = shipped_texts().iter().find(|(name, _)| *name == file);
    let toml = found.expect("a shipped set").1;
    shop.ok(json!({"kind": "rule_set", "body": {"toml": toml, "from": from}}));
}

/// A charge of 5 lb on the spot.
pub fn charge(shop: &mut Shop, tag: &str) -> Id {
    let booked = shop.ok(json!({"kind": "charge", "captured_offline": true,
        "body": {"from": "cylinder:SUP-88231", "to": format!("appliance:{tag}"),
                 "refrigerant": "R-448A", "mass": "5 lb", "reason": "leak_top_up",
                 "returned_to_full_charge": true}}));
    booked.entry_id
}

/// HG-RACK-A in Denver and SD-RACK-B in Phoenix, both over their limit on 13 August 2026.
pub fn two_sites_over() -> Shop {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "us-federal-hfc", "2026-01-01");
    shop.register(
        "site",
        json!({"tag": "Sandstone Depot", "zone": "America/Phoenix", "region": "US-AZ"}),
    );
    shop.register(
        "appliance",
        json!({"tag": "SD-RACK-B", "site": "Sandstone Depot", "refrigerant": "R-448A",
               "category": "commercial_refrigeration", "installed": "2019-05-20",
               "full_charge": "210 lb"}),
    );
    for _ in 0..2 {
        charge(&mut shop, "HG-RACK-A");
        charge(&mut shop, "SD-RACK-B");
        shop.wait_minutes(30 * 24 * 60);
    }
    // Back to 13 August: the second round was the last.
    shop.wait_minutes(-30 * 24 * 60);
    shop
}

pub fn read(shop: &mut Shop, asked: &DutiesAsked) -> Result<DutyList, ActionError> {
    let asked = DutiesAsked {
        now: now(),
        ..asked.clone()
    };
    let of = shop.of.clone();
    duties::page(&mut shop.db, &of, &asked)
}

fn list(shop: &mut Shop, asked: &DutiesAsked) -> Vec<DutyItem> {
    let asked = DutiesAsked {
        most: 500,
        ..asked.clone()
    };
    read(shop, &asked).expect("a list").page.items
}

fn repairs(items: &[DutyItem]) -> Vec<(&str, &'static str, Option<&str>)> {
    let repairs = items.iter().filter(|item| item.duty.duty == "repair");
    repairs
        .map(|item| (item.tag.as_str(), item.stands, item.duty.due.as_deref()))
        .collect()
}

/// E16: a day ends at midnight at the site. On 13 September 2026 at 06:30 UTC it is 00:30 in Denver
/// (UTC-6 in summer) and 23:30 of the 12th in Phoenix (UTC-7 the whole year; Arizona moves no clocks).
#[test]
fn the_end_of_the_day_at_the_site_decides_what_is_late() {
    let mut shop = two_sites_over();
    let due = Some("2026-09-12");
    let owed = DutiesAsked::default();
    let items = list(&mut shop, &owed);
    assert_eq!(
        repairs(&items),
        [("HG-RACK-A", "not_due", due), ("SD-RACK-B", "not_due", due)]
    );
    // The clock of these books stands at 18:00 UTC: 24 days later it is 6 September there, and the
    // 12th is six days away.
    shop.wait_minutes(24 * 24 * 60);
    let soon = list(&mut shop, &owed);
    assert_eq!(
        repairs(&soon),
        [("HG-RACK-A", "due", due), ("SD-RACK-B", "due", due)]
    );
    shop.wait_minutes(6 * 24 * 60 + 12 * 60 + 30);
    let items = list(&mut shop, &owed);
    assert_eq!(
        repairs(&items),
        [("HG-RACK-A", "late", due), ("SD-RACK-B", "due", due)]
    );
    assert_eq!(items[0].tag, "HG-RACK-A", "late stands first");
    assert_eq!(items[0].day, "2026-09-13");
    let late = DutiesAsked {
        stands: Stands::named("late").expect("a word"),
        ..owed
    };
    assert_eq!(repairs(&list(&mut shop, &late)).len(), 1);
}

/// The list in pages of one is the list; each step has a name of its own that stays.
#[test]
fn pages_of_duties_join_to_the_whole_list() {
    let mut shop = two_sites_over();
    let all = DutiesAsked {
        stands: Stands::All,
        ..DutiesAsked::default()
    };
    let whole: Vec<String> = list(&mut shop, &all)
        .into_iter()
        .map(|it| it.step)
        .collect();
    let mut distinct = whole.clone();
    distinct.sort();
    distinct.dedup();
    assert_eq!(distinct.len(), whole.len());
    let mut joined = Vec::new();
    let mut asked = DutiesAsked { most: 1, ..all };
    loop {
        let page = read(&mut shop, &asked).expect("a page").page;
        joined.extend(page.items.into_iter().map(|item| item.step));
        assert!(joined.len() <= whole.len(), "a page begins anew");
        match page.next {
            Some(next) => asked.after = next,
            None => break,
        }
    }
    assert!(joined.len() > 4, "{joined:?}");
    assert_eq!(joined, whole);
    shop.wait_minutes(40 * 24 * 60);
    let later: Vec<String> = list(&mut shop, &asked_all())
        .into_iter()
        .map(|it| it.step)
        .collect();
    assert!(whole.iter().all(|step| later.contains(step)), "names stay");
    asked.after = "tomorrow".to_string();
    let refused = read(&mut shop, &asked).err().expect("a refusal");
    assert!(
        refused
            .to_string()
            .contains("what next of the page before says")
    );
}

fn asked_all() -> DutiesAsked {
    DutiesAsked {
        stands: Stands::All,
        ..DutiesAsked::default()
    }
}

#[test]
fn duties_are_narrowed_by_site_day_and_person() {
    let mut shop = two_sites_over();
    let of = |site: &str| DutiesAsked {
        site: Some(site.to_string()),
        ..DutiesAsked::default()
    };
    let tags: Vec<String> = list(&mut shop, &of("Sandstone Depot"))
        .into_iter()
        .map(|item| item.tag)
        .collect();
    assert!(
        !tags.is_empty() && tags.iter().all(|tag| tag == "SD-RACK-B"),
        "{tags:?}"
    );
    let unknown = read(&mut shop, &of("Nowhere")).err().expect("a refusal");
    assert!(unknown.to_string().contains("Nowhere"), "{unknown}");
    let day = |text| Day::parse(text);
    for (from, to, found) in [
        ("2026-09-12", "2026-09-12", 2),
        ("2026-09-13", "2026-09-13", 0),
        ("2026-09-11", "2026-09-11", 0),
    ] {
        let asked = DutiesAsked {
            from: day(from),
            to: day(to),
            ..DutiesAsked::default()
        };
        assert_eq!(
            repairs(&list(&mut shop, &asked)).len(),
            found,
            "{from} to {to}"
        );
    }
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    assigned(&mut shop, Sort::Site, "Alder Street", Some(ines)).expect("assigned");
    let hers = DutiesAsked {
        whose: Some(Whose::Person(ines.to_string())),
        ..DutiesAsked::default()
    };
    assert!(
        list(&mut shop, &hers)
            .iter()
            .all(|item| item.tag == "HG-RACK-A")
    );
    assert_eq!(repairs(&list(&mut shop, &hers)).len(), 1);
    let nobodys = DutiesAsked {
        whose: Some(Whose::Nobody),
        ..DutiesAsked::default()
    };
    assert!(
        list(&mut shop, &nobodys)
            .iter()
            .all(|item| item.tag == "SD-RACK-B")
    );
    // What is hers stands first, though both are due on the same day and A comes before S.
    assigned(&mut shop, Sort::Site, "Alder Street", None).expect("taken back");
    assigned(&mut shop, Sort::Appliance, "SD-RACK-B", Some(ines)).expect("assigned");
    let first = DutiesAsked {
        first: Some(ines),
        ..DutiesAsked::default()
    };
    let items = list(&mut shop, &first);
    let hers = items
        .iter()
        .take_while(|item| item.tag == "SD-RACK-B")
        .count();
    assert!(hers > 0 && items[hers..].iter().all(|item| item.tag == "HG-RACK-A"));
}

pub fn assigned(
    shop: &mut Shop,
    sort: Sort,
    name: &str,
    who: Option<Id>,
) -> Result<(), ActionError> {
    let (manager, who) = (shop.manager, who.map(|id| id.to_string()));
    shop.managing(|tx| assign::set(tx, &manager, sort, name, who.as_deref(), None))
}

/// What an appliance says goes before what its site says; A2: a stale version changes nothing; S3: a
/// technician assigns nobody; S1: somebody of another firm is unknown.
#[test]
fn assigning_is_a_setting_with_versions() {
    let mut shop = two_sites_over();
    let ines = person(&mut shop, "ines@tamarack.example", &[Role::Technician]);
    let dov = person(&mut shop, "dov@tamarack.example", &[Role::Technician]);
    let who = |shop: &mut Shop| {
        let items = list(shop, &DutiesAsked::default());
        let rack = items.into_iter().find(|item| item.tag == "HG-RACK-A");
        rack.expect("a duty").assigned.map(|who| who.id)
    };
    assert_eq!(who(&mut shop), None);
    assigned(&mut shop, Sort::Site, "Alder Street", Some(ines)).expect("assigned");
    assert_eq!(who(&mut shop), Some(ines.to_string()));
    assigned(&mut shop, Sort::Appliance, "HG-RACK-A", Some(dov)).expect("assigned");
    assert_eq!(who(&mut shop), Some(dov.to_string()));
    let (manager, technician) = (shop.manager, shop.technician);
    let try_as = |shop: &mut Shop, actor, known: &str| {
        let known = [known.to_string()];
        shop.managing(|tx| {
            assign::set(tx, &actor, Sort::Appliance, "HG-RACK-A", None, Some(&known))
        })
    };
    let refused = |done: Result<(), ActionError>| match done {
        Err(ActionError::Refused(refusal)) => refusal,
        other => panic!("{other:?}"),
    };
    let stale = refused(try_as(&mut shop, manager, "0"));
    assert!(matches!(stale, Refusal::StaleVersion { .. }), "{stale}");
    let forbidden = refused(try_as(&mut shop, technician, "1"));
    assert!(
        matches!(forbidden, Refusal::Forbidden { .. }),
        "{forbidden}"
    );
    assert_eq!(who(&mut shop), Some(dov.to_string()), "nothing was changed");
    try_as(&mut shop, manager, "1").expect("the version it has");
    assert_eq!(who(&mut shop), Some(ines.to_string()), "the site's again");
    let first = shop.of.clone();
    shop.another("Halfmoon Grocers", "teodor@halfmoon.example");
    shop.books.clear();
    let other = person(&mut shop, "rosa@halfmoon.example", &[Role::Technician]);
    shop.of = first;
    let foreign = refused(assigned(&mut shop, Sort::Site, "Alder Street", Some(other)));
    let nobody = refused(assigned(
        &mut shop,
        Sort::Site,
        "Alder Street",
        Some(Id::random()),
    ));
    let without = |refusal: &Refusal| refusal.to_string().len();
    assert_eq!(without(&foreign), without(&nobody), "{foreign}");
}

/// What the whole organisation owes stands in the list, too. The figure is the one of the rule set's
/// own source: 699.301 kg of R-134a at 1 430 (IPCC AR4) are 1 000.000 43 t, over 1 000 t in the
/// fiscal year that ended on 31 March 2026; the report is due by 31 July.
#[test]
fn what_the_organisation_owes_is_listed() {
    let mut shop = Shop::stocked();
    adopt(&mut shop, "jp-yearly-co2e", "2019-01-01");
    let register = |kind: &str, facts: serde_json::Value| {
        json!({"kind": kind, "happened": {"day": "2019-05-20"}, "captured_offline": true,
               "body": {"facts": facts}})
    };
    let works = json!({"tag": "Works 1", "zone": "Asia/Tokyo", "region": "JP-13"});
    shop.ok(register("site", works));
    for tag in ["W1-A", "W1-B"] {
        let facts = json!({"tag": tag, "site": "Works 1", "refrigerant": "R-134a",
                           "full_charge": "900 kg", "residential": "no"});
        shop.ok(register("appliance", facts));
    }
    for (tag, mass) in [("W1-A", "600 kg"), ("W1-B", "99.301 kg")] {
        shop.ok(json!({"kind": "outside_charge", "captured_offline": true,
            "happened": {"day": "2025-06-01"},
            "body": {"from": "outside", "to": format!("appliance:{tag}"), "refrigerant": "R-134a",
                     "mass": mass}}));
    }
    let items = list(&mut shop, &DutiesAsked::default());
    let reports: Vec<&DutyItem> = items.iter().filter(|it| it.appliance.is_none()).collect();
    let [report] = &reports[..] else {
        panic!("{} duties of the organisation", reports.len());
    };
    assert_eq!(report.duty.duty, "yearly_report");
    assert_eq!(report.duty.due.as_deref(), Some("2026-07-31"));
    assert_eq!((report.stands, report.site.as_ref()), ("not_due", None));
    assert!(
        report.duty.why.contains("in the period up to 2026-03-31"),
        "{}",
        report.duty.why
    );
    assert!(
        report.duty.why.contains("Works 1"),
        "the site alone passes it: {}",
        report.duty.why
    );
}
