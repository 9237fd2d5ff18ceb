//! One-time codes from the time: RFC 6238 over RFC 4226 with SHA-1, six digits, steps of 30 seconds.
//! It is what every authenticator app reads; SHA-1 serves here as a keyed function, for which its
//! collisions do no harm (RFC 6194, section 3.3, from memory).

use super::door::SECOND;
use ring::hmac;
use std::fmt::Write;

/// Bytes of a seed: 160 bits (RFC 4226, section 4, R6).
pub const SEED: usize = 20;
/// Digits of a code.
pub const DIGITS: usize = 6;
/// Seconds of a step.
pub const STEP: i64 = 30;
/// So many steps before and after the one of now are taken: clocks of phones are not the same.
pub const NEAR: i64 = 1;

/// The step of a moment.
pub fn step(now: i64) -> i64 {
    now.div_euclid(STEP * SECOND)
}

/// The code of a step (RFC 4226, section 5.3), with so many digits.
pub fn code(seed: &[u8], step: i64, digits: usize) -> String {
    let key = hmac::Key::new(hmac::HMAC_SHA1_FOR_LEGACY_USE_ONLY, seed);
    let tag = hmac::sign(&key, &step.to_be_bytes());
    let tag = tag.as_ref();
    let offset = tag.last().map_or(0, |last| usize::from(last & 0xf));
    let four = tag.iter().skip(offset).take(4);
    let number = four.fold(0_u32, |sum, byte| sum << 8 | u32::from(*byte)) & 0x7fff_ffff;
    let number = format!("{number:010}");
    number[10 - digits.min(10)..].to_string()
}

/// The newest step around a moment whose code this is, and that comes after the last one taken. All
/// are worked out, whichever fits.
pub fn fitting(seed: &[u8], typed: &str, now: i64, last: i64) -> Option<i64> {
    let around = step(now) - NEAR..=step(now) + NEAR;
    let mut found = None;
    for step in around.filter(|step| *step > last) {
        if same(&code(seed, step, DIGITS), typed) {
            found = Some(step);
        }
    }
    found
}

/// Compares in a time that says nothing of where they differ.
fn same(one: &str, other: &str) -> bool {
    let differ = |sum, (a, b): (u8, u8)| sum | (a ^ b);
    one.len() == other.len() && one.bytes().zip(other.bytes()).fold(0, differ) == 0
}

/// Letters of base 32 (RFC 4648, section 6).
const LETTERS: &[u8; 32] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";

/// Bytes in base 32, without padding.
pub fn base32(bytes: &[u8]) -> String {
    let letter = |five: &[u8]| {
        let bits = five
            .iter()
            .fold(0_u64, |sum, byte| sum << 8 | u64::from(*byte));
        let bits = bits << (8 * (5 - five.len()));
        let count = (five.len() * 8).div_ceil(5);
        let at = move |n: usize| LETTERS[(bits >> (35 - 5 * n) & 31) as usize] as char;
        (0..count).map(at).collect::<String>()
    };
    bytes.chunks(5).map(letter).collect()
}

/// The same in groups of four, to be read and typed.
pub fn grouped(text: &str) -> String {
    let mut grouped = String::new();
    for (at, letter) in text.chars().enumerate() {
        if at > 0 && at % 4 == 0 {
            grouped.push(' ');
        }
        grouped.push(letter);
    }
    grouped
}

/// The address that a square hands to an authenticator app: the form that these apps read (common
/// practice; no standard describes it).
pub fn address(seed: &[u8], issuer: &str, account: &str) -> String {
    let (issuer, account) = (encoded(issuer), encoded(account));
    let secret = base32(seed);
    format!(
        "otpauth://totp/{issuer}:{account}?secret={secret}&issuer={issuer}&algorithm=SHA1&\
         digits={DIGITS}&period={STEP}"
    )
}

/// A text within an address (RFC 3986, section 2.1). Colons are left out of it: one divides.
fn encoded(text: &str) -> String {
    let mut encoded = String::new();
    for byte in text.replace(':', " ").bytes() {
        if byte.is_ascii_alphanumeric() || b"-_.~@".contains(&byte) {
            encoded.push(byte as char);
        } else {
            // Writing into memory does not fail.
            let _ = write!(encoded, "%{byte:02X}");
        }
    }
    encoded
}

/// Letters of a recovery code: 100 bits.
const RECOVERY: usize = 20;

/// A recovery code from random bytes, as it is shown.
pub fn recovery_code(bytes: &[u8; RECOVERY]) -> String {
    // A byte has eight times each letter, so all are alike.
    let letter = |byte: &u8| LETTERS[usize::from(byte & 31)] as char;
    let plain: String = bytes.iter().map(letter).collect();
    let groups: Vec<&str> = (0..4).map(|n| &plain[n * 5..n * 5 + 5]).collect();
    groups.join("-")
}

