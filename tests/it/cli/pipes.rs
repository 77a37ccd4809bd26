//! Closed pipes, standard input, terminals, files that are never half there.

use super::{Book, Done, HEX, clampbook};
use std::process::{Command, Stdio};

/// Runs the program with a standard output that nobody reads.
fn into_a_closed_pipe(book: &Book, arguments: &[&str]) -> Done {
    let mut child = Command::new(env!("CARGO_BIN_EXE_clampbook"))
        .args(arguments)
        .env("CLAMPBOOK_STORE", book.store())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    Done::of(&child.wait_with_output().unwrap())
}

#[test]
fn a_closed_pipe_is_no_fault() {
    let book = Book::of_the_yard();
    for arguments in [
        &["find", "--take", "500", "--as", "json"][..],
        &["find", "--as", "table"],
        &["export"],
        &["export", "--as", "csv"],
        &["tables"],
        &["explain", "--as", "table"],
        &["log", "--as", "csv"],
        &["completions", "bash"],
        &["man"],
        &["thread", "M8"],
        &["--help"],
    ] {
        into_a_closed_pipe(&book, arguments).says(0, "");
    }
}

#[test]
fn colours_only_where_they_are_seen() {
    let book = Book::of_the_yard();
    let forced = |name: &str, value: &str| {
        let mut command = book.command(&["find", "--head", "countersunk", "--as", "table"]);
        Done::of(&command.env(name, value).output().unwrap()).out
    };
    assert!(!forced("TERM", "xterm").contains('\u{1b}'), "a pipe is no terminal");
    assert!(forced("CLICOLOR_FORCE", "1").contains('\u{1b}'));
    let mut command = book.command(&["find", "--head", "countersunk", "--as", "table"]);
    let both = Done::of(&command.env("CLICOLOR_FORCE", "1").env("NO_COLOR", "1").output().unwrap());
    assert!(!both.out.contains('\u{1b}'), "NO_COLOR has the last word");
}

#[test]
fn an_export_that_fails_leaves_the_old_file() {
    let book = Book::of_the_yard();
    let old = book.file("all.ndjson", "old");
    std::fs::remove_dir_all(book.store()).unwrap();
    let done = book.run(&["export", "--output", "all.ndjson"]);
    assert_eq!(done.code, 3, "{done:?}");
    assert_eq!(std::fs::read_to_string(old).unwrap(), "old");
    let nowhere = Book::of_the_yard().run(&["export", "--output", "no/such/folder.csv"]);
    nowhere.says(3, "clampbook: no/such/folder.csv cannot be written: No such file or directory (os error 2)\n");
}

#[test]
fn standard_input_is_a_dash() {
    let book = Book::of_the_yard();
    let exported = book.run(&["export"]).fine();
    let other = Book::none();
    let done = other.run_with(&exported, &["import", "-"]).fine();
    assert!(done.starts_with("standard input\t"), "{done}");
    assert_eq!(other.run(&["export", "--output", "-"]).fine(), exported);
    let broken = other.run_with("id,joint,thread,torque\na.b.c,a.b,M8,95\n", &["import", "-"]);
    broken.says(1, "standard input:2: torque \"95\" has no unit. Write 95 N·m.\n");
}

#[test]
fn the_width_of_the_terminal_is_kept_to() {
    let book = Book::of_the_yard();
    for width in ["80", "100"] {
        for arguments in [&["find", "--take", "100"][..], &["show", HEX], &["audit", "--at-least", "note"], &["log"]] {
            let mut command = book.command(&[arguments, &["--as", "table"]].concat());
            let done = Done::of(&command.env("COLUMNS", width).output().unwrap());
            let limit: usize = width.parse().unwrap();
            let long: Vec<&str> = done.out.lines().filter(|line| line.chars().count() > limit).collect();
            assert!(long.iter().all(|line| !line.trim().contains(' ')), "{width} {arguments:?}: {long:?}");
        }
    }
    let done = Done::of(&clampbook().args(["tables", "--as", "table"]).env("COLUMNS", "100").output().unwrap());
    assert!(done.out.lines().all(|line| line.chars().count() <= 100));
}
