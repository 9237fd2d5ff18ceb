//! Room in a cylinder: warned at 90 %, stopped above 100 %, never for some cylinders, and what is
//! refused. Limits and masses are worked by hand in pounds.

use crate::filling::request;
use reports::day::Day;
use reports::mass::Mass;
use reports::number::Decimal;
use reports::physics::{
    AddedDensities, Content, CylinderFacts, FILL_DENSITIES_BYTES, FILL_LISTED_BYTES, FillDensities,
    FillLimit, FillRequest, FillRules, FillVerdict, Problem, ProblemCode, RoomState, fill_limit,
    judge_fill, may_be_filled, room,
};

const LB: i64 = Mass::POUND;

fn asked(request: &FillRequest) -> Result<FillLimit, Problem> {
    fill_limit(FillRules::shipped(), FillDensities::shipped(), request)
}

/// R-22 in 100 lb of water: 80 lb by the old rule, which is the lowest.
fn eighty_pounds() -> FillLimit {
    let limit = asked(&request(
        Content::Named("R-22".to_owned()),
        "100",
        "[lb_av]",
    ));
    let limit = limit.expect("a limit");
    assert_eq!(limit.limit, Mass::from_steps(80 * LB));
    limit
}

#[test]
fn room_is_shown_before_recovery_starts() {
    let tare = Some(Mass::from_steps(50 * LB));
    let room = room(&eighty_pounds(), tare, Mass::from_steps(80 * LB)).expect("room");
    assert_eq!(room.net.lb_oz, "30 lb 0 oz");
    assert_eq!(room.room_left.lb_oz, "50 lb 0 oz");
    // 50 × 0.45359237 kg.
    assert_eq!(room.room_left.kg, "22.68 kg");
    assert_eq!(room.room_left.g, "22679.6185");
    assert_eq!(room.max_gross.lb_oz, "130 lb 0 oz");
    assert_eq!(
        (room.used_percent.as_str(), room.state),
        ("37.5", RoomState::Open)
    );
}

/// 90 % of 80 lb is 72 lb; one step of mass on either side decides.
#[test]
fn ninety_percent_warns_and_more_than_all_stops_to_the_last_step() {
    let limit = eighty_pounds();
    let tare = Mass::from_steps(50 * LB);
    let empty = room(&limit, Some(tare), tare).expect("room");
    let fill = |steps: i64| judge_fill(&empty, Mass::from_steps(steps)).expect("a verdict");
    assert_eq!(fill(72 * LB - 1), FillVerdict::Accepted);
    assert!(matches!(fill(72 * LB), FillVerdict::Warned { .. }));
    let FillVerdict::Warned { room_after } = fill(80 * LB) else {
        panic!("a fill to exactly the limit is allowed");
    };
    assert_eq!(room_after.g, "0");
    let FillVerdict::Stopped { over_by, room_left } = fill(80 * LB + 1) else {
        panic!("one step above the limit is above it");
    };
    assert_eq!(over_by.g, "0.00000000001");
    assert_eq!(room_left.lb_oz, "80 lb 0 oz");
    let state = |net: i64| {
        let gross = Mass::from_steps(50 * LB + net);
        room(&limit, Some(tare), gross).expect("room").state
    };
    assert_eq!(state(72 * LB - 1), RoomState::Open);
    assert_eq!(state(72 * LB), RoomState::NearlyFull);
    assert_eq!(state(80 * LB), RoomState::Full);
    assert_eq!(state(80 * LB + 1), RoomState::OverFull);
    let over = room(&limit, Some(tare), Mass::from_steps(140 * LB)).expect("room");
    assert_eq!(
        (over.room_left.g.as_str(), over.used_percent.as_str()),
        ("0", "112.5")
    );
    let json = serde_json::to_value(fill(81 * LB)).expect("JSON");
    assert_eq!(json["verdict"], "stopped");
    assert_eq!(json["over_by"]["lb_oz"], "1 lb 0 oz");
}

