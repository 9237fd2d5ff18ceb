//! Links as squares that a telephone's own camera opens (ISO/IEC 18004), drawn as one path.
//!
//! Error level Q, and four modules of white around it belong to the drawing. A square has at least
//! 33 modules a side, so that in 25 mm of paper the dark part is never smaller than 20 mm.

use qrcode::types::Color;
use qrcode::{EcLevel, QrCode, Version};

/// Modules of white on each side.
const QUIET: usize = 4;

/// A square as it is drawn.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Square {
    /// Modules a side, white included.
    pub side: usize,
    /// The path of its dark modules.
    pub path: String,
    /// The same as runs: column, row, length.
    pub runs: Vec<(usize, usize, usize)>,
}

/// The square of a link; none: it is too long for any (nobody's address is).
pub fn square(link: &str) -> Option<Square> {
    let least = QrCode::with_version(link, Version::Normal(4), EcLevel::Q);
    let code = least.or_else(|_| QrCode::with_error_correction_level(link, EcLevel::Q));
    let code = code.ok()?;
    let width = code.width();
    let colors = code.to_colors();
    let mut path = String::new();
    let mut runs = Vec::new();
    for (row, line) in colors.chunks(width).enumerate() {
        let mut at = 0;
        while at < width {
            let dark = line[at..]
                .iter()
                .take_while(|color| **color == Color::Dark)
                .count();
            if dark > 0 {
                let (x, y) = (at + QUIET, row + QUIET);
                path.push_str(&format!("M{x} {y}h{dark}v1h-{dark}z"));
                runs.push((x, y, dark));
            }
            at += dark.max(1);
        }
    }
    Some(Square {
        side: width + 2 * QUIET,
        path,
        runs,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO/IEC 18004 (from memory): version 4 has 33 modules a side; a finder pattern is a ring of
    /// 7 x 7 modules, so the first row begins with seven dark ones and ends with seven.
    #[test]
    fn a_link_is_a_square_with_its_finder_patterns_and_white_around() {
        let square = square("https://book.example/q/C7K3M9PK").unwrap();
        assert_eq!(square.side, 33 + 8);
        assert!(square.path.starts_with("M4 4h7v1h-7z"), "{}", square.path);
        assert!(square.path.contains("M30 4h7v1h-7z"), "{}", square.path);
        let long = format!("https://{}.example/q/C7K3M9PK", "b".repeat(60));
        assert!(super::square(&long).unwrap().side > 41);
        assert_eq!(super::square(&"x".repeat(5_000)), None);
    }
}
