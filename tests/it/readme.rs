//! Every command that README shows is run, and its output compared.
//!
//! A block begins with ```` ```console ````; a line after `$ ` is a command; what follows is its output on a
//! terminal of 100 columns. A line that is only `…` stands for any number of lines. A block ```` ```sh ```` is
//! for set-up that only a fresh machine can try and is not run here.

use std::process::Command;

/// A command of README and the output that it claims.
struct Shown {
    line: usize,
    command: String,
    output: Vec<String>,
}

#[test]
fn every_command_shown_gives_what_is_shown() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("book");
    let shown = shown();
    assert!(shown.len() >= 8, "README shows only {} commands", shown.len());
    for Shown { line, command, output } in shown {
        let words = split(&command);
        assert_eq!(words[0], "clampbook", "README.md:{line}: only the program itself is run: {command}");
        let mut run = Command::new(env!("CARGO_BIN_EXE_clampbook"));
        run.args(&words[1..]).env("CLAMPBOOK_STORE", &store).env("COLUMNS", "100").env("NO_COLOR", "1");
        if !words.iter().any(|word| word.starts_with("--as")) {
            run.args(["--as", "table"]);
        }
        let done = run.current_dir(env!("CARGO_MANIFEST_DIR")).output().unwrap();
        let text = format!("{}{}", String::from_utf8_lossy(&done.stdout), String::from_utf8_lossy(&done.stderr));
        let printed: Vec<&str> = text.lines().map(str::trim_end).collect();
        let claimed: Vec<&str> = output.iter().map(|line| line.trim_end()).collect();
        assert!(
            matches(&claimed, &printed),
            "README.md:{line}: {command}\n--- README says\n{}\n--- the program says\n{}",
            claimed.join("\n"),
            printed.join("\n")
        );
    }
}

/// Whether the lines agree, `…` standing for any number of lines.
fn matches(claimed: &[&str], printed: &[&str]) -> bool {
    match claimed.split_first() {
        None => printed.is_empty(),
        Some((&"…", rest)) => (0..=printed.len()).any(|skip| matches(rest, &printed[skip..])),
        Some((first, rest)) => printed.split_first().is_some_and(|(line, more)| line == first && matches(rest, more)),
    }
}

fn shown() -> Vec<Shown> {
    let readme = include_str!("../../README.md");
    let mut shown: Vec<Shown> = Vec::new();
    let mut inside = false;
    for (i, line) in readme.lines().enumerate() {
        if line.starts_with("```") {
            inside = line == "```console";
        } else if inside {
            match line.strip_prefix("$ ") {
                Some(command) => {
                    shown.push(Shown { line: i + 1, command: command.to_owned(), output: Vec::new() });
                }
                None => shown.last_mut().expect("a block begins with a command").output.push(line.to_owned()),
            }
        }
    }
    shown
}

/// The words of a command, as a shell splits them at spaces outside double quotes.
fn split(command: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for c in command.chars() {
        match c {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            other => words.last_mut().unwrap().push(other),
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

#[test]
fn a_dotted_line_stands_for_any_number_of_lines() {
    assert!(matches(&["a", "…", "d"], &["a", "b", "c", "d"]));
    assert!(matches(&["a", "…"], &["a"]));
    assert!(!matches(&["a", "…", "d"], &["a", "b"]));
    assert!(!matches(&["a"], &["b"]));
}
