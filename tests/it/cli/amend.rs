//! `amend`: single fields.

use super::{Book, COVER, HEX};
use serde_json::{Value, json};

#[track_caller]
fn shown(book: &Book, id: &str) -> Value {
    book.run(&["show", id, "--as", "json"]).json()
}

#[test]
fn fields_are_set_and_the_change_is_told() {
    let book = Book::of_the_yard();
    let done =
        book.run(&["--by", "mo", "amend", HEX, "stages[2]=6Nm", "count=5", "source.checked_by=", "--as", "table"]);
    assert_eq!(
        done.fine(),
        format!(
            "{HEX} is now at revision 2\n\
             \u{20} stages: hand → 3 N·m → 5.5 N·m became hand → 3 N·m → 6 N·m\n\
             \u{20} source: Skerry Yard workshop book 3 40 5.5 N·m (49 lbf·in) tove kaj became\n\
             \u{20}   Skerry Yard workshop book 3 40 5.5 N·m (49 lbf·in) tove\n"
        )
    );
    let record = shown(&book, HEX);
    assert_eq!(record["stages"], json!(["hand", "3 N·m", "6 N·m"]));
    assert_eq!((&record["book"]["changed_by"], &record["book"]["is_checked"]), (&json!("mo"), &json!(false)));
}

#[test]
fn a_check_that_is_older_than_the_change_is_pointed_at() {
    let book = Book::of_the_yard();
    book.run(&["amend", HEX, "stages=hand → 6 N·m"]).says(
        0,
        "The record still reads as checked by kaj, who saw it before this change. source.checked_by= takes that away\n",
    );
    let same = book.run(&["amend", HEX, "stages=hand | 6 N·m", "--as", "json"]);
    assert_eq!(same.json(), json!({ "items": [{ "id": HEX, "revision": 2, "changed": false }] }));
    assert_eq!(same.err, "");
}

#[test]
fn a_finding_is_accepted_with_its_reason() {
    let book = Book::of_the_yard();
    book.run(&["amend", HEX, "--accept", "missing-source", "--why", "read aloud at the bench", "source.checked_by="])
        .fine();
    let accepted = json!({ "rule": "missing-source", "reason": "read aloud at the bench" });
    assert_eq!(shown(&book, HEX)["accepted"], json!([accepted]));
    book.run(&["amend", HEX, r#"accepted+={"rule":"unchecked-entry","reason":"one of us"}"#]).fine();
    assert_eq!(shown(&book, HEX)["accepted"][1]["reason"], "one of us");
    book.run(&["amend", HEX, "--accept", "mising-source", "--why", "x"]).says(
        2,
        "clampbook: no rule is called \"mising-source\". Did you mean missing-source? \"clampbook explain rules\" lists \
         them\n",
    );
}

#[test]
fn all_faults_are_named_and_nothing_is_stored() {
    let book = Book::of_the_yard();
    book.run(&["amend", HEX, "hed=hexagon", "count=many", "stages[1]=4"]).says(
        2,
        "clampbook: hed: there is no field \"hed\" here. Did you mean head?\n\
         count: a whole number from 1 to 9999 belongs here.\n\
         stages.1: expected a unit of torque (N·m, lbf·ft, lbf·in, kgf·m, kgf·cm, cN·m), but \"4\" ends there.\n\
         Nothing was stored. \"clampbook explain FIELD\" says what may stand there\n",
    );
    assert_eq!(shown(&book, HEX)["book"]["revision"], 1);
    for (assignment, says) in [
        ("page", "\"page\" has no =. Write FIELD=VALUE, such as source.page=41; FIELD= takes the field away"),
        ("stages[9]=hand", "stages.9 leads nowhere at \"9\": the list has entries 0 to 2"),
        ("note=", "note is not there, so it cannot be taken away"),
        ("id=skua.diesel.raw-water-pump.cover.hax", "the id of a record stays"),
    ] {
        let done = book.run(&["amend", HEX, assignment]);
        assert_eq!(done.code, 2, "{assignment}");
        assert!(done.err.contains(says), "{assignment}: {}", done.err);
    }
}

#[test]
fn a_joint_is_amended_like_a_fastener() {
    let book = Book::of_the_yard();
    book.run(&["amend", COVER, "cautions+=The cover is heavy", "positions[0].x_mm=-31.5", "source.checked_by="]).fine();
    let joint = shown(&book, COVER);
    assert_eq!(joint["positions"][0]["x_mm"], -31.5);
    assert!(joint["cautions"].as_array().unwrap().contains(&json!("The cover is heavy")));
}

#[test]
fn a_book_that_has_changed_meanwhile_is_not_overwritten() {
    let book = Book::of_the_yard();
    book.run(&["amend", HEX, "note=first", "source.checked_by="]).fine();
    let late = book.run(&["amend", HEX, "note=second", "--revision", "1"]);
    assert_eq!(late.code, 5, "{late:?}");
    assert!(late.err.ends_with("and is at revision 2 now. Read it again, then write.\n"), "{}", late.err);
    assert_eq!(shown(&book, HEX)["note"], "first");
}

#[test]
fn what_is_not_there_or_withdrawn_is_not_amended() {
    let book = Book::of_the_yard();
    assert_eq!(book.run(&["amend", "skua.no.such", "note=x"]).code, 1);
    book.run(&["withdraw", HEX, "--why", "wrong yard"]).fine();
    book.run(&["amend", HEX, "note=x"])
        .says(1, &format!("clampbook: {HEX} is withdrawn. \"clampbook put\" brings it back\n"));
}
