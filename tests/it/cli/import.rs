//! `import`, `put` and `export`, and the faults of what is taken in.

use super::{Book, HEX};
use serde_json::json;

const PARTS: &str = "id,joint,thread,torque,angle\n\
    a.b.c1,a.b,M8,20 N·m,\n\
    a.b.c2,a.b,M8,95,\n\
    a.b.c3,a.b,M8,\"8,5 N·m\",90\n\
    a.b.c4,a.b,,20 N·m,\n\
    x.b.c5,a.b,M8,20 N·m,\n\
    a.b.c1,a.b,M10,20 N·m,\n";

const FAULTS: &str = "parts.csv:3: torque \"95\" has no unit. Write 95 N·m.\n\
    parts.csv:4: torque: \"8,5 N·m\" has a comma between digits, which may part thousands or decimals. Write it \
    without, or say --decimal comma.\n\
    parts.csv:4: angle \"90\" has no unit. Write 90°.\n\
    parts.csv:5: thread: the field \"thread\" must be given.\n\
    parts.csv:6: id: the id of a fastener begins with the id of its joint, \"a.b.\". Write a.b.c5 or correct \"joint\".\n\
    parts.csv:7: id: \"a.b.c1\" stands in record 1 already. Keep one of the two.\n";

#[test]
fn every_fault_of_every_line_is_told_and_nothing_is_stored() {
    let book = Book::none();
    book.file("parts.csv", PARTS);
    let done = book.run(&["import", "parts.csv"]);
    done.says(1, FAULTS);
    assert_eq!(done.out, "parts.csv\t6\t0\t1\t0\t0\t0\t6\n");
    assert_eq!(book.run(&["export"]).fine(), "");
}

#[test]
fn what_is_right_is_stored_if_that_is_asked_for() {
    let book = Book::none();
    book.file("parts.csv", PARTS);
    let checked = book.run(&["import", "--check", "parts.csv", "--as", "json"]);
    assert_eq!((checked.code, &checked.json()["stored"]), (1, &json!(0)));
    let done = book.run(&["import", "--partial", "parts.csv", "--faults", "faults.csv", "--as", "json"]);
    done.says(1, FAULTS);
    assert_eq!((&done.json()["stored"], &done.json()["faulty_records"]), (&json!(1), &json!(5)));
    assert_eq!(
        book.run(&["export"]).fine(),
        "{\"kind\":\"fastener\",\"id\":\"a.b.c1\",\"joint\":\"a.b\",\"thread\":\"M8×1.25\",\"stages\":[\"20 N·m\"]}\n"
    );
    let faults = std::fs::read_to_string(book.store().with_file_name("faults.csv")).unwrap();
    assert_eq!(faults.lines().count(), 7);
    assert!(faults.starts_with("line,record,column,code,pointer,given,detail,hint"), "{faults}");
    let again = book.run(&["import", "--partial", "--check", "parts.csv"]);
    assert_eq!(again.code, 2, "{again:?}");
}

#[test]
fn a_heading_that_is_not_known_is_told_with_what_is_near() {
    let book = Book::none();
    book.file("parts.csv", "id,joint,thred,stages\na.b.c1,a.b,M8,20 N·m\n");
    book.run(&["import", "parts.csv"]).says(
        1,
        "parts.csv:1: thred: \"thred\" is not a column that is known. Did you mean thread or thread_class?\n\
         parts.csv:1: thread: \"thread\" must be a column.\n",
    );
}

#[test]
fn a_decimal_comma_is_read_where_it_is_announced() {
    let book = Book::none();
    book.file("parts.csv", "id;joint;thread;torque\na.b.c1;a.b;M8;8,5 N·m\n");
    book.run(&["import", "--decimal", "comma", "parts.csv"]).fine();
    assert!(book.run(&["show", "a.b.c1"]).fine().contains("stages\t8.5 N·m\n"));
}

#[test]
fn faults_of_ndjson_name_line_and_place() {
    let book = Book::none();
    book.file(
        "parts.ndjson",
        "{\"kind\":\"fastener\",\"id\":\"a.b.c\",\"joint\":\"a.b\",\"thread\":\"M8\",\"stages\":[\"hand\",\"95\"],\
         \"hed\":\"hexagon\"}\n",
    );
    book.run(&["import", "parts.ndjson"]).says(
        1,
        "parts.ndjson:1: /hed: there is no field \"hed\" here. Did you mean head?\n\
         parts.ndjson:1: /stages/1: expected a unit of torque (N·m, lbf·ft, lbf·in, kgf·m, kgf·cm, cN·m), but \"95\" \
         ends there.\n",
    );
}

