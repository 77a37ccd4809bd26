//! What browsers are told about pages of other origins; and when a token was used last.

use super::{Process, header, status, token};
use crate::cli::Book;
use std::time::Duration;

const DESK: &str = "Origin: https://desk.yard";

fn preflight(service: &Process, origin: &str) -> String {
    let asked = "Access-Control-Request-Method: PUT\r\nAccess-Control-Request-Headers: authorization,if-match";
    service.send_raw(
        format!(
            "OPTIONS /v1/joints/a.b HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n{origin}\r\n{asked}\r\n\r\n"
        )
        .as_bytes(),
    )
}

#[test]
fn pages_of_listed_origins_may_read_and_no_others() {
    let book = Book::of_the_yard();
    let allowed = |answer: &str| header(answer, "access-control-allow-origin").map(str::to_owned);
    let service = Process::on(&book, &["--allow-origin", "https://desk.yard"]);
    let read = service.get("/v1/rules", &[DESK]);
    assert_eq!((status(&read), allowed(&read).as_deref()), (200, Some("https://desk.yard")));
    assert!(header(&read, "access-control-expose-headers").unwrap().to_lowercase().contains("etag"));
    assert_eq!(header(&read, "access-control-allow-credentials"), None);
    // What is refused is told to the page too.
    let refused = service.get("/v1/rules/nothing", &[DESK]);
    assert_eq!((status(&refused), allowed(&refused).as_deref()), (404, Some("https://desk.yard")));
    let before = preflight(&service, DESK);
    assert_eq!((status(&before), allowed(&before).as_deref()), (200, Some("https://desk.yard")));
    assert!(header(&before, "access-control-allow-methods").unwrap().contains("PUT"));
    let other = "Origin: https://desk.yard.elsewhere.example";
    assert_eq!(allowed(&service.get("/v1/rules", &[other])), None);
    assert_eq!(allowed(&preflight(&service, other)), None);
    drop(service);
    let closed = Process::on(&book, &[]);
    assert_eq!(allowed(&closed.get("/v1/rules", &[DESK])), None);
    assert_eq!(status(&preflight(&closed, DESK)), 405);
    drop(closed);
    let wrong = book.run(&["serve", "--listen", "127.0.0.1:0", "--allow-origin", "https://desk.yard/page"]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains("https://HOST"), "{}", wrong.err);
}

#[test]
fn the_list_of_tokens_says_when_each_was_used_last() {
    let book = Book::of_the_yard();
    let (used, _unused) = (token(&book, "mo", "read"), token(&book, "ines", "read"));
    let mut service = Process::on(&book, &[]);
    let bearer = format!("Authorization: Bearer {used}");
    assert_eq!(status(&service.get("/v1/rules", &[&bearer])), 200);
    service.signal("TERM");
    assert!(service.ended(Duration::from_secs(20)).success());
    let list = book.run(&["token", "list", "--as", "json"]).json();
    let of = |name: &str| list["items"].as_array().unwrap().iter().find(|item| item["label"] == name).unwrap().clone();
    let at: jiff::Timestamp = of("mo")["used_at"].as_str().unwrap().parse().unwrap();
    assert!(jiff::Timestamp::now().duration_since(at).as_secs().abs() < 120, "{at}");
    assert_eq!(of("ines").get("used_at"), None);
}
