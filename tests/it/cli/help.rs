//! Help, completions, man pages, misspelt words.

use super::{Done, clampbook, run};
use std::process::Command;

#[test]
fn the_first_page_shows_the_commands_in_groups_and_fits_80_columns() {
    let page = run(&["--help"]).fine();
    assert!(page.contains("\nLook up:\n  find         Look up fasteners and joints\n"), "{page}");
    assert!(page.contains("licensed practice come before this book"), "{page}");
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
    let none = run(&[]);
    assert_eq!((none.code, none.out.as_str()), (2, ""));
    assert!(none.err.contains("Look up:"), "{}", none.err);
    let with_store = Done::of(&clampbook().env("CLAMPBOOK_STORE", "book").output().unwrap());
    assert_eq!(with_store.code, 2);
}

#[test]
fn every_command_has_help_that_says_what_it_does() {
    for verb in verbs() {
        let help = run(&[&verb, "--help"]).fine();
        assert!(
            help.contains("\nUsage: clampbook ") && help.contains("\nOptions of every command:\n"),
            "{verb}: {help}"
        );
        assert!(help.lines().all(|line| line.chars().count() <= 80), "{verb}: {help}");
    }
}

/// The commands that the first page shows.
pub fn verbs() -> Vec<String> {
    let page = run(&["--help"]).fine();
    let commands = page.split("\nOptions:").next().unwrap();
    let named = commands.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   "));
    let verbs: Vec<String> = named.filter_map(|line| line.split_whitespace().next()).map(str::to_owned).collect();
    assert!(verbs.len() > 18, "{verbs:?}");
    verbs.into_iter().filter(|verb| verb != "help").collect()
}

#[test]
fn a_misspelt_command_or_option_is_suggested_and_not_run() {
    let verb = run(&["fnid", "pump"]);
    assert_eq!(verb.code, 2);
    assert!(verb.err.contains("unrecognized subcommand 'fnid'") && verb.err.contains("'find'"), "{}", verb.err);
    let flag = run(&["find", "--tread", "M8"]);
    assert_eq!(flag.code, 2);
    assert!(flag.err.contains("a similar argument exists: '--thread'"), "{}", flag.err);
    let form = run(&["find", "--as", "jsn"]);
    assert_eq!(form.code, 2);
    assert!(form.err.contains("a similar value exists: 'json'"), "{}", form.err);
}

#[test]
fn completions_are_there_for_every_shell() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = run(&["completions", shell]).fine();
        assert!(script.contains("withdraw") && script.contains("torque"), "{shell}");
    }
    let script = run(&["completions", "bash"]).fine();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("completions.bash");
    std::fs::write(&path, script).unwrap();
    let asked = "source \"$0\"; COMP_WORDS=(clampbook withd); COMP_CWORD=1; _clampbook clampbook withd clampbook; \
                 echo \"${COMPREPLY[@]}\"";
    let done = Done::of(&Command::new("bash").args(["-c", asked]).arg(&path).output().unwrap());
    assert_eq!(done.fine(), "withdraw\n");
}

#[test]
fn every_command_has_a_man_page() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("man");
    let written = run(&["man", "--output", path.to_str().unwrap()]);
    assert_eq!(written.code, 0, "{written:?}");
    let pages = std::fs::read_dir(&path).unwrap().count();
    assert_eq!(pages, verbs().len() + 1);
    let find = std::fs::read_to_string(path.join("clampbook-find.1")).unwrap();
    assert_eq!(find, run(&["man", "find"]).fine());
    assert!(find.contains(".SH NAME\nclampbook\\-find \\- Look up fasteners and joints\n"), "{find}");
    assert!(find.lines().all(|line| line.len() <= 80 || line.starts_with('.') || !line.contains(' ')), "{find}");
    run(&["man", "nope"]).says(2, "clampbook: there is no command \"nope\"\n");
}
