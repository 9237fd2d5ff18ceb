//! A county lowers a limit: the manager tries it, sees who would cross, adopts it with a reason,
//! and from its day on every list shows it with its clause. What was judged before stays as it was.

use api::actions::preview_rules::{Asked, Preview, preview};
use api::actions::report::{AsOf, ReportAsked, ReportName, ReportTold, report};
use api::actions::show::duties::{self, DutiesAsked};
use api::actions::show::flagged::{self, FlaggedAsked};
use api::actions::show::rule_files::{self, Status};
use api::actions::show::{Sees, overview, standing};
use harness::shop::{Shop, now};
use reports::day::Day;
use reports::leak_rate::Method;
use reports::rules::{RuleFile, shipped_texts};
use reports::sheet;
use reports::standing::LayerShown;
use serde_json::{Value, json};

const CLAUSE: &str = "county ordinance 12 s. 3 (invented)";

const INSTALLED: &str = "2019-05-20";

fn since_installed(is: &str) -> Value {
    json!([{"from": INSTALLED, "is": is}])
}

/// The invented layer: over 10 % instead of 20 % a year for shops in one county.
fn county(from: &str) -> String {
    format!(
        "id = \"pueblo-example\"\noverlays = \"us-federal-hfc\"\nlayer = \"local\"\n\
         title = \"Lower leak rate for shops (invented)\"\nreason = \"ordinance 12 (invented)\"\n\
         where = {{ region = {{ is = [\"US-CO-101\"] }} }}\n\n[values.trigger]\n\
         rows = [{{ from = \"{from}\", for = [\"commercial\"], is = \"10\", clause = \"{CLAUSE}\" }}]\n"
    )
}

fn federal() -> Value {
    let found = (shipped_texts().iter()).find(|(name, _)| *name == "us-federal-hfc.toml");
    let toml = found.expect("a shipped set").1;
    json!({"kind": "rule_set", "body": {"toml": toml, "from": "2026-01-01"}})
}

/// Five racks of 100 lb, four of them in the county. Each was charged once, on 10 February 2026,
/// long after it was installed: so many pounds are so many percent a year, under the federal 20 %.
fn firm() -> Shop {
    let mut shop = Shop::open();
    shop.ok(federal());
    shop.register("counterparty", json!({"tag": "Dunmore Supply"}));
    for (tag, region) in [("Mill Row", "US-CO-101"), ("Elm Court", "US-CO-041")] {
        let region = json!([{"from": INSTALLED, "is": region}]);
        let facts = json!({"tag": tag, "zone": "America/Denver", "region": region});
        shop.register("site", facts);
    }
    let racks = [
        ("MR-1", 12),
        ("MR-2", 13),
        ("MR-3", 14),
        ("MR-4", 8),
        ("EC-1", 15),
    ];
    for (at, (tag, pounds)) in racks.into_iter().enumerate() {
        let site = if tag.starts_with("MR") {
            "Mill Row"
        } else {
            "Elm Court"
        };
        shop.register(
            "appliance",
            json!({"tag": tag, "site": site, "installed": INSTALLED,
                   "refrigerant": since_installed("R-448A"), "full_charge": since_installed("100 lb"),
                   "category": since_installed("commercial_refrigeration")}),
        );
        let cylinder = format!("SUP-{at}");
        shop.register(
            "cylinder",
            json!({"tag": cylinder, "use": "disposable", "refrigerant": "R-448A",
                   "capacity": "24 lb"}),
        );
        shop.ok(
            json!({"kind": "purchase", "happened": {"day": "2026-02-01"},
            "answers": {"old_day": "as_stated"},
            "body": {"from": "counterparty:Dunmore Supply", "to": format!("cylinder:{cylinder}"),
                     "refrigerant": "R-448A", "mass": "24 lb", "state": "new"}}),
        );
        charge(&mut shop, (tag, at), &format!("{pounds} lb"), "2026-02-10");
    }
    shop
}

