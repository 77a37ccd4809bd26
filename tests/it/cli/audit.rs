//! `audit` of the book and of files, `explain`.

use super::{Book, HEX, run};
use serde_json::Value;

/// Bolts of which the second is far beyond yield.
const NDJSON: &str = "{\"kind\":\"fastener\",\"id\":\"a.b.c1\",\"joint\":\"a.b\",\"thread\":\"M8\",\
    \"property_class\":\"8.8\",\"friction\":\"0.12\",\"stages\":[\"20 N·m\"]}\n\
    {\"kind\":\"fastener\",\"id\":\"a.b.c2\",\"joint\":\"a.b\",\"thread\":\"M8\",\"property_class\":\"8.8\",\
    \"friction\":\"0.12\",\"stages\":[\"200 N·m\"]}\n";

fn findings(text: &str) -> Vec<Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn a_file_is_audited_in_each_of_its_forms_and_not_stored() {
    let book = Book::none();
    let array = format!("[{}]", NDJSON.trim().replace('\n', ","));
    let csv = "id,joint,thread,property_class,friction,torque\n\
               a.b.c1,a.b,M8,8.8,0.12,20 N·m\na.b.c2,a.b,M8,8.8,0.12,200 N·m\n";
    let mut answers = Vec::new();
    for (name, text) in [("parts.ndjson", NDJSON), ("parts.json", &array), ("parts.csv", csv)] {
        book.file(name, text);
        let done = book.run(&["audit", "--file", name, "--as", "ndjson"]);
        done.says(1, "");
        let found = findings(&done.out);
        let rules: Vec<&str> = found.iter().filter_map(|finding| finding["rule"].as_str()).collect();
        assert!(rules.contains(&"torque-beyond-yield"), "{name}: {rules:?}");
        assert!(found.iter().all(|finding| finding["record"] == "a.b.c2"), "{name}: {}", done.out);
        answers.push(done.out);
    }
    assert!(answers.iter().all(|answer| *answer == answers[0]));
    book.run(&["audit", "./parts.csv"])
        .says(2, "clampbook: ./parts.csv is a file. \"clampbook audit --file ./parts.csv\" audits what is in it\n");
    assert_eq!(book.run_with(NDJSON, &["audit", "--file", "-", "--as", "ndjson"]).out, answers[0]);
    assert!(!book.store().exists());
}

#[test]
fn severity_and_rule_choose_the_findings_and_the_exit_code() {
    let book = Book::none();
    book.file("parts.ndjson", NDJSON);
    let audit = |more: &[&str]| book.run(&[&["audit", "--file", "parts.ndjson", "--as", "ndjson"], more].concat());
    assert!(findings(&audit(&["--at-least", "note"]).out).len() > findings(&audit(&[]).out).len());
    let one = audit(&["--rule", "torque-beyond-yield"]);
    assert!(findings(&one.out).iter().all(|finding| finding["rule"] == "torque-beyond-yield"));
    assert_eq!(audit(&["--rule", "unknown-thread"]).fine(), "");
    audit(&["--rule", "torque-beyond-yeild"]).says(
        2,
        "clampbook: no rule is called \"torque-beyond-yeild\". Did you mean torque-beyond-yield, \
         torque-beyond-breaking or torque-not-judged? \"clampbook explain rules\" lists them\n",
    );
    let severity = audit(&["--at-least", "bad"]);
    assert_eq!(severity.code, 2);
    assert!(severity.err.contains("\"bad\" is not a severity; write note, warning or error"), "{}", severity.err);
    assert_eq!(audit(&["--sure", "2"]).code, 2);
}

