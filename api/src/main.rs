//! tarebook.
fn main() {}
