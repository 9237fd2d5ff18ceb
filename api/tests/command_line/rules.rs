//! Rules from the command line: checked, compared, tried on the fleet, adopted.

use crate::desk::*;

#[test]
fn rules_and_masses_need_no_book() {
    let desk = Desk::new();
    desk.good(&["rules", "check"]);
    desk.good(&["rules", "test"]);
    desk.good(&["mass", "7 lb 10 oz"]);
    assert!(
        desk.run(&["mass", "7 lb 16 oz"])
            .ends_with(1)
            .out()
            .contains("below 16")
    );
    assert!(
        desk.run(&["mass", "-3", "--unit", "lb"])
            .ends_with(1)
            .out()
            .contains("refused")
    );
    desk.write("gap.toml", "id = \"x\"\n");
    desk.run(&["rules", "check", "gap.toml"])
        .ends_with(1)
        .says("gap.toml");
}

/// Adopted from a day on, a set judges what happens from that day: 9 lb 4 oz of 210 lb is 4.4 % of
/// the full charge, so that nothing is over; what counts is that a limit is asked at all.
#[test]
fn a_rule_set_is_adopted_from_the_command_line() {
    let desk = Desk::with_book();
    let report = ["report", "appliance-year", "--year", "2025"];
    desk.on_book(&report)
        .ends_with(0)
        .says("No rule set is adopted");
    // The book holds what happened since that day: why is asked for.
    desk.on_book(&["rules", "adopt", "us-federal-hfc", "--from", "2025-01-01"])
        .ends_with(1)
        .says("--reason");
    adopt_federal(&desk, "2025-01-01")
        .ends_with(0)
        .says("judges by us-federal-hfc from 2025-01-01 on: entry no.");
    desk.on_book(&report)
        .ends_with(0)
        .says("us-federal-hfc (adopted by no.");
    desk.on_book(&["verify"]).ends_with(0);
    desk.on_book(&["rules", "adopt", "no-such-set", "--from", "2025-01-01"])
        .ends_with(1)
        .says("expected a rule file (TOML) or one of us-federal-ods");
    desk.on_book(&["rules", "adopt", "us-federal-hfc", "--from", "soon"])
        .ends_with(2)
        .says("expected a day such as 2026-01-01");
    desk.write("not.toml", "id = \"x\"\nwhat = 1\n");
    desk.on_book(&["rules", "adopt", "not.toml", "--from", "2025-01-01"])
        .ends_with(1);
}

/// 9 lb 4 oz of 210 lb is 4.4047 %: over an invented 4 %, and told before it is adopted.
#[test]
fn a_rule_set_is_compared_and_tried_on_the_fleet_before_it_is_adopted() {
    let desk = Desk::with_book();
    let layer = "id = \"county\"\noverlays = \"us-federal-hfc\"\nlayer = \"local\"\n\
                 title = \"County (invented)\"\nreason = \"ordinance 12 (invented)\"\n\n\
                 [values.trigger]\nrows = [{ from = \"2025-01-01\", for = [\"commercial\"], \
                 is = \"4\", clause = \"ordinance 12 (invented)\" }]\n";
    desk.write("county.toml", layer);
    let older = layer.replace("\"4\"", "\"6\"");
    desk.write("older.toml", &older);
    let diff = desk.good(&["rules", "diff", "older.toml", "county.toml"]);
    let clause = "[ordinance 12 (invented)]";
    let line =
        format!("values.trigger for commercial from 2025-01-01: 6 {clause} becomes 4 {clause}\n");
    assert_eq!(diff.out(), line);
    let same = desk.good(&["rules", "diff", "us-federal-hfc", "us-federal-hfc"]);
    assert_eq!(same.out(), "");
    desk.run(&["rules", "diff", "us-federal-hfc", "no-such-set"])
        .ends_with(1)
        .says("expected a rule file (TOML) or one of");
    // A second rack, whose region is known; the rule is not in force before 2026.
    desk.write(
        "more.csv",
        &APPLIANCES
            .replace("commissioned_on\n", "commissioned_on,region\n")
            .replace("2019-05-20\n", "2019-05-20,US-CO\n")
            .replace("HG-RACK-A,HG-ALDER", "HG-RACK-B,HG-BIRCH"),
    );
    desk.write(
        "later.csv",
        "movement_id,occurred_at,kind,from,to,refrigerant,mass_lb,technician\n\
         m-4,2026-01-02,opening,,HG-RACK-B,R-448A,210,osric\n\
         m-5,2026-03-09,charge,SUP-88231,HG-RACK-B,R-448A,9.25,ines\n",
    );
    desk.on_book(&["import", "appliances", "more.csv"])
        .ends_with(0);
    desk.on_book(&["import", "movements", "later.csv"])
        .ends_with(0);
    let preview =
        |set: &'static str| desk.on_book(&["rules", "preview", set, "--from", "2026-01-01"]);
    preview("county.toml")
        .ends_with(1)
        .says("Adopt that one first");
    let federal = preview("us-federal-hfc").ends_with(0);
    assert_eq!(
        federal.out(),
        "HG-RACK-A: cannot be judged until region is found.\n"
    );
    adopt_federal(&desk, "2026-01-01").ends_with(0);
    let county = preview("county.toml").ends_with(0);
    let county =
        county.says("1 appliance of 2 would be judged otherwise: 1 limit passed, 0 no longer");
    let line = county.out();
    assert!(
        line.starts_with("HG-RACK-B: passes leak_rate of us-federal-hfc on 2026-03-09: 9.25 lb")
    );
    assert!(
        line.contains("over 4 % [ordinance 12 (invented), local layer 'county'"),
        "{line}"
    );
    // 30 days from the addition of 9 March (40 CFR 84.106(d)(1)), and what follows from it.
    let repair =
        "HG-RACK-B: repair of us-federal-hfc appears, since 2026-03-09: overdue, due 2026-04-08";
    assert!(line.contains(repair), "{line}");
    let about = |line: &str| line.starts_with("HG-RACK-B: ");
    assert!(line.lines().all(about), "{line}");
}

/// Adopts the federal rules of HFC from a day that is over, with a reason.
fn adopt_federal(desk: &Desk, from: &str) -> Ended {
    let set = ["rules", "adopt", "us-federal-hfc", "--from", from];
    let why = ["--reason", "first rules of this book"];
    desk.on_book(&[&set[..], &why[..]].concat())
}