fn charge(shop: &mut Shop, rack: (&str, usize), mass: &str, day: &str) -> u64 {
    let (tag, at) = rack;
    let answers = json!({"rate_jump": "as_stated", "old_day": "as_stated"});
    let body = json!({"from": format!("cylinder:SUP-{at}"), "to": format!("appliance:{tag}"),
                      "refrigerant": "R-448A", "mass": mass});
    shop.ok(json!({"kind": "charge", "happened": {"day": day}, "answers": answers, "body": body}))
        .seq
}

fn tried(shop: &mut Shop, text: &str, from: &str) -> Preview {
    let rules = RuleFile::from_toml("county", text).expect("a layer");
    let asked = Asked {
        rules: Some(rules),
        method: None,
        since: Day::parse(from).expect("a day"),
        now: now(),
        most: 100,
    };
    preview(&mut shop.db, &shop.of, asked).expect("a preview")
}

fn additions(shop: &mut Shop, as_of: Option<u64>) -> (String, ReportTold) {
    let asked = ReportAsked {
        name: ReportName::Additions,
        options: sheet::Options::of_year(2026),
        rules: None,
        as_of: as_of.map(AsOf::Number),
    };
    let mut out = Vec::new();
    let told = report(&mut shop.db, &shop.of, asked, &mut out, None).expect("a report");
    (String::from_utf8(out).expect("text"), told)
}

/// 12, 13 and 14 % in the county cross 10 %; 8 % does not, and 15 % elsewhere is no business of the
/// county. On 3 August, 174 days after 10 February, 5 lb are 5 x 365 / 174 = 10.488 % a year.
#[test]
fn a_lower_limit_of_a_county_is_tried_adopted_and_shown_with_its_clause() {
    let mut shop = firm();
    it_is_tried(&mut shop);
    let adoption = json!({"kind": "rule_set", "note": "ordinance 12, county gazette of 2 July",
                          "body": {"toml": county("2026-08-01"), "from": "2026-08-01"}});
    let adopted = shop.ok(adoption).seq;
    it_is_to_come(&mut shop);
    // From 14 July to 3 August: twenty days.
    shop.wait_minutes(20 * 24 * 60);
    let entry = charge(&mut shop, ("MR-4", 3), "5 lb", "2026-08-03");
    its_standing_says_why(&mut shop, entry);
    it_is_listed(&mut shop);
    it_is_exported(&mut shop, adopted);
    shop.caches_agree();
}

fn it_is_tried(shop: &mut Shop) {
    let before = shop.size();
    let found = tried(shop, &county("2026-08-01"), "2026-08-01");
    let as_if = found.as_if.as_ref().expect("a look back");
    let tags: Vec<&str> = as_if.crossing.iter().map(|one| one.tag.as_str()).collect();
    assert_eq!(tags, ["MR-1", "MR-2", "MR-3"]);
    assert_eq!(as_if.appliances, 3);
    let line = &as_if.crossing[0].lines()[0];
    let layer = "local layer 'pueblo-example', in force from 2026-08-01";
    let cited = format!("over 10 % [{CLAUSE}, {layer}]");
    assert!(line.contains(&cited), "{line}");
    let judged = "nothing that has happened is judged by it";
    assert!(found.changed.is_empty(), "{judged}");
    let told = found.summary();
    assert!(told.contains(judged), "{told}");
    let three = "3 appliances would have crossed a limit";
    assert!(told.contains(three), "{told}");
    assert!(told.contains("nothing was booked"), "{told}");
    assert_eq!(shop.size(), before);
}

