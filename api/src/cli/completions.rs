//! `tarebook completions`: what a shell needs to finish half a command.

use super::failure::{Exit, Failure};
use super::{CommandLine, Context, examples};
use clap::{Args, CommandFactory};
use clap_complete::Shell;
use std::io::Write;

/// Print what a shell needs to complete commands
///
/// The text goes to standard output; where a shell looks for such files its manual says. It is made
/// from the commands of this very program, so it fits no other version.
#[derive(Debug, Args)]
#[command(after_long_help = examples!(
    "  tarebook completions bash > /usr/share/bash-completion/completions/tarebook\n  \
       tarebook completions fish > ~/.config/fish/completions/tarebook.fish"
))]
pub struct Completions {
    /// The shell
    #[arg(value_name = "SHELL")]
    shell: Shell,
}

impl Completions {
    pub(super) fn run(self, _context: &Context) -> Result<Exit, Failure> {
        let mut text = Vec::new();
        let mut command = CommandLine::command();
        clap_complete::generate(self.shell, &mut command, "tarebook", &mut text);
        std::io::stdout().lock().write_all(&text)?;
        Ok(Exit::Good)
    }
}
