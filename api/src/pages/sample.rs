//! Made-up standings and entries for the tests of the pages. Figures are those of the invented
//! firm: HG-RACK-A holds 210 lb; 14 lb 8 oz went in 96 days after the addition before.

use super::frame::{Frame, Part};
use crate::actions::show::lines::{Line, LineMoved, Named};
use crate::actions::show::overview::Overview;
use crate::actions::show::things::{FactShown, ThingShown};
use crate::ledger::actor::Role;
use crate::ledger::id::Id;
use reports::standing::{
    AdditionShown, BoundShown, DutyShown, ExceedanceShown, LineShown, MassShown, RateShown, Rates,
    Standing, StartShown, Value,
};
use serde_json::json;
use std::collections::BTreeMap;

/// Steps of a pound.
pub const POUND: i128 = 45_359_237_000_000;

/// A name that tries to be markup, turns the writing direction and is long.
pub fn hostile() -> String {
    format!(
        "</td><script>alert(1)</script>\u{202e}\"'&{}",
        "W".repeat(200)
    )
}

/// The frame of a page that a role reads.
pub fn frame(role: Role, part: Part) -> Frame {
    Frame {
        organisation: "Tamarack Ridge Mechanical".to_string(),
        who: "Osric Penhale, compliance manager".to_string(),
        form: "f".repeat(64),
        part,
        worked_out: "Worked out from entries no. 0 to 230.".to_string(),
        seal: None,
        roles: vec![role],
    }
}

/// A rate of `numerator / denominator` percent against a limit.
pub fn rate(
    numerator: i128,
    denominator: i128,
    over: Option<bool>,
    limit: Option<&str>,
) -> RateShown {
    RateShown {
        percent: reports::number::Fraction::new(numerator, denominator).cut(4),
        numerator: numerator.to_string(),
        denominator: denominator.to_string(),
        over,
        threshold: limit.map(str::to_string),
        clause: limit.map(|_| "40 CFR 84.106(c)(2)(i)".to_string()),
        confidence: limit.map(|_| "unconfirmed"),
        set: None,
        version: None,
    }
}

/// 14 lb 8 oz on 14 July 2026: 14.5 / 210 x 365 / 96 = 26.2524 %.
pub fn addition(rate: Option<RateShown>) -> AdditionShown {
    AdditionShown {
        day: "2026-07-14".to_string(),
        mass: MassShown::of(POUND * 29 / 2),
        entries: vec![4_807],
        days: 96,
        baseline: "addition 2026-04-09".to_string(),
        method: "annualising",
        rates: Rates {
            rolling: rate
                .as_ref()
                .map(|_| self::rate(2_375, 210, Some(false), Some("20"))),
            annualising: rate,
        },
        uncertainty: None,
    }
}

/// 26.2524 % over 20 %: 14.5 x 100 x 365 / (210 x 96) = 529250 / 20160.
pub fn over() -> RateShown {
    rate(529_250, 20_160, Some(true), Some("20"))
}

/// A standing with these additions.
pub fn standing(full_charge: Option<i128>, additions: Vec<AdditionShown>) -> Standing {
    Standing {
        day: "2026-07-16".to_string(),
        full_charge: full_charge.map(|pounds| MassShown::of(pounds * POUND)),
        balance: MassShown::of(210 * POUND),
        content: None,
        presumed_leaked: MassShown::of(0),
        additions,
        method: "annualising",
        exceedances: Vec::new(),
        duties: Vec::new(),
        missing: Vec::new(),
        sets: Vec::new(),
        why: Vec::new(),
    }
}

/// The limit of 20 % that was passed.
pub fn exceedance(on: &str) -> ExceedanceShown {
    ExceedanceShown {
        set: "us-federal-hfc".to_string(),
        version: None,
        limit: "leak_rate".to_string(),
        means: "leak rate over the trigger".to_string(),
        clause: "40 CFR 84.106(c)(2)".to_string(),
        confidence: None,
        on: on.to_string(),
        value: Value {
            unit: "percent",
            text: "26.2524".to_string(),
            numerator: "529250".to_string(),
            denominator: "20160".to_string(),
        },
        bounds: vec![BoundShown {
            comparison: "over",
            number: line_shown(),
        }],
        entries: vec![4_807],
        worked: "14.5 lb put in on 2026-07-14 is 26.3 % a year".to_string(),
    }
}

fn line_shown() -> LineShown {
    LineShown {
        value: "commercial_refrigeration".to_string(),
        number: "20".to_string(),
        unit: "percent_per_year",
        clause: "40 CFR 84.106(c)(2)(i)".to_string(),
        from: "2026-01-01".to_string(),
        published: None,
        confidence: None,
        source: None,
        overlay: None,
        loosens: None,
        due: None,
    }
}

