//! The bytes of an import file on their way to the CSV reader, watched as they pass.
//!
//! The CSV reader forgives what an accountant must not: a quote that is never closed swallows the
//! rest of the file, and a binary file is one endless row. So the bytes are watched here: they are
//! hashed and counted, quotes are followed as RFC 4180 defines them, a row has a largest length,
//! and an encoding that is not UTF-8 is named before any cell is read.

use sha2::{Digest, Sha256};
use std::io::{Error, ErrorKind, Read};

/// The longest a row can be: far beyond any true one, and small in memory.
const LONGEST_ROW: u64 = 1 << 20;

/// A reader that watches the bytes of a CSV file.
pub struct Watched<R> {
    inner: R,
    hash: Sha256,
    bytes: u64,
    quotes: Quotes,
    /// Offset after the last line break outside quotes, or of the start.
    row_began: u64,
    ended: bool,
}

/// What the bytes were, once all of them have passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Passed {
    /// SHA-256 of the file.
    pub sha256: [u8; 32],
    /// Its size.
    pub bytes: u64,
}

/// Where the watch stands between two quotes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Quotes {
    /// Outside; `starts` says whether the next byte begins a cell.
    Outside { starts: bool },
    /// Inside a quoted cell.
    Inside,
    /// Just after a quote inside a quoted cell: a second one means a quote in the text.
    AfterQuote,
}

impl<R: Read> Watched<R> {
    /// Watches this reader.
    pub fn new(inner: R) -> Watched<R> {
        Watched {
            inner,
            hash: Sha256::new(),
            bytes: 0,
            quotes: Quotes::Outside { starts: true },
            row_began: 0,
            ended: false,
        }
    }

    /// Reads what is left and says what all of it was.
    pub fn finish(mut self) -> std::io::Result<Passed> {
        let mut rest = [0; 8192];
        while self.read(&mut rest)? > 0 {}
        Ok(Passed {
            sha256: self.hash.finalize().into(),
            bytes: self.bytes,
        })
    }

    fn follow(&mut self, chunk: &[u8]) -> std::io::Result<()> {
        let mut at = 0;
        while at < chunk.len() {
            at = match self.quotes {
                Quotes::Outside { starts } => self.outside(chunk, at, starts),
                Quotes::Inside => match memchr::memchr(b'"', &chunk[at..]) {
                    Some(quote) => {
                        self.quotes = Quotes::AfterQuote;
                        at + quote + 1
                    }
                    None => chunk.len(),
                },
                Quotes::AfterQuote if chunk[at] == b'"' => {
                    self.quotes = Quotes::Inside;
                    at + 1
                }
                Quotes::AfterQuote => {
                    self.quotes = Quotes::Outside { starts: false };
                    at
                }
            };
        }
        self.bytes += chunk.len() as u64;
        if self.bytes - self.row_began > LONGEST_ROW {
            return Err(self.endless());
        }
        Ok(())
    }

    /// Goes on from `at`, outside quotes, to the next opening quote or the end of the chunk.
    fn outside(&mut self, chunk: &[u8], at: usize, starts: bool) -> usize {
        let mut from = at;
        while let Some(quote) = memchr::memchr(b'"', &chunk[from..]) {
            let quote = from + quote;
            let begins = if quote == at {
                starts
            } else {
                matches!(chunk[quote - 1], b',' | b'\n' | b'\r')
            };
            if begins {
                self.note_rows(&chunk[..quote], at);
                self.quotes = Quotes::Inside;
                return quote + 1;
            }
            // A quote in the middle of an unquoted cell is part of its text.
            from = quote + 1;
        }
        self.note_rows(chunk, at);
        let last = chunk[chunk.len() - 1];
        self.quotes = Quotes::Outside {
            starts: matches!(last, b',' | b'\n' | b'\r'),
        };
        chunk.len()
    }

    fn note_rows(&mut self, chunk: &[u8], from: usize) {
        if let Some(last) = memchr::memrchr2(b'\n', b'\r', &chunk[from..]) {
            self.row_began = self.bytes + (from + last) as u64 + 1;
        }
    }

