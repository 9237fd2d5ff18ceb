//! The cylinders in the field: those that the reader has, then the others; and the card of one, with
//! what must be known before it is opened and who has it. Both are kept by the phone. Where a card was
//! never opened, the phone draws it from the list it keeps (`find.mjs`).

use super::held::{SHOP, people};
use super::{FieldFrame, page};
use crate::actions::code;
use crate::actions::permit::Deed;
use crate::actions::show::cage::{self, CylinderShown, Listed};
use crate::actions::show::things::{self, Sort, ThingShown};
use crate::actions::show::{Organisation, Sees, found, overview};
use crate::actions::{ActionError, judge::cut_text};
use crate::http::{Problem, State};
use crate::ledger::id::Id;
use crate::pages::appliance::FactLine;
use crate::pages::appliances::fact;
use crate::pages::cage as office;
use crate::pages::cylinder::OpenFinding;
use crate::pages::way::{Visit, go_to};
use crate::pages::{cautions, cylinder, encoded, words};
use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use askama::Template;
use reports::mass;

/// Cylinders of one page; a firm has hundreds.
const MOST: usize = 200;
/// Conditions with which nothing is charged into an appliance.
const UNFIT: [&str; 4] = ["suspect", "burn_out", "mixed", "unknown"];

/// The list.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/cage.html")]
pub struct FieldCage {
    /// Around the page.
    pub field: FieldFrame,
    /// Those that the reader has.
    pub own: Vec<CageLine>,
    /// The others.
    pub others: Vec<CageLine>,
    /// The address of those further on.
    pub next: Option<String>,
}

/// A cylinder in two lines.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CageLine {
    /// Where its card is.
    pub href: String,
    /// Its tag.
    pub tag: String,
    /// What is in it.
    pub content: String,
    /// Mass, room, what closes it, who has it.
    pub below: String,
}

/// The address of the card of a cylinder.
pub fn card_path(tag: &str, id: &str) -> String {
    format!("/field{}", crate::pages::cylinder_path(tag, id))
}

/// Who has a cylinder, as it is said.
pub fn in_hand(held_by: &str) -> &str {
    match held_by {
        SHOP => "the shop",
        other => other,
    }
}

impl CageLine {
    fn of(one: &Listed) -> CageLine {
        let (thing, fill) = (&one.thing, &one.fill);
        // That a disposable cylinder is never refilled is said on its card; here it would stand everywhere.
        let closed: Vec<&str> = fill
            .closed
            .iter()
            .copied()
            .filter(|word| *word != "disposable")
            .collect();
        let room = match (closed.is_empty(), fill.closed.is_empty()) {
            (false, _) => Some(office::closed(&closed)),
            (true, true) => Some(format!("room {}", room(thing, fill))),
            (true, false) => None,
        };
        let mass = (fill.net != 0).then(|| mass::lb_oz_text(fill.net));
        let by = fact(thing, "held_by").map(|who| format!("held by {}", in_hand(who)));
        let below: Vec<String> = [mass, room, by].into_iter().flatten().collect();
        CageLine {
            href: card_path(&thing.tag, &thing.id),
            tag: thing.tag.clone(),
            content: office::content(thing),
            below: below.join("; "),
        }
    }
}

/// The name under which the reader has cylinders; empty: no person reads.
pub fn own_name(
    state: &State,
    of: &Organisation,
    person: Option<Id>,
) -> Result<String, ActionError> {
    let Some(person) = person else {
        return Ok(String::new());
    };
    let id = person.to_string();
    let read = |db: &mut _| things::one(db, of, Sort::Person, &id);
    let person = state.desk.read(read)?;
    Ok(fact(&person, "name").unwrap_or(&person.tag).to_string())
}

/// `GET /field/cage`.
pub async fn list(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, person, now) = (
        by.signed_in.of.clone(),
        by.signed_in.person,
        visit.asked.now,
    );
    let after = visit.asked.query.text("after").unwrap_or_default();
    let after = after.to_string();
    let field = FieldFrame::of(&visit)?;
    let read = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        let name = own_name(state, &of, person)?;
        let read = |db: &mut _| cage::page(db, &of, &after, MOST, today);
        let listed = state.desk.read(read)?;
        let has = |one: &&Listed| !name.is_empty() && fact(&one.thing, "held_by") == Some(&name);
        let (own, others): (Vec<_>, Vec<_>) = listed.items.iter().partition(has);
        let next = |after: String| format!("/field/cage?after={}", encoded(&after));
        Ok(FieldCage {
            field,
            own: own.into_iter().map(CageLine::of).collect(),
            others: others.into_iter().map(CageLine::of).collect(),
            next: listed.next.map(next),
        })
    });
    Ok(page(StatusCode::OK, &read.await?))
}

