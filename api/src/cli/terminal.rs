//! What is said on standard error while a command works: words, and progress of long work.
//!
//! Progress is drawn only where a person sees it, on a terminal; a file or a pipe gets lines that
//! read well alone.

use std::io::{IsTerminal, Write};
use std::time::{Duration, Instant};

/// Standard error, as the settings want it.
#[derive(Clone, Copy, Debug)]
pub struct Terminal {
    quiet: bool,
    is_terminal: bool,
    colored: bool,
}

impl Terminal {
    /// Standard error of this process.
    pub fn new(quiet: bool, no_color: bool) -> Terminal {
        let is_terminal = std::io::stderr().is_terminal();
        Terminal {
            quiet,
            is_terminal,
            colored: is_terminal && !no_color,
        }
    }

    /// Whether colours are shown.
    pub fn colored(&self) -> bool {
        self.colored
    }

    /// Says one line, unless quiet was asked for.
    pub fn say(&self, line: impl AsRef<str>) {
        if !self.quiet {
            // Who listens no more is no reason to end what was asked for.
            let _ = writeln!(std::io::stderr(), "{}", line.as_ref());
        }
    }

    /// Progress of work on so many things, shown as `rows booked: 120 000 of 1 041 344`.
    pub fn progress(&self, what: &'static str) -> Progress {
        let shown = self.is_terminal && !self.quiet;
        Progress {
            what,
            shown,
            drawn: false,
            next: Instant::now(),
        }
    }
}

/// One line that is drawn again and again; it vanishes when the work ends.
#[derive(Debug)]
pub struct Progress {
    what: &'static str,
    shown: bool,
    drawn: bool,
    next: Instant,
}

impl Progress {
    /// Says how far the work is, at most ten times a second. Call it every thousand steps or so.
    pub fn at(&mut self, deed: &str, done: u64, of: Option<u64>) {
        if !self.shown || Instant::now() < self.next {
            return;
        }
        self.next = Instant::now() + Duration::from_millis(100);
        self.drawn = true;
        let of = of
            .map(|of| format!(" of {}", spaced(of)))
            .unwrap_or_default();
        let mut err = std::io::stderr();
        let _ = write!(err, "\r\x1b[K{} {deed}: {}{of}", self.what, spaced(done));
        let _ = err.flush();
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.drawn {
            let _ = write!(std::io::stderr(), "\r\x1b[K");
        }
    }
}

/// A count in groups of three digits: `1 041 344`.
pub fn spaced(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::spaced;

    #[test]
    fn counts_are_grouped_by_thousands() {
        for (count, text) in [
            (0, "0"),
            (999, "999"),
            (1000, "1 000"),
            (1_041_344, "1 041 344"),
        ] {
            assert_eq!(spaced(count), text);
        }
    }
}
