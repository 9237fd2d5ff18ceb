//! The pen: what it writes is XML, is described, holds no foreign markup, and is the same twice.

use super::*;

/// A drawing with everything the pen can write, under this name.
fn everything(size: Size, name: &str) -> Drawing {
    let mut pen = Pen::new("p0", size);
    let patterns = [
        Pattern::Open,
        Pattern::Cross,
        Pattern::Dense,
        Pattern::Fine,
        Pattern::Dots,
        Pattern::Level,
    ];
    for (at, pattern) in (0..).zip(patterns) {
        let corner = (units(40 * at), units(10));
        let line = Some(Stroke::of(Ink::Line, 12));
        pen.rect(corner, (units(30), 155), Fill::Pattern(pattern), line);
    }
    let signs = [
        Sign::Repair,
        Sign::Passed,
        Sign::Failed,
        Sign::Undecided,
        Sign::Flag,
        Sign::Lock,
        Sign::Weight,
    ];
    for (at, sign) in (0..).zip(signs) {
        pen.sign(sign, Ink::Ink, units(20 + 30 * at), units(50));
    }
    let words = Words::of(Ink::Over, Anchor::End).bold().halo().struck();
    pen.text(units(100), units(80), name, words);
    let points = [(0, 0), (0, units(9)), (units(5), units(9)), (units(7), 0)];
    pen.outline(&points, Fill::Ink(Ink::Shade), None);
    pen.through(&points, Stroke::of(Ink::Ruling, 10).dashed("9 5"));
    pen.line((0, 0), (-5, 15), Stroke::of(Ink::Soft, 10));
    pen.finish(units(100), name, name)
}

#[test]
fn what_the_pen_writes_is_xml_with_a_title_and_a_description() {
    for size in Size::BOTH {
        let drawing = everything(size, "HG-RACK-A");
        let read = read::drawing(&drawing);
        assert_eq!(read.title, "HG-RACK-A");
        assert_eq!(read.says, "HG-RACK-A");
        assert_eq!(read.texts, ["HG-RACK-A"]);
        assert_eq!(drawing, everything(size, "HG-RACK-A"), "the same twice");
    }
}

/// U+202E turns the writing (Unicode Standard Annex 9), U+0007 is no letter of XML (XML 1.0, 2.2).
#[test]
fn hostile_names_stay_words() {
    let long = "Ä".repeat(200);
    for name in [
        "</text><script>alert(1)</script>",
        "]]></title><!-- & \" '",
        "HG-\u{202e}A",
        "\u{7}bell",
        long.as_str(),
    ] {
        let drawing = everything(Size::Wide, name);
        let read = read::drawing(&drawing);
        assert!(!drawing.svg().contains("<script"), "{}", drawing.svg());
        assert!(!drawing.svg().contains('\u{202e}'));
        let shown = name
            .replace('\u{202e}', "[U+202E]")
            .replace('\u{7}', "\u{fffd}");
        assert_eq!(read.texts, [shown.as_str()]);
        assert_eq!(read.title, shown);
        let cut = fitted(name, units(120));
        assert!(width_of(&cut) <= units(120), "{cut}");
    }
}

/// A name of a picture cannot carry markup into the ids.
#[test]
fn ids_are_plain_and_differ_between_the_sizes() {
    let ids = |size| {
        let mut pen = Pen::new("p3-R-410A\"><b>", size);
        pen.rect((0, 0), (10, 10), Fill::Pattern(Pattern::Dots), None);
        read::drawing(&pen.finish(units(10), "a", "b")).ids
    };
    assert_eq!(
        ids(Size::Wide),
        ["p3-R-410Ab-w-t", "p3-R-410Ab-w-d", "p3-R-410Ab-w-dots"]
    );
    assert_eq!(ids(Size::Narrow)[2], "p3-R-410Ab-n-dots");
}

/// Worked by hand: common practice, no source.
#[test]
fn axes_have_round_steps() {
    assert_eq!(ticks(26, 3), [0, 10, 20, 30]);
    assert_eq!(ticks(100, 5), [0, 20, 40, 60, 80, 100]);
    assert_eq!(ticks(101, 5), [0, 50, 100, 150]);
    assert_eq!(ticks(0, 4), [0, 1]);
    assert_eq!(nice_step(12_345, 3), 5_000);
    assert_eq!(along(1, 3, units(100)), 333);
    assert_eq!(along(2, 3, units(100)), 667);
    assert_eq!((along(-1, 3, 100), along(4, 3, 100)), (0, 100));
    let steps = 45_359_237_000_000_000_000_000_000_000_i128;
    assert_eq!(along(steps, steps * 4, units(100)), 250);
    assert_eq!(along(i128::MAX / 2, i128::MAX, units(100)), 500);
}

#[test]
fn tenths_are_numbers_without_noise() {
    for (tenths, shown) in [
        (0, "0"),
        (5, "0.5"),
        (-5, "-0.5"),
        (120, "12"),
        (-123, "-12.3"),
    ] {
        assert_eq!(number(tenths), shown);
    }
}