#[test]
fn a_record_that_the_book_has_is_refused_skipped_or_replaced() {
    let book = Book::none();
    let one = |torque: &str| format!("id,joint,thread,torque\na.b.c1,a.b,M8,{torque}\n");
    book.file("one.csv", &one("20 N·m"));
    book.file("other.csv", &one("22 N·m"));
    book.run(&["import", "one.csv"]).fine();
    assert_eq!(book.run(&["import", "one.csv"]).fine(), "one.csv\t1\t0\t0\t0\t1\t0\t0\n");
    book.run(&["import", "other.csv"]).says(
        1,
        "other.csv:2: id: the book has \"a.b.c1\" already, with another content (revision 1). Import with --on-same \
         replace or --on-same skip, or take the record out.\n",
    );
    assert_eq!(book.run(&["import", "--on-same", "skip", "other.csv"]).fine(), "other.csv\t1\t0\t0\t0\t0\t1\t0\n");
    assert_eq!(book.run(&["import", "--on-same", "replace", "other.csv"]).fine(), "other.csv\t1\t1\t0\t1\t0\t0\t0\n");
    assert!(book.run(&["show", "a.b.c1"]).fine().contains("\nbook.revision\t2\n"));
}

#[test]
fn a_file_that_cannot_be_read_leaves_no_book_behind() {
    let book = Book::none();
    book.file("one.csv", "id,joint,thread,torque\na.b.c1,a.b,M8,20 N·m\n");
    book.run(&["import", "one.csv", "two.csv"])
        .says(3, "clampbook: two.csv cannot be read: No such file or directory (os error 2)\n");
    assert!(!book.store().exists());
    book.run(&["import", "."]).says(3, "clampbook: . cannot be read: it is a folder. Name the files in it\n");
}

#[test]
fn put_stores_over_what_stands_there_all_or_none() {
    let book = Book::of_the_yard();
    let record = |torque: &str| {
        format!(
            "{{\"kind\":\"fastener\",\"id\":\"a.b.d\",\"joint\":\"a.b\",\"thread\":\"M8\",\"stages\":[\"{torque}\"]}}"
        )
    };
    let put = |torque: &str, revision: &str| book.run_with(&record(torque), &["put", "-", "--revision", revision]);
    put("20 N·m", "3").says(1, "clampbook: a.b.d: it is not in the book. Correct the id, or put it as a new record.\n");
    assert_eq!(put("20 N·m", "0").fine(), "a.b.d\t1\tyes\n");
    assert_eq!(put("22 N·m", "0").code, 5);
    assert_eq!(put("22 N·m", "1").fine(), "a.b.d\t2\tyes\n");
    let two = format!("{}\n{{\"kind\":\"fastener\",\"id\":\"a.b.e\"}}\n", record("24 N·m"));
    let done = book.run_with(&two, &["put", "-"]);
    assert_eq!(done.code, 1);
    assert!(
        done.err.starts_with("clampbook: standard input has faults, nothing was done:\nstandard input:2: "),
        "{}",
        done.err
    );
    assert_eq!(book.run(&["show", "a.b.d", "--as", "json"]).json()["book"]["revision"], 2);
    book.run_with("", &["put", "-"]).says(1, "clampbook: standard input holds no record\n");
}

#[test]
fn what_was_shown_can_be_put_back() {
    let book = Book::of_the_yard();
    let shown = book.run(&["show", HEX, "--as", "json"]).fine();
    assert_eq!(book.run_with(&shown, &["put", "-"]).fine(), format!("{HEX}\t1\tno\n"));
}

#[test]
fn an_export_imported_again_gives_the_same_export() {
    let book = Book::of_the_yard();
    for (form, file) in [("ndjson", "all.ndjson"), ("csv", "all.csv")] {
        let exported = book.run(&["export", "--as", form]).fine();
        let written = book.run(&["export", "--output", file]);
        assert_eq!((written.code, written.out.as_str()), (0, ""));
        assert!(written.err.ends_with(&format!("records written to {file}\n")), "{}", written.err);
        assert_eq!(std::fs::read_to_string(book.store().with_file_name(file)).unwrap(), exported);
        book.run(&["--store", form, "import", file]).fine();
        assert_eq!(book.run(&["--store", form, "export", "--as", form]).fine(), exported);
    }
    book.run(&["export", "--as", "table"]).says(2, "clampbook: an export is --as ndjson or --as csv\n");
    let joints = book.run(&["export", "--kind", "joint"]).fine();
    assert!(joints.lines().all(|line| line.starts_with("{\"kind\":\"joint\"")));
}
