//! What every request goes through, and requests that are wrong.

use super::service::{encoded, shared};
use serde_json::json;

#[test]
fn a_method_that_a_path_has_not_is_told_which_it_has() {
    let service = shared();
    for (path, allow) in
        [("/v1/rules", "GET, HEAD"), ("/v1/tightening", "POST"), ("/v1/rules/unknown-thread", "GET, HEAD")]
    {
        for method in ["DELETE", "PATCH", "TRACE", "OPTIONS", "FLY"] {
            let answer = service.send(method, path, &[], b"");
            assert_eq!(answer.header("allow"), Some(allow), "{method} {path}");
            answer.problem(405, "method-not-allowed");
        }
    }
    service.get("/v1/rule").problem(404, "not-found");
    service.get("/v1/standards/threads/1/4-20").problem(404, "not-found");
}

#[test]
fn head_is_get_without_the_body() {
    let service = shared();
    let (get, head) = (service.get("/v1/rules"), service.send("HEAD", "/v1/rules", &[], b""));
    assert_eq!((head.status, head.body.len()), (200, 0));
    assert_eq!(head.header("content-length"), Some(get.body.len().to_string().as_str()));
    assert_eq!(service.send("HEAD", "/v1/rules/nothing", &[], b"").expect(404).body.len(), 0);
}

#[test]
fn every_answer_has_an_id_and_headers_for_safety() {
    let service = shared();
    for path in ["/health/live", "/v1/rules", "/nowhere", "/v1/conversions", "/docs/", "/docs/swagger-ui.css"] {
        let answer = service.send("GET", path, &[("Request-Id", "shop-17")], b"");
        assert_eq!(answer.header("request-id"), Some("shop-17"), "{path}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"), "{path}");
        assert_eq!(answer.header("referrer-policy"), Some("no-referrer"), "{path}");
        assert!(answer.header("content-security-policy").unwrap().starts_with("default-src 'none'"), "{path}");
    }
    let strange = service.send("GET", "/health/live", &[("Request-Id", "a b\u{e4}")], b"");
    assert_ne!(strange.header("request-id"), Some("a b\u{e4}"));
}

