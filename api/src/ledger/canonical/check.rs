//! Reads bytes and says whether they are in the canonical form, without building anything.
//!
//! A book of a million leaves is checked in about a second; building and writing each of them anew
//! takes several times as long.

use super::{DEEPEST, LARGEST_NUMBER, LONGEST, NotCanonical, check_text};

/// Are these bytes exactly what [`super::to_canonical`] writes for the value they stand for?
pub fn check(bytes: &[u8]) -> Result<(), NotCanonical> {
    if bytes.len() > LONGEST {
        return Err(NotCanonical::TooLong);
    }
    let mut reader = Reader { bytes, at: 0 };
    reader.value(0)?;
    if reader.at == bytes.len() {
        Ok(())
    } else {
        Err(reader.spelling())
    }
}

/// Bytes that stand for themselves in a string and need no second look.
const PLAIN: [bool; 256] = {
    let mut plain = [false; 256];
    let mut byte = 0x20;
    while byte < 0x7f {
        plain[byte] = byte != b'"' as usize && byte != b'\\' as usize;
        byte += 1;
    }
    plain
};

/// How many bytes from the start stand for themselves. Eight are looked at together: most of a leaf
/// is text of this kind.
fn plain_length(bytes: &[u8]) -> usize {
    const ONES: u64 = u64::from_ne_bytes([1; 8]);
    const HIGH: u64 = u64::from_ne_bytes([0x80; 8]);
    // The high bit of a byte that is nothing, and perhaps of bytes above it in the word.
    let nothing = |word: u64| word.wrapping_sub(ONES) & !word & HIGH;
    let is_plain = |word: u64| {
        let below_space = word.wrapping_sub(ONES * 0x20) & !word;
        let delete_or_beyond = word.wrapping_add(ONES) | word;
        let quote = nothing(word ^ (ONES * u64::from(b'"')));
        let backslash = nothing(word ^ (ONES * u64::from(b'\\')));
        ((below_space | delete_or_beyond) & HIGH) | quote | backslash == 0
    };
    let (words, _) = bytes.as_chunks::<8>();
    let whole = words
        .iter()
        .position(|word| !is_plain(u64::from_ne_bytes(*word)))
        .unwrap_or(words.len());
    let rest = &bytes[whole * 8..];
    let last = rest.iter().position(|byte| !PLAIN[usize::from(*byte)]);
    whole * 8 + last.unwrap_or(rest.len())
}

/// A string: what stands between the quotes, escapes left as they are.
#[derive(Clone, Copy)]
struct Text<'a> {
    text: &'a [u8],
    /// ASCII without escapes, which compares byte by byte.
    simple: bool,
}

impl Text<'_> {
    /// Does another name come after this one, compared as UTF-16 without escapes?
    fn is_before(self, other: Text<'_>) -> bool {
        if self.simple && other.simple {
            return self.text < other.text;
        }
        self.units() < other.units()
    }

    /// A backslash stands only before a quote or a backslash, so dropping the first of each pair
    /// gives the name itself.
    fn units(self) -> Vec<u16> {
        let mut escaped = false;
        let text = String::from_utf8_lossy(self.text);
        let kept = text.chars().filter(|c| {
            escaped = *c == '\\' && !escaped;
            !escaped
        });
        kept.collect::<String>().encode_utf16().collect()
    }
}

struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Reader<'a> {
    fn spelling(&self) -> NotCanonical {
        NotCanonical::Spelling { at: self.at }
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn take(&mut self, word: &[u8]) -> Result<(), NotCanonical> {
        if !self.bytes[self.at..].starts_with(word) {
            return Err(self.spelling());
        }
        self.at += word.len();
        Ok(())
    }

    fn value(&mut self, depth: usize) -> Result<(), NotCanonical> {
        if depth > DEEPEST {
            return Err(NotCanonical::TooDeep);
        }
        match self.peek() {
            Some(b'"') => self.text().map(|_| ()),
            Some(b'{') => self.object(depth),
            Some(b'[') => self.array(depth),
            Some(b't') => self.take(b"true"),
            Some(b'f') => self.take(b"false"),
            Some(b'n') => Err(NotCanonical::Null),
            _ => self.number(),
        }
    }

    fn array(&mut self, depth: usize) -> Result<(), NotCanonical> {
        self.at += 1;
        if self.peek() == Some(b']') {
            self.at += 1;
            return Ok(());
        }
        loop {
            self.value(depth + 1)?;
            match self.peek() {
                Some(b',') => self.at += 1,
                _ => return self.take(b"]"),
            }
        }
    }

    fn object(&mut self, depth: usize) -> Result<(), NotCanonical> {
        self.at += 1;
        if self.peek() == Some(b'}') {
            self.at += 1;
            return Ok(());
        }
        let mut last: Option<Text<'_>> = None;
        loop {
            let start = self.at;
            let name = self.text()?;
            if last.is_some_and(|last| !last.is_before(name)) {
                return Err(NotCanonical::Spelling { at: start });
            }
            last = Some(name);
            self.take(b":")?;
            self.value(depth + 1)?;
            match self.peek() {
                Some(b',') => self.at += 1,
                _ => return self.take(b"}"),
            }
        }
    }

    fn text(&mut self) -> Result<Text<'a>, NotCanonical> {
        self.take(b"\"")?;
        let start = self.at;
        let (mut plain, mut escaped) = (true, false);
        loop {
            self.at += plain_length(&self.bytes[self.at..]);
            match self.peek() {
                Some(b'"') => break,
                Some(b'\\') => match self.bytes.get(self.at + 1) {
                    Some(b'"' | b'\\') => {
                        escaped = true;
                        self.at += 2;
                    }
                    _ => return Err(self.spelling()),
                },
                Some(_) => {
                    plain = false;
                    self.at += 1;
                }
                None => return Err(self.spelling()),
            }
        }
        let text = &self.bytes[start..self.at];
        if !plain {
            // The two escapes are ASCII and change nothing in normalisation.
            let error = |_| NotCanonical::Spelling { at: start };
            check_text(std::str::from_utf8(text).map_err(error)?)?;
        }
        self.at += 1;
        let simple = plain && !escaped;
        Ok(Text { text, simple })
    }

    fn number(&mut self) -> Result<(), NotCanonical> {
        let start = self.at;
        let negative = self.peek() == Some(b'-');
        self.at += usize::from(negative);
        let first = self.at;
        let mut size = 0_u64;
        while let Some(digit @ b'0'..=b'9') = self.peek() {
            size = size
                .saturating_mul(10)
                .saturating_add(u64::from(digit - b'0'));
            self.at += 1;
        }
        match (self.at - first, self.bytes.get(first)) {
            (0, _) => Err(self.spelling()),
            _ if matches!(self.peek(), Some(b'.' | b'e' | b'E')) => Err(NotCanonical::Fraction),
            (1, Some(b'0')) if !negative => Ok(()),
            (_, Some(b'0')) => Err(NotCanonical::Spelling { at: start }),
            _ if size > LARGEST_NUMBER => Err(NotCanonical::NumberTooLarge),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{PLAIN, plain_length};

    /// Looking at eight bytes together stops where looking at each one stops.
    #[test]
    fn plain_text_ends_at_the_same_byte() {
        for length in 1..=24 {
            for at in 0..length {
                for byte in 0..=255_u8 {
                    let mut bytes = vec![b'~'; length];
                    bytes[at] = byte;
                    let expected = if PLAIN[usize::from(byte)] { length } else { at };
                    assert_eq!(plain_length(&bytes), expected, "{byte} at {at} of {length}");
                }
            }
        }
    }
}
