//! A signal to stop: what is being answered is finished, whoever waits is told at once, nothing new is taken.

use super::{Process, body, header, status};
use crate::cli::{Book, HEX};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// The last change of the book of a service.
fn last(service: &Process) -> u64 {
    let list = service.get("/v1/changes?take=1", &[]);
    serde_json::from_str::<Value>(body(&list)).unwrap()["last"].as_u64().unwrap()
}

#[test]
fn those_who_wait_are_told_at_once_and_idle_connections_hold_nothing_up() {
    let book = Book::of_the_yard();
    let mut service = Process::on(&book, &[]);
    let last = last(&service);
    let open = |head: &str| {
        let mut stream = service.connect();
        write!(stream, "{head}\r\nHost: 127.0.0.1\r\n\r\n").unwrap();
        BufReader::new(stream)
    };
    let mut poll = open(&format!("GET /v1/changes?since={last}&wait=60 HTTP/1.1"));
    let mut events = open(&format!("GET /v1/changes?since={last} HTTP/1.1\r\nAccept: text/event-stream"));
    let mut line = String::new();
    while !line.starts_with("retry:") {
        line.clear();
        assert!(events.read_line(&mut line).unwrap() > 0, "the stream does not begin");
    }
    let mut idle = open("GET /health/live HTTP/1.1");
    let mut head = [0; 15];
    idle.read_exact(&mut head).unwrap();
    assert_eq!(&head, b"HTTP/1.1 200 OK");
    std::thread::sleep(Duration::from_millis(200));

    let start = Instant::now();
    service.signal("TERM");
    let mut answer = String::new();
    poll.read_to_string(&mut answer).unwrap();
    assert_eq!(status(&answer), 200);
    let list: Value = serde_json::from_str(body(&answer)).unwrap();
    assert_eq!((&list["items"], &list["since"]), (&json!([]), &json!(last)));
    let mut rest = String::new();
    events.read_to_string(&mut rest).unwrap();
    assert!(rest.ends_with("0\r\n\r\n"), "the stream is cut and not ended: {rest:?}");
    assert!(start.elapsed() < Duration::from_secs(3), "{:?}", start.elapsed());
    assert!(service.ended(Duration::from_secs(10)).success());
    assert!(start.elapsed() < Duration::from_secs(5), "{:?}", start.elapsed());
    assert!(TcpStream::connect(service.address()).is_err());
    book.run(&["verify"]).fine();
}

#[test]
fn while_it_lingers_it_answers_but_is_not_ready() {
    let book = Book::of_the_yard();
    let mut service = Process::on(&book, &["--linger", "4s"]);
    assert_eq!(status(&service.get("/health/ready", &[])), 200);
    service.signal("TERM");
    std::thread::sleep(Duration::from_millis(300));
    let ready = service.get("/health/ready", &[]);
    assert_eq!(status(&ready), 503);
    assert!(header(&ready, "retry-after").is_some() && ready.contains("the service is stopping"), "{ready}");
    assert_eq!(status(&service.get("/health/live", &[])), 200);
    assert_eq!(status(&service.get(&format!("/v1/fasteners/{HEX}"), &[])), 200);
    assert!(service.ended(Duration::from_secs(20)).success());
}

#[test]
fn what_is_being_answered_is_finished_and_a_second_signal_does_not_wait_for_it() {
    let book = Book::of_the_yard();
    let body = br#"{"thread":"M8","property_class":"8.8","torque":"20 N.m"}"#;
    let begin = |service: &Process| {
        let mut stream = service.connect();
        let head = "POST /v1/tightening HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nExpect: 100-continue\r\n";
        write!(stream, "{head}Content-Length: {}\r\n\r\n", body.len()).unwrap();
        // It is being answered once it is asked for its body.
        let mut go_on = [0; 25];
        stream.read_exact(&mut go_on).unwrap();
        assert_eq!(&go_on, b"HTTP/1.1 100 Continue\r\n\r\n");
        stream.write_all(&body[..10]).unwrap();
        stream
    };
    let mut service = Process::on(&book, &[]);
    let mut stream = begin(&service);
    service.signal("TERM");
    std::thread::sleep(Duration::from_millis(700));
    stream.write_all(&body[10..]).unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert_eq!(status(&answer), 200, "{answer}");
    assert!(service.ended(Duration::from_secs(10)).success());

    let mut service = Process::on(&book, &[]);
    let _stream = begin(&service);
    service.signal("TERM");
    std::thread::sleep(Duration::from_millis(300));
    let start = Instant::now();
    service.signal("INT");
    assert!(service.ended(Duration::from_secs(10)).success());
    assert!(start.elapsed() < Duration::from_secs(5), "{:?}", start.elapsed());
}

