//! Intakes outlive the process that took them in, however it ended.

use super::{Process, body, header, status};
use crate::cli::Book;
use serde_json::Value;

fn send(service: &Process, path: &str, text: &str) -> String {
    let head = "HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nContent-Type: text/csv";
    service.send_raw(format!("POST {path} {head}\r\nContent-Length: {}\r\n\r\n{text}", text.len()).as_bytes())
}

#[test]
fn what_was_checked_is_applied_after_a_kill_and_its_faults_are_there() {
    let book = Book::of_the_yard();
    let service = Process::on(&book, &["--open"]);
    let good = "id,joint,thread,stages\na.b.c1,a.b,M8,20 N\u{b7}m\na.b.c2,a.b,M8,22 N\u{b7}m\n";
    let checked = send(&service, "/v1/intakes.csv?mode=check&name=parts.csv", good);
    assert_eq!(status(&checked), 200);
    let checked_at = header(&checked, "location").unwrap();
    let refused = send(&service, "/v1/intakes.csv?mode=check", &good.replace("22 N\u{b7}m", "22"));
    assert_eq!(status(&refused), 422);
    let refused: Value = serde_json::from_str(body(&refused)).unwrap();
    let faults_at = format!("/v1/intakes/{}/faults.csv", refused["intake"]["id"].as_str().unwrap());
    let (shown, faults, list) =
        (service.get(checked_at, &[]), service.get(&faults_at, &[]), service.get("/v1/intakes", &[]));
    // It is killed, not stopped.
    drop(service);
    let service = Process::on(&book, &["--open"]);
    for (path, before) in [(checked_at, &shown), (&faults_at, &faults), ("/v1/intakes", &list)] {
        let after = service.get(path, &[]);
        assert_eq!((status(&after), body(&after)), (200, body(before)), "{path}");
    }
    let apply = format!("{checked_at}/apply");
    let applied = send(&service, &apply, "");
    assert_eq!(status(&applied), 201, "{applied}");
    assert_eq!(status(&service.get("/v1/fasteners/a.b.c2", &[])), 200);
    drop(service);
    let service = Process::on(&book, &["--open"]);
    let again = send(&service, &apply, "");
    assert_eq!((status(&again), body(&again)), (201, body(&applied)), "sent again it says the same");
    drop(service);
    // The other commands don't mind what lies beside the book.
    assert_eq!(book.run(&["verify"]).code, 0);
    let elsewhere = book.store().with_extension("intakes");
    let service = Process::on(&book, &["--open", "--intakes", elsewhere.to_str().unwrap()]);
    assert_eq!(body(&service.get("/v1/intakes", &[])), "{\"items\":[]}\n");
    assert_eq!(status(&send(&service, "/v1/intakes.csv?mode=check", good)), 200);
    assert_eq!(std::fs::read_dir(&elsewhere).unwrap().count(), 3);
}
