//! `find`, `show` and `at` in every form.

use super::{Book, COVER, HEX};
use serde_json::json;

#[test]
fn find_shows_records_in_a_form_for_each_reader() {
    let book = Book::of_the_yard();
    let table = book.run(&["find", "pump", "cover", "--head", "hexagon", "--as", "table"]).fine();
    assert_eq!(
        table,
        "skua.diesel.raw-water-pump.cover.hex  [checked]\n\
         \u{20} hexagon head, drive hexagon 10 mm, M6×1, A4-70, 20 mm long, at 1-4,6, fits\n\
         \u{20}   bronze-housing\n\
         \u{20} hand → 3 N·m → 5.5 N·m; may be used again\n"
    );
    let plain = book.run(&["find", "pump", "cover", "--head", "hexagon"]).fine();
    assert_eq!(
        plain,
        format!(
            "{HEX}\t1-4,6\thexagon\thexagon 10 mm\tM6×1\tA4-70\t20 mm\thand → 3 N·m → 5.5 N·m\tmay be used again\t\tchecked\t\n"
        )
    );
    let json = book.run(&["find", "pump", "cover", "--head", "hexagon", "--as", "json"]);
    assert_eq!(json.json()["items"][0]["id"], HEX);
    assert_eq!(json.json()["page"], json!({ "drift": false }));
    let ndjson = book.run(&["find", "--thread", "M6", "--as", "ndjson"]).fine();
    assert!(ndjson.lines().count() > 3);
    assert!(ndjson.lines().all(|line| serde_json::from_str::<serde_json::Value>(line).unwrap()["thread"] == "M6×1"));
    let csv = book.run(&["find", "--head", "countersunk", "--as", "csv"]).fine();
    assert!(
        csv.starts_with("id,positions,head,drive,thread,class,length,stages,reuse,title,checked,audit\r\n"),
        "{csv}"
    );
}

#[test]
fn find_takes_every_filter_and_any_mix_of_them() {
    let book = Book::of_the_yard();
    let count = |arguments: &[&str]| {
        let found = book.run(&[&["find", "--as", "ndjson", "--take", "500"], arguments].concat());
        assert!(found.code <= 1, "{found:?}");
        found.out.lines().count()
    };
    let all = count(&[]);
    assert!(all > 160);
    let (m8, m10) = (count(&["--thread", "M8"]), count(&["--thread", "m10"]));
    assert!(m8 > 0 && m10 > 0 && m8 + m10 < all);
    assert_eq!(count(&["--thread", "M8", "--thread", "M10"]), m8 + m10);
    assert_eq!(count(&["--thread", "M8,M10"]), m8 + m10);
    for filter in [
        &["--head", "socket-cap"][..],
        &["--class", "10.9"],
        &["--within", "skua.diesel"],
        &["--joint", COVER],
        &["--position", "3"],
        &["--reuse", "renew"],
        &["--torque", "20..40"],
        &["--torque", "15-30 lbf.ft"],
        &["--variant", "bronze-housing"],
        &["--where", "head.not=hexagon"],
        &["gearbox"],
    ] {
        let some = count(filter);
        assert!(some > 0 && some < all, "{filter:?}: {some} of {all}");
    }
    let mixed = count(&["--within", "skua.diesel", "--thread", "M8", "--class", "8.8", "--torque", "20..40"]);
    assert!(mixed > 0 && mixed < count(&["--within", "skua.diesel"]));
    assert_eq!(count(&["--as-of", "2020-01-01"]), 0);
    assert!(count(&["--kind", "joint"]) > 45);
    assert_eq!(count(&["--kind", "any"]), all + count(&["--kind", "joint"]));
}

#[test]
fn pages_follow_each_other() {
    let book = Book::of_the_yard();
    let first = book.run(&["find", "--take", "5", "--sort", "-torque", "--as", "json"]);
    let cursor = first.json()["page"]["next"].as_str().unwrap().to_owned();
    first.says(0, &format!("There is more: --after {cursor}\n"));
    let second = book.run(&["find", "--take", "5", "--sort", "-torque", "--after", &cursor, "--as", "json"]);
    assert_ne!(first.json()["items"][0]["id"], second.json()["items"][0]["id"]);
    let other = book.run(&["find", "--take", "5", "--after", &cursor]);
    assert_eq!(other.code, 2, "a cursor of another question: {other:?}");
}

#[test]
fn a_question_that_cannot_be_read_says_all_that_is_wrong() {
    let book = Book::of_the_yard();
    book.run(&["find", "--head", "hexagn", "--take", "0", "--sort", "hed", "--as-of", "yesterday"]).says(
        2,
        "clampbook: \"hexagn\" is not a kind of head (did you mean hexagon, hexagon-nut or hexagon-flange?); known are \
         hexagon, hexagon-flange, socket-cap, button, countersunk, pan, cheese, twelve-point-flange, \
         external-hexalobular-flange, square, round, hexagon-nut, flange-nut, none\n\
         clampbook: \"yesterday\" is not a moment. Write a moment such as 2026-03-01T00:00:00Z, or a day\n\
         clampbook: \"hed\" can't be ordered by. Did you mean head?\n\
         clampbook: a page holds 1 to 500 records. Write 1 to 500\n",
    );
    book.run(&["find", "--torque", "x"])
        .says(2, "clampbook: --torque \"x\" is no range. Write 20..40, 20.. or ..40, with a unit if not N·m\n");
    book.run(&["find", "--where", "head"])
        .says(2, "clampbook: --where \"head\" has no =. Write it like head.not=countersunk\n");
    book.run(&["find", "--where", "hed=x"])
        .says(2, "clampbook: there is no parameter \"hed\". Did you mean head, head.has or head.not?\n");
}