/// A duty with its date.
pub fn duty(due: Option<&str>) -> DutyShown {
    DutyShown {
        duty: "repair".to_string(),
        means: "find the leaks and repair them".to_string(),
        set: "us-federal-hfc".to_string(),
        version: None,
        clause: "40 CFR 84.106(d)".to_string(),
        confidence: None,
        case: Some(0),
        since: "2026-07-14".to_string(),
        started_by: StartShown {
            kind: "limit",
            limit: Some("leak_rate".to_string()),
            duty: None,
            entries: vec![4_807],
        },
        state: if due.is_some() { "open" } else { "no_date" },
        is_owed: true,
        not_before: None,
        on: None,
        by: None,
        last: None,
        left: None,
        age: None,
        extensions: Vec::new(),
        paused_days: 0,
        too_early: Vec::new(),
        late_on_discovery: false,
        opened: None,
        inspects: None,
        due: due.map(str::to_string),
        no_number: None,
        waiting: Vec::new(),
        missing: Vec::new(),
        lines: Vec::new(),
        why: "Because of the rule.".to_string(),
        layers: Vec::new(),
    }
}

/// An appliance with a standing.
pub fn overview(tag: &str, refrigerant: &str, standing: Standing) -> Overview {
    let fact = |is: serde_json::Value| {
        vec![FactShown {
            from: "2019-05-20".to_string(),
            is,
            entry: 28,
        }]
    };
    let mut facts = BTreeMap::new();
    facts.insert("refrigerant".to_string(), fact(json!(refrigerant)));
    facts.insert(
        "category".to_string(),
        fact(json!("commercial_refrigeration")),
    );
    facts.insert("place".to_string(), fact(json!(tag)));
    Overview {
        thing: ThingShown {
            id: Id::from_bits(7).to_string(),
            tag: tag.to_string(),
            kind: "appliance",
            facts,
            nth: Some(2),
            quarantine: None,
            balances: None,
            version: String::new(),
        },
        site: tag.to_string(),
        region: "US-CO-031".to_string(),
        standing,
        course: None,
        to_come: Vec::new(),
        records: Vec::new(),
        as_of: 4_826,
    }
}

/// A charge of 14 lb 8 oz into an appliance of this tag.
pub fn line(tag: &str) -> Line {
    let named = |word: &str, id: u128, tag: &str| Named {
        word: word.to_string(),
        id: Some(Id::from_bits(id)),
        tag: tag.to_string(),
    };
    let note = ("note".to_string(), hostile());
    Line {
        seq: 4_807,
        entry_id: Id::from_bits(9),
        kind: "charge".to_string(),
        day: "2026-07-14".to_string(),
        time: Some("11:52".to_string()),
        booked_at: "2026-07-14T17:53:02.000Z".to_string(),
        moved: vec![LineMoved {
            from: named("cylinder", 8, "SUP-88231"),
            to: named("appliance", 7, tag),
            refrigerant: "R-448A".to_string(),
            steps: i64::try_from(POUND * 29 / 2).unwrap(),
            scale: None,
        }],
        about: None,
        adopted: None,
        reason: Some("leak_top_up".to_string()),
        class: None,
        returned_to_full_charge: true,
        corrects: None,
        correction: None,
        annuls: false,
        corrected_by: None,
        late: false,
        imported: false,
        by: tag.to_string(),
        visit: None,
        leak: None,
        held_by: None,
        did: None,
        booked_by: None,
        words: BTreeMap::new(),
        texts: BTreeMap::from([note]),
        hash: [0x5a; 32],
    }
}

/// Throws when a page carries markup from a name, inline script or inline style.
pub fn is_clean(html: &str) {
    for bad in ["<script", " style=", "<style", " onclick", "javascript:"] {
        assert!(!html.contains(bad), "{bad} in {html}");
    }
}

/// Compares a drawing with the one that somebody looked at and kept in tests/references/pictures. With
/// `KEEP_PICTURES=yes` what was drawn is kept there, to be looked at again.
pub fn is_as_kept(name: &str, drawing: &super::picture::Drawing) {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/references/pictures");
    let file = format!("{folder}/{name}.svg");
    let drawn = format!("{}\n", drawing.svg());
    if std::env::var("KEEP_PICTURES").as_deref() == Ok("yes") {
        std::fs::write(&file, &drawn).expect("a folder");
    }
    let kept = std::fs::read_to_string(&file).expect("a kept drawing");
    let differs = drawn
        .lines()
        .zip(kept.lines())
        .find(|(one, other)| one != other);
    assert_eq!(differs, None, "{name} is drawn otherwise than it was kept");
    assert_eq!(drawn.lines().count(), kept.lines().count(), "{name}");
}
