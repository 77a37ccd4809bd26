//! Taking records in: forms, modes, faults with their lines, and what is held in memory.

use clampbook::catalog::{
    COLUMNS, Catalog, Decimal, ExportFormat, ImportFormat, ImportMode, ImportOptions, ImportReport, OnSame,
};
use clampbook::record::{Id, Record};
use std::cell::Cell;
use std::io::Read;
use std::rc::Rc;

fn options(name: &str) -> ImportOptions {
    ImportOptions { name: name.to_owned(), ..ImportOptions::default() }
}

fn import(catalog: &Catalog, text: &str, options: &ImportOptions) -> ImportReport {
    catalog.import(text.as_bytes(), options).unwrap()
}

fn lines(report: &ImportReport) -> Vec<String> {
    report.lines().collect()
}

fn get(catalog: &Catalog, id: &str) -> Option<Record> {
    catalog.get(&id.parse::<Id>().unwrap()).unwrap().map(|stored| (*stored.record).clone())
}

const GOOD: &str = r#"{"kind":"fastener","id":"a.b.c","joint":"a.b","thread":"M8","stages":["20 N·m"]}"#;

#[test]
fn a_table_with_faults_names_each_with_line_column_and_what_to_do() {
    let text = "id,joint,thread,stages,head,torque,note\r\n\
        a.b.c1,a.b,M8,20 N·m,hexagon,,\r\n\
        a.b.c2,a.b,M8,,hexagonal,95,\"two\r\n\
        lines\"\r\n\
        a.b.c3,a.b,M8,95,,,\r\n\
        a.b.c4,a.x,M8,\"1,250 N·m\",,,\r\n\
        a.b.c1,a.b,M8,20 N·m,hexagon,,\r\n\
        a.b.c5,a.b,M8\r\n\
        a.b.c6,a.b,M8,20 N·m,,30 N·m,\r\n";
    let catalog = Catalog::in_memory().unwrap();
    let report = import(&catalog, text, &options("parts.csv"));
    assert_eq!(
        lines(&report),
        [
            "parts.csv:3: torque \"95\" has no unit. Write 95 N·m.",
            "parts.csv:5: torque \"95\" has no unit. Write 95 N·m.",
            "parts.csv:6: stages: \"1,250 N·m\" has a comma between digits, which may part thousands or decimals. \
         Write it without, or say that the decimal sign is a comma.",
            "parts.csv:7: id: \"a.b.c1\" stands in record 1 already. Keep one of the two.",
            "parts.csv:8: the row has 3 cells, the heading has 7. Look for a cell with a delimiter that is not in quotes.",
            "parts.csv:9: stages: the row states both stages and a torque or an angle. Keep one of them.",
        ]
    );
    assert_eq!((report.records, report.stored, report.faulty_records), (7, 0, 6));
    assert_eq!(catalog.sequence(), 0, "nothing is stored when there is a fault");
    assert_eq!((report.faults[1].record, report.faults[1].column.as_deref()), (3, Some("stages")));
}

#[test]
fn faults_inside_a_cell_are_named_with_their_column() {
    let text = "kind,id,joint,thread,stages,drive.type,source.page,count\n\
        fastener,a.b.c,a.b,M8,20 N·m | tight,hexx,41,many\n";
    let report = import(&Catalog::in_memory().unwrap(), text, &options("parts.csv"));
    let columns: Vec<_> = report.faults.iter().map(|fault| fault.column.as_deref().unwrap()).collect();
    assert_eq!(columns, ["count", "drive.type", "stages"]);
    assert!(lines(&report)[1].starts_with("parts.csv:2: drive.type: \"hexx\" is not a kind of drive"));
}

#[test]
fn a_heading_that_is_not_understood_is_a_fault() {
    let report = import(&Catalog::in_memory().unwrap(), "id,tread,joint\na.b.c,M8,a.b\n", &options("parts.csv"));
    assert_eq!(
        lines(&report),
        [
            "parts.csv:1: tread: \"tread\" is not a column that is known. Did you mean thread, thread_class or head.",
            "parts.csv:1: thread: \"thread\" must be a column.",
        ]
    );
}

#[test]
fn a_table_with_semicolons_and_decimal_commas() {
    let text = "id;joint;thread;torque;angle;length\na.b.c;a.b;M8x1,25;8,5 N·m;90°;35,5 mm\n";
    let catalog = Catalog::in_memory().unwrap();
    let report = import(&catalog, text, &options("teile.csv"));
    assert_eq!(report.faults_total, 2, "a comma must be said to be the decimal sign");
    let report = import(&catalog, text, &ImportOptions { decimal: Decimal::Comma, ..options("teile.csv") });
    assert_eq!(lines(&report), [""; 0]);
    let record = get(&catalog, "a.b.c").unwrap();
    let fastener = record.as_fastener().unwrap();
    assert_eq!((fastener.stages.to_string(), fastener.thread.to_string()), ("8.5 N·m + 90°".into(), "M8×1.25".into()));
    let text = "id;joint;thread;torque\na.b.d;a.b;M8;1.250 N·m\n";
    let report = import(&catalog, text, &ImportOptions { decimal: Decimal::Comma, ..options("teile.csv") });
    assert!(lines(&report)[0].contains("has a point between digits"), "{:?}", lines(&report));
}