/// Writes to a record of its own until the service is gone, and notes the last revision that was acknowledged.
fn write_on(service: &Process, n: usize, is_over: &AtomicBool, told: &Mutex<BTreeMap<String, u64>>) -> [usize; 2] {
    let id = format!("skua.load.joint-{n}");
    let (mut acknowledged, mut refused) = (0, 0);
    let mut tag = "If-None-Match: *".to_owned();
    let mut stream: Option<BufReader<TcpStream>> = None;
    while !is_over.load(Ordering::Relaxed) {
        let body = json!({ "kind": "joint", "id": id, "title": format!("Joint {acknowledged}") }).to_string();
        let connection = match &mut stream {
            Some(stream) => stream,
            None => match TcpStream::connect(service.address()) {
                Ok(fresh) => {
                    fresh.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
                    stream.insert(BufReader::new(fresh))
                }
                Err(_) => continue,
            },
        };
        let request = format!(
            "PUT /v1/joints/{id} HTTP/1.1\r\nHost: 127.0.0.1\r\n{tag}\r\nContent-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        );
        let Some((status, answer)) = ask(connection, &request) else {
            stream = None;
            continue;
        };
        match status {
            200 | 201 => {
                let revision = answer["revision"].as_u64().unwrap();
                told.lock().unwrap().insert(id.clone(), revision);
                tag = format!("If-Match: \"r{revision}\"");
                acknowledged += 1;
            }
            503 => refused += 1,
            // What was not acknowledged may have been stored all the same.
            412 => tag = "If-Match: *".to_owned(),
            other => panic!("{other}: {answer}"),
        }
    }
    [acknowledged, refused]
}

/// Sends a request and reads its answer, if one comes whole.
fn ask(stream: &mut BufReader<TcpStream>, request: &str) -> Option<(u16, Value)> {
    stream.get_mut().write_all(request.as_bytes()).ok()?;
    let (mut status, mut length, mut line) = (0, 0, String::new());
    loop {
        line.clear();
        if stream.read_line(&mut line).ok()? == 0 {
            return None;
        }
        let lower = line.to_lowercase();
        if let Some(rest) = lower.strip_prefix("http/1.1 ") {
            status = rest.split(' ').next()?.parse().ok()?;
        }
        if let Some(rest) = lower.strip_prefix("content-length: ") {
            length = rest.trim().parse().ok()?;
        }
        if line == "\r\n" {
            break;
        }
    }
    let mut body = vec![0; length];
    stream.read_exact(&mut body).ok()?;
    Some((status, serde_json::from_slice(&body).ok()?))
}

#[test]
fn every_write_that_was_acknowledged_before_a_stop_under_load_is_there() {
    let book = Book::of_the_yard();
    let mut service = Process::on(&book, &["--open", "--log-level", "warn"]);
    let (is_over, told) = (AtomicBool::new(false), Mutex::new(BTreeMap::new()));
    let start = Instant::now();
    let (acknowledged, took) = std::thread::scope(|scope| {
        let (service_there, is_over, told) = (&service, &is_over, &told);
        let writers: Vec<_> = (0..6).map(|n| scope.spawn(move || write_on(service_there, n, is_over, told))).collect();
        std::thread::sleep(Duration::from_secs(1));
        service.signal("TERM");
        let signalled = Instant::now();
        while TcpStream::connect(service.address()).is_ok() && signalled.elapsed() < Duration::from_secs(20) {
            std::thread::sleep(Duration::from_millis(20));
        }
        let took = signalled.elapsed();
        std::thread::sleep(Duration::from_millis(300));
        is_over.store(true, Ordering::Relaxed);
        let counts: Vec<[usize; 2]> = writers.into_iter().map(|writer| writer.join().unwrap()).collect();
        (counts.iter().map(|count| count[0]).sum::<usize>(), took)
    });
    assert!(service.ended(Duration::from_secs(20)).success());
    assert!(acknowledged > 20, "only {acknowledged} writes in {:?}", start.elapsed());
    assert!(took < Duration::from_secs(10), "{took:?}");
    let told = told.into_inner().unwrap();
    assert_eq!(told.len(), 6);
    let log = book.run(&["log", "--since", "0", "--take", "10000", "--as", "json"]).json();
    let changes = log["items"].as_array().unwrap();
    for (id, revision) in told {
        let shown = book.run(&["show", &id, "--as", "json"]).json();
        assert!(shown["book"]["revision"].as_u64().unwrap() >= revision, "{id}: {revision} was acknowledged");
        let in_feed = changes.iter().filter(|change| change["id"] == id.as_str()).count() as u64;
        assert!(in_feed >= revision, "{id}: {in_feed} changes in the feed, {revision} were acknowledged");
    }
}
