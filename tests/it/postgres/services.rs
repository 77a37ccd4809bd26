//! `serve` on a database, as processes of their own.

use super::two_servers::{server, until};
use super::{Database, Scratch, sql, url_of};
use crate::api::service::fill;
use crate::cli::{Book, Done, HEX};
use crate::serve::{Process, body, header, status, token};
use clampbook::catalog::{Catalog, Preparation, Sharing};
use serde_json::Value;
use std::collections::BTreeSet;

/// What a look before a start says of a book, and its exit code.
fn checked(book: &Book, place: &str, options: &[&str]) -> (Done, bool, String) {
    let check = ["--store", place, "serve", "--check-config", "--listen", "127.0.0.1:0", "--as", "json"];
    let done = book.run(&[&check[..], options].concat());
    let rows = done.json();
    let row = rows["items"].as_array().unwrap().iter().find(|row| row["what"] == "store").unwrap().clone();
    (done, row["is_good"].as_bool().unwrap(), row["detail"].as_str().unwrap().to_owned())
}

#[test]
fn a_database_that_answers_is_looked_at_and_left_as_it_is() {
    let scratch = Scratch::new("looked_at");
    let (book, url) = (Book::none(), scratch.url());
    let (done, is_good, detail) = checked(&book, url.secret(), &[]);
    assert!(done.code == 3 && !is_good && detail.contains("clampbook store prepare"), "{detail}");
    Catalog::prepare(&url, &Preparation::default()).unwrap();
    // No book is begun where there is none yet, and nothing is written down of the look.
    let state = || {
        sql(
            &url,
            "select version, (select count(*) from clampbook.entry), (select max(at) from clampbook.pulse) from clampbook.book",
        )
    };
    let before = state();
    let (done, is_good, detail) = checked(&book, url.secret(), &[]);
    assert!(done.code == 0 && is_good && detail.ends_with(", 0 records, change 0"), "{detail}");
    assert_eq!(state(), before);
    assert!(before.contains("|0|"), "{before}");

    let database = Database::take();
    fill(&server(&database, Sharing::default()));
    let (done, is_good, detail) = checked(&book, database.url().secret(), &[]);
    let records = sql(&database.url(), "select count(*) from clampbook.current_record");
    assert!(done.code == 0 && is_good, "{detail}");
    assert_eq!(detail, format!("{}, {records} records, change {records}", database.url()));
    // Where others' writes would be read is looked at too, and has to hold a book.
    let nowhere = url_of("nowhere");
    let (done, is_good, detail) = checked(&book, database.url().secret(), &["--read-from", nowhere.secret()]);
    assert!(done.code == 3 && !is_good && detail.contains("nowhere"), "{detail}");
    let (_, is_good, detail) = checked(&book, database.url().secret(), &["--read-from", database.url().secret()]);
    assert!(is_good && detail.ends_with(&format!("; the standby to read from is at change {records}")), "{detail}");
}

fn list(answer: &str) -> Value {
    assert_eq!(status(answer), 200, "{answer}");
    serde_json::from_str(body(answer)).unwrap()
}

/// Gives the fastener another length, as somebody does who holds a token.
fn change(at: &Process, token: &str, tag: &str, length: &str) -> String {
    let patch = format!("{{\"length\":\"{length}\"}}");
    at.send_raw(
        format!(
            "PATCH /v1/fasteners/{HEX} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nIf-Match: {tag}\r\n\
             Authorization: Bearer {token}\r\nContent-Type: application/merge-patch+json\r\nContent-Length: {}\r\n\r\n{patch}",
            patch.len()
        )
        .as_bytes(),
    )
}

