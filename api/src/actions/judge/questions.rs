//! Questions: what looks like a slip.

use super::room::{cut_text, rule_text};
use super::stops::{fill_limit, name_of};
use super::{Case, Judged, Lens, as_stated};
use crate::actions::moves::Moving;
use crate::ledger::entry::EntryKind;
use crate::store::StoreError;
use crate::store::columns::{PlaceNumber, Sort};
use crate::store::tx::Tx;
use reports::appliance::{FactValue, Facts};
use reports::event::{Event, Kind};
use reports::leak_rate::{self, FirstDays, Netting, Reading};
use reports::mass;

/// What guards the masses of the book; asked of imports too, as findings.
pub fn masses(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    lens: &Lens,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let steps = i128::from(moving.mass.steps());
    let text = || mass::lb_oz_text(steps);
    for place in [moving.src, moving.dst] {
        if place.sort() == Sort::Appliance {
            appliance(tx, case, moving, place, judged)?;
        }
    }
    let subject = tx.subject(moving.src)?;
    let held = lens.balance(moving.src, subject, moving.refrigerant);
    if held < steps {
        let name = name_of(subject);
        let has = mass::lb_oz_text(held.max(0));
        let asked = match moving.src.sort() {
            Sort::Cylinder => Some(as_stated(
                "over_content",
                format!(
                    "Cylinder {name} holds {has} of it by the book; {} was stated.",
                    text()
                ),
                "the mass as stated; the balance goes below zero until a count settles it",
            )),
            Sort::Appliance => Some(as_stated(
                "balance_below_zero",
                format!(
                    "By the book {name} holds {has} of it; {} was stated.",
                    text()
                ),
                "the mass as stated; the balance goes below zero until it is explained",
            )),
            _ => None,
        };
        judged
            .questions
            .extend(asked.map(|asked| (asked, moving.src)));
    }
    if moving.dst.sort() == Sort::Cylinder && !case.imported {
        let table = tx.table;
        let cylinder = tx.subject(moving.dst)?;
        let after = lens.total(moving.dst, cylinder) + steps;
        let pours = !matches!(case.kind, EntryKind::Purchase | EntryKind::Redesignate);
        let limit = fill_limit(case, moving, lens, cylinder, table).filter(|_| pours);
        let near = limit.filter(|limit| {
            let most = i128::from(limit.limit.steps());
            after <= most && after * 10 >= most * 9
        });
        if let Some(limit) = near {
            let name = name_of(cylinder);
            let text = format!(
                "Cylinder {name} would be nine tenths full or more: room for {} would be left of \
                 {}. The limit is {}.",
                cut_text(i128::from(limit.limit.steps()) - after),
                cut_text(i128::from(limit.limit.steps())),
                rule_text(&limit)
            );
            let asked = as_stated("over_room", text, "the mass as stated");
            judged.questions.push((asked, moving.dst));
        }
    }
    Ok(())
}

fn appliance(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    place: PlaceNumber,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    let table = tx.table;
    let subject = tx.subject(place)?;
    let brief = &subject.brief;
    let known = brief
        .refrigerant_on(case.day)
        .filter(|_| case.kind != EntryKind::Redesignate);
    if let Some(own) = known.filter(|own| *own != moving.refrigerant) {
        let text = format!(
            "{} runs on {}; {} was stated.",
            name_of(subject),
            table.designation(own).unwrap_or_default(),
            table.designation(moving.refrigerant).unwrap_or_default()
        );
        let asked = as_stated("wrong_refrigerant_for_appliance", text, "what was stated");
        judged.questions.push((asked, place));
    }
    let charges = matches!(case.kind, EntryKind::Charge | EntryKind::OutsideCharge);
    let full = brief
        .full_charge_on(case.day)
        .filter(|full| charges && moving.mass > *full);
    if let Some(full) = full {
        let text = format!(
            "{} was stated; the full charge of {} is {}.",
            mass::lb_oz_text(i128::from(moving.mass.steps())),
            name_of(subject),
            mass::lb_oz_text(i128::from(full.steps()))
        );
        judged.questions.push((
            as_stated("over_full_charge", text, "the mass as stated"),
            place,
        ));
    }
    if brief
        .installed
        .is_some_and(|installed| case.day < installed)
    {
        judged.findings.push(("before_installed", place));
    }
    Ok(())
}

