//! The program itself, so that tests can run a real process of it.

use std::process::ExitCode;

fn main() -> ExitCode {
    api::cli::main()
}
