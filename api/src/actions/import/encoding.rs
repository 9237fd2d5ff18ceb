//! The bytes of an import file as UTF-8, whatever they are.
//!
//! A byte-order mark says what a file is. Without one it is UTF-8 where all of it is; else the old
//! Windows encoding of Western Europe, if it can be that: every byte has a letter there, and no
//! character of UTF-8 stands beside them. A file with both is damaged UTF-8, whose bad cells are
//! named instead of guessed. The hash is that of the file as it lies on the disk.

use encoding_rs::{CoderResult, Decoder, UTF_16BE, UTF_16LE, WINDOWS_1252};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{BufRead, BufReader, Error, ErrorKind, Read, Seek};
use std::path::Path;

/// A file at its beginning, how it is written, and what ends its cells.
pub fn open(path: &Path) -> std::io::Result<(File, Encoding, u8)> {
    let mut file = File::open(path)?;
    let encoding = Encoding::of(&mut file)?;
    let mut header = Vec::new();
    let beginning = Decoded::new(&mut file, encoding).take(64 * 1024);
    // What is wrong in the first line is told when it is read as a row.
    let _ = BufReader::new(beginning).read_until(b'\n', &mut header);
    file.rewind()?;
    Ok((file, encoding, separator(&header)))
}

/// What ends the cells of a file with this header: a comma, unless it has none.
fn separator(header: &[u8]) -> u8 {
    let others = [b'\t', b';'];
    let other = others.into_iter().find(|sign| header.contains(sign));
    other.filter(|_| !header.contains(&b',')).unwrap_or(b',')
}

/// How the letters of a file are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with a byte-order mark or without.
    Utf8,
    /// UTF-16, the lower byte first.
    Utf16Le,
    /// UTF-16, the higher byte first.
    Utf16Be,
    /// Windows-1252: guessed, because nothing in such a file says so.
    Windows1252,
    /// A workbook, which is a ZIP archive or an older compound file: no text at all.
    Workbook,
}

impl Encoding {
    /// Looks through a file, and goes back to its beginning.
    pub fn of(file: &mut (impl Read + Seek)) -> std::io::Result<Encoding> {
        let mut buffer = vec![0; 64 * 1024];
        let mut filled = read_full(file, &mut buffer)?;
        let marks: [(&[u8], Encoding); 4] = [
            (b"\xff\xfe", Encoding::Utf16Le),
            (b"\xfe\xff", Encoding::Utf16Be),
            (b"PK\x03\x04", Encoding::Workbook),
            (b"\xd0\xcf\x11\xe0", Encoding::Workbook),
        ];
        let begins = |(mark, _): &&(&[u8], Encoding)| buffer[..filled].starts_with(mark);
        if let Some((_, marked)) = marks.iter().find(begins) {
            file.rewind()?;
            return Ok(*marked);
        }
        let mut seen = Seen::default();
        while filled > 0 {
            let left = seen.look(&buffer[..filled]);
            buffer.copy_within(filled - left..filled, 0);
            let more = read_full(file, &mut buffer[left..])?;
            if more == 0 && left > 0 {
                seen.look_at_bad(&buffer[..left]);
            }
            filled = if more == 0 { 0 } else { left + more };
        }
        file.rewind()?;
        Ok(seen.encoding())
    }

    fn decoder(self) -> Option<Decoder> {
        match self {
            Encoding::Utf8 | Encoding::Workbook => None,
            Encoding::Utf16Le => Some(UTF_16LE.new_decoder_with_bom_removal()),
            Encoding::Utf16Be => Some(UTF_16BE.new_decoder_with_bom_removal()),
            Encoding::Windows1252 => Some(WINDOWS_1252.new_decoder_without_bom_handling()),
        }
    }
}

fn read_full(file: &mut impl Read, buffer: &mut [u8]) -> std::io::Result<usize> {
    let mut filled = 0;
    while filled < buffer.len() {
        match file.read(&mut buffer[filled..])? {
            0 => break,
            read => filled += read,
        }
    }
    Ok(filled)
}

/// What was met in a file without a mark.
#[derive(Default)]
struct Seen {
    /// Characters of UTF-8 beyond ASCII.
    beyond: bool,
    /// Bytes that are no UTF-8.
    bad: bool,
    /// Bytes that are no letter of Windows-1252 either.
    unknown: bool,
}

