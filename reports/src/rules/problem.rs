//! What is wrong with a rule file, said so that its writer can put it right.

use std::fmt;

/// One thing wrong with a rule file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Name of the file, or `overlay ID`.
    pub file: String,
    /// The table it is about, such as `values.trigger`; empty: the file as a whole.
    pub place: String,
    /// What was expected, what came, what there is.
    pub message: String,
    /// Where the parser stood, when it was the parser that objected.
    pub position: Option<Position>,
}

/// A place in the text, with the line that stands there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Position {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// How many characters are meant.
    pub width: usize,
    /// The line itself.
    pub text: String,
}

impl Problem {
    /// A problem of a table of a file.
    pub fn new(file: &str, place: impl Into<String>, message: impl Into<String>) -> Problem {
        Problem {
            file: file.to_string(),
            place: place.into(),
            message: message.into(),
            position: None,
        }
    }
}

impl Problem {
    /// The same with its position in the file it was read from, where its place names a member
    /// (`duties.alert.paused_by`) or a block by its name (`duties.alert`).
    pub fn located(mut self, text: &str) -> Problem {
        if self.position.is_none() {
            self.position = range_of(text, &self.place).map(|range| Position::of(text, range));
        }
        self
    }
}

/// Where a named block of a list, or a member of it, stands in a text.
fn range_of(text: &str, place: &str) -> Option<std::ops::Range<usize>> {
    let mut parts = place.split('.');
    let (table, name, member) = (parts.next()?, parts.next()?, parts.next());
    let header = format!("[[{table}]]");
    let mut lines = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        lines.push((at, line));
        at += line.len();
    }
    let key_of = |line: &str| line.split('=').next().map(|key| key.trim().to_string());
    let is_name = |line: &str| {
        let value = line.split_once('=').map(|(_, value)| value.trim());
        key_of(line).as_deref() == Some("name")
            && value.is_some_and(|value| value.starts_with(&format!("\"{name}\"")))
    };
    let starts: Vec<usize> = (0..lines.len())
        .filter(|at| lines[*at].1.trim_start().starts_with('['))
        .chain([lines.len()])
        .collect();
    let blocks = starts.windows(2).map(|ends| &lines[ends[0]..ends[1]]);
    let mut own = blocks.filter(|block| block[0].1.trim_start().starts_with(&header));
    let block = own.find(|block| block.iter().any(|(_, line)| is_name(line)))?;
    let wanted = |(_, line): &&(usize, &str)| match member {
        Some(member) => key_of(line).as_deref() == Some(member),
        None => is_name(line),
    };
    let named = |(_, line): &&(usize, &str)| is_name(line);
    let (begins, line) = block.iter().find(wanted).or(block.iter().find(named))?;
    let indent = line.len() - line.trim_start().len();
    let key = key_of(line)?.len();
    Some(begins + indent..begins + indent + key)
}

impl Position {
    /// The position of a byte range in a text.
    pub fn of(text: &str, range: std::ops::Range<usize>) -> Position {
        let start = floor_boundary(text, range.start);
        let begin = text[..start].rfind('\n').map_or(0, |at| at + 1);
        let line_text = text[begin..]
            .split('\n')
            .next()
            .unwrap_or("")
            .trim_end_matches('\r');
        let column = text[begin..start].chars().count() + 1;
        let end = floor_boundary(text, range.end.max(start)).min(begin + line_text.len());
        let width = text
            .get(start..end)
            .map_or(0, |meant| meant.chars().count())
            .max(1);
        let line = text[..begin].matches('\n').count() + 1;
        Position {
            line,
            column,
            width,
            text: line_text.to_string(),
        }
    }
}

fn floor_boundary(text: &str, mut at: usize) -> usize {
    at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: ", self.file)?;
        if !self.place.is_empty() {
            write!(f, "{}: ", self.place)?;
        }
        f.write_str(&self.message)?;
        let Some(at) = &self.position else {
            return Ok(());
        };
        let number = at.line.to_string();
        let gutter = " ".repeat(number.len());
        let carets = "^".repeat(at.width);
        let indent = " ".repeat(at.column - 1);
        write!(f, "\n{gutter}--> line {}, column {}", at.line, at.column)?;
        write!(
            f,
            "\n{gutter} |\n{number} | {}\n{gutter} | {indent}{carets}",
            at.text
        )
    }
}

/// `'plan'; there are: a, b, c`, with the nearest one named when it is near.
pub(super) fn no_such(what: &str, name: &str, there_are: &[&str]) -> String {
    let mut names = there_are.to_vec();
    names.sort_unstable();
    names.dedup();
    let list = if names.is_empty() {
        "none".to_string()
    } else {
        names.join(", ")
    };
    format!(
        "no {what} named '{name}'; there are: {list}{}",
        nearest(name, &names)
    )
}

/// A layer over a layer would have no numbers below it, and two of them could go in a circle.
pub fn over_a_layer(id: &str) -> String {
    format!(
        "'{id}' is a layer itself; a layer lies over a set, and of two layers over one set the \
         higher one gives the number"
    )
}

/// `unknown word 'x'; allowed: a, b`, with the nearest one named when it is near.
pub(super) fn unknown_word(word: &str, allowed: &[&str]) -> String {
    let mut words = allowed.to_vec();
    words.sort_unstable();
    format!(
        "unknown word '{word}'; allowed: {}{}",
        words.join(", "),
        nearest(word, &words)
    )
}

fn nearest(name: &str, names: &[&str]) -> String {
    let best = names
        .iter()
        .map(|other| (distance(name, other), *other))
        .min();
    match best {
        Some((far, other)) if far > 0 && far <= 2 && far < name.chars().count() => {
            format!("; nearest: {other}")
        }
        _ => String::new(),
    }
}

/// Edits (insert, remove, replace one letter) from one word to the other.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for j in 0..b.len() {
            let replaced = diagonal + usize::from(letter != b[j]);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_position_counts_characters_and_underlines_what_is_meant() {
        let at = Position::of("a = 1\nüü = neting\n", 13..19);
        assert_eq!((at.line, at.column, at.width), (2, 6, 6));
        let problem = Problem {
            position: Some(at),
            ..Problem::new("x.toml", "leak_rate", "no")
        };
        let shown =
            "x.toml: leak_rate: no\n --> line 2, column 6\n  |\n2 | üü = neting\n  |      ^^^^^^";
        assert_eq!(problem.to_string(), shown);
    }

    #[test]
    fn a_misspelt_name_gets_the_list_and_the_nearest() {
        assert_eq!(
            no_such("duty", "inital_test", &["repair", "initial_test"]),
            "no duty named 'inital_test'; there are: initial_test, repair; nearest: initial_test"
        );
        assert_eq!(
            no_such("duty", "x", &[]),
            "no duty named 'x'; there are: none"
        );
    }
}
