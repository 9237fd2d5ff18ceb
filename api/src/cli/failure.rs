//! How a command ends: the exit codes, and errors with the words a person needs.

use crate::config::ConfigError;
use std::io::Write;
use std::process::ExitCode;

/// How a command ended. The numbers are a contract with the programs that drive it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Everything asked for was done.
    Good = 0,
    /// It was not done; standard error says why.
    Failed = 1,
    /// The command line or a setting is wrong.
    Usage = 2,
    /// A verification found a break in the book.
    Break = 3,
    /// The book is not ready: not initialised, not migrated, locked, or newer than the program.
    NotReady = 4,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// Why a command was not done.
#[derive(Debug, PartialEq, Eq)]
pub struct Failure {
    /// The exit code.
    pub exit: Exit,
    /// What was expected, what came, what to do. Empty: nothing is said.
    pub text: String,
    colored: bool,
}

impl Failure {
    /// A failure with its exit code and words.
    pub fn new(exit: Exit, text: impl Into<String>) -> Failure {
        Failure {
            exit,
            text: text.into(),
            colored: false,
        }
    }

    /// The command line or a setting is wrong (exit 2).
    pub fn usage(text: impl Into<String>) -> Failure {
        Failure::new(Exit::Usage, text)
    }

    /// It could not be done (exit 1).
    pub fn failed(text: impl Into<String>) -> Failure {
        Failure::new(Exit::Failed, text)
    }

    /// The same failure, said in colour.
    pub fn colored(mut self, colored: bool) -> Failure {
        self.colored = colored;
        self
    }

    /// Says it on standard error and gives the exit code.
    pub fn say(&self) -> Exit {
        if !self.text.is_empty() {
            let word = if self.colored {
                "\x1b[1;31merror:\x1b[0m"
            } else {
                "error:"
            };
            let _ = writeln!(std::io::stderr(), "{word} {}", self.text);
        }
        self.exit
    }
}

impl From<ConfigError> for Failure {
    fn from(error: ConfigError) -> Failure {
        Failure::usage(error.0)
    }
}

/// Writing to standard output failed, or reading or writing a file without further words.
impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Failure {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            // Whoever read the output has seen enough; that is no failure of ours.
            return Failure::new(Exit::Good, "");
        }
        Failure::failed(format!("expected to write the output, came: {error}."))
    }
}