/// The list of rules and the appliance show what will judge, before it does.
fn it_is_to_come(shop: &mut Shop) {
    let listed = rule_files::all(&mut shop.db, &shop.of, now(), Sees::Everything);
    let (_, files) = listed.expect("rule files");
    let layer = files.iter().find(|file| file.id == "pueblo-example");
    let layer = layer.expect("the layer");
    let august = Day::parse("2026-08-01").expect("a day");
    assert_eq!(layer.status, Status::ToCome(august));
    let reason = &layer.adoptions[0].reason;
    assert_eq!(reason, "ordinance 12, county gazette of 2 July");
    let coming = overview::one(&mut shop.db, &shop.of, "MR-4", now()).expect("an appliance");
    let coming = coming.to_come.first().expect("a limit to come");
    let (from, number) = (coming.from.as_str(), &coming.number);
    assert_eq!((from, number.number.as_str()), ("2026-08-01", "10"));
    assert_eq!(number.clause, CLAUSE);
    let elsewhere = overview::one(&mut shop.db, &shop.of, "EC-1", now()).expect("an appliance");
    assert!(elsewhere.to_come.is_empty(), "{:?}", elsewhere.to_come);
}

fn its_standing_says_why(shop: &mut Shop, entry: u64) {
    let shown = standing::one(&mut shop.db, &shop.of, "MR-4", None, now()).expect("a standing");
    let passed = shown.standing.exceedances.last().expect("an exceedance");
    let rests_on = (passed.on.as_str(), &passed.entries[..]);
    assert_eq!(rests_on, ("2026-08-03", &[entry][..]));
    let number = &passed.bounds[0].number;
    let cited = (number.number.as_str(), number.clause.as_str());
    assert_eq!(cited, ("10", CLAUSE));
    assert_eq!(number.overlay.as_deref(), Some("pueblo-example"));
    let version = passed.version.as_deref().expect("a version");
    assert!(version.contains(", pueblo-example "), "{version}");
    let why = &shown.standing.duties[0].why;
    assert!(why.contains(CLAUSE), "{why}");
}

/// The flagged list and the list of duties. What was 12 to 14 % in February was within the limit of
/// February.
fn it_is_listed(shop: &mut Shop) {
    let asked = FlaggedAsked {
        after: String::new(),
        most: 10,
        since: None,
        now: now(),
    };
    let flagged = flagged::page(&mut shop.db, &shop.of, &asked).expect("the flagged list");
    let tags: Vec<&str> = flagged.items.iter().map(|one| one.tag.as_str()).collect();
    assert_eq!(tags, ["MR-4"]);
    let number = &flagged.items[0].exceedances[0].bounds[0].number;
    assert_eq!(number.clause, CLAUSE);
    let asked = DutiesAsked {
        most: 50,
        ..DutiesAsked::default()
    };
    let owed = crate::duties::read(shop, &asked)
        .expect("duties")
        .page
        .items;
    let repair = owed.iter().find(|item| item.duty.duty == "repair");
    let repair = repair.expect("a repair");
    assert_eq!(repair.tag, "MR-4");
    assert!(repair.duty.why.contains(CLAUSE), "{}", repair.duty.why);
    its_layer_is_cited(shop, &repair.duty.layers, &asked);
}

/// The list, the weeks, the mail and the calendar cite the layer, and the law's own beneath: over 20 %
/// for commercial refrigeration (40 CFR 84.106(c)(2)(ii)).
fn its_layer_is_cited(shop: &mut Shop, layers: &[LayerShown], asked: &DutiesAsked) {
    let [layer] = layers else {
        panic!("one layer: {layers:?}")
    };
    let cited = (layer.layer.as_str(), layer.clause.as_str());
    assert_eq!(cited, ("pueblo-example", CLAUSE));
    let numbers = (layer.number.as_str(), layer.own.as_deref());
    assert_eq!(numbers, ("10 %", Some("20 %")));
    let own = layer.own_clause.as_deref().unwrap_or_default();
    assert!(own.starts_with("40 CFR 84.106(c)(2)"), "{own}");
    let rows = crate::duties::read(shop, asked).expect("duties").rows;
    let all = rows.iter().filter(|row| row.tag == "MR-4");
    let mut cites = all.map(duties::Row::cites).peekable();
    assert!(cites.peek().is_some(), "rows of MR-4");
    for text in cites {
        let begins = format!("{CLAUSE}, local layer 'pueblo-example': 10 %; the law's own: 20 % [");
        assert!(text.starts_with(&begins), "{text}");
        assert!(
            text.contains("]; 40 CFR 84.106("),
            "then the duty's: {text}"
        );
    }
    let text = shop.calendar_text();
    assert!(text.contains("local layer 'pueblo-example'"), "{text}");
}

