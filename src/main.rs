//! The `clampbook` command.
fn main() {}