#[test]
fn an_accepted_finding_is_no_longer_a_no() {
    let book = Book::none();
    book.run_with(NDJSON, &["put", "-"]).fine();
    assert_eq!(book.run(&["audit", "a.b.c1"]).fine(), "");
    let rules: Vec<Value> = findings(&book.run(&["audit", "a.b.c2", "--as", "ndjson"]).out);
    let mut names: Vec<String> = rules.iter().map(|finding| finding["rule"].as_str().unwrap().to_owned()).collect();
    names.dedup();
    for name in names {
        book.run(&["amend", "a.b.c2", "--accept", &name, "--why", "a test piece"]).fine();
    }
    assert_eq!(book.run(&["audit", "a.b.c2"]).fine(), "");
    let table = book.run(&["audit", "a.b.c2", "--accepted", "--as", "table"]);
    assert_eq!(table.code, 0);
    assert!(table.out.contains("           accepted: a test piece\n"), "{}", table.out);
    assert!(table.out.contains("0 errors, 0 warnings, 0 notes, "), "{}", table.out);
}

#[test]
fn the_yard_has_no_error_and_the_slips_have_many() {
    let book = Book::of_the_yard();
    assert_eq!(book.run(&["audit", "--at-least", "error"]).fine(), "");
    assert_eq!(
        book.run(&["audit", "--within", "skua.diesel", "--at-least", "error", "--as", "table"]).fine(),
        "0 errors, 0 warnings, 0 notes.\n\
         No finding does not mean that a number is right: each was compared with tables\n\
         and mechanics only.\n"
    );
    let slips = concat!(env!("CARGO_MANIFEST_DIR"), "/seed/slips.json");
    let done = book.run(&["audit", "--file", slips, "--as", "table"]);
    assert_eq!(done.code, 1);
    assert!(done.out.lines().all(|line| line.chars().count() <= 80), "{}", done.out);
}

#[test]
fn a_record_that_is_not_there_is_not_called_clean() {
    let book = Book::of_the_yard();
    let done = book.run(&["audit", &format!("{HEX}x")]);
    assert_eq!(done.code, 1);
    assert!(done.err.contains("is not in the book. Near it: "), "{}", done.err);
}

#[test]
fn explain_knows_rules_fields_slips_stages_and_exit_codes() {
    let rule = run(&["explain", "torque-beyond-yield", "--as", "table"]).fine();
    assert!(
        rule.starts_with("torque-beyond-yield\n\n  A torque that stretches the bolt beyond its yield strength.\n"),
        "{rule}"
    );
    for part in ["Why it matters\n", "Flagged\n", "Accepted\n", "Sources\n"] {
        assert!(rule.contains(part), "{part}");
    }
    assert_eq!(
        run(&["explain", "drive.size", "--as", "table"]).fine(),
        "drive.size of a fastener\n\
         \u{20} Its size.\n\
         \u{20} written as: width across flats, or the number of the drive\n\
         \u{20} such as: 13 mm\n"
    );
    assert!(run(&["explain", "renew[0].count", "--as", "table"]).fine().contains("renew.count of a joint"));
    assert!(run(&["explain", "stages", "--as", "table"]).fine().contains("check ≥ 60 N·m"));
    assert_eq!(run(&["explain", "wrong-unit"]).fine(), "wrong-unit\tright number, wrong unit\n");
    assert!(run(&["explain", "exit-codes"]).fine().starts_with("0\tdone, found, clean\n"));
    assert!(run(&["explain", "rules", "--as", "json"]).json()["items"].as_array().unwrap().len() > 15);
    assert!(run(&["explain"]).fine().lines().any(|line| line == "property_class"));
    run(&["explain", "propertyclass"]).says(
        2,
        "clampbook: nothing called \"propertyclass\" can be explained. Did you mean property_class? \"clampbook explain\" \
         lists what can\n",
    );
}

#[test]
fn the_demonstration_says_for_every_planted_slip_whether_it_was_found() {
    let done = run(&["demo", "--as", "ndjson"]);
    let planted: Vec<Value> = serde_json::from_str(include_str!("../../../seed/slips.answers.json")).unwrap();
    assert_eq!(done.out.lines().count(), planted.len());
    let missed = findings(&done.out).iter().filter(|slip| slip["is_found"] == false).count();
    assert_eq!(done.code, i32::from(missed > 0), "the exit code says whether slips were missed: {}", done.err);
}
