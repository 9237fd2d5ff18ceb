//! Hands the command line to [`api::cli`].

use std::process::ExitCode;

fn main() -> ExitCode {
    api::cli::main()
}
