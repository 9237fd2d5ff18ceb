//! The drawing of the cage (E33). Cylinders, contents and limits are those of the invented scenario.

use super::*;
use crate::pages::picture::read;
use crate::pages::sample::{hostile, is_as_kept};

const OUNCE: i128 = Mass::OUNCE as i128;

/// Length, content and limit in ounces; condition by its word.
fn lying(
    (tag, content, class): (&str, &str, Option<&str>),
    (whole, net, limit): (i128, i128, Option<i128>),
    room: &str,
    sign: Option<(Sign, &str)>,
) -> Lying {
    Lying {
        tag: tag.to_string(),
        content: content.to_string(),
        condition: class.map(str::to_string),
        whole: Some(whole * OUNCE),
        net: net * OUNCE,
        limit: limit.map(|limit| limit * OUNCE),
        holds: match net {
            0 => "empty".to_string(),
            net => lb_oz_text(net * OUNCE),
        },
        room: room.to_string(),
        sign: sign.map(|(sign, says)| (sign, says.to_string())),
        ground: ground(class, tag.starts_with("TR")),
        is_recovery: tag.starts_with("TR"),
    }
}

/// 47.7 lb of water hold 33 lb 6 oz of R-410A at the most (763.2 and 534 ounces).
fn cage() -> Vec<Lying> {
    let clean = Some("clean");
    let late = Some((Sign::Lock, "2026-03"));
    let held = Some((Sign::Lock, "held"));
    let due = Some((Sign::Flag, "2026-09-30"));
    vec![
        lying(
            ("SUP-90114", "R-410A", None),
            (400, 48, Some(400)),
            "never refilled",
            None,
        ),
        lying(
            ("TR-0417", "R-410A", clean),
            (763, 468, Some(534)),
            "room 4 lb 2 oz",
            None,
        ),
        lying(
            ("TR-0419", "R-410A", clean),
            (763, 330, Some(534)),
            "room 12 lb 12 oz",
            due,
        ),
        lying(
            ("TR-0409", "R-404A", Some("burn_out")),
            (419, 290, Some(324)),
            "none, test overdue",
            late,
        ),
        lying(
            ("TR-0422", "not identified", Some("suspect")),
            (763, 182, Some(321)),
            "none, under quarantine",
            held,
        ),
        lying(
            ("TR-0433", "R-22", None),
            (763, 620, Some(600)),
            "over-full by 1 lb 4 oz",
            None,
        ),
        lying(
            ("TR-0431", "empty by the book", None),
            (763, 0, None),
            "room by what goes in",
            None,
        ),
    ]
}

/// E33: XML, described, legible, the same twice and as it was kept.
#[test]
fn e33_the_cage_is_drawn_as_it_was_kept() {
    let (one, other) = (picture(&cage()).unwrap(), picture(&cage()).unwrap());
    assert_eq!(one, other);
    for (name, drawing) in [("cage-wide", &one.wide), ("cage-narrow", &one.narrow)] {
        let read = read::drawing(drawing);
        read.is_legible();
        assert_eq!(
            read.title,
            "The cage: 7 cylinders, what they hold and how much room is left"
        );
        assert!(
            read.says.contains("Closed by test or quarantine: 2."),
            "{}",
            read.says
        );
        assert!(
            read.says.contains("Tests due within 90 days: 1."),
            "{}",
            read.says
        );
        is_as_kept(name, drawing);
    }
    // 763 ounces are the 330 units of the longest; 468 of them 202.4, the limit of 534 at 231 + 166.
    let svg = one.wide.svg();
    assert!(
        svg.contains("width=\"202.4\"") && svg.contains("M397 "),
        "{svg}"
    );
    let said =
        "Least room: TR-0417 for 4 lb 2 oz of R-410A. Most: TR-0419 for 12 lb 12 oz of R-410A.";
    assert_eq!(one.sentence, said);
    assert_eq!(picture(&[]), None);
}

/// A tag is somebody's text: it stays one, and is cut where it would stand over its neighbour.
#[test]
fn e33_hostile_tags_stay_words_and_in_their_place() {
    let evil = hostile();
    let mut one = lying(
        (&evil, &evil, Some("clean")),
        (763, 468, Some(534)),
        "room 4 lb 2 oz",
        None,
    );
    one.room = evil.clone();
    one.sign = Some((Sign::Flag, "2026-09-30".to_string()));
    let drawn = picture(&[one]).unwrap();
    for drawing in [&drawn.wide, &drawn.narrow] {
        let svg = drawing.svg();
        assert!(
            !svg.contains("<script") && !svg.contains('\u{202e}'),
            "{svg}"
        );
        let read = read::drawing(drawing);
        assert!(
            read.texts.iter().any(|text| text.ends_with("...")),
            "{:?}",
            read.texts
        );
        read.is_legible();
    }
}

/// One cylinder of which nothing is known but its content; one that holds a thousand times as much.
#[test]
fn what_is_not_known_has_no_bar_and_no_end() {
    let mut unknown = lying(
        ("TR-1", "R-22", None),
        (1, 100, None),
        "room not known",
        None,
    );
    unknown.whole = None;
    let large = lying(
        ("TR-2", "R-22", None),
        (100_000, 90_000, Some(95_000)),
        "room 312 lb 8 oz",
        None,
    );
    let drawn = picture(&[unknown, large]).unwrap();
    read::drawing(&drawn.wide).is_legible();
    read::drawing(&drawn.narrow).is_legible();
    assert_eq!(drawn.sentence, "Room: TR-2 for 312 lb 8 oz of R-22.");
}

/// Nine of 30 lb and one of 300 lb: the one is cut, and its length stands in it, so that the others can be
/// read. Of nine none is cut: the longest may be every second one.
#[test]
fn a_few_long_bars_do_not_make_all_others_short() {
    let small = || {
        lying(
            ("TR-1", "R-22", None),
            (480, 240, Some(384)),
            "room 9 lb 0 oz",
            None,
        )
    };
    let large = || {
        lying(
            ("TR-2", "R-22", None),
            (4800, 0, Some(3840)),
            "room 240 lb 0 oz",
            None,
        )
    };
    let mut cage: Vec<Lying> = (0..9).map(|_| small()).collect();
    assert_eq!(scale(&cage), 480 * OUNCE);
    cage.push(large());
    assert_eq!(scale(&cage), 480 * OUNCE);
    for drawing in [picture(&cage).unwrap().wide, picture(&cage).unwrap().narrow] {
        let read = read::drawing(&drawing);
        read.is_legible();
        assert_eq!(
            read.texts.iter().filter(|text| *text == "300 lb").count(),
            1
        );
    }
    cage.drain(1..);
    cage.push(large());
    assert_eq!(scale(&cage), 4800 * OUNCE);
}
