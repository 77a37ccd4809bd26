//! The demonstration finds every planted slip and raises no alarm on the yard's own records.

use serde_json::Value;
use std::collections::BTreeSet;
use std::process::Command;

#[test]
fn the_demonstration_finds_every_planted_slip() {
    let done = Command::new(env!("CARGO_BIN_EXE_clampbook")).args(["demo", "--as", "json"]).output().unwrap();
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
    let shown: Value = serde_json::from_slice(&done.stdout).unwrap();
    let slips = shown["slips"].as_array().unwrap();
    let kinds: BTreeSet<&str> = slips.iter().map(|slip| slip["kind"].as_str().unwrap()).collect();
    assert!(slips.len() >= 20 && kinds.len() >= 12, "{} slips of {} kinds", slips.len(), kinds.len());
    let missed: Vec<&Value> = slips.iter().filter(|slip| slip["is_found"] != Value::Bool(true)).collect();
    assert!(missed.is_empty(), "{missed:?}");
    let only_noted = slips.iter().filter(|slip| slip["finding"]["severity"] == "note").count();
    assert!(only_noted <= 2, "{only_noted} slips are only noted");
    assert_eq!((&shown["yard_errors"], &shown["yard_warnings"]), (&Value::from(0), &Value::from(0)));
}

#[test]
fn the_demonstration_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let run = Command::new(env!("CARGO_BIN_EXE_clampbook")).arg("demo").env("TMPDIR", folder.path()).output().unwrap();
    assert!(run.status.success());
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn a_pipe_gets_the_whole_demonstration() {
    let run = Command::new(env!("CARGO_BIN_EXE_clampbook")).arg("demo").output().unwrap();
    let text = String::from_utf8(run.stdout).unwrap();
    for part in ["LOOK-UP", "BENCH CARD", "AUDIT of the yard's own records", "AUDIT of a training sheet"] {
        assert!(text.contains(part), "{part} is missing in:\n{text}");
    }
}