#[test]
fn some_cylinders_are_never_filled() {
    let day = |text| Day::parse(text).expect("a day");
    let good = CylinderFacts {
        requalification_due: Some(day("2026-11-25")),
        ..CylinderFacts::default()
    };
    let code = |facts, on| may_be_filled(facts, day(on)).map_err(|problem| problem.code);
    assert_eq!(code(good, "2026-11-25"), Ok(()));
    assert_eq!(code(good, "2026-11-26"), Err(ProblemCode::MayNotBeFilled));
    let problem = may_be_filled(good, day("2026-11-26")).unwrap_err();
    assert!(problem.came.contains("2026-11-25") && problem.to_do.contains("requalifier"));
    let disposable = CylinderFacts {
        disposable: true,
        ..good
    };
    assert_eq!(
        code(disposable, "2026-01-01"),
        Err(ProblemCode::MayNotBeFilled)
    );
    let condemned = CylinderFacts {
        condemned: true,
        ..good
    };
    assert_eq!(
        code(condemned, "2026-01-01"),
        Err(ProblemCode::MayNotBeFilled)
    );
    assert_eq!(
        code(CylinderFacts::default(), "2026-01-01"),
        Err(ProblemCode::Missing)
    );
}

#[test]
fn a_cylinder_without_tare_or_lighter_than_it_is_refused() {
    let limit = eighty_pounds();
    let gross = Mass::from_steps(40 * LB);
    let problem = room(&limit, None, gross).unwrap_err();
    assert_eq!(
        (problem.code, problem.field.as_str()),
        (ProblemCode::Missing, "tare")
    );
    let problem = room(&limit, Some(Mass::from_steps(50 * LB)), gross).unwrap_err();
    assert_eq!(problem.code, ProblemCode::Contradiction);
    assert!(
        problem.expected.contains("50 lb") && problem.came.contains("40 lb"),
        "{problem}"
    );
    let most = Mass::from_steps(i64::MAX);
    let some = room(&limit, Some(gross), Mass::from_steps(41 * LB)).expect("room");
    assert_eq!(
        judge_fill(&some, most).unwrap_err().code,
        ProblemCode::OutOfRange
    );
    assert_eq!(
        room(&limit, Some(most), most).unwrap_err().code,
        ProblemCode::OutOfRange
    );
}

#[test]
fn a_capacity_that_does_not_fit_the_tare_is_asked_about() {
    // 17 lb of water in a cylinder that weighs 26.2 lb empty: the two were read the wrong way round.
    let mut swapped = request(Content::Unknown, "17.0", "[lb_av]");
    swapped.tare = Some(Mass::from_steps(262 * LB / 10));
    let problem = asked(&swapped).unwrap_err();
    assert_eq!(problem.code, ProblemCode::Contradiction);
    assert!(problem.to_do.contains("TW"), "{problem}");
    swapped.water_capacity_confirmed = true;
    assert!(asked(&swapped).is_ok());
    for number in ["0", "-26.2", "999999999999999999"] {
        let problem = asked(&request(Content::Unknown, number, "[lb_av]")).unwrap_err();
        assert_eq!(problem.code, ProblemCode::OutOfRange, "{number}");
        assert!(problem.came.contains(number), "{problem}");
    }
}