    fn endless(&self) -> Error {
        match self.quotes {
            Quotes::Outside { .. } => Error::new(ErrorKind::InvalidData, Endless::Row),
            _ => Error::new(ErrorKind::InvalidData, Endless::Quote),
        }
    }
}

impl<R: Read> Read for Watched<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let read = self.inner.read(buffer)?;
        if read == 0 {
            if self.quotes == Quotes::Inside && !self.ended {
                self.ended = true;
                return Err(Error::new(ErrorKind::InvalidData, Endless::Quote));
            }
            return Ok(0);
        }
        let chunk = &buffer[..read];
        self.hash.update(chunk);
        if self.bytes == 0 && (chunk.starts_with(b"\xff\xfe") || chunk.starts_with(b"\xfe\xff")) {
            return Err(Error::new(ErrorKind::InvalidData, Endless::Utf16));
        }
        if self.bytes == 0 && chunk.starts_with(b"\xef\xbb\xbf") {
            // The byte-order mark is no part of the first cell.
            self.bytes = 3;
            self.row_began = 3;
            self.follow(&chunk[3..])?;
        } else {
            self.follow(chunk)?;
        }
        Ok(read)
    }
}

/// Why the bytes cannot be a CSV file in UTF-8.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Endless {
    /// A quote is opened and never closed.
    Quote,
    /// No line ends within the longest row.
    Row,
    /// The file is UTF-16.
    Utf16,
}

impl std::error::Error for Endless {}

impl std::fmt::Display for Endless {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Endless::Quote => "a quote that is opened and never closed",
            Endless::Row => "more than a million bytes without the end of a row",
            Endless::Utf16 => "UTF-16",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads in pieces of `size` bytes, so that every state is met at a border.
    fn watch(text: &[u8], size: usize) -> std::io::Result<Passed> {
        struct Pieces<'a>(&'a [u8], usize);
        impl Read for Pieces<'_> {
            fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
                let size = self.1.min(self.0.len()).min(buffer.len());
                buffer[..size].copy_from_slice(&self.0[..size]);
                self.0 = &self.0[size..];
                Ok(size)
            }
        }
        Watched::new(Pieces(text, size)).finish()
    }

    #[test]
    fn quotes_are_followed_across_every_border() {
        // RFC 4180 section 2: quotes enclose a cell and are doubled inside one.
        for text in [
            "a,\"b\"\"c\",d\r\n",
            "\"\",\"\"\n",
            "a,5\" pipe,b\n",
            "\"x\ny\",z",
            "\"a\"",
        ] {
            for size in 1..=text.len() {
                assert!(
                    watch(text.as_bytes(), size).is_ok(),
                    "{text} in pieces of {size}"
                );
            }
        }
        for text in ["a,\"b\nc,d\n", "a,\"b\"\"", "\"", "x\n\"y\"\",z\n"] {
            for size in 1..=text.len() {
                let error = watch(text.as_bytes(), size).unwrap_err();
                assert_eq!(
                    error.to_string(),
                    Endless::Quote.to_string(),
                    "{text} by {size}"
                );
            }
        }
    }

    #[test]
    fn a_row_without_end_and_utf_16_are_named() {
        let endless = vec![b'x'; (LONGEST_ROW + 10) as usize];
        assert_eq!(
            watch(&endless, 4096).unwrap_err().to_string(),
            Endless::Row.to_string()
        );
        let mut quoted = endless.clone();
        quoted[0] = b'"';
        assert_eq!(
            watch(&quoted, 4096).unwrap_err().to_string(),
            Endless::Quote.to_string()
        );
        let rows = "a,b\n".repeat(600_000);
        assert!(watch(rows.as_bytes(), 4096).is_ok());
        let utf_16 = watch(b"\xff\xfea\0", 4).unwrap_err();
        assert_eq!(utf_16.to_string(), Endless::Utf16.to_string());
    }

    #[test]
    fn the_hash_is_that_of_the_whole_file() {
        // FIPS 180-4, example "abc".
        let passed = watch(b"abc", 2).unwrap();
        assert_eq!(passed.bytes, 3);
        assert_eq!(passed.sha256[..4], [0xba, 0x78, 0x16, 0xbf]);
        assert_eq!(watch(b"\xef\xbb\xbfabc", 6).unwrap().bytes, 6);
    }
}