#[test]
fn each_form_is_told_by_its_beginning() {
    let array = format!("[\n  {GOOD}\n]\n");
    let pretty = GOOD.replace(',', ",\n  ");
    let table = "\u{feff}id,joint,thread,stages\na.b.c,a.b,M8,20 N·m\n";
    for text in [GOOD, array.as_str(), pretty.as_str(), table, &format!("\u{feff}{GOOD}\n\n")] {
        let catalog = Catalog::in_memory().unwrap();
        let report = import(&catalog, text, &options("input"));
        assert_eq!((lines(&report).len(), report.stored), (0, 1), "{text}: {:?}", lines(&report));
        assert_eq!(get(&catalog, "a.b.c"), Some(Record::from_json_text(GOOD.as_bytes()).unwrap()));
    }
    let empty = import(&Catalog::in_memory().unwrap(), "", &options("input"));
    assert_eq!((empty.records, empty.is_clean()), (0, true));
}

#[test]
fn rows_are_counted_in_physical_lines_whatever_ends_them() {
    for end in ["\n", "\r\n"] {
        let rows = ["id,joint,thread,stages,note", "", "a.b.c,a.b,M8,1,\"x", "", "y\"", "", "a.b.d,a.b,M8,2,"];
        let report = import(&Catalog::in_memory().unwrap(), &rows.join(end), &options("in.csv"));
        let at: Vec<_> = report.faults.iter().map(|fault| (fault.line, fault.record)).collect();
        assert_eq!(at[0], (3, 1), "{end:?}");
        assert_eq!(at.last(), Some(&(7, 2)), "{end:?}");
    }
}

#[test]
fn lines_of_json_are_counted_through_faults() {
    let text = format!(
        "{GOOD}\n\n{{\"kind\":\"fastener\"\n{}\nnull\n",
        GOOD.replace("a.b.c", "a.b.d").replace("M8", "M8\",\"x\":\"1")
    );
    let report = import(&Catalog::in_memory().unwrap(), &text, &options("in.ndjson"));
    let at: Vec<_> = report.faults.iter().map(|fault| (fault.line, fault.record, &*fault.fault.code)).collect();
    assert_eq!(at, [(3, 2, "unreadable"), (4, 3, "unknown-field"), (5, 4, "wrong-type")]);
    let array = format!("[\n{GOOD},\n\n{{\"kind\":\"joint\"}},\n  12\n");
    let report = import(&Catalog::in_memory().unwrap(), &array, &options("in.json"));
    let at: Vec<_> = report.faults.iter().map(|fault| (fault.line, fault.record, &*fault.fault.code)).collect();
    assert_eq!(at, [(4, 2, "missing"), (5, 3, "wrong-type"), (6, 4, "unreadable")]);
    assert!(lines(&report)[2].contains("ends without its closing bracket"));
}

#[test]
fn modes_store_nothing_all_or_what_is_good() {
    let bad = GOOD.replace("a.b.c", "a.b.bad").replace("20 N·m", "20");
    let text = format!("{GOOD}\n{bad}\n{}\n", GOOD.replace("a.b.c", "a.b.d"));
    let catalog = Catalog::in_memory().unwrap();
    let with = |mode| import(&catalog, &text, &ImportOptions { mode, ..options("in") });
    for mode in [ImportMode::Check, ImportMode::Whole] {
        let report = with(mode);
        assert_eq!((report.new, report.stored, report.faults_total, catalog.sequence()), (2, 0, 1, 0));
    }
    let report = with(ImportMode::Partial);
    assert_eq!((report.new, report.stored, report.faults_total, catalog.sequence()), (2, 2, 1, 2));
    let report = with(ImportMode::Partial);
    assert_eq!((report.unchanged, report.stored, catalog.sequence()), (2, 0, 2));
}

#[test]
fn a_record_that_the_book_has_otherwise() {
    let catalog = Catalog::in_memory().unwrap();
    import(&catalog, GOOD, &options("in"));
    let other = GOOD.replace("20 N·m", "22 N·m");
    let with = |on_same| import(&catalog, &other, &ImportOptions { on_same, ..options("in") });
    let report = with(OnSame::Refuse);
    assert!(lines(&report)[0].contains("the book has \"a.b.c\" already, with another content (revision 1)"));
    assert_eq!((with(OnSame::Skip).skipped, catalog.sequence()), (1, 1));
    assert_eq!((with(OnSame::Replace).replaced, catalog.sequence()), (1, 2));
    assert_eq!((with(OnSame::Refuse).unchanged, catalog.sequence()), (1, 2));
}