#[test]
fn a_refrigerant_without_density_is_refused_until_somebody_adds_it() {
    let asked_for = request(Content::Named("R-438A".to_owned()), "10", "L");
    let problem = asked(&asked_for).unwrap_err();
    assert_eq!(problem.code, ProblemCode::DensityMissing);
    assert!(problem.to_do.contains("unknown"), "{problem}");
    // Invented round densities: 0.8 × 900 kg/m³ × 10 l = 7.2 kg; the water rule gives 7.98 kg.
    let density = |text| Decimal::parse(text);
    let added = AddedDensities {
        refrigerant: "R-438A".to_owned(),
        source: "Halfmoon Gases, sheet 438, 2024".to_owned(),
        kg_m3: [density("900"), density("850"), None, None, density("800")],
    };
    let densities = FillDensities::shipped().with(&added).expect("densities");
    let limit = fill_limit(FillRules::shipped(), &densities, &asked_for).expect("a limit");
    assert_eq!(
        (limit.rule_id.as_str(), limit.limit.to_string().as_str()),
        ("GK80_25C", "7200")
    );
    assert_eq!(
        limit.rules[0].density_source.as_deref(),
        Some("Halfmoon Gases, sheet 438, 2024")
    );
    let nameless = AddedDensities {
        source: String::new(),
        ..added.clone()
    };
    assert_eq!(
        FillDensities::shipped().with(&nameless).unwrap_err().code,
        ProblemCode::Missing
    );
    let rising = AddedDensities {
        kg_m3: [density("800"), density("850"), None, None, None],
        ..added
    };
    assert_eq!(
        FillDensities::shipped().with(&rising).unwrap_err().code,
        ProblemCode::BadTable
    );
    let problem = asked(&request(Content::Named("R-9999".to_owned()), "10", "L")).unwrap_err();
    assert_eq!(problem.code, ProblemCode::UnknownRefrigerant);
}

#[test]
fn a_gas_above_its_critical_temperature_needs_a_marking() {
    let mut carbon_dioxide = request(Content::Named("R-744".to_owned()), "29.4", "[lb_av]");
    let problem = asked(&carbon_dioxide).unwrap_err();
    assert_eq!(problem.code, ProblemCode::DensityMissing);
    assert!(problem.to_do.contains("marked"), "{problem}");
    carbon_dioxide.marking = Some(Mass::from_steps(15 * LB));
    assert_eq!(
        asked(&carbon_dioxide).expect("a limit").limit,
        Mass::from_steps(15 * LB)
    );
}

/// 49 CFR 173.304(b), from memory, wants the mass *below* what fills the cylinder at 55 °C.
#[test]
fn a_strict_rule_stays_below_its_own_number() {
    let header = "rule_id,kind,factor,at,applies,strict,read_at_source,text,source\n";
    let limit = |strict: &str| {
        let text = format!("{header}X,water,1,,always,{strict},yes,a rule,a source\n");
        let rules = FillRules::read(text.as_bytes(), FILL_LISTED_BYTES).expect("rules");
        let request = request(Content::Unknown, "10", "[lb_av]");
        fill_limit(&rules, FillDensities::shipped(), &request)
            .expect("a limit")
            .limit
    };
    assert_eq!(limit("no"), Mass::from_steps(10 * LB));
    assert_eq!(limit("yes"), Mass::from_steps(10 * LB - 1));
}

#[test]
fn broken_rules_are_refused() {
    let header = "rule_id,kind,factor,at,applies,strict,read_at_source,text,source\n";
    let refused = |row: &str| {
        let text = format!("{header}{row}\n");
        FillRules::read(text.as_bytes(), FILL_LISTED_BYTES)
            .map(|_| ())
            .unwrap_err()
    };
    for row in [
        "X,density,0.8,20,always,no,yes,a rule,a source",
        "X,water,0,,always,no,yes,a rule,a source",
        "X,water,0.8,,sometimes,no,yes,a rule,a source",
        "X,water,0.8,,always,perhaps,yes,a rule,a source",
        "X,water,0.8,,always,no,yes,a rule,",
    ] {
        assert_eq!(refused(row).code, ProblemCode::BadTable, "{row}");
    }
    let nothing = FillRules::read(header.as_bytes(), FILL_LISTED_BYTES).expect("no rules");
    let request = request(Content::Named("R-22".to_owned()), "10", "L");
    let problem = fill_limit(&nothing, FillDensities::shipped(), &request).unwrap_err();
    assert_eq!(problem.code, ProblemCode::BadTable);
    let text = std::str::from_utf8(FILL_DENSITIES_BYTES)
        .expect("UTF-8")
        .replace("1190.65", "x");
    assert_eq!(
        FillDensities::read(text.as_bytes())
            .map(|_| ())
            .unwrap_err()
            .code,
        ProblemCode::BadTable
    );
}
