//! The book as tables and lines: counted before the first byte, guarded, equal to what the command line writes.

use super::service::{fresh, on, shared};
use crate::cli::Book;
use clampbook::catalog::{Catalog, OpenOptions};
use serde_json::{Value, json};

const CSV: &str = "/v1/exports/fasteners.csv";

#[test]
fn an_export_says_how_many_records_it_holds() {
    let service = shared();
    for (path, list, media_type) in [
        (CSV, "/v1/fasteners", "text/csv; charset=utf-8; header=present"),
        ("/v1/exports/fasteners.ndjson", "/v1/fasteners", "application/x-ndjson"),
        ("/v1/exports/joints.csv", "/v1/joints", "text/csv; charset=utf-8; header=present"),
        ("/v1/exports/records.csv", "/v1/records", "text/csv; charset=utf-8; header=present"),
        ("/v1/exports/joints.ndjson", "/v1/joints", "application/x-ndjson"),
        ("/v1/exports/records.ndjson", "/v1/records", "application/x-ndjson"),
    ] {
        let answer = service.get(path).expect(200);
        assert_eq!(answer.header("content-type"), Some(media_type));
        let count: u64 = answer.header("record-count").unwrap().parse().unwrap();
        assert_eq!(count, service.get(&format!("{list}?count=exact&take=1")).json()["page"]["count"].as_u64().unwrap());
        let rows = match media_type.starts_with("text/csv") {
            true => csv::Reader::from_reader(answer.body.as_slice()).records().map(Result::unwrap).count(),
            false => answer.text().lines().filter(|line| serde_json::from_str::<Value>(line).is_ok()).count(),
        };
        assert_eq!(rows as u64, count, "{path}");
        let head = service.send("HEAD", path, &[], b"").expect(200);
        assert_eq!((head.body.len(), head.header("record-count")), (0, answer.header("record-count")));
        let tag = answer.header("etag").unwrap();
        service.send("GET", path, &[("If-None-Match", tag)], b"").expect(304);
        let since = answer.header("changes-since").unwrap();
        let changes = service.get(&format!("/v1/changes?since={since}")).expect(200).json();
        assert_eq!(changes["items"], json!([]), "the feed goes on where the export ends");
        service.send("GET", path, &[("Accept", "application/json")], b"").problem(406, "not-acceptable");
        service.get(&format!("{path}?kind=joint")).problem(400, "unreadable");
    }
}

#[test]
fn findings_come_as_lines_as_they_stand_in_the_list() {
    let service = shared();
    for question in ["", "?at_least=warning", "?within=skua.gearbox", "?rule=unchecked-entry&at_least=note"] {
        let list = service.get(&format!("/v1/findings{question}")).expect(200).json();
        let answer = service.get(&format!("/v1/exports/findings.ndjson{question}")).expect(200);
        assert_eq!(answer.header("content-type"), Some("application/x-ndjson"));
        let lines = answer.text().lines().map(|line| serde_json::from_str(line).unwrap()).collect::<Vec<Value>>();
        assert!(!question.is_empty() || lines.len() > 50, "only {} lines", lines.len());
        assert_eq!(list["items"], Value::Array(lines), "{question}");
        let tag = answer.header("etag").unwrap();
        service.send("GET", "/v1/exports/findings.ndjson", &[("If-None-Match", tag)], b"").expect(304);
    }
    service.get("/v1/exports/findings.ndjson?at_least=grave").problem(400, "unreadable");
    assert_eq!(service.send("HEAD", "/v1/exports/findings.ndjson", &[], b"").expect(200).body.len(), 0);
}

#[test]
fn exports_are_those_of_the_command_line_byte_for_byte() {
    let book = Book::of_the_yard();
    let table = book.command(&["export", "--kind", "fastener", "--as", "csv"]).output().unwrap().stdout;
    let lines = book.command(&["export", "--kind", "joint"]).output().unwrap().stdout;
    let service = on(Catalog::open(&book.store(), &OpenOptions::default()).unwrap());
    assert!(table.len() > 10_000 && service.get(CSV).expect(200).body == table);
    assert!(lines.len() > 10_000 && service.get("/v1/exports/joints.ndjson").expect(200).body == lines);
}

#[test]
fn a_cell_that_could_be_a_formula_is_guarded() {
    let service = fresh();
    for (i, text) in ["=1+1", "+1", "-1", "@SUM(A1)", "'=1", "a,\"b\""].iter().enumerate() {
        let body = json!({ "joint": "skua.test.joint", "thread": "M8", "stages": ["20 N·m"], "name": text });
        let path = format!("/v1/fasteners/skua.test.joint.n{i}");
        service.send_json("PUT", &path, &[("If-None-Match", "*")], &body).expect(201);
    }
    let answer = service.get(CSV).expect(200);
    let mut reader = csv::Reader::from_reader(answer.body.as_slice());
    let at = reader.headers().unwrap().iter().position(|name| name == "name").unwrap();
    let rows = reader.records().map(Result::unwrap).filter(|row| row.iter().any(|cell| cell == "skua.test.joint"));
    let names: Vec<String> = rows.map(|row| row[at].to_owned()).collect();
    assert_eq!(names, ["'=1+1", "'+1", "'-1", "'@SUM(A1)", "''=1", "a,\"b\""]);
    let formula = |cell: &str| cell.starts_with(['=', '+', '-', '@']);
    let mut reader = csv::Reader::from_reader(answer.body.as_slice());
    assert!(reader.records().all(|row| !row.unwrap().iter().any(formula)));
}

#[test]
fn the_table_is_what_its_description_says() {
    for what in ["fasteners", "joints", "records"] {
        is_what_its_description_says(what);
    }
}

fn is_what_its_description_says(what: &str) {
    let service = shared();
    let answer = service.get(&format!("/v1/exports/{what}.csv")).expect(200);
    let described = format!("</v1/exports/{what}.schema.json>; rel=\"describedby\"");
    assert!(answer.header("link").unwrap().starts_with(&described));
    let schema = service.get(&format!("/v1/exports/{what}.schema.json")).expect(200).json();
    let fields = schema["fields"].as_array().unwrap();
    let mut reader = csv::Reader::from_reader(answer.body.as_slice());
    let names: Vec<Value> = reader.headers().unwrap().iter().map(Value::from).collect();
    assert_eq!(names, fields.iter().map(|field| field["name"].clone()).collect::<Vec<_>>());
    let mut rows = 0;
    for row in reader.records() {
        rows += 1;
        for (cell, field) in row.unwrap().iter().zip(fields) {
            let rule = &field["constraints"];
            assert!(!cell.is_empty() || rule["required"] == false, "{field}");
            if cell.is_empty() {
                continue;
            }
            assert!(field["type"] != "integer" || cell.parse::<u64>().is_ok(), "{cell}: {field}");
            assert!(field["type"] != "number" || cell.parse::<f64>().is_ok(), "{cell}: {field}");
            let words = rule["enum"].as_array();
            assert!(words.is_none_or(|words| words.contains(&json!(cell))), "{cell}: {field}");
            let pattern = rule["pattern"].as_str().map(|pattern| regex::Regex::new(pattern).unwrap());
            assert!(pattern.is_none_or(|pattern| pattern.is_match(cell)), "{cell}: {field}");
        }
    }
    assert!(rows > 20, "{what}: {rows}");
    let kinds = &fields[0]["constraints"]["enum"];
    assert_eq!(kinds.as_array().unwrap().len(), if what == "records" { 2 } else { 1 });
}