impl Seen {
    /// Looks at a piece; so many bytes at its end may be the beginning of a character.
    fn look(&mut self, piece: &[u8]) -> usize {
        let mut rest = piece;
        loop {
            match std::str::from_utf8(rest) {
                Ok(text) => {
                    self.beyond |= !text.is_ascii();
                    return 0;
                }
                Err(error) => {
                    let (good, after) = rest.split_at(error.valid_up_to());
                    self.beyond |= !good.is_ascii();
                    let Some(bad) = error.error_len() else {
                        return after.len();
                    };
                    self.look_at_bad(&after[..bad]);
                    rest = &after[bad..];
                }
            }
        }
    }

    fn look_at_bad(&mut self, bytes: &[u8]) {
        self.bad = true;
        // The five bytes to which Windows-1252 gives no letter (Unicode, CP1252.TXT).
        let unknown = |byte: &u8| matches!(byte, 0x81 | 0x8d | 0x8f | 0x90 | 0x9d);
        self.unknown |= bytes.iter().any(unknown);
    }

    fn encoding(&self) -> Encoding {
        match self.bad && !self.beyond && !self.unknown {
            true => Encoding::Windows1252,
            false => Encoding::Utf8,
        }
    }
}

/// What the bytes were, once all of them have passed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Passed {
    /// SHA-256 of the file.
    pub sha256: [u8; 32],
    /// Its size.
    pub bytes: u64,
    /// How it is written.
    pub encoding: Encoding,
}

/// The bytes of a file, hashed and counted, as UTF-8.
pub struct Decoded<R> {
    inner: R,
    hash: Sha256,
    bytes: u64,
    encoding: Encoding,
    decoder: Option<Decoder>,
    raw: Vec<u8>,
    text: Vec<u8>,
    at: usize,
    ended: bool,
}

impl<R: Read> Decoded<R> {
    /// Reads a file that is written so.
    pub fn new(inner: R, encoding: Encoding) -> Decoded<R> {
        let decoder = encoding.decoder();
        let room = if decoder.is_some() { 16 * 1024 } else { 0 };
        Decoded {
            inner,
            hash: Sha256::new(),
            bytes: 0,
            encoding,
            decoder,
            raw: vec![0; room],
            text: Vec::new(),
            at: 0,
            ended: false,
        }
    }

    /// What all of it was; it must have been read to its end.
    pub fn finish(self) -> Passed {
        Passed {
            sha256: self.hash.finalize().into(),
            bytes: self.bytes,
            encoding: self.encoding,
        }
    }

    /// Decodes the next piece of the file.
    fn decode(&mut self, decoder: &mut Decoder) -> std::io::Result<()> {
        let read = self.inner.read(&mut self.raw)?;
        self.hash.update(&self.raw[..read]);
        self.bytes += read as u64;
        self.ended = read == 0;
        self.at = 0;
        let room = decoder
            .max_utf8_buffer_length(read)
            .unwrap_or(4 * read + 16);
        self.text.resize(room, 0);
        let (result, _, written, bad) =
            decoder.decode_to_utf8(&self.raw[..read], &mut self.text, self.ended);
        debug_assert_eq!(result, CoderResult::InputEmpty);
        self.text.truncate(written);
        match bad {
            true => Err(Error::new(ErrorKind::InvalidData, Halved)),
            false => Ok(()),
        }
    }
}

impl<R: Read> Read for Decoded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let Some(mut decoder) = self.decoder.take() else {
            let read = self.inner.read(buffer)?;
            self.hash.update(&buffer[..read]);
            self.bytes += read as u64;
            return Ok(read);
        };
        let mut decoded = Ok(());
        while self.at == self.text.len() && !self.ended && decoded.is_ok() {
            decoded = self.decode(&mut decoder);
        }
        self.decoder = Some(decoder);
        decoded?;
        let read = (self.text.len() - self.at).min(buffer.len());
        buffer[..read].copy_from_slice(&self.text[self.at..self.at + read]);
        self.at += read;
        Ok(read)
    }
}

/// Half a character of UTF-16.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Halved;

