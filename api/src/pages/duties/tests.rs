//! The list and the thirteen weeks as people get them.

use super::*;
use crate::actions::show::Page;
use crate::actions::show::duties::{Row, SiteNamed};
use crate::ledger::id::Id;
use crate::pages::sample;
use reports::standing::LayerShown;

/// Wednesday, 15 July 2026.
const TODAY: &str = "2026-07-15";

fn day(text: &str) -> Day {
    Day::parse(text).unwrap()
}

fn item(tag: &str, state: &'static str, stands: &'static str, due: Option<&str>) -> DutyItem {
    let mut duty = sample::duty(due);
    duty.state = state;
    DutyItem {
        step: Id::from_bits(5).to_string(),
        appliance: Some(Id::from_bits(7).to_string()),
        tag: tag.to_string(),
        site: Some(SiteNamed {
            id: Id::from_bits(8).to_string(),
            tag: tag.to_string(),
        }),
        stands,
        day: TODAY.to_string(),
        assigned: None,
        duty,
    }
}

fn row(tag: &str, word: Word, due: Option<&str>) -> Row {
    Row {
        // Each has a name of its own.
        step: Id::from_bits(tag.bytes().map(u128::from).sum()),
        place: None,
        appliance: Some(Id::from_bits(7)),
        tag: tag.to_string(),
        site: Some(Id::from_bits(8)),
        site_tag: "Alder Street".to_string(),
        duty: "repair".to_string(),
        means: "find the leaks and repair them".to_string(),
        clause: "40 CFR 84.106(d)".to_string(),
        layers: Vec::new(),
        set: 0,
        at: 0,
        order: 0,
        word,
        due: due.map(day),
        on: None,
        since: day("2026-07-01"),
        today: day(TODAY),
        assigned: None,
        after_own: false,
    }
}

fn shown(items: Vec<DutyItem>, rows: Vec<Row>, own: Option<&str>, as_weeks: bool) -> String {
    let list = DutyList {
        page: Page { items, next: None },
        rows,
        today: day(TODAY),
    };
    let frame = sample::frame(Role::ComplianceManager, Part::Duties);
    let asked = Filled::default();
    let weeks = as_weeks.then(|| {
        let mut weeks = Weeks::of(&list.rows, list.today, &asked);
        // As if the book had known of the first late one afterwards.
        let known_late = weeks.late().into_iter().take(1).collect();
        weeks.mark(&known_late);
        weeks
    });
    let page = DutiesPage::of(frame, asked, &list, Vec::new(), own, weeks);
    page.render().unwrap()
}

/// 15 July 2026 is a Wednesday: its week ends on Sunday the 19th, the next begins on the 20th.
#[test]
fn duties_stand_under_late_this_week_and_each_week() {
    let html = shown(
        vec![
            item("HG-RACK-A", "overdue", "late", Some("2026-07-14")),
            item("HG-RACK-B", "open", "due", Some("2026-07-19")),
            item("HG-RACK-C", "open", "due", Some("2026-07-20")),
            item("QK-WIC-1", "no_date", "due", None),
        ],
        Vec::new(),
        None,
        false,
    );
    let places: Vec<usize> = [
        ">Late</h2>",
        "href=\"/appliances/HG-RACK-A\"",
        ">This week</h2>",
        "href=\"/appliances/HG-RACK-B\"",
        ">Week of 20 July 2026</h2>",
        "href=\"/appliances/HG-RACK-C\"",
        ">Owed without a day</h2>",
    ]
    .iter()
    .map(|part| {
        html.find(part)
            .unwrap_or_else(|| panic!("{part} in {html}"))
    })
    .collect();
    assert!(places.is_sorted(), "{places:?}");
    for part in [
        "late, was due 14 July 2026",
        "40 CFR 84.106(d)",
        "us federal hfc",
        "nobody yet",
        "href=\"/appliances/HG-RACK-A/assign\"",
    ] {
        assert!(html.contains(part), "{part} in {html}");
    }
}

#[test]
fn what_is_ones_own_says_so() {
    let mut mine = item("HG-RACK-A", "overdue", "late", Some("2026-07-14"));
    mine.assigned = Some(PersonNamed {
        id: "ines".to_string(),
        name: "Ines Vallory".to_string(),
    });
    let other = item("HG-RACK-B", "overdue", "late", Some("2026-07-01"));
    let html = shown(vec![mine, other], Vec::new(), Some("ines"), false);
    assert!(html.contains(">Yours: late</h2>") && html.contains(">Late</h2>"));
    assert!(html.contains("Ines Vallory"));
}

