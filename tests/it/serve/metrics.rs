//! The second listener: metrics that follow what happens, in both forms.

use super::{Process, body, header, status};
use crate::cli::{Book, HEX};
use std::io::{Read, Write};
use std::net::TcpStream;

/// Where the metrics of a service are, as its log says.
pub fn address(service: &Process) -> String {
    let line = &service.log_with("metrics", 1)[0];
    line["metrics"].as_str().unwrap().to_owned()
}

pub fn scrape(address: &str, path: &str, headers: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n{headers}\r\n").unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    answer
}

/// The value of a sample.
#[track_caller]
fn value(text: &str, sample: &str) -> f64 {
    let line = text.lines().find_map(|line| line.strip_prefix(sample)?.strip_prefix(' '));
    line.unwrap_or_else(|| panic!("{sample} is not in\n{text}")).parse().unwrap()
}

#[test]
fn metrics_follow_what_happens_and_are_not_on_the_first_listener() {
    let book = Book::of_the_yard();
    let service = Process::on(&book, &["--open", "--log", "json", "--metrics-listen", "127.0.0.1:0"]);
    assert_eq!(status(&service.get("/metrics", &[])), 404);
    let metrics = address(&service);
    let before = scrape(&metrics, "/metrics", "");
    assert_eq!(header(&before, "content-type"), Some("application/openmetrics-text; version=1.0.0; charset=utf-8"));
    assert!(before.trim_end().ends_with("# EOF"));
    for _ in 0..3 {
        assert_eq!(status(&service.get(&format!("/v1/fasteners/{HEX}"), &[])), 200);
    }
    assert_eq!(status(&service.get("/v1/fasteners/a.b.c", &[])), 404);
    assert_eq!(status(&service.get("/v1/no/such/path", &[])), 404);
    let tag = service.get(&format!("/v1/fasteners/{HEX}"), &[]);
    let tag = header(&tag, "etag").unwrap().to_owned();
    let withdrawn = service.send_raw(
        format!(
            "DELETE /v1/fasteners/{HEX} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nIf-Match: {tag}\r\n\r\n"
        )
        .as_bytes(),
    );
    assert_eq!(status(&withdrawn), 200);
    let after = scrape(&metrics, "/metrics", "");
    let counted = |sample: &str| value(body(&after), sample);
    assert!((counted("clampbook_requests_total{operation=\"get_fastener\",status=\"200\"}") - 4.0).abs() < 0.1);
    assert!((counted("clampbook_requests_total{operation=\"get_fastener\",status=\"404\"}") - 1.0).abs() < 0.1);
    assert!((counted("clampbook_requests_total{operation=\"withdraw_fastener\",status=\"200\"}") - 1.0).abs() < 0.1);
    assert!((counted("clampbook_request_duration_seconds_count{operation=\"get_fastener\"}") - 5.0).abs() < 0.1);
    assert!(!body(&after).contains(HEX) && !body(&after).contains("such"), "somebody's ids are in the metrics");
    let before = |sample: &str| value(body(&before), sample);
    let change = counted("clampbook_last_change") - before("clampbook_last_change");
    assert!((change - 1.0).abs() < 0.1, "{change}");
    assert!(counted("clampbook_log_lines_lost_total").abs() < 0.1);
    assert!((counted("clampbook_records{kind=\"any\",state=\"withdrawn\"}") - 1.0).abs() < 0.1);
    let revisions = counted("clampbook_revisions_total") - before("clampbook_revisions_total");
    assert!((revisions - 1.0).abs() < 0.1, "{revisions}");

    let older = scrape(&metrics, "/metrics", "Accept: text/plain\r\n");
    assert_eq!(header(&older, "content-type"), Some("text/plain; version=0.0.4; charset=utf-8"));
    assert!(body(&older).contains("# TYPE clampbook_requests_total counter\n"));
    assert_eq!(status(&scrape(&metrics, "/v1/fasteners", "")), 404);
}
