//! The change feed: lists, waiting, events, places of another life of the store.

use super::service::{self, Service, everywhere, fresh, shared};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader};
use std::time::{Duration, Instant};

const HEX: &str = "/v1/fasteners/skua.diesel.raw-water-pump.cover.hex";

fn last(service: Service) -> String {
    let list = service.get("/v1/changes?since=0&take=1").expect(200).json();
    format!("{}.{}", list["epoch"].as_str().unwrap(), list["last"])
}

/// Gives the record another length, and says at which revision it is then.
fn change(service: Service, length: &str) -> u64 {
    let read = service.get(HEX).expect(200);
    let tag = read.header("etag").unwrap().to_owned();
    let mut body = read.json();
    body["length"] = json!(length);
    service.send_json("PUT", HEX, &[("If-Match", &tag)], &body).expect(200).json()["revision"].as_u64().unwrap()
}

#[test]
fn every_write_is_in_the_feed_once_and_in_order() {
    everywhere(|service| {
        let mut since = "0".to_owned();
        let mut seen = Vec::new();
        loop {
            let list = service.get(&format!("/v1/changes?since={since}&take=100")).expect(200).json();
            since = list["next"].as_str().unwrap().to_owned();
            let items = list["items"].as_array().unwrap().clone();
            if items.is_empty() {
                assert_eq!(list["last"], seen.len());
                break;
            }
            seen.extend(items);
        }
        assert!(seen.iter().enumerate().all(|(i, change)| change["sequence"] == i as u64 + 1));
        let records: u64 = ["/v1/fasteners", "/v1/joints"]
            .map(|path| service.get(&format!("{path}?count=exact&take=1")).json()["page"]["count"].as_u64().unwrap())
            .iter()
            .sum();
        assert_eq!(seen.len() as u64, records);

        let revision = change(service, "42 mm");
        let tag = service.get(HEX).header("etag").unwrap().to_owned();
        service.send("DELETE", HEX, &[("If-Match", &tag)], b"").expect(200);
        let list = service.get(&format!("/v1/changes?since={since}")).expect(200).json();
        let told: Vec<(&Value, &Value)> =
            list["items"].as_array().unwrap().iter().map(|change| (&change["revision"], &change["state"])).collect();
        assert_eq!(told, [(&json!(revision), &json!("current")), (&json!(revision + 1), &json!("withdrawn"))]);
        assert_eq!(list["items"][1]["id"], HEX.rsplit('/').next().unwrap());
    });
}

#[test]
fn who_waits_hears_of_a_change_when_it_happens() {
    everywhere(|service| {
        let since = last(service);
        let start = Instant::now();
        let nothing = service.get(&format!("/v1/changes?since={since}&wait=1")).expect(200).json();
        assert!(nothing["items"].as_array().unwrap().is_empty() && start.elapsed() >= Duration::from_secs(1));
        assert_eq!(nothing["next"], since);
        let writer = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(300));
            change(service, "43 mm")
        });
        let start = Instant::now();
        let list = service.get(&format!("/v1/changes?since={since}&wait=50")).expect(200).json();
        assert!(start.elapsed() < Duration::from_secs(20), "{:?}", start.elapsed());
        assert_eq!(list["items"][0]["revision"], writer.join().unwrap());
    });
}

#[test]
fn a_place_of_another_life_is_gone() {
    let other = last(fresh());
    everywhere(|service| is_gone(service, &other));
}

/// The place of another life, and one beyond the last change, are gone.
fn is_gone(service: Service, other: &str) {
    let problem = service.get(&format!("/v1/changes?since={other}")).problem(410, "gone");
    assert_eq!(problem["next"], last(service));
    // Whoever has seen more than there is was at another book, even where the life has the same name.
    let epoch = problem["epoch"].as_str().unwrap();
    service.get(&format!("/v1/changes?since={epoch}.999999")).problem(410, "gone");
    service.get("/v1/changes?since=999999&wait=50").problem(410, "gone");
    let events = [("Accept", "text/event-stream"), ("Last-Event-ID", other)];
    service.send("GET", "/v1/changes", &events, b"").problem(410, "gone");
}