fn it_is_exported(shop: &mut Shop, adopted: u64) {
    let (sheet, told) = additions(shop, None);
    let row = sheet
        .lines()
        .find(|line| line.starts_with("MR-4,2026-08-03"));
    let row = row.expect("a row");
    let over = row.contains(",10.4885,") && row.ends_with(",yes,yes");
    assert!(over, "{row}");
    assert_eq!(sheet.matches(",yes").count(), 2, "{sheet}");
    let (_, version) = told.sets.last().expect("a set");
    let layer = format!("layer pueblo-example by no. {adopted}");
    assert!(version.ends_with(&layer), "{version}");
}

/// H6: results that used an older version keep it. The layer is adopted late, for a day that is
/// past; as known before, three additions were within the limit, and as known now they are not.
#[test]
fn as_known_then_and_as_known_now_are_both_answered() {
    let mut shop = firm();
    let (then, told) = additions(&mut shop, None);
    let known = told.as_of.expect("a number");
    assert_eq!(then.matches(",yes").count(), 0, "{then}");
    let found = tried(&mut shop, &county("2026-02-01"), "2026-02-01");
    assert!(found.as_if.is_none() && found.is_past());
    assert_eq!(
        (found.counts.appliances, found.passed()),
        (3, 3),
        "{found:?}"
    );
    assert!(found.counts.appear >= 3, "each is owed a repair: {found:?}");
    assert!(
        found.summary().contains("The day is past"),
        "{}",
        found.summary()
    );
    let lines = found.changed[0].lines();
    assert!(lines[0].starts_with("MR-1: passes leak_rate of us-federal-hfc on 2026-02-10"));
    assert!(
        lines
            .iter()
            .any(|line| line.contains(" appears, since 2026-02-10: ")),
        "{lines:?}"
    );

    shop.ok(
        json!({"kind": "rule_set", "note": "found in the gazette only in July",
                   "body": {"toml": county("2026-02-01"), "from": "2026-02-01"}}),
    );
    let (now, _) = additions(&mut shop, None);
    assert_eq!(
        now.matches(",yes").count(),
        6,
        "three, by both methods: {now}"
    );
    let (again, told) = additions(&mut shop, Some(known));
    assert_eq!(again, then, "as known then, byte for byte");
    let (_, version) = told.sets.last().expect("a set");
    assert!(!version.contains("layer"), "{version}");
}

/// By hand, against the federal 20 %. EC-1: 15 lb in February and 6 lb 130 days later are 6 x 365 /
/// 130 = 16.8 % annualised, and 21 % in the rolling year. MR-1: 12 lb and 5 lb 50 days later are
/// 36.5 % annualised, and 17 % in the rolling year.
#[test]
fn a_method_can_be_tried_too() {
    let mut shop = firm();
    charge(&mut shop, ("EC-1", 4), "6 lb", "2026-06-20");
    charge(&mut shop, ("MR-1", 0), "5 lb", "2026-04-01");
    let asked = Asked {
        rules: None,
        method: Some(Method::Rolling),
        since: Day::parse("2026-01-01").expect("a day"),
        now: now(),
        most: 100,
    };
    let found = preview(&mut shop.db, &shop.of, asked).expect("a preview");
    assert_eq!(found.what, "the rolling method");
    assert_eq!((found.passed(), found.no_longer()), (1, 1), "{found:?}");
    let tags: Vec<&str> = found.changed.iter().map(|one| one.tag.as_str()).collect();
    assert_eq!(tags, ["EC-1", "MR-1"]);
    assert_eq!(found.changed[0].passed[0].on, "2026-06-20");
    assert_eq!(found.changed[1].no_longer[0].on, "2026-04-01");
}