/// The card.
#[derive(Clone, Debug, Default, Template)]
#[template(path = "field/cylinder-card.html")]
pub struct CylinderCard {
    /// Around the page.
    pub field: FieldFrame,
    /// The token of the forms.
    pub form_token: String,
    /// Made when the page was served, so that a second press books nothing twice.
    pub entry_id: String,
    /// Its tag.
    pub tag: String,
    /// The code of its label.
    pub code: String,
    /// Its page with everything.
    pub href: String,
    /// Its card.
    pub card: String,
    /// What closes it.
    pub closed: String,
    /// What must be known.
    pub facts: Vec<FactLine>,
    /// What is open about it.
    pub findings: Vec<OpenFinding>,
    /// Is there more of it?
    pub more_findings: bool,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Who has it; empty: nobody is said to.
    pub held_by: String,
    /// Does the reader have it?
    pub own: bool,
    /// The name under which the reader has cylinders.
    pub own_name: String,
    /// Who else can be given it: id and name.
    pub people: Vec<(String, String)>,
    /// Where its custody is said.
    pub held: String,
    /// May something be charged from it?
    pub charges: bool,
    /// May something be recovered into it?
    pub takes: bool,
    /// The appliance that was typed and is not known.
    pub unknown: String,
}

impl CylinderCard {
    /// The card of what was read, for whoever has this name.
    fn of(mut self, shown: &CylinderShown, name: &str, today: reports::day::Day) -> CylinderCard {
        let (thing, fill) = (&shown.thing, &shown.fill);
        let id = Id::parse(&thing.id).and_then(|id| code::of(Sort::Cylinder, id));
        let held = fact(thing, "held_by").unwrap_or_default();
        let unfit = (shown.class.as_deref()).is_some_and(|class| UNFIT.contains(&class));
        self.code = id.map(|code| code::grouped(&code)).unwrap_or_default();
        self.tag.clone_from(&thing.tag);
        self.href = crate::pages::cylinder_path(&thing.tag, &thing.id);
        self.card = card_path(&thing.tag, &thing.id);
        self.held = format!("/cylinders/{}/held", thing.id);
        self.closed = words::capital(&office::closed(&fill.closed));
        let stays = thing.quarantine.is_some() || shown.only_to_reclaim.is_some();
        self.charges = fill.net != 0 && !stays && !unfit;
        self.takes = fact(thing, "use") == Some("recovery") && fill.closed.is_empty();
        self.held_by = in_hand(held).to_string();
        self.own_name = name.to_string();
        self.own = !name.is_empty() && held == name;
        self.facts = known(shown, today);
        self.cautions = cautions_of(thing);
        self
    }
}

/// The room; where the book holds less than nothing an entry is missing, and nobody knows it.
fn room(thing: &ThingShown, fill: &cage::Fill) -> String {
    let mut held = thing.balances.iter().flatten();
    match fill.closed.is_empty() && held.any(|held| held.mass.g.starts_with('-')) {
        true => "not known: count it first".to_string(),
        false => office::room(fill),
    }
}

/// What must be known before it is opened, the content first.
fn known(shown: &CylinderShown, today: reports::day::Day) -> Vec<FactLine> {
    let fill = &shown.fill;
    let of = |name, value| FactLine {
        name,
        value,
        entry: None,
    };
    let content = words::capital(&office::content(&shown.thing));
    let mut known = vec![
        of(
            "Content",
            match fill.net {
                0 => content,
                net => format!(
                    "{content}, {} = {}",
                    mass::lb_oz_text(net),
                    mass::kg_text(net)
                ),
            },
        ),
        of("Room left", words::capital(&room(&shown.thing, fill))),
    ];
    if let Some((limit, tare)) = fill.limit.as_ref().zip(fill.brief.tare) {
        let steps = i128::from(limit.limit.steps()) + i128::from(tare.steps());
        let both = format!("{} = {}", cut_text(steps), mass::kg_text(steps));
        known.push(of("On the scale never more than", both));
    }
    known.extend(cylinder::facts(shown, today));
    if shown.only_to_reclaim.is_some() {
        known.push(of("Goes to", "reclaim or destruction only".to_string()));
    }
    known
}

fn cautions_of(thing: &ThingShown) -> Vec<String> {
    let names = (thing.balances.iter().flatten()).map(|held| held.refrigerant.as_str());
    let mut all = vec![cautions::PRESSURE.to_string()];
    all.extend(names.filter_map(cautions::of_class));
    all
}