#[test]
fn an_empty_list_says_so_and_hostile_names_are_text() {
    assert!(shown(Vec::new(), Vec::new(), None, false).contains("Nothing here is owed."));
    let weeks = shown(Vec::new(), Vec::new(), None, true);
    assert!(weeks.contains("Nothing has its day in these weeks."));
    let bad = sample::hostile();
    let items = vec![item(&bad, "open", "due", Some("2026-07-16"))];
    sample::is_clean(&shown(items, Vec::new(), None, false));
    let mut hostile = row(&bad, Word::Due, Some("2026-07-16"));
    hostile.site_tag = bad;
    sample::is_clean(&shown(Vec::new(), vec![hostile], None, true));
}

/// A cell shows four; the others stand behind its number, with the week in the address.
#[test]
fn a_full_week_leads_to_its_list() {
    let due = Some("2026-07-22");
    let mut rows: Vec<Row> = (1..=5)
        .map(|n| row(&format!("HG-RACK-{n}"), Word::Due, due))
        .collect();
    rows.push(row("HG-RACK-6", Word::NotDue, Some("2026-10-12")));
    rows.push(row("HG-RACK-7", Word::Due, None));
    let html = shown(Vec::new(), rows, None, true);
    assert!(
        html.contains("HG-RACK-4") && !html.contains("HG-RACK-5"),
        "{html}"
    );
    let more =
        "/duties?site=Alder%20Street&#38;from=2026%2D07%2D20&#38;to=2026%2D07%2D26\">+1 more";
    assert!(html.contains(more), "{html}");
    // Thirteen weeks from 13 July end on 11 October.
    assert!(html.contains("1 has its day later.") && html.contains("1 has no day;"));
    assert_eq!(
        html.matches("<th scope=\"col\"").count(),
        15,
        "site, late, weeks"
    );
}

/// What was over before the book knew says so where it stands among the weeks.
#[test]
fn a_late_step_of_the_weeks_says_that_nobody_knew() {
    let late = row("HG-RACK-1", Word::Late, Some("2026-07-01"));
    let due = row("HG-RACK-2", Word::Due, Some("2026-07-22"));
    let html = shown(Vec::new(), vec![late, due], None, true);
    let said: Vec<&str> = html.split("over before it was known").collect();
    assert_eq!(said.len(), 2, "{html}");
    assert!(said[0].contains("HG-RACK-1") && !said[0].contains("HG-RACK-2"));
}

/// A county lowered the limit: its layer is cited with the law's own beneath, before the clause of the
/// duty itself, in the list and among the weeks.
#[test]
fn a_layer_that_tightened_the_number_is_cited_with_the_laws_own_beneath() {
    let layer = LayerShown {
        layer: "pueblo-example".to_string(),
        title: "Lower leak rate for shops (invented)".to_string(),
        clause: "county ordinance 12 s. 3 (invented)".to_string(),
        confidence: None,
        value: "trigger".to_string(),
        number: "10 %".to_string(),
        own: Some("20 %".to_string()),
        own_clause: Some("40 CFR 84.106(c)(2)(ii)".to_string()),
    };
    let mut lowered = item("MR-4", "overdue", "late", Some("2026-07-14"));
    lowered.duty.layers = vec![layer.clone()];
    let html = shown(vec![lowered], Vec::new(), None, false);
    let places: Vec<usize> = [
        "county ordinance 12 s. 3 (invented), local layer &#39;pueblo-example&#39;",
        "10 %; the law&#39;s own: 20 % [40 CFR 84.106(c)(2)(ii)]",
        "40 CFR 84.106(d)",
    ]
    .iter()
    .map(|part| {
        html.find(part)
            .unwrap_or_else(|| panic!("{part} in {html}"))
    })
    .collect();
    assert!(places.is_sorted(), "{places:?}");
    let mut lowered = row("MR-4", Word::Late, Some("2026-07-14"));
    lowered.layers = vec![layer];
    assert_eq!(
        lowered.cites(),
        "county ordinance 12 s. 3 (invented), local layer 'pueblo-example': 10 %; the law's own: \
         20 % [40 CFR 84.106(c)(2)(ii)]; 40 CFR 84.106(d)"
    );
    let plain = row("MR-5", Word::Late, Some("2026-07-14"));
    assert_eq!(plain.cites(), "40 CFR 84.106(d)");
    let html = shown(Vec::new(), vec![lowered, plain], None, true);
    let said = html
        .matches("by local layer &#39;pueblo-example&#39;")
        .count();
    assert_eq!(said, 1, "{html}");
}
