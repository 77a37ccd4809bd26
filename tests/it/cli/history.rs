//! `log` and `withdraw`.

use super::{Book, HEX};
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

#[test]
fn the_log_has_every_change_and_every_revision() {
    let book = Book::of_the_yard();
    let all = book.run(&["log", "--take", "10000"]).fine();
    let last = all.lines().count().to_string();
    book.run(&["--by", "mo", "withdraw", HEX, "--why", "another yard"]).fine();
    let since = book.run(&["log", "--since", &last, "--as", "json"]).json();
    assert_eq!(since["items"].as_array().unwrap().len(), 1);
    assert_eq!((&since["items"][0]["id"], &since["items"][0]["state"]), (&HEX.into(), &"withdrawn".into()));
    let revisions = book.run(&["log", HEX, "--as", "table"]).fine();
    let mut lines = revisions.lines();
    assert_eq!(
        lines.next().map(str::trim_end),
        Some("revision  changed at            changed by  sequence  state      why")
    );
    assert_eq!(revisions.lines().count(), 4, "{revisions}");
    assert!(revisions.trim_end().ends_with("withdrawn  another yard"), "{revisions}");
    book.run(&["log", "skua.no.such.thing"]).says(
        1,
        "clampbook: skua.no.such.thing is not in the book. \"clampbook find --within skua.no.such\" lists what is near it\n",
    );
}

#[test]
fn what_is_withdrawn_stays_readable_and_is_no_longer_found() {
    let book = Book::of_the_yard();
    let done = book.run(&["withdraw", HEX]);
    assert_eq!(done.code, 2, "a reason is asked for: {done:?}");
    book.run(&["withdraw", HEX, "--why", "wrong", "--as", "table"]).fine();
    assert_eq!(book.run(&["show", HEX, "--as", "json"]).json()["book"]["state"], "withdrawn");
    assert_eq!(book.run(&["find", "--where", &format!("id={HEX}")]).code, 1);
    book.run(&["withdraw", "skua.no.such", "--why", "x"]).says(
        1,
        "clampbook: skua.no.such is not in the book. \"clampbook find --within skua.no\" lists what is near it\n",
    );
}

#[test]
fn the_log_is_followed_while_others_write() {
    let book = Book::of_the_yard();
    let mut follower = Command::new(env!("CARGO_BIN_EXE_clampbook"))
        .args(["log", "--follow", "--as", "plain"])
        .env("CLAMPBOOK_STORE", book.store())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(follower.stdout.take().unwrap()).lines();
    let (sender, receiver) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        if let Some(Ok(line)) = lines.next() {
            let _ = sender.send(line);
        }
    });
    // The follower may open the store before or after a write: writing goes on until a line has come.
    let until = Instant::now() + Duration::from_secs(30);
    let mut line = None;
    let mut n = 0;
    while line.is_none() && Instant::now() < until {
        n += 1;
        book.run(&["amend", HEX, &format!("note=note {n}"), "source.checked_by=kaj"]);
        line = receiver.recv_timeout(Duration::from_millis(500)).ok();
    }
    follower.kill().unwrap();
    follower.wait().unwrap();
    let line = line.expect("a change is shown");
    assert!(line.contains(HEX) && line.contains("\tcurrent"), "{line}");
    let json = book.run(&["log", "--follow", "--as", "json"]);
    json.says(2, "clampbook: --follow has no end, and json needs one. Write --as ndjson or plain\n");
}
