//! Letters of the standard fonts: which byte stands for a letter in WinAnsi, and how wide it is.
//!
//! Widths in thousandths of the size are those of the AFM files of Helvetica (from memory); where a
//! letter is not listed the width of a digit is taken. They decide where a line breaks, nothing else.

/// Widths of `space` to `~`.
const WIDTHS: [i32; 95] = [
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278, 556, 556, 556,
    556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556, 1015, 667, 667, 722, 722, 667,
    611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667,
    667, 611, 278, 278, 278, 469, 556, 333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500,
    222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
];

/// Letters beyond Latin-1 that WinAnsi has.
const EXTRA: [(char, u8); 27] = [
    ('€', 0x80),
    ('‚', 0x82),
    ('ƒ', 0x83),
    ('„', 0x84),
    ('…', 0x85),
    ('†', 0x86),
    ('‡', 0x87),
    ('ˆ', 0x88),
    ('‰', 0x89),
    ('Š', 0x8a),
    ('‹', 0x8b),
    ('Œ', 0x8c),
    ('Ž', 0x8e),
    ('‘', 0x91),
    ('’', 0x92),
    ('“', 0x93),
    ('”', 0x94),
    ('•', 0x95),
    ('–', 0x96),
    ('—', 0x97),
    ('˜', 0x98),
    ('™', 0x99),
    ('š', 0x9a),
    ('›', 0x9b),
    ('œ', 0x9c),
    ('ž', 0x9e),
    ('Ÿ', 0x9f),
];

/// A text in WinAnsi; a letter that it lacks becomes its number in brackets, and that is said.
pub fn encoded(text: &str) -> (Vec<u8>, bool) {
    let (mut bytes, mut lacks) = (Vec::with_capacity(text.len()), false);
    for letter in text.chars() {
        let extra = EXTRA.iter().find(|(known, _)| *known == letter);
        match (letter, extra) {
            (' '..='~', _) => bytes.push(letter as u8),
            // Spaces that do not break, and the minus of figures.
            ('\u{a0}' | '\u{202f}' | '\u{2009}', _) => bytes.push(b' '),
            ('−', _) => bytes.push(0x96),
            ('¡'..='ÿ', _) => bytes.push(u8::try_from(u32::from(letter)).unwrap_or(b'?')),
            (_, Some((_, byte))) => bytes.push(*byte),
            _ => {
                lacks = true;
                bytes.extend(format!("[U+{:04X}]", u32::from(letter)).bytes());
            }
        }
    }
    (bytes, lacks)
}

/// How wide a text is, in thousandths of a point.
pub fn width(bytes: &[u8], size: i32) -> i32 {
    let of = |byte: &u8| match byte {
        b' '..=b'~' => WIDTHS[usize::from(byte - b' ')],
        _ => 556,
    };
    bytes.iter().map(of).sum::<i32>() * size
}

/// A text in lines of at most so many points; a word that is longer is cut.
pub fn lines(bytes: &[u8], size: i32, most: i32) -> Vec<Vec<u8>> {
    let most = most * 1_000;
    let mut lines = Vec::new();
    let mut line: Vec<u8> = Vec::new();
    for word in bytes.split(|byte| *byte == b' ') {
        let mut with = line.clone();
        if !with.is_empty() {
            with.push(b' ');
        }
        with.extend(word);
        if width(&with, size) <= most {
            line = with;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for byte in word {
            if width(&line, size) + width(&[*byte], size) > most {
                lines.push(std::mem::take(&mut line));
            }
            line.push(*byte);
        }
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_letter_that_the_font_lacks_is_its_number_and_nothing_is_left_out() {
        assert_eq!(encoded("7 lb − 4 oz"), (b"7 lb \x96 4 oz".to_vec(), false));
        assert_eq!(encoded("Žižkov"), (b"\x8ei\x9ekov".to_vec(), false));
        assert_eq!(encoded("中A"), (b"[U+4E2D]A".to_vec(), true));
        assert_eq!(encoded("26.3\u{202f}%"), (b"26.3 %".to_vec(), false));
    }

    /// Six times `W`, 944 thousandths each, at 10 points are 56.64 points.
    #[test]
    fn a_line_breaks_before_its_measure_and_a_long_word_is_cut() {
        assert_eq!(width(b"WWWWWW", 10), 56_640);
        assert_eq!(
            lines(b"WWW WWW", 10, 57),
            [b"WWW".to_vec(), b"WWW".to_vec()]
        );
        assert_eq!(
            lines(b"WWWWWWW", 10, 57),
            [b"WWWWWW".to_vec(), b"W".to_vec()]
        );
        assert_eq!(lines(b"a b", 10, 57), [b"a b".to_vec()]);
    }
}
