//! From where the rolling year counts, and which follow-ups are numbered.

use super::*;
use crate::pages::standing::other_rates;

/// 40 CFR 82.152: the rolling year counts anew since a passed test. The standing and the picture say so in the
/// same words, with the day up to which the figure of the addition goes.
#[test]
fn standing_and_picture_agree_on_the_rolling_year() {
    let (standing, mut course) = rack();
    let year = "By the other method, rolling year up to 14 July 2026: 11.3\u{202f}%. The site goes by the \
                annualising one.";
    assert_eq!(other_rates(&standing, Some(&course)), [year]);
    course.last = day("2026-11-26");
    course.restarted = Some(day("2026-07-28"));
    course.rolling.push(RollingFrom {
        from: day("2026-07-28"),
        percent: Some(Fraction::new(0, 210)),
    });
    let now = "The rolling year now, since the test passed on 28 July 2026";
    let said = format!("{now}: 0.0\u{202f}%.");
    assert_eq!(other_rates(&standing, Some(&course)), [year, &said]);
    let shown = LossPicture::of("HG-RACK-A", &standing, &course).unwrap();
    let row = shown.rows.last().unwrap();
    assert_eq!(
        (row.what.as_str(), row.rolling.as_str()),
        (now, "0.0\u{202f}%")
    );
    for (drawing, text) in [
        (&shown.picture.wide, "year since 28 Jul"),
        (
            &shown.picture.narrow,
            "Thin line: year since 28 Jul, now 0.0\u{202f}%",
        ),
    ] {
        let read = read::drawing(drawing);
        read.is_legible();
        assert!(read.texts.iter().any(|one| one == text), "{:?}", read.texts);
        assert!(
            read.says
                .ends_with("since the test passed on 28 July 2026."),
            "{}",
            read.says
        );
    }
}

/// A follow-up that was over before the picture begins is nowhere on the page, so the next is the first.
#[test]
fn follow_ups_are_numbered_as_they_are_drawn() {
    let (standing, mut course) = rack();
    course.first = day("2025-03-01");
    let shown = LossPicture::of("HG-RACK-A", &standing, &course).unwrap();
    let sentence = &shown.picture.sentence;
    assert!(
        sentence.contains("follow-up 1 open since 14 July 2026"),
        "{sentence}"
    );
    let texts = read::drawing(&shown.picture.wide).texts;
    assert!(texts.iter().any(|text| text == "follow-up 1"), "{texts:?}");
}