#[test]
fn all_faults_of_the_parameters_come_at_once() {
    let problem = shared().get("/v1/conversions?vale=20&to=lbf.ft&to=N.m&x=1").problem(400, "unreadable");
    let faults: Vec<(&str, &str)> = problem["errors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|fault| (fault["code"].as_str().unwrap(), fault["pointer"].as_str().unwrap()))
        .collect();
    let expected =
        [("missing", "/value"), ("given-twice", "/to"), ("unknown-parameter", "/vale"), ("unknown-parameter", "/x")];
    assert_eq!(faults, expected);
    assert_eq!(problem["errors"][2]["hint"], "Did you mean value");
    let lenient = [("Prefer", "respond-async, handling=lenient")];
    shared().send("GET", "/v1/conversions?value=20%20N.m&to=lbf.ft&x=1", &lenient, b"").expect(200);
}

#[test]
fn a_form_that_is_not_there_is_refused() {
    let service = shared();
    let accept = |accept| service.send("GET", "/v1/rules", &[("Accept", accept)], b"");
    accept("text/html").problem(406, "not-acceptable");
    for fine in ["application/json", "application/*", "text/html, */*;q=0.1", ""] {
        accept(fine).expect(200);
    }
}

#[test]
fn a_body_that_cannot_be_read_is_refused() {
    let service = shared();
    let send = |kind: &str, body: &[u8]| service.send("POST", "/v1/tightening", &[("Content-Type", kind)], body);
    let json = "application/json";
    send(json, b"{\"thread\": ").problem(400, "unreadable");
    send(json, b"").problem(400, "unreadable");
    send(json, b"{\"thread\": \"\xff\"}").problem(400, "unreadable");
    send(json, b"{\"thread\": \"M8\", \"thread\": \"M10\"}").problem(400, "unreadable");
    send(json, "[".repeat(100_000).as_bytes()).problem(400, "unreadable");
    send("text/plain", b"{}").problem(415, "wrong-media-type");
    send("application/json; charset=utf-16", b"{}").problem(415, "wrong-media-type");
    send("application/json; charset=UTF-8", b"{}").problem(422, "faulty");
    service.send("POST", "/v1/tightening", &[], b"{}").problem(415, "wrong-media-type");
    let large = format!("{{\"thread\": \"{}\"}}", "M".repeat(2 << 20));
    send(json, large.as_bytes()).problem(413, "body-too-large");
    let body = json!({ "thread": "M8", "property_class": "8.8", "torqe": "20 N·m", "grip": "2" });
    let problem = service.send_json("POST", "/v1/tightening", &[], &body).problem(422, "faulty");
    assert_eq!(problem["errors"][0]["pointer"], "/torqe");
    assert_eq!(problem["errors"][1]["pointer"], "/grip");
}

#[test]
fn a_body_without_end_is_cut_off() {
    let chunk = format!("{:x}\r\n{}\r\n", 1 << 16, "M".repeat(1 << 16));
    let head = "POST /v1/tightening HTTP/1.1\r\nHost: x\r\nConnection: close\r\nContent-Type: application/json\r\n\
         Transfer-Encoding: chunked\r\n\r\n";
    let answer = shared().send_raw(format!("{head}{}", chunk.repeat(40)).as_bytes());
    answer.problem(413, "body-too-large");
}

#[test]
fn tricks_with_addresses_are_refused() {
    let service = shared();
    service.get(&format!("/v1/rules?q={}", "a".repeat(9000))).problem(414, "address-too-long");
    for name in ["%00", "..%2F..%2Fetc", "%FF", "unknown-thread%0A", "%E2%80%AE"] {
        service.get(&format!("/v1/rules/{name}")).problem(404, "not-found");
    }
    service.get("/v1/standards/classes/%00").problem(400, "unreadable");
    service.get(&format!("/v1/standards/classes/{}", encoded("grade 5"))).expect(200);
    service.get("/docs/../../etc/passwd").problem(404, "not-found");
    service.get("/docs/%2e%2e/%2e%2e/etc/passwd").problem(404, "not-found");
}

#[test]
fn a_flood_of_headers_does_not_end_the_service() {
    let service = shared();
    let many: String = (0..5000).map(|n| format!("X-{n}: {n}\r\n")).collect();
    let answer = service.send_raw(format!("GET /health/live HTTP/1.1\r\nHost: x\r\n{many}\r\n").as_bytes());
    assert!(matches!(answer.status, 400 | 431), "{}", answer.status);
    let long = "x".repeat(1 << 20);
    let answer = service.send_raw(format!("GET /health/live HTTP/1.1\r\nHost: x\r\nX: {long}\r\n\r\n").as_bytes());
    assert!(matches!(answer.status, 400 | 431), "{}", answer.status);
    service.get("/health/live").expect(200);
}

#[test]
fn the_page_that_shows_the_document_asks_nothing_of_the_network() {
    let service = shared();
    assert_eq!(service.get("/docs").expect(308).header("location"), Some("/docs/"));
    let start = service.get("/docs/swagger-initializer.js").expect(200);
    assert!(start.text().contains("/openapi.json"));
    assert!(start.text().contains("\"validatorUrl\": \"none\"") || start.text().contains("validatorUrl: \"none\""));
    assert!(!service.get("/docs/").expect(200).text().contains("http"), "an address of another place");
    service.get("/docs/nothing.js").problem(404, "not-found");
}

#[test]
fn every_problem_has_a_page_in_words() {
    for kind in clampbook::api::PROBLEM_KINDS {
        let page = shared().get(&format!("/problems/{}", kind.name)).expect(200);
        assert!(page.text().starts_with(kind.title) && page.text().len() > 80);
    }
    shared().get("/problems/not-a-problem").problem(404, "not-found");
}
