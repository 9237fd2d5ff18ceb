//! Sizes, openings and the top level.
//!
//! A file that is too long to read in one sitting, a function that does not fit a screen and a
//! source without a word of what it is for are the usual ways in which a map decays.

use crate::{Source, report, sources, top};

const LONGEST_FILE: usize = 400;
const LONGEST_FUNCTION: usize = 70;

/// Files that are still longer, each with the length it may not pass: they only become shorter, and
/// their entry goes when they fit. Rooms to divide next.
const LONGER_FILES: &[(&str, usize)] = &[
    ("api/src/store/apply.rs", 605),
    ("api/src/store/flush.rs", 440),
    ("api/src/store/tx.rs", 505),
    ("reports/tests/leak_rate.rs", 500),
];

/// The same for functions.
const LONGER_FUNCTIONS: &[(&str, &str, usize)] = &[
    ("api/src/actions/correct.rs", "replacement", 80),
    ("api/src/actions/register.rs", "read", 95),
    ("api/src/actions/report.rs", "read_and_write", 90),
    ("api/src/store/apply.rs", "book", 80),
    ("api/src/store/flush.rs", "rare_row", 82),
    ("tests/harness/busy.rs", "movements", 94),
];

/// All that may lie at the top, besides dot files and what Git ignores.
const TOP_LEVEL: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "api",
    "migrations",
    "reports",
    "tests",
    "deploy",
    "target",
];

#[test]
fn the_top_level_is_a_map() {
    let mut faults = Vec::new();
    for entry in std::fs::read_dir(top()).expect("the top is readable") {
        let name = entry
            .expect("readable")
            .file_name()
            .to_string_lossy()
            .into_owned();
        if !name.starts_with('.') && !TOP_LEVEL.contains(&name.as_str()) {
            faults.push(name);
        }
    }
    report("These do not belong at the top level:", &faults);
}

#[test]
fn no_file_is_too_long() {
    let faults: Vec<String> = sources().iter().filter_map(too_long).collect();
    report(
        "Split these along their subject (or list them in tests/tidy/files.rs):",
        &faults,
    );
}

#[test]
fn every_source_says_what_it_is_for() {
    let faults: Vec<String> = sources().iter().filter_map(without_opening).collect();
    report(
        "Open these with two to six sentences of what they are for:",
        &faults,
    );
}

#[test]
fn every_function_fits_a_screen() {
    let faults: Vec<String> = sources().iter().flat_map(long_functions).collect();
    report(
        "Split these functions; a screen has about forty lines:",
        &faults,
    );
}

fn too_long(source: &Source) -> Option<String> {
    let written = [".rs", ".py", ".sh", ".sql"]
        .iter()
        .any(|end| source.path.ends_with(end));
    let longer = LONGER_FILES.iter().find(|(path, _)| *path == source.path);
    let most = longer.map_or(LONGEST_FILE, |(_, most)| *most);
    let lines = source.text.lines().count();
    (written && lines > most).then(|| format!("{}: {lines} lines, at most {most}", source.path))
}

fn without_opening(source: &Source) -> Option<String> {
    let text = source.text.as_str();
    let after_first_line = text.split_once('\n').map_or("", |(_, rest)| rest);
    let opens = match source.path.rsplit_once('.').map_or("", |(_, end)| end) {
        "rs" => text.starts_with("//!"),
        "sql" => text.starts_with("--") || source.path.ends_with("/down.sql"),
        "sh" => {
            text.starts_with('#') && (!text.starts_with("#!") || after_first_line.starts_with("# "))
        }
        "py" => text.starts_with("\"\"\"") || after_first_line.starts_with("\"\"\""),
        _ => true,
    };
    (!opens).then(|| source.path.clone())
}

/// Functions by their indentation: rustfmt closes each at the column where it began.
fn long_functions(source: &Source) -> Vec<String> {
    let mut faults = Vec::new();
    if !source.path.ends_with(".rs") {
        return faults;
    }
    let lines: Vec<&str> = source.text.lines().collect();
    for (index, line) in lines.iter().enumerate() {
        let Some(name) = function_name(line) else {
            continue;
        };
        let indent = line.len() - line.trim_start().len();
        let closing = format!("{}}}", " ".repeat(indent));
        let length = lines[index..]
            .iter()
            .position(|later| *later == closing)
            .unwrap_or(0)
            + 1;
        let longer = LONGER_FUNCTIONS
            .iter()
            .find(|(path, known, _)| *path == source.path && *known == name);
        let most = longer.map_or(LONGEST_FUNCTION, |(.., most)| *most);
        if length > most {
            let place = format!("{}:{}", source.path, index + 1);
            faults.push(format!(
                "{place}: {name} has {length} lines, at most {most}"
            ));
        }
    }
    faults
}

fn function_name(line: &str) -> Option<&str> {
    let mut rest = line.trim_start();
    for word in ["pub(crate) ", "pub(super) ", "pub ", "const ", "async "] {
        rest = rest.strip_prefix(word).unwrap_or(rest);
    }
    let name = rest.strip_prefix("fn ")?;
    // One-line bodies and declarations of traits have no closing line of their own.
    let has_own_closing = !line.ends_with('}') && !line.ends_with(';');
    has_own_closing.then(|| name.split(['(', '<']).next().unwrap_or(name))
}

#[test]
fn planted_long_and_mute_files_are_found() {
    let source = |path: &str, text: String| Source {
        path: path.to_owned(),
        text,
    };
    assert!(too_long(&source("a.rs", "x\n".repeat(LONGEST_FILE + 1))).is_some());
    assert!(too_long(&source("a.rs", "x\n".repeat(LONGEST_FILE))).is_none());
    assert!(without_opening(&source("a.rs", "use x;\n".to_owned())).is_some());
    assert!(
        without_opening(&source(
            "a.py",
            "#!/usr/bin/env python3\nimport os\n".to_owned()
        ))
        .is_some()
    );
    let body = format!(
        "    pub fn long() {{\n{}    }}\n",
        "        x;\n".repeat(LONGEST_FUNCTION)
    );
    assert_eq!(long_functions(&source("a.rs", body)).len(), 1);
    assert!(long_functions(&source("a.rs", "fn short() {\n}\n".to_owned())).is_empty());
}
