//! Too much, too often, too slow: each is told in words, and the service goes on.

use super::{Process, body, header, status, token};
use crate::cli::Book;
use serde_json::Value;
use std::io::{Read, Write};
use std::time::{Duration, Instant};

/// The kind of problem that an answer is.
#[track_caller]
fn problem(answer: &str) -> String {
    let value: Value = serde_json::from_str(body(answer)).unwrap_or_else(|error| panic!("{error}: {answer}"));
    value["type"].as_str().unwrap().to_owned()
}

#[test]
fn who_asks_too_often_is_told_when_to_ask_again() {
    let book = Book::of_the_yard();
    let (mo, ines) = (token(&book, "mo", "read"), token(&book, "ines", "read"));
    let service = Process::on(&book, &["--rate", "5"]);
    let get = |token: &str| service.get("/v1/rules", &[&format!("Authorization: Bearer {token}")]);
    for left in (0..5).rev() {
        let answer = get(&mo);
        assert_eq!(status(&answer), 200);
        assert_eq!(header(&answer, "ratelimit-policy"), Some("\"caller\";q=5;w=60"));
        let limit = header(&answer, "ratelimit").unwrap();
        assert!(limit.starts_with(&format!("\"caller\";r={left};t=")), "{limit}");
    }
    let refused = get(&mo);
    assert_eq!((status(&refused), problem(&refused).as_str()), (429, "/problems/too-many-requests"));
    let wait: u64 = header(&refused, "retry-after").unwrap().parse().unwrap();
    assert!((1..=13).contains(&wait), "{wait}");
    assert!(header(&refused, "ratelimit").unwrap().starts_with("\"caller\";r=0;t="));
    assert_eq!(status(&get(&ines)), 200, "another token has its own number");
    // Whoever tries out tokens is counted by the address.
    let forged: Vec<u16> = (0..7).map(|n| status(&get(&format!("cb_{n}")))).collect();
    assert_eq!(forged, [401, 401, 401, 401, 401, 429, 429]);
    assert_eq!(status(&service.get("/health/ready", &[])), 200, "those who watch the service are not counted");
}

#[test]
fn without_a_rate_nobody_is_counted_on_this_machine() {
    let book = Book::of_the_yard();
    let service = Process::on(&book, &[]);
    let answer = service.get("/v1/rules", &[]);
    assert_eq!((status(&answer), header(&answer, "ratelimit")), (200, None));
}

#[test]
fn headers_that_are_too_many_or_too_long_are_refused_in_words() {
    let book = Book::of_the_yard();
    let service = Process::on(&book, &[]);
    let many: Vec<String> = (0..70).map(|n| format!("X-{n}: {n}")).collect();
    let many = service.get("/v1/rules", &many.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!((status(&many), problem(&many).as_str()), (431, "/problems/headers-too-large"));
    let long = service.get("/v1/rules", &[&format!("X: {}", "x".repeat(40_000))]);
    assert_eq!((status(&long), problem(&long).as_str()), (431, "/problems/headers-too-large"));
    // What is longer still is not even read to its end.
    assert_eq!(status(&service.get("/v1/rules", &[&format!("X: {}", "x".repeat(400_000))])), 431);
    assert_eq!(status(&service.get("/v1/rules", &[])), 200);
}

#[test]
fn a_head_that_does_not_come_to_its_end_is_not_waited_for() {
    let book = Book::of_the_yard();
    let service = Process::on(&book, &[]);
    let start = Instant::now();
    let mut stream = service.connect();
    stream.write_all(b"GET /v1/rules HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ").unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert_eq!(status(&answer), 408);
    assert!(start.elapsed() < Duration::from_secs(15), "{:?}", start.elapsed());
}

#[test]
fn an_answer_that_takes_too_long_is_given_up_in_words() {
    let book = Book::of_the_yard();
    let service = Process::on(&book, &["--answer-time", "300ms"]);
    // A body that does not come keeps its handler waiting.
    let mut stream = service.connect();
    let start = Instant::now();
    stream
        .write_all(
            b"POST /v1/tightening HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nContent-Type: application/json\r\n\
              Content-Length: 100\r\n\r\n{",
        )
        .unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert_eq!((status(&answer), problem(&answer).as_str()), (503, "/problems/took-too-long"));
    assert!(header(&answer, "retry-after").is_some() && header(&answer, "request-id").is_some());
    assert!(start.elapsed() < Duration::from_secs(10), "{:?}", start.elapsed());
    // Who waits for a change has said how long, and is not given up.
    let start = Instant::now();
    let since = service.get("/v1/changes?take=1", &[]);
    let last = serde_json::from_str::<Value>(body(&since)).unwrap()["last"].clone();
    assert_eq!(status(&service.get(&format!("/v1/changes?since={last}&wait=1"), &[])), 200);
    assert!(start.elapsed() >= Duration::from_secs(1));
}