/// What a person at the unit can still put right: double posts, exchanged units, a tiny mass.
pub fn slips(
    tx: &mut Tx<'_>,
    case: &Case<'_>,
    moving: &Moving,
    judged: &mut Judged,
) -> Result<(), StoreError> {
    if moving
        .resolution
        .is_some_and(|resolution| moving.mass < resolution)
    {
        let text = "The mass is smaller than the smallest step of the scale.".to_string();
        let asked = as_stated("below_resolution", text, "the mass as stated");
        judged.questions.push((asked, moving.src));
    }
    let place = match (moving.src.sort(), moving.dst.sort()) {
        (_, Sort::Appliance) => moving.dst,
        (Sort::Appliance, _) => moving.src,
        _ => return Ok(()),
    };
    let Some(kind) = crate::store::columns::event_kind(case.kind) else {
        return Ok(());
    };
    let name = name_of(tx.subject(place)?);
    let brief = tx.subject(place)?.brief.clone();
    let mut events = tx.history(place)?.to_vec();
    events.retain(|event| !case.chain.contains(&event.entry));
    if let Some(question) = look_alike(&events, case, moving, kind, &name) {
        judged.questions.push((question, place));
    }
    if matches!(kind, Kind::Charge | Kind::OutsideCharge) {
        let mut facts = Facts::default();
        if let Some(full) = brief.full_charge_on(case.day) {
            facts.set("full_charge", Facts::ALWAYS, FactValue::Mass(full));
        }
        if rate_jumps(events, &facts, case, moving, kind) {
            let text =
                format!("This makes the leak rate of {name} more than three times the last.");
            judged
                .questions
                .push((as_stated("rate_jump", text, "the mass as stated"), place));
        }
    }
    Ok(())
}

fn look_alike(
    events: &[Event],
    case: &Case<'_>,
    moving: &Moving,
    kind: Kind,
    name: &str,
) -> Option<crate::actions::refusal::Question> {
    let near = moving.resolution.map_or(0, |resolution| resolution.steps());
    let alike = |event: &&Event| {
        event.kind == kind
            && event.refrigerant == moving.refrigerant
            && (event.mass.steps() - moving.mass.steps()).abs() <= near
            && event.day.days_since(case.day).abs() <= 1
    };
    let twin = events.iter().rev().find(alike)?;
    let same_visit = twin.visit.is_some() && twin.visit == case.visit.map(|id| id.bits());
    let code = if same_visit {
        "same_mass"
    } else {
        "look_alike"
    };
    let text = format!(
        "This looks like entry no. {} about {name} on {}: the same kind and the same mass. Is it \
         another job?",
        twin.entry, twin.day
    );
    Some(as_stated(code, text, "a second entry beside the first"))
}

/// More than three times the last annualised rate.
fn rate_jumps(
    mut events: Vec<Event>,
    facts: &Facts,
    case: &Case<'_>,
    moving: &Moving,
    kind: Kind,
) -> bool {
    let reading = Reading {
        netting: Netting::Visit,
        leaves_out_installation: true,
        leaves_out_after_retrofit: true,
        leaves_out_seasonal: true,
        first_days: FirstDays::Year,
        counts_from: None,
    };
    let last = leak_rate::additions(&events, facts, &reading)
        .iter()
        .filter(|addition| addition.day <= case.day)
        .filter_map(leak_rate::Addition::annualised)
        .next_back();
    let mut event = Event::new(kind, case.day, moving.mass);
    event.entry = u64::MAX;
    event.chain = u128::MAX;
    event.second = case.second;
    event.visit = case.visit.map(|id| id.bits());
    event.leak = case.leak.map(|id| id.bits());
    event.reason = case.reason.and_then(crate::store::columns::reason_named);
    event.refrigerant = moving.refrigerant;
    events.push(event);
    Event::sort(&mut events);
    let now = leak_rate::additions(&events, facts, &reading)
        .iter()
        .filter(|addition| addition.day == case.day)
        .filter_map(leak_rate::Addition::annualised)
        .next_back();
    let (Some(last), Some(now)) = (last, now) else {
        return false;
    };
    let three_times = reports::number::Fraction::new(last.numerator() * 3, last.denominator());
    last.numerator() > 0 && now > three_times
}

/// A day in the future or older than the late setting.
pub fn days(case: &Case<'_>, judged: &mut Judged) {
    let moved = case.moves.first().map(|moving| moving.src);
    let place = moved.unwrap_or(PlaceNumber::OTHER);
    if case.day > case.today {
        let text = format!(
            "{} lies in the future; today is {} there.",
            case.day, case.today
        );
        judged
            .questions
            .push((as_stated("future_day", text, "the day as stated"), place));
    }
    // Registers are full of older days; late is what moved and was not told in time.
    if moved.is_some() && case.today.days_since(case.day) > case.late_days {
        judged.late = true;
        let text = format!(
            "{} is more than {} days ago; it will be marked late.",
            case.day, case.late_days
        );
        judged.questions.push((
            as_stated("old_day", text, "the day as stated, marked late"),
            place,
        ));
    }
}
