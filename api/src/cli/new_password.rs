//! Reading a new password: from the terminal, from a file, or from what is piped in. Never from an
//! argument, which every process on the host could read.

use super::failure::Failure;
use crate::auth::password;
use std::io::{BufRead, IsTerminal};
use std::path::Path;

/// Longest line that is read as one; a password has at most 256 characters.
const LONGEST: u64 = 4 * 1024;

/// The PHC string of a new password for `whose` address; `about` names what it must not contain.
pub fn hash(file: Option<&Path>, whose: &str, about: &[&str]) -> Result<String, Failure> {
    let password = match file {
        Some(file) => first_line(file)?,
        None if std::io::stdin().is_terminal() => typed(whose)?,
        None => piped(whose)?,
    };
    password::hash(&password, about).map_err(Failure::failed)
}

fn first_line(file: &Path) -> Result<String, Failure> {
    let text = std::fs::read_to_string(file)
        .map_err(|error| Failure::failed(format!("{}: {error}", file.display())))?;
    Ok(text.lines().next().unwrap_or_default().to_string())
}

fn typed(whose: &str) -> Result<String, Failure> {
    let ask = |prompt: String| {
        rpassword::prompt_password(prompt)
            .map_err(|error| Failure::failed(format!("no password was read: {error}")))
    };
    let first = ask(format!("New password for {whose}: "))?;
    if ask("The same again: ".to_string())? == first {
        return Ok(first);
    }
    Err(Failure::failed(
        "expected the same password twice, came two different ones. Nothing was changed.",
    ))
}

fn piped(whose: &str) -> Result<String, Failure> {
    let mut line = String::new();
    let input = std::io::stdin().lock();
    std::io::Read::take(input, LONGEST)
        .read_line(&mut line)
        .map_err(|error| Failure::failed(format!("no password was read: {error}")))?;
    let line = line.trim_end_matches(['\r', '\n']);
    if line.is_empty() {
        return Err(Failure::usage(format!(
            "expected a password for {whose}, came nothing. Give --password-file FILE, write it to \
             standard input, or run this on a terminal to be asked."
        )));
    }
    Ok(line.to_string())
}
