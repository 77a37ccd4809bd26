//! A leader and a server that follows it: in step, through restarts of either, and when the leader is another book.

use super::{Process, body, header, status};
use crate::cli::{Book, COVER, Done, HEX, clampbook};
use serde_json::Value;
use std::time::{Duration, Instant};

fn follow(book: &Book, leader: &str, options: &[&str]) -> Process {
    Process::on(book, &[&["--follow", leader, "--log", "json"], options].concat())
}

/// The last change that a service knows of; nothing while it answers no questions.
fn last(service: &Process) -> Option<(String, u64)> {
    let answer = service.get("/v1/changes?take=1", &[]);
    let list: Value = serde_json::from_str(body(&answer)).ok().filter(|_| status(&answer) == 200)?;
    Some((list["epoch"].as_str()?.to_owned(), list["last"].as_u64()?))
}

#[track_caller]
fn wait_until(what: &str, mut is_so: impl FnMut() -> bool) {
    let start = Instant::now();
    while !is_so() {
        assert!(start.elapsed() < Duration::from_secs(60), "not so after a minute: {what}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[track_caller]
fn in_step(leader: &Process, copy: &Process) {
    wait_until("the copy knows the leader's last change", || {
        let there = last(leader);
        there.is_some() && last(copy) == there
    });
}

fn at(service: &Process, arguments: &[&str]) -> Done {
    Done::of(&clampbook().args(["--store", &service.url]).args(arguments).output().unwrap())
}

/// Gives the fastener another length.
#[track_caller]
fn change(leader: &Process, length: &str) {
    at(leader, &["amend", HEX, &format!("length={length}"), "source.checked_by="]).fine();
}

#[test]
fn a_copy_stays_in_step_takes_no_writes_and_says_how_far_behind_it_is() {
    let (book, copied) = (Book::of_the_yard(), Book::none());
    let leader = Process::on(&book, &["--open"]);
    let copy = follow(&copied, &leader.url, &[]);
    in_step(&leader, &copy);
    change(&leader, "41 mm");
    at(&leader, &["withdraw", HEX, "--why", "Replaced by a stud"]).fine();
    in_step(&leader, &copy);
    for arguments in [&["export"][..], &["log", "--take", "1000", "--as", "json"], &["log", HEX, "--as", "json"]] {
        assert_eq!(at(&copy, arguments).fine(), at(&leader, arguments).fine(), "{arguments:?}");
    }
    let paths = ["/v1/fasteners?within=skua.diesel&take=200", "/v1/findings", &format!("/v1/fasteners/{HEX}")];
    for path in paths {
        let (there, here) = (leader.get(path, &[]), copy.get(path, &[]));
        assert_eq!((status(&here), body(&here)), (200, body(&there)), "{path}");
    }
    let answer = copy.get("/v1/rules", &[]);
    let behind: f64 = header(&answer, "book-behind").unwrap().parse().unwrap();
    assert!(behind < 5.0, "{behind}");
    let ready = copy.get("/health/ready", &[]);
    assert_eq!(status(&ready), 200);
    assert!(serde_json::from_str::<Value>(body(&ready)).unwrap()["behind_s"].as_f64().unwrap() < 5.0);
    let write = copy.send_raw(
        b"PUT /v1/joints/a.b HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nIf-None-Match: *\r\nContent-Type: application/json\r\n\
          Content-Length: 2\r\n\r\n{}",
    );
    assert_eq!(status(&write), 421);
    let problem: Value = serde_json::from_str(body(&write)).unwrap();
    assert_eq!((&problem["type"], &problem["leader"]), (&"/problems/follows".into(), &leader.url.as_str().into()));
    let refused = at(&copy, &["amend", COVER, "title=Another"]);
    assert!(refused.code == 3 && refused.err.contains(&leader.url), "{refused:?}");
}

#[test]
fn a_copy_survives_restarts_of_either_and_says_so_while_it_is_cut_off() {
    let (book, copied) = (Book::of_the_yard(), Book::none());
    let leader = Process::on(&book, &["--open"]);
    let (url, address) = (leader.url.clone(), leader.address().to_string());
    let copy = follow(&copied, &url, &["--behind-at-most", "2s"]);
    in_step(&leader, &copy);
    wait_until("the copy is ready", || status(&copy.get("/health/ready", &[])) == 200);
    // The leader is killed: the copy answers, older and older, until it is told not to be ready.
    drop(leader);
    wait_until("the copy is not ready", || status(&copy.get("/health/ready", &[])) == 503);
    let answer = copy.get(&format!("/v1/fasteners/{HEX}"), &[]);
    assert_eq!(status(&answer), 200);
    assert!(header(&answer, "book-behind").unwrap().parse::<f64>().unwrap() > 2.0 && header(&answer, "age").is_some());
    let cut_off = copy.log_with("why", 1);
    assert!(cut_off[0]["why"].as_str().unwrap().contains(&url), "{cut_off:?}");
    // The copy is killed and comes back while the leader is away.
    drop(copy);
    let copy = follow(&copied, &url, &["--behind-at-most", "2s"]);
    let answer = copy.get(&format!("/v1/fasteners/{HEX}"), &[]);
    assert_eq!(status(&answer), 200, "what is here is served, with its age: {answer}");
    assert!(header(&answer, "book-behind").unwrap().parse::<f64>().unwrap() > 2.0);
    // The leader comes back with a change.
    let leader = Process::of(&book, &["--listen", &address, "--open"]);
    change(&leader, "42 mm");
    in_step(&leader, &copy);
    wait_until("the copy is ready again", || status(&copy.get("/health/ready", &[])) == 200);
    assert_eq!(at(&copy, &["export"]).fine(), at(&leader, &["export"]).fine());
}

#[test]
fn a_copy_begins_anew_when_the_leader_has_another_history() {
    let (book, copied) = (Book::of_the_yard(), Book::none());
    let backup = book.store().with_extension("backup");
    book.run(&["backup", backup.to_str().unwrap()]).fine();
    let leader = Process::on(&book, &["--open"]);
    let (url, address) = (leader.url.clone(), leader.address().to_string());
    let copy = follow(&copied, &url, &[]);
    change(&leader, "43 mm");
    in_step(&leader, &copy);
    // Something that is no old copy of this one stays, whatever it is called.
    let foreign = copied.file("book.was-it.txt", "somebody's");
    let (mut leader, mut before) = (leader, Vec::new());
    for length in ["44 mm", "45 mm"] {
        let (old, _) = last(&copy).unwrap();
        drop(leader);
        // The leader's book is lost and restored from a backup that lacks the last change.
        std::fs::remove_dir_all(book.store()).unwrap();
        book.run(&["restore", backup.to_str().unwrap()]).fine();
        leader = Process::of(&book, &["--listen", &address, "--open"]);
        wait_until("the copy has the new history", || {
            std::net::TcpStream::connect(copy.address()).is_ok() && {
                let answer = copy.get("/v1/changes?take=1", &[]);
                status_of(&answer) == Some(200) && !body(&answer).contains(&old)
            }
        });
        in_step(&leader, &copy);
        assert_eq!(at(&copy, &["export"]).fine(), at(&leader, &["export"]).fine());
        change(&leader, length);
        in_step(&leader, &copy);
        let aside = copied.store().with_extension(format!("was-{old}"));
        assert!(aside.is_dir(), "the old copy is put aside, not deleted");
        before.push(aside);
    }
    assert!(!before[0].exists() && foreign.exists(), "only the last old copy is kept");
}

#[test]
fn a_copy_audits_its_book_before_anybody_asks_and_not_before_it_is_whole() {
    let (book, copied) = (Book::of_the_yard(), Book::none());
    let leader = Process::on(&book, &[]);
    let copy = follow(&copied, &leader.url, &["--metrics-listen", "127.0.0.1:0"]);
    let metrics = super::metrics::address(&copy);
    in_step(&leader, &copy);
    let (_, last) = last(&copy).unwrap();
    wait_until("the copy has audited the whole book", || {
        let text = super::metrics::scrape(&metrics, "/metrics", "");
        text.contains(&format!("\nclampbook_audited_change {last}\n"))
            && text.contains("\nclampbook_audit_age_seconds ")
    });
}

/// The status of an answer, if one came.
fn status_of(answer: &str) -> Option<u16> {
    answer.split(' ').nth(1)?.parse().ok()
}

#[test]
fn a_book_of_its_own_becomes_no_copy() {
    let (book, other) = (Book::of_the_yard(), Book::of_the_yard());
    let leader = Process::on(&book, &[]);
    let refused = other.run(&["serve", "--listen", "127.0.0.1:0", "--follow", &leader.url]);
    assert_eq!(refused.code, 2, "{refused:?}");
    assert!(refused.err.contains("is a book of its own"), "{}", refused.err);
    let open = other.run(&["serve", "--listen", "127.0.0.1:0", "--follow", &leader.url, "--open"]);
    assert_eq!(open.code, 2, "{open:?}");
}
