//! Tells the program the day it was built: a clock that stands before it is wrong.

fn main() {
    println!("cargo::rerun-if-env-changed=SOURCE_DATE_EPOCH");
    println!("cargo::rerun-if-changed=build.rs");
    println!("cargo::rerun-if-changed=../migrations");
    let seconds = std::env::var("SOURCE_DATE_EPOCH").ok().unwrap_or_else(|| {
        let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
        now.map_or(0, |since| since.as_secs()).to_string()
    });
    // Not one of our settings: `cargo run` hands it to the program's environment as well, where an
    // unknown TAREBOOK_ name is refused.
    println!("cargo::rustc-env=BUILT_AT_SECONDS={seconds}");
}