impl std::error::Error for Halved {}

impl std::fmt::Display for Halved {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("UTF-16 with half a character")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn read(bytes: &[u8]) -> (Encoding, std::io::Result<String>) {
        let mut file = Cursor::new(bytes.to_vec());
        let encoding = Encoding::of(&mut file).unwrap();
        let mut text = String::new();
        let read = Decoded::new(file, encoding).read_to_string(&mut text);
        (encoding, read.map(|_| text))
    }

    #[test]
    fn a_mark_or_the_letters_say_what_a_file_is() {
        // "Café" by the tables of Unicode: U+00E9 is C3 A9 in UTF-8, E9 in CP1252.TXT; U+20AC is 80.
        let utf_16 = |order: fn(u16) -> [u8; 2], text: &str| {
            text.encode_utf16().flat_map(order).collect::<Vec<u8>>()
        };
        let little = utf_16(u16::to_le_bytes, "\u{feff}Café,7\u{1f9ca}");
        let big = utf_16(u16::to_be_bytes, "\u{feff}Café,7\u{1f9ca}");
        for (bytes, encoding, text) in [
            (&b"Cafe"[..], Encoding::Utf8, "Cafe"),
            (b"Caf\xc3\xa9", Encoding::Utf8, "Café"),
            (b"Caf\xe9 \x80", Encoding::Windows1252, "Café €"),
            (&little, Encoding::Utf16Le, "Café,7\u{1f9ca}"),
            (&big, Encoding::Utf16Be, "Café,7\u{1f9ca}"),
            (b"", Encoding::Utf8, ""),
            (b"e\xe9", Encoding::Windows1252, "eé"),
        ] {
            let (found, read) = read(bytes);
            assert_eq!(
                (found, read.unwrap().as_str()),
                (encoding, text),
                "{bytes:?}"
            );
        }
    }

    #[test]
    fn damaged_utf_8_is_not_taken_for_another_encoding() {
        for bytes in [
            &b"Caf\xc3\xa9 \xe9"[..],
            b"\x81",
            b"\xff\x9d",
            b"\xc3\xa9\xe9",
        ] {
            let (encoding, text) = read(bytes);
            assert_eq!(encoding, Encoding::Utf8, "{bytes:?}");
            assert!(text.is_err(), "{bytes:?}");
        }
        let (encoding, text) = read(b"\xff\xfe\x3e\xd8");
        assert_eq!(encoding, Encoding::Utf16Le);
        assert_eq!(text.unwrap_err().to_string(), Halved.to_string());
        for workbook in [&b"PK\x03\x04\x14"[..], b"\xd0\xcf\x11\xe0\xa1\xb1"] {
            assert_eq!(read(workbook).0, Encoding::Workbook);
        }
    }

    #[test]
    fn characters_are_met_at_every_border_of_a_piece() {
        // A character of four bytes across the border of the buffer that is looked through.
        for before in 64 * 1024 - 5..64 * 1024 + 2 {
            let text = "x".repeat(before) + "\u{1f9ca}é";
            assert_eq!(read(text.as_bytes()).0, Encoding::Utf8, "{before}");
            let old = [&text.as_bytes()[..before], b"\xe9"].concat();
            let (encoding, read) = read(&old);
            assert_eq!(encoding, Encoding::Windows1252, "{before}");
            assert!(read.unwrap().ends_with("xé"));
        }
    }

    #[test]
    fn the_hash_is_that_of_the_file_on_the_disk() {
        // FIPS 180-4, example "abc"; the same letters in UTF-16 are other bytes.
        for (bytes, first) in [(&b"abc"[..], 0xba), (b"a\xe9", 0), (b"\xff\xfea\0", 0)] {
            let mut file = Cursor::new(bytes);
            let encoding = Encoding::of(&mut file).unwrap();
            let mut decoded = Decoded::new(file, encoding);
            std::io::copy(&mut decoded, &mut std::io::sink()).unwrap();
            let passed = decoded.finish();
            assert_eq!(passed.bytes, bytes.len() as u64);
            assert_eq!(passed.sha256, <[u8; 32]>::from(Sha256::digest(bytes)));
            assert!(first == 0 || passed.sha256[0] == first);
        }
    }
}
