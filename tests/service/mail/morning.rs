//! What is made on a morning: each reminder once, lists that say what the page says.

use super::*;
use api::actions::show::duties::{self, DutiesAsked, DutyItem};

/// C7: two looks a day for six weeks make each reminder once, on its day, and none of what is
/// assigned to nobody.
#[test]
fn a_duty_that_comes_due_is_reminded_of_once() {
    let (mut shop, _, letters) = ines_chose(REMINDERS);
    let mut days = Vec::new();
    let mut ids = BTreeSet::new();
    // From 13 August 2026 to 23 September.
    for day in 13..=54 {
        for _ in 0..2 {
            letters.round(&mut shop);
            for letter in letters.emptied() {
                assert_eq!(letter.to, "ines@tamarack.example");
                assert!(ids.insert(letter.id.clone()), "sent twice: {letter:?}");
                assert!(!letter.body.contains("SD-RACK-B"), "not hers: {letter:?}");
                if letter.body.contains(REPAIR) {
                    days.push(day);
                }
            }
        }
        shop.wait_minutes(DAY);
    }
    // 29 August; 9, 12 and 13 September, counted on from 31 August.
    assert_eq!(days, [29, 31 + 9, 31 + 12, 31 + 13]);
    assert!(stands(&mut shop).iter().all(|stand| *stand == Stand::Sent));
}

/// A morning that was missed is made up for; a day that has not begun at the organisation makes
/// nothing. 13 August 2026, 06:00 in Denver is 12:00 UTC, and the clock of these books shows 18:00.
#[test]
fn mail_is_made_from_the_morning_on() {
    let (mut shop, _, letters) = ines_chose(Choice {
        everything: false,
        ..DAILY
    });
    shop.wait_minutes(-6 * 60 - 1);
    assert_eq!(letters.round(&mut shop).made, 0, "05:59");
    shop.wait_minutes(1);
    assert_eq!(letters.round(&mut shop).made, 1, "06:00");
    assert_eq!(letters.round(&mut shop).made, 0, "once a day");
    shop.wait_minutes(3 * DAY - 60);
    assert_eq!(letters.round(&mut shop).made, 0, "05:00");
    shop.wait_minutes(60);
    assert_eq!(
        letters.round(&mut shop),
        done(1, 1, 0),
        "three days later one"
    );
}

/// Mondays by the calendar of August 2026: the 10th, the 17th, the 24th; the 13th is a Thursday.
#[test]
fn a_weekly_list_comes_once_a_week() {
    let (mut shop, ines, letters) = ines_chose(Choice {
        digest: Digest::Weekly,
        ..DAILY
    });
    choose(
        &mut shop,
        ines,
        Choice {
            digest: Digest::Weekly,
            everything: false,
            ..DAILY
        },
    );
    let mut days = Vec::new();
    for day in 13..=31 {
        if letters.round(&mut shop).made > 0 {
            days.push(day);
        }
        shop.wait_minutes(DAY);
    }
    assert_eq!(days, [13, 17, 24, 31], "the first at once, then on Mondays");
}

fn on_the_page(shop: &mut Shop) -> Vec<DutyItem> {
    let of = shop.of.clone();
    let asked = DutiesAsked {
        now: now(),
        most: 500,
        ..DutiesAsked::default()
    };
    let list = duties::page(&mut shop.db, &of, &asked);
    list.expect("a list").page.items
}

/// The first line of a duty in a message.
fn line_of(item: &DutyItem) -> String {
    let about = match item.tag.as_str() {
        "" => "The whole organisation",
        tag => tag,
    };
    let due = item.duty.due.as_deref();
    let day = due.map_or("no day", |due| &due[..10]);
    format!("{day}  {about}: {}", item.duty.means)
}

/// C7: the list in the message is the list of the page, in its order, and says no more than a
/// calendar: no figures, no site unless it shall.
#[test]
fn a_digest_lists_what_the_page_lists() {
    let mut shop = two_sites_over();
    let nadia = person(
        &mut shop,
        "nadia@tamarack.example",
        &[Role::ComplianceManager],
    );
    choose(&mut shop, nadia, DAILY);
    // 14 September: late at both sites.
    shop.wait_minutes(32 * DAY);
    let letters = Box::new();
    assert_eq!(letters.round(&mut shop), done(1, 1, 0));
    let letter = letters.emptied().remove(0);
    let items = on_the_page(&mut shop);
    assert!(items.len() > 4, "{} duties", items.len());
    let expected: Vec<String> = items.iter().map(line_of).collect();
    let lines: Vec<&str> = letter.body.lines().collect();
    let clauses = |line: &&str| line.contains(". Owed since ");
    let steps: Vec<&str> = (lines.windows(2))
        .filter(|pair| clauses(&pair[1]))
        .map(|pair| pair[0])
        .collect();
    assert_eq!(steps, expected, "{}", letter.body);
    let late = items.iter().filter(|item| item.stands == "late").count();
    let open = items.len() - late;
    let subject = format!("Duties of Tamarack Ridge Mechanical: {late} late, {open} to come");
    assert_eq!(letter.subject, subject);
    let first = lines.iter().find(|line| line.starts_with("LATE"));
    assert!(first.is_some(), "late stands first: {}", letter.body);
    for secret in ["Alder", "Sandstone", " lb", "%"] {
        assert!(!letter.body.contains(secret), "{secret}: {}", letter.body);
    }
    let rack = items
        .iter()
        .find(|item| item.tag == "HG-RACK-A")
        .expect("the rack");
    let link = format!(
        "https://book.example/appliances/{}",
        rack.appliance.as_deref().expect("an id")
    );
    assert!(
        lines.iter().any(|line| line.trim() == link),
        "{}",
        letter.body
    );
    choose(
        &mut shop,
        nadia,
        Choice {
            names: true,
            ..DAILY
        },
    );
    shop.wait_minutes(DAY);
    letters.round(&mut shop);
    let named = letters.emptied().remove(0);
    assert!(
        named.body.contains("HG-RACK-A, Alder Street: "),
        "{}",
        named.body
    );
}
