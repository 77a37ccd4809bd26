//! The `clampbook` command.

fn main() -> std::process::ExitCode {
    clampbook::cli::run()
}
