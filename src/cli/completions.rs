//! `completions`: a script that lets a shell complete commands and options.

use super::failure::Failure;
use super::output::Output;
use clap_complete::Shell;

/// A script that lets a shell complete commands and options.
///
/// For bash: clampbook completions bash > ~/.local/share/bash-completion/completions/clampbook
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The shell: bash, elvish, fish, powershell or zsh.
    #[arg(value_name = "SHELL", hide_possible_values = true)]
    shell: Shell,
}

/// Writes the script.
///
/// # Errors
/// If standard output does not take it.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut super::command(), "clampbook", &mut script);
    output.write(&script)
}
