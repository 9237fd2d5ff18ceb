//! What is wrong with an import file, in words a person can act on.
//!
//! Every problem names file, row and column, what was expected there, what came and what to do.
//! A file with the same slip in every row must not drown the person: the first twenty are kept and
//! the rest is counted.

use std::borrow::Cow;
use std::fmt;

/// How many problems are kept in words.
const KEPT: usize = 20;

/// One thing that is wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Name of the file.
    pub file: String,
    /// Row as a spreadsheet counts it (the header is row 1), if it is about a row.
    pub row: Option<u64>,
    /// Line of the text, where quoted line breaks or empty lines set it apart from the row.
    pub line: Option<u64>,
    /// Name of the column, if it is about one.
    pub column: Option<String>,
    /// What was expected.
    pub expected: String,
    /// What came, short and without characters that cannot be seen.
    pub came: String,
    /// What to do.
    pub remedy: String,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(row) = self.row {
            write!(f, ", row {row}")?;
        }
        if let Some(line) = self.line {
            write!(f, " (line {line})")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column {column}")?;
        }
        write!(f, ": expected {}, came {}.", self.expected, self.came)?;
        if self.remedy.is_empty() {
            Ok(())
        } else {
            write!(f, " {}", self.remedy)
        }
    }
}

/// All that is wrong with a file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Problems {
    kept: Vec<Problem>,
    count: u64,
}

impl Problems {
    /// Adds one.
    pub fn add(&mut self, problem: Problem) {
        self.count += 1;
        if self.kept.len() < KEPT {
            self.kept.push(problem);
        }
    }

    /// How many there are, also those not kept.
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Whether nothing is wrong.
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    /// The first of them, in the order of the file.
    pub fn kept(&self) -> &[Problem] {
        &self.kept
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for problem in &self.kept {
            writeln!(f, "{problem}")?;
        }
        let more = self.count - self.kept.len() as u64;
        if more > 0 {
            writeln!(f, "and {more} more.")?;
        }
        Ok(())
    }
}

/// What is wrong with one cell; its reader does not know where the cell stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bad {
    /// What was expected.
    pub expected: Cow<'static, str>,
    /// What to do.
    pub remedy: Cow<'static, str>,
}

impl Bad {
    /// A cell that is not what was expected, and what to do about it.
    pub fn new(
        expected: impl Into<Cow<'static, str>>,
        remedy: impl Into<Cow<'static, str>>,
    ) -> Bad {
        Bad {
            expected: expected.into(),
            remedy: remedy.into(),
        }
    }
}

/// A text as a message can quote it: short, one line, nothing invisible.
pub fn quoted(text: &str) -> String {
    if text.is_empty() {
        return "nothing".to_string();
    }
    let short: String = text.chars().take(60).flat_map(char::escape_debug).collect();
    let dots = if text.chars().nth(60).is_some() {
        "..."
    } else {
        ""
    };
    format!(
        "'{}{dots}'",
        short.replace("\\'", "'").replace("\\\"", "\"")
    )
}
