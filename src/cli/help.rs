//! The first page of help: the commands in groups, each in one line.

use super::CommandLine;
use super::layout;
use clap::{Command, CommandFactory};

/// The commands in the groups that they are shown in.
const GROUPS: &[(&str, &[&str])] = &[
    ("Look up", &["find", "show", "at"]),
    ("Prepare", &["card", "kit", "way", "label"]),
    ("Judge", &["audit", "explain"]),
    ("Write", &["put", "amend", "withdraw", "import", "export", "log"]),
    ("Keep", &["backup", "restore", "verify", "compact"]),
    ("Calculate, without a book", &["thread", "class", "tighten", "convert", "tables"]),
    ("Serve", &["serve", "token", "store", "openapi"]),
    ("Other", &["demo", "completions", "man", "help"]),
];

/// The command line with all its commands: the one definition for reading, help, completions and man pages.
#[must_use]
pub fn command() -> Command {
    let command = CommandLine::command().subcommand_value_name("COMMAND").after_help(after_help());
    let template =
        format!("{{about}}\n\n{{usage-heading}} {{usage}}\n{}\nOptions:\n{{options}}{{after-help}}", groups(&command));
    command.help_template(template)
}

fn after_help() -> String {
    layout::paragraph(super::CAUTION, super::terminal::width().min(100))
}

fn groups(command: &Command) -> String {
    let mut text = String::new();
    for (title, names) in GROUPS {
        text += &format!("\n{title}:\n");
        for name in *names {
            let about = match *name {
                "help" => "Print this page, or that of a command".to_owned(),
                name => about(command, name),
            };
            text += &format!("  {name:11}  {about}\n");
        }
    }
    text
}

fn about(command: &Command, name: &str) -> String {
    let about = command.find_subcommand(name).and_then(Command::get_about);
    about.map(ToString::to_string).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_stands_in_one_group_and_fits_in_a_line() {
        let command = CommandLine::command();
        let mut grouped: Vec<&str> = GROUPS.iter().flat_map(|(_, names)| names.iter().copied()).collect();
        let mut all: Vec<&str> = command.get_subcommands().map(Command::get_name).chain(["help"]).collect();
        grouped.sort_unstable();
        all.sort_unstable();
        assert_eq!(grouped, all);
        for name in all.iter().filter(|name| **name != "help") {
            let about = about(&command, name);
            assert!(!about.is_empty() && about.chars().count() <= 65, "{name}: {about}");
        }
    }

    #[test]
    fn the_definition_is_sound() {
        command().debug_assert();
    }
}