#[test]
fn cells_that_a_spreadsheet_would_run_are_guarded_and_come_back() {
    let mut value: serde_json::Value = serde_json::from_str(GOOD).unwrap();
    let texts = ["=1+1", "+cmd", "-x", "@x", "'=x", "'plain", "a | b; c \\ d"];
    value["cautions"] = texts.into();
    value["note"] = "=HYPERLINK(\"x\")".into();
    value["stages"] = ["+ 90°"].into();
    let record = Record::from_json(&value).unwrap();
    let mut csv = Vec::new();
    Catalog::export_records([&record], ExportFormat::Csv, &mut csv).unwrap();
    let text = String::from_utf8(csv).unwrap();
    let row = text.lines().nth(1).unwrap();
    assert!(row.contains(",'+ 90°,") && row.contains("\"'=HYPERLINK("), "{row}");
    for text in texts {
        let catalog = Catalog::in_memory().unwrap();
        value["note"] = text.into();
        value["cautions"] = [text].into();
        let record = Record::from_json(&value).unwrap();
        let mut csv = Vec::new();
        Catalog::export_records([&record], ExportFormat::Csv, &mut csv).unwrap();
        assert_eq!(lines(&catalog.import(csv.as_slice(), &options("in")).unwrap()), [""; 0]);
        assert_eq!(get(&catalog, "a.b.c"), Some(record), "{text}");
    }
}

#[test]
fn every_field_has_its_column() {
    let names: Vec<&str> = COLUMNS.iter().map(|column| column.name).collect();
    let fields = clampbook::record::Fastener::FIELDS.iter().chain(clampbook::record::Joint::FIELDS);
    for field in fields {
        let has = names.iter().any(|name| name == field || name.starts_with(&format!("{field}.")));
        assert!(has, "{field} has no column: an export would lose it");
    }
}

#[test]
fn a_record_without_end_is_refused_and_not_held() {
    let text = format!("{{\"kind\":\"joint\",\"id\":\"a.b\",\"title\":\"{}\"}}\n{GOOD}\n", "x".repeat(3 << 20));
    for format in [ImportFormat::Ndjson, ImportFormat::Json] {
        let catalog = Catalog::in_memory().unwrap();
        let options = ImportOptions { format: Some(format), mode: ImportMode::Partial, ..options("in") };
        let report = import(&catalog, &text, &options);
        assert_eq!((&*report.faults[0].fault.code, report.faults_total, report.stored), ("too-long", 1, 1));
        assert_eq!(report.faults[0].line, 1);
    }
}

/// A table that is made while it is read, so that it can be known how far the reader is ahead.
struct Rows {
    made: Vec<u8>,
    next: u64,
    of: u64,
    given: Rc<Cell<u64>>,
}

impl Read for Rows {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        while self.made.len() < buffer.len() && self.next < self.of {
            if self.next == 0 {
                self.made.extend(b"id,joint,thread,stages,note\n");
            }
            let (joint, note) = (self.next % 900, "n".repeat(400));
            self.made.extend(format!("a.j{joint}.c{},a.j{joint},M8,20 N\u{b7}m,{note}\n", self.next).as_bytes());
            self.next += 1;
        }
        let length = self.made.len().min(buffer.len());
        buffer[..length].copy_from_slice(&self.made[..length]);
        self.made.drain(..length);
        self.given.set(self.given.get() + length as u64);
        Ok(length)
    }
}

#[test]
fn a_reader_is_never_asked_for_more_than_a_piece_ahead() {
    const ROWS: u64 = 4000;
    for mode in [ImportMode::Check, ImportMode::Whole, ImportMode::Partial] {
        let book = Catalog::in_memory().unwrap();
        let given = Rc::new(Cell::new(0));
        let rows = Rows { made: Vec::new(), next: 0, of: ROWS, given: given.clone() };
        let options = ImportOptions { mode, format: Some(ImportFormat::Csv), ..ImportOptions::default() };
        let mut ahead = 0;
        let report = book.import_with(rows, &options, |report| {
            // A row has at least 420 bytes. What is stored was read long before.
            if report.stored == 0 || mode == ImportMode::Partial {
                ahead = ahead.max(given.get().saturating_sub(report.records * 420));
            }
        });
        assert_eq!((report.unwrap().records, given.get() > ROWS * 420), (ROWS, true));
        // 4,000 rows have 1.7 MB.
        assert!(ahead < 1 << 20, "{mode:?}: {ahead} bytes ahead");
    }
}
