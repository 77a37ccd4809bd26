//! The log: one line a request with what an operator asks for, and never a secret or what somebody looked for.

use super::{Process, status, token};
use crate::cli::{Book, HEX};

#[test]
fn every_request_is_a_line_of_json_that_tells_who_what_and_how_long() {
    let book = Book::of_the_yard();
    let secret = token(&book, "mo", "read,write");
    let service = Process::on(&book, &["--log", "json"]);
    let bearer = format!("Authorization: Bearer {secret}");
    let found = service.get("/v1/fasteners?q=secretword", &["Request-Id: shop-1", &bearer]);
    assert_eq!(status(&found), 200);
    assert_eq!(status(&service.get(&format!("/v1/fasteners/{HEX}"), &["Request-Id: shop-2"])), 200);
    assert_eq!(status(&service.get("/v1/nothing/here", &["Request-Id: shop-3"])), 404);
    assert_eq!(status(&service.get("/v1/exports/fasteners.ndjson", &["Request-Id: shop-4"])), 200);
    let forged = format!("Authorization: Bearer {}", "cb_0123");
    assert_eq!(status(&service.get("/v1/fasteners", &["Request-Id: shop-5", &forged])), 401);
    let lines = service.log_with("request_id", 5);
    let of = |id: &str| lines.iter().find(|line| line["request_id"] == id).unwrap_or_else(|| panic!("{id}: {lines:?}"));

    let find = of("shop-1");
    assert_eq!((&find["method"], &find["path"]), (&"GET".into(), &"/v1/fasteners".into()));
    assert_eq!((&find["status"], &find["token"], &find["level"]), (&200.into(), &"mo".into(), &"INFO".into()));
    assert_eq!(find["bytes"], super::body(&found).len());
    assert!(find["ms"].as_f64().unwrap() > 0.0 && find["timestamp"].as_str().unwrap().ends_with('Z'), "{find}");
    assert_eq!(of("shop-2")["path"], "/v1/fasteners/{id}");
    assert_eq!(of("shop-2").get("token"), None);
    assert_eq!((&of("shop-3")["path"], &of("shop-3")["problem"]), (&"none".into(), &"not-found".into()));
    let export = of("shop-4");
    assert!(export["bytes"].as_u64().unwrap() > 50_000 && export.get("broken_off").is_none(), "{export}");
    assert_eq!(of("shop-5")["problem"], "token-wanted");
    let log = service.log();
    for hidden in [&secret, &secret[3..20], "cb_0123", "secretword"] {
        assert!(!log.contains(hidden), "{hidden} is in the log");
    }
    assert!(lines.iter().all(|line| line["message"] == "answered"));
}

#[test]
fn what_went_wrong_inside_is_told_with_its_cause_under_the_instance_that_was_sent() {
    let book = Book::of_the_yard();
    // A file of tokens that holds none: every request with a token fails inside.
    let broken = book.file("broken.json", "{ this is no list of tokens");
    let service = Process::on(&book, &["--log", "json", "--tokens", broken.to_str().unwrap()]);
    let answer = service.get("/v1/fasteners", &["Request-Id: shop-9", "Authorization: Bearer cb_1"]);
    assert_eq!(status(&answer), 500);
    let problem: serde_json::Value = serde_json::from_str(super::body(&answer)).unwrap();
    let instance = problem["instance"].as_str().unwrap();
    assert!(!answer.contains("broken.json"), "what is inside is not told outside");
    let request = &service.log_with("request_id", 1)[0];
    assert_eq!((&request["level"], &request["status"]), (&"ERROR".into(), &500.into()));
    assert_eq!(request["problem"], format!("internal {instance}"));
    let cause = &service.log_with("cause", 1)[0];
    assert_eq!(cause["instance"], instance);
    let words = cause["cause"].as_str().unwrap();
    assert!(words.contains("broken.json") && words.contains("expected a sequence"), "{words}");
}

#[test]
fn the_log_is_text_for_people_and_as_quiet_as_they_like() {
    let book = Book::of_the_yard();
    let service = Process::on(&book, &[]);
    assert_eq!(status(&service.get("/v1/rules", &["Request-Id: shop-7"])), 200);
    let start = std::time::Instant::now();
    while !service.log().contains("shop-7") {
        assert!(start.elapsed() < std::time::Duration::from_secs(10), "{}", service.log());
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    let log = service.log();
    assert!(log.contains(" INFO answered request_id=\"shop-7\" method=\"GET\" path=\"/v1/rules\" status=200"), "{log}");
    assert!(!log.contains('\u{1b}'), "a file gets no colours");
    drop(service);
    let quiet = Process::on(&book, &["--log-level", "warn"]);
    for _ in 0..20 {
        assert_eq!(status(&quiet.get("/v1/rules", &["Request-Id: shop-8"])), 200);
    }
    assert!(!quiet.log().contains("shop-8"));
}
