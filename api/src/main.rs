//! Hands the command line to [`api::cli`].

use std::process::ExitCode;

/// The book is many small texts; this allocator costs a fraction of the C library's.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    api::cli::main()
}