/// `GET /field/cylinders/{id}`. With an appliance and what is to be done there, it leads to the form.
pub async fn card(visit: Visit) -> Result<HttpResponse, Problem> {
    let by = visit.by()?;
    let (of, person, now) = (
        by.signed_in.of.clone(),
        by.signed_in.person,
        visit.asked.now,
    );
    let text = |name| visit.asked.query.text(name).unwrap_or_default().trim();
    let follows = by.may(Deed::ReadFollowUps);
    let (unit, deed) = (text("appliance").to_string(), text("deed").to_string());
    let name = visit.asked.name("id").to_string();
    let made = CylinderCard {
        field: FieldFrame::of(&visit)?,
        form_token: visit.token.clone(),
        entry_id: Id::at(u64::try_from(now / 1_000).unwrap_or_default()).to_string(),
        ..CylinderCard::default()
    };
    let read = visit.asked.read(move |state| {
        let (today, _) = state.desk.read(|db| overview::today(db, &of, now))?;
        let one = |db: &mut _| cage::one(db, &of, &name, Some(today), Sees::Names);
        let shown = state.desk.read(one)?;
        let own = own_name(state, &of, person)?;
        let mut card = made.of(&shown, &own, today);
        if follows {
            let open = |db: &mut _| found::about(db, &of, &shown.thing.id, Sees::Names);
            let open = state.desk.read(open)?;
            (card.findings, card.more_findings) = OpenFinding::all(&open);
        }
        if !unit.is_empty() && ["charge", "recover"].contains(&deed.as_str()) {
            let read = |db: &mut _| things::meant(db, &of, Sort::Appliance, &unit);
            if let Some(unit) = state.desk.read(read)? {
                let path = crate::pages::appliance_path(&unit.tag, &unit.id);
                return Ok(Err(format!(
                    "{path}/{deed}?cylinder={}",
                    encoded(&card.tag)
                )));
            }
            card.unknown = unit;
        }
        card.people = people(state, &of, &own)?;
        Ok(Ok(card))
    });
    Ok(match read.await? {
        Ok(card) => page(StatusCode::OK, &card),
        Err(form) => go_to(&form),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pages::sample;
    use reports::day::Day;

    fn shown(usage: &str) -> CylinderShown {
        let standing = sample::standing(None, Vec::new());
        let mut thing = sample::overview(&sample::hostile(), "R-410A", standing).thing;
        let fact = |is: &str| {
            vec![things::FactShown {
                from: "2026-01-01".to_string(),
                is: is.into(),
                entry: 3,
            }]
        };
        thing.facts.insert("use".to_string(), fact(usage));
        thing
            .facts
            .insert("held_by".to_string(), fact(&sample::hostile()));
        CylinderShown {
            only_to_reclaim: None,
            thing,
            fill: cage::Fill {
                net: 1,
                ..cage::Fill::default()
            },
            owners: vec![sample::hostile()],
            class: None,
            checks: Vec::new(),
            entries: Vec::new(),
        }
    }

    #[test]
    fn a_card_offers_what_makes_sense_and_hostile_names_stay_text() {
        let today = Day::parse("2026-07-14").unwrap();
        let of = |shown: &CylinderShown, name: &str| {
            let mut card = CylinderCard {
                people: vec![("1".to_string(), sample::hostile())],
                unknown: sample::hostile(),
                ..CylinderCard::default()
            };
            card.field.person = "somebody".to_string();
            card.of(shown, name, today)
        };
        let mut one = shown("recovery");
        let card = of(&one, &sample::hostile());
        assert!(card.own && card.charges && card.takes);
        // Who posts has the script of the pages, and nothing else of the kind.
        let own = "<script type=\"module\" src=\"/";
        let html = card.render().unwrap();
        assert_eq!(html.matches(own).count(), 1);
        sample::is_clean(&html.replace(own, ""));
        // Burnt content goes into no appliance; a supply cylinder takes no recovered refrigerant.
        one.class = Some("burn_out".to_string());
        assert!(!of(&one, "").charges);
        assert!(!of(&shown("supply"), "somebody else").takes);
        // Less than nothing: an entry is missing, so something may be in it and no room is promised.
        let mut missing = shown("recovery");
        let held = things::BalanceShown {
            refrigerant: "R-410A".to_string(),
            mass: reports::standing::MassShown::of(-1),
        };
        missing.thing.balances = Some(vec![held]);
        missing.fill.net = -1;
        let card = of(&missing, "");
        assert!(card.charges);
        assert_eq!(card.facts[1].value, "Not known: count it first");
        one.fill.closed = vec!["expired"];
        assert!(!of(&one, "").takes);
        let line = CageLine::of(&Listed {
            thing: one.thing,
            fill: one.fill,
            class: None,
            owners: Vec::new(),
        });
        let html = FieldCage {
            own: vec![line.clone()],
            others: vec![line],
            ..FieldCage::default()
        };
        sample::is_clean(&html.render().unwrap());
    }
}