#[test]
fn any_of_several_services_answers_for_all_of_them() {
    let database = Database::take();
    fill(&server(&database, Sharing::default()));
    // The tokens are those of a book beside, which both are told of.
    let book = Book::none();
    let made = token(&book, "mo", "read,write");
    let tokens = book.store().with_extension("tokens.json");
    let url = database.url();
    let begin = |workers| {
        let options = ["--listen", "127.0.0.1:0", "--workers", workers, "--tokens", tokens.to_str().unwrap()];
        Process::at(&book, url.secret(), &options)
    };
    let (one, other) = (begin("1"), begin("2"));

    // A page that begins at one goes on at the other, and what one has told the other need not tell again.
    let first = one.get("/v1/fasteners?take=100&sort=thread", &[]);
    let next = list(&first)["page"]["next"].as_str().unwrap().to_owned();
    let second = other.get(&format!("/v1/fasteners?take=500&sort=thread&after={next}"), &[]);
    let whole = list(&other.get("/v1/fasteners?take=500&sort=thread", &[]));
    let ids = |list: &Value| -> Vec<String> {
        list["items"].as_array().unwrap().iter().map(|item| item["id"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!([ids(&list(&first)), ids(&list(&second))].concat(), ids(&whole));
    assert_eq!(ids(&whole).iter().collect::<BTreeSet<_>>().len(), ids(&whole).len());
    for path in ["/v1/fasteners?take=100&sort=thread", &format!("/v1/fasteners/{HEX}"), "/v1/findings"] {
        let tag = header(&one.get(path, &[]), "etag").unwrap().to_owned();
        let again = other.get(path, &[&format!("If-None-Match: {tag}")]);
        assert_eq!(status(&again), 304, "{path}");
        assert!(header(&again, "book-behind").unwrap().parse::<f64>().unwrap() < 5.0);
    }

    // A write at one is read at the other by whoever says what it has seen, and an old tag is old at both.
    let written = change(&one, &made, "\"r1\"", "41 mm");
    assert_eq!(status(&written), 200, "{written}");
    let seen = format!("Book-Seen: {}", header(&written, "book-change").unwrap());
    let read = list(&other.get(&format!("/v1/fasteners/{HEX}"), &[&seen]));
    assert_eq!((&read["length"], &read["book"]["revision"]), (&"41 mm".into(), &2.into()));
    assert_eq!(read["book"]["changed_by"], "mo");
    assert_eq!(status(&change(&other, &made, "\"r1\"", "43 mm")), 412);

    // Who waits at one hears of what is written at the other.
    let place = list(&one.get("/v1/changes?take=500", &[]))["next"].as_str().unwrap().to_owned();
    let heard = std::thread::scope(|scope| {
        let waits = scope.spawn(|| one.get(&format!("/v1/changes?since={place}&wait=25"), &[]));
        assert_eq!(status(&change(&other, &made, "\"r2\"", "44 mm")), 200);
        waits.join().unwrap()
    });
    assert_eq!((&list(&heard)["items"][0]["id"], &list(&heard)["items"][0]["revision"]), (&HEX.into(), &3.into()));

    // What was checked at one is applied at one, and in the book of both.
    let line = "{\"kind\":\"joint\",\"id\":\"skua.test.joint\",\"title\":\"Joint\"}\n";
    let post = |at: &Process, path: &str, body: &str| {
        at.send_raw(
            format!(
                "POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nAuthorization: Bearer {made}\r\n\
                 Content-Type: application/x-ndjson\r\nContent-Length: {}\r\n\r\n{body}",
                body.len()
            )
            .as_bytes(),
        )
    };
    let intake = list(&post(&one, "/v1/intakes.ndjson?mode=check", line))["id"].as_str().unwrap().to_owned();
    let elsewhere = post(&other, &format!("/v1/intakes/{intake}/apply"), "");
    assert!(status(&elsewhere) == 404 && body(&elsewhere).contains("by the server that took them"), "{elsewhere}");
    let applied = post(&one, &format!("/v1/intakes/{intake}/apply"), "");
    assert_eq!(status(&applied), 201, "{applied}");
    let seen = format!("Book-Seen: {}", header(&applied, "book-change").unwrap());
    assert_eq!(list(&other.get("/v1/joints/skua.test.joint", &[&seen]))["title"], "Joint");

    // One is killed; whoever asked it goes to the other and misses nothing.
    drop(one);
    assert_eq!(status(&change(&other, &made, "\"r3\"", "45 mm")), 200);
    assert_eq!(list(&other.get(&format!("/v1/fasteners/{HEX}"), &[]))["length"], "45 mm");
    book.run(&["token", "revoke", "1"]).fine();
    assert_eq!(status(&change(&other, &made, "\"r4\"", "46 mm")), 401);
}

#[test]
fn a_directory_that_another_history_made_useless_is_made_again() {
    let database = Database::take();
    let (reader, writer) = (server(&database, Sharing::default()), server(&database, Sharing::default()));
    fill(&writer);
    until("the reader seeing the yard", || reader.sequence() == writer.sequence());
    let _kept = reader.directory_in_background().unwrap();
    until("the directory being there", || reader.has_directory());
    let epoch = writer.begin_epoch().unwrap();
    until("the reader knowing of the other history", || reader.epoch() == epoch);
    until("the directory being there again", || reader.has_directory());
    let question =
        clampbook::query::Query::parse([("kind", "fastener"), ("count", "exact"), ("thread", "M8")]).unwrap();
    let found = reader.find(&question).unwrap();
    assert_eq!(found, reader.find_by_looking_at_all(&question).unwrap());
    assert!(found.count.unwrap() > 10);
}