#[test]
fn nothing_found_is_a_no_that_says_what_was_perhaps_meant() {
    let book = Book::of_the_yard();
    book.run(&["find", "periscope"]).says(1, "clampbook: nothing in the book answers this. Ask for less\n");
    book.run(&["find", "--thread", "M9.5"]).says(
        1,
        "clampbook: nothing in the book answers this. Ask for less. No standard known here has M9.5; nearest: M9×1.25, \
         M10×1.5, M11×1.5\n",
    );
}

#[test]
fn show_gives_every_field_and_what_the_book_knows() {
    let book = Book::of_the_yard();
    let table = book.run(&["show", HEX, "--as", "table"]).fine();
    for line in [
        "thread          M6×1\n",
        "stages          hand → 3 N·m → 5.5 N·m\n",
        "source\n  document    Skerry Yard workshop book\n",
        "  revision    1\n",
        "  changed by  ines\n",
    ] {
        assert!(table.contains(line), "{line:?} in\n{table}");
    }
    let plain = book.run(&["show", HEX]).fine();
    assert!(plain.contains("\nsource.page\t40\n") && plain.contains("\nstages\thand | 3 N·m | 5.5 N·m\n"), "{plain}");
    let json = book.run(&["show", HEX, "--as", "json"]);
    assert_eq!(json.json()["book"]["revision"], 1);
    assert_eq!(json.out, book.run(&["show", HEX, "--as", "ndjson"]).fine());
    assert_eq!(json.json(), book.run(&["show", HEX, "--revision", "1", "--as", "json"]).json());
}

#[test]
fn show_says_what_is_near_what_is_not_there() {
    let book = Book::of_the_yard();
    book.run(&["show", &format!("{HEX}x")])
        .says(1, &format!("clampbook: {HEX}x is not in the book. Near it: {HEX}, {COVER}, {COVER}.flange\n"));
    book.run(&["show", HEX, "--revision", "4"])
        .says(1, &format!("clampbook: {HEX} has no revision 4. \"clampbook log {HEX}\" lists those it has\n"));
    book.run(&["show", "pump-cover"]).says(
        2,
        "clampbook: an id has two to eight segments joined by dots, \"pump-cover\" has 1. \"clampbook find pump cover\" \
         looks for words\n",
    );
}

#[test]
fn at_says_first_what_tells_two_kinds_apart() {
    let book = Book::of_the_yard();
    let table = book.run(&["at", COVER, "2", "--as", "table"]).fine();
    assert!(
        table.starts_with(
            "Raw-water pump cover, position 2\n\
             2 kinds of fastener answer: head hexagon flange or hexagon. Check the head\n\
             before setting a value.\n\
             \n\
             look at         flange          hex\n\
             --------------  --------------  --------------\n\
             head            hexagon flange  hexagon\n"
        ),
        "{table}"
    );
    let one = book.run(&["at", COVER, "2", "--variant", "bronze-housing", "--as", "json"]).json();
    assert_eq!(one["items"].as_array().unwrap().len(), 1);
    assert_eq!(
        one["caution"],
        "This joint has other heads too (countersunk, hexagon flange). Check that the head here is hexagon before setting \
         a value."
    );
    let both = book.run(&["at", COVER, "2", "--as", "json"]).json();
    assert_eq!(both["caution"].as_str().unwrap().split(": ").next(), Some("2 kinds of fastener answer"));
    assert_eq!(book.run(&["at", COVER, "2"]).fine().lines().count(), 2);
}

#[test]
fn at_answers_no_with_what_comes_near() {
    let book = Book::of_the_yard();
    let done = book.run(&["at", COVER, "9", "--as", "table"]);
    done.says(1, &format!("clampbook: nothing answers for position 9 of {COVER}\n"));
    assert!(done.out.contains("Nothing answers. What comes near:\n"), "{}", done.out);
    let done = book.run(&["at", "skua.diesel.raw-water-pump.covers", "1"]);
    assert_eq!(done.code, 1);
    assert!(
        done.err.contains(&format!("has no joint skua.diesel.raw-water-pump.covers. Near it: {COVER}")),
        "{}",
        done.err
    );
    let done = book.run(&["at", COVER, "two"]);
    assert_eq!(done.code, 2);
    assert!(done.err.contains("invalid value 'two' for '<POSITION>'"), "{}", done.err);
}

#[test]
fn a_store_that_is_not_there_is_said_with_what_to_do() {
    let book = Book::none();
    book.run(&["find", "x"]).says(
        3,
        "clampbook: book: there is no store here. Make one with `clampbook import` or `clampbook put`, or correct the \
         path.\n",
    );
    book.file("notes.txt", "hello");
    let done = book.run(&["--store", ".", "find", "x"]);
    done.says(
        3,
        "clampbook: .: this folder is not empty and holds no store (notes.txt is in it). Name another folder.\n",
    );
    book.run(&["--store", "notes.txt", "find"])
        .says(3, "clampbook: notes.txt: this is a file where a folder belongs. Name a folder.\n");
}