#[test]
fn a_new_epoch_is_another_life_with_the_same_changes() {
    for kind in crate::engines::all() {
        let bed = kind.bed();
        let book = bed.catalog();
        service::fill(&book);
        let service = service::on(book.clone());
        let before = last(service);
        let epoch = book.begin_epoch().unwrap();
        let problem = service.get(&format!("/v1/changes?since={before}")).problem(410, "gone");
        assert_eq!(problem["epoch"], epoch.as_str(), "{kind:?}");
        let (_, number) = before.split_once('.').unwrap();
        assert_eq!(last(service), format!("{epoch}.{number}"), "the changes stay");
        change(service, "46 mm");
        let items = service.get(&format!("/v1/changes?since={epoch}.{number}")).expect(200).json()["items"].clone();
        assert_eq!(items.as_array().unwrap().len(), 1, "and go on");
        bed.abandon();
    }
}

#[test]
fn a_place_that_is_none_is_refused() {
    let service = shared();
    for since in ["", "x", "-1", "1.5", "0123456789abcdef.", "0123456789ABCDEF.1", "9999999999999999", "1e3", "%00"] {
        service.get(&format!("/v1/changes?since={since}")).problem(400, "unreadable");
    }
    let problem = service.get("/v1/changes?wait=61&take=0&limit=3").problem(400, "unreadable");
    assert_eq!(problem["errors"].as_array().unwrap().len(), 3);
    let events = [("Accept", "text/event-stream"), ("Last-Event-ID", "x\u{e9}")];
    let problem = service.send("GET", "/v1/changes", &events, b"").problem(400, "unreadable");
    assert_eq!(
        (&problem["errors"][0]["in"], &problem["errors"][0]["pointer"]),
        (&json!("header"), &json!("/Last-Event-ID"))
    );
    service.send("GET", "/v1/changes", &[("Accept", "text/html")], b"").problem(406, "not-acceptable");
}

/// The next event of a stream: its id and its data.
fn event(lines: &mut impl Iterator<Item = String>) -> (String, Value) {
    let mut id = String::new();
    for line in lines {
        if let Some(text) = line.strip_prefix("id: ") {
            text.clone_into(&mut id);
        }
        if let Some(data) = line.strip_prefix("data: ") {
            return (id, serde_json::from_str(data).unwrap());
        }
    }
    panic!("the stream ended");
}

#[test]
fn events_come_while_things_happen_and_go_on_where_they_were() {
    everywhere(|service| {
        let since = last(service);
        let listen = |head: &str| {
            let stream = service.open(&format!("GET /v1/changes{head} HTTP/1.1\r\nAccept: text/event-stream"));
            BufReader::new(stream).lines().map(Result::unwrap)
        };
        let mut lines = listen(&format!("?since={since}"));
        assert_eq!(lines.next().as_deref(), Some("HTTP/1.1 200 OK"));
        let head: Vec<String> = lines.by_ref().take_while(|line| !line.is_empty()).collect();
        assert!(head.iter().any(|line| line.eq_ignore_ascii_case("content-type: text/event-stream")), "{head:?}");
        let revision = change(service, "44 mm");
        let (id, told) = event(&mut lines);
        assert_eq!((&told["revision"], &told["state"]), (&json!(revision), &json!("current")));
        assert_eq!(id, last(service));
        let again = change(service, "45 mm");
        assert_eq!(event(&mut lines).1["revision"], again);
        drop(lines);
        // Whoever lost the connection sends the id of the last event, which counts more than the address.
        let mut lines = listen(&format!("?since=0 HTTP/1.1\r\nLast-Event-ID: {id}\r\nX: "));
        assert_eq!(event(&mut lines).1["revision"], again);
        let start = Instant::now();
        service.send("HEAD", "/v1/changes", &[("Accept", "text/event-stream")], b"").expect(200);
        assert!(start.elapsed() < Duration::from_secs(10));
    });
}