/// What somebody typed.
#[derive(Debug, PartialEq, Eq)]
pub enum Typed {
    /// Six digits.
    Code(String),
    /// A recovery code, in its plain form.
    Recovery(String),
    /// Neither.
    Other,
}

/// Reads what was typed: blanks and hyphens do not count, small letters are large ones, and digits
/// that are no letters of base 32 are those they look like.
pub fn read(text: &str) -> Typed {
    let kept = text.chars().filter(|c| !c.is_whitespace() && *c != '-');
    let plain: String = kept.take(RECOVERY + 1).collect();
    if plain.len() == DIGITS && plain.bytes().all(|b| b.is_ascii_digit()) {
        return Typed::Code(plain);
    }
    let meant = |letter: char| match letter.to_ascii_uppercase() {
        '0' => 'O',
        '1' => 'I',
        '8' => 'B',
        other => other,
    };
    let plain: String = plain.chars().map(meant).collect();
    match plain.len() == RECOVERY && plain.bytes().all(|b| LETTERS.contains(&b)) {
        true => Typed::Recovery(plain),
        false => Typed::Other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 6238, appendix B: the SHA-1 lines of its table, with eight digits; the seed is the ASCII
    /// text of twenty digits.
    #[test]
    fn codes_are_those_of_rfc_6238() {
        for (seconds, expected) in [
            (59, "94287082"),
            (1_111_111_109, "07081804"),
            (1_111_111_111, "14050471"),
            (1_234_567_890, "89005924"),
            (2_000_000_000, "69279037"),
            (20_000_000_000, "65353130"),
        ] {
            let step = step(seconds * SECOND);
            let found = code(b"12345678901234567890", step, 8);
            assert_eq!(found, expected, "at {seconds} s");
        }
    }

    /// RFC 4226, appendix D: counts 0 to 9, six digits, the same seed.
    #[test]
    fn codes_are_those_of_rfc_4226() {
        let expected = [
            "755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583",
            "399871", "520489",
        ];
        for (count, expected) in (0..).zip(expected) {
            assert_eq!(code(b"12345678901234567890", count, DIGITS), expected);
        }
    }

    /// RFC 4648, section 10, without its padding.
    #[test]
    fn base_32_is_that_of_rfc_4648() {
        for (text, expected) in [
            ("", ""),
            ("f", "MY"),
            ("fo", "MZXQ"),
            ("foo", "MZXW6"),
            ("foob", "MZXW6YQ"),
            ("fooba", "MZXW6YTB"),
            ("foobar", "MZXW6YTBOI"),
        ] {
            assert_eq!(base32(text.as_bytes()), expected);
        }
    }

    /// One step before and after are taken, two are not, and none that is not newer than the last.
    /// The codes are those of RFC 4226, appendix D.
    #[test]
    fn one_step_around_now_is_taken_and_each_once() {
        let seed = b"12345678901234567890";
        let now = 5 * STEP * SECOND;
        for (typed, fits) in [
            ("969429", None), // of step 3
            ("338314", Some(4)),
            ("254676", Some(5)),
            ("287922", Some(6)),
            ("162583", None), // of step 7
            ("25467", None),
            ("2546760", None),
        ] {
            assert_eq!(fitting(seed, typed, now, 0), fits, "{typed}");
        }
        assert_eq!(fitting(seed, "254676", now, 5), None, "taken before");
        assert_eq!(fitting(seed, "338314", now, 5), None, "older than the last");
        assert_eq!(fitting(seed, "287922", now, 5), Some(6));
    }

    #[test]
    fn what_is_typed_is_read_with_blanks_and_small_letters() {
        assert_eq!(read(" 254 676 "), Typed::Code("254676".to_string()));
        let plain = "ABCDEFGHIJKLMNOPQ234".to_string();
        assert_eq!(read("abcde-fghij-klmn0-pq234"), Typed::Recovery(plain));
        for other in [
            "",
            "25467",
            "２５４６７６",
            "ABCDE-FGHIJ-KLMNO-PQ2349",
            "ABCDE",
        ] {
            assert_eq!(read(other), Typed::Other, "{other}");
        }
        let shown = recovery_code(&[0; RECOVERY]);
        assert_eq!(shown, "AAAAA-AAAAA-AAAAA-AAAAA");
    }

    #[test]
    fn the_address_of_a_square_says_all_an_app_needs() {
        assert_eq!(
            address(
                b"12345678901234567890",
                "Tamarack: Ridge",
                "ines@tamarack.example"
            ),
            "otpauth://totp/Tamarack%20%20Ridge:ines@tamarack.example?\
             secret=GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ&issuer=Tamarack%20%20Ridge&algorithm=SHA1&\
             digits=6&period=30"
        );
        assert_eq!(grouped("GEZDGNBVGY"), "GEZD GNBV GY");
    }
}
