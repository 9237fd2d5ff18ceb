//! The bytes of an import file on their way to the CSV reader, watched as they pass.
//!
//! The CSV reader forgives what an accountant must not: a quote that is never closed swallows the
//! rest of the file, and a binary file is one endless row. So the bytes are watched here: quotes are
//! followed as RFC 4180 defines them, and a row has a largest length.

use std::io::{Error, ErrorKind, Read};

/// The longest a row can be: far beyond any true one, and small in memory.
const LONGEST_ROW: u64 = 1 << 20;

/// A reader that watches the bytes of a CSV file.
pub struct Watched<R> {
    inner: R,
    bytes: u64,
    separator: u8,
    quotes: Quotes,
    /// Offset after the last line break outside quotes, or of the start.
    row_began: u64,
    ended: bool,
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
    /// Watches this reader, whose cells end with this byte.
    pub fn new(inner: R, separator: u8) -> Watched<R> {
        Watched {
            inner,
            bytes: 0,
            separator,
            quotes: Quotes::Outside { starts: true },
            row_began: 0,
            ended: false,
        }
    }

    /// Reads what is left and gives the reader back.
    pub fn finish(mut self) -> std::io::Result<R> {
        let mut rest = [0; 8192];
        while self.read(&mut rest)? > 0 {}
        Ok(self.inner)
    }

    fn ends_a_cell(&self, byte: u8) -> bool {
        byte == self.separator || matches!(byte, b'\n' | b'\r')
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
                self.ends_a_cell(chunk[quote - 1])
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
            starts: self.ends_a_cell(last),
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
}

impl std::error::Error for Endless {}

impl std::fmt::Display for Endless {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Endless::Quote => "a quote that is opened and never closed",
            Endless::Row => "more than a million bytes without the end of a row",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads in pieces of `size` bytes, so that every state is met at a border.
    fn watch(text: &[u8], size: usize) -> std::io::Result<()> {
        struct Pieces<'a>(&'a [u8], usize);
        impl Read for Pieces<'_> {
            fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
                let size = self.1.min(self.0.len()).min(buffer.len());
                buffer[..size].copy_from_slice(&self.0[..size]);
                self.0 = &self.0[size..];
                Ok(size)
            }
        }
        Watched::new(Pieces(text, size), b',').finish().map(drop)
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
    fn a_row_without_end_is_named() {
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
    }
}
