//! The published tables and joints of `tests/it/corpus`, as records of a book.

use clampbook::audit::Torques;
use clampbook::audit::slip::Entry;
use clampbook::record::{Fastener, Record};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// One row of a table of the corpus: every column by its name.
pub type Row = BTreeMap<String, String>;

/// A published value with what is known of its truth.
pub struct Published {
    /// The row's id in the corpus.
    pub row: String,
    /// The id of its source.
    pub source: String,
    /// The record that it becomes.
    pub record: Record,
    /// What is known to be wrong with it: field, confidence, group of rows that are one event.
    pub misprint: Option<Misprint>,
}

/// A known misprint.
pub struct Misprint {
    pub field: String,
    pub confidence: String,
    pub event: String,
    pub meant: String,
}

impl Published {
    pub fn fastener(&self) -> &Fastener {
        self.record.as_fastener().expect("the corpus has fasteners only")
    }
}

/// The torques of these rows as the model sees them, in their order.
pub fn entries<'p>(rows: impl Iterator<Item = &'p Published>) -> Vec<Entry> {
    let fasteners: Vec<&Fastener> = rows.map(Published::fastener).collect();
    Torques::entries_of(fasteners.into_iter())
}

/// The rows of a file of the corpus.
pub fn rows(name: &str) -> Vec<Row> {
    let path = format!("{}/tests/it/corpus/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut reader = csv::Reader::from_path(&path).unwrap_or_else(|e| panic!("{path}: {e}"));
    reader.deserialize().map(|row| row.unwrap_or_else(|e| panic!("{path}: {e}"))).collect()
}

/// The general tables: each source a document, each column of it a joint.
pub fn tables() -> Vec<Published> {
    let sources = by(&rows("sources.csv"), "source_id");
    published(rows("tables.csv"), &misprints("misprints.csv"), |row| table_record(row, &sources[&row["source_id"]]))
}

/// The particular joints.
pub fn joints() -> Vec<Published> {
    let sources = by(&rows("joints_sources.csv"), "source_id");
    let misprints = misprints("joints_misprints.csv");
    let with_thread = rows("joints.csv");
    published(with_thread, &misprints, |row| joint_record(row, &sources[&row["source_id"]]))
}

/// These rows as records, with what is known of their truth.
pub fn published(
    rows: Vec<Row>,
    misprints: &BTreeMap<String, Misprint>,
    record: impl Fn(&Row) -> Value,
) -> Vec<Published> {
    let one = |row: Row| {
        let json = record(&row);
        let record = Record::from_json(&json).unwrap_or_else(|e| panic!("{}: {e:?}: {json}", row["row_id"]));
        let misprint = misprints.get(&row["row_id"]).map(Misprint::copy);
        Published { row: row["row_id"].clone(), source: row["source_id"].clone(), record, misprint }
    };
    rows.into_iter().map(one).collect()
}

impl Misprint {
    fn copy(&self) -> Self {
        let Self { field, confidence, event, meant } = self;
        Self { field: field.clone(), confidence: confidence.clone(), event: event.clone(), meant: meant.clone() }
    }
}

/// The rows by one of their columns.
pub fn by(rows: &[Row], key: &str) -> BTreeMap<String, Row> {
    rows.iter().map(|row| (row[key].clone(), row.clone())).collect()
}

/// The known misprints by their row.
pub fn misprints(name: &str) -> BTreeMap<String, Misprint> {
    let one = |row: Row| {
        let event = if row["group"].is_empty() { row["slip_id"].clone() } else { row["group"].clone() };
        let (field, confidence, meant) = (row["field"].clone(), row["confidence"].clone(), row["meant"].clone());
        (row["row_id"].clone(), Misprint { field, confidence, event, meant })
    };
    rows(name).into_iter().map(one).collect()
}

/// The record that a cell of a table becomes, as somebody who types the table in would enter it.
pub fn table_record(row: &Row, source: &Row) -> Value {
    let stated = setting(&row["torque_min"], &row["torque_max"], &row["unit"]);
    let printed = match row["unit2"].as_str() {
        "" => stated.clone(),
        unit => format!("{stated} ({})", setting(&row["torque2_min"], &row["torque2_max"], unit)),
    };
    let column = slug(&format!("{} {}", row["grade"], row["condition"]));
    let joint = format!("corpus.{}.{column}", slug(&row["source_id"]));
    let mut record = json!({
        "kind": "fastener", "joint": joint, "id": format!("{joint}.{}", slug(&row["row_id"])),
        "thread": row["thread"], "role": "bolt", "stages": [stated],
        "source": { "document": source["document"], "page": source["table"], "printed": printed },
    });
    set(&mut record, "property_class", &class(&row["grade_system"], &row["grade"]));
    let condition = &row["condition"];
    let field = if condition.contains("plated") { "finish" } else { "lubrication" };
    set(&mut record, field, if condition == "unknown" { "" } else { condition });
    if !row["fastened_into"].is_empty() {
        record["into"] = json!({ "material": row["fastened_into"] });
    }
    record
}

fn joint_record(row: &Row, source: &Row) -> Value {
    let joint = format!("corpus.{}.{}", slug(&row["source_id"]), slug(&row["row_id"]));
    let stages: Vec<String> =
        row["stages"].split(';').map(|stage| stage.trim().replace("loosen", "back off")).collect();
    let printed =
        if row["unit2"].is_empty() { row["stages"].clone() } else { format!("{} ({})", row["stages"], row["unit2"]) };
    let mut record = json!({
        "kind": "fastener", "joint": joint, "id": format!("{joint}.bolt"), "name": row["joint"],
        "thread": if row["thread"].is_empty() { "not printed" } else { &row["thread"] },
        "role": role(&row["joint"]), "stages": stages,
        "source": { "document": source["document"], "page": source["table"], "printed": printed },
    });
    set(&mut record, "property_class", &class(&row["grade_system"], &row["grade"]));
    set(&mut record, "lubrication", if row["condition"] == "unknown" { "" } else { &row["condition"] });
    if !row["fastened_into"].is_empty() {
        record["into"] = json!({ "material": row["fastened_into"] });
    }
    record
}

/// What kind of fastening the words of a joint say it is.
fn role(words: &str) -> &'static str {
    let kinds = [
        ("plug", "plug"),
        ("stud", "stud-setting"),
        ("tube nut", "union-nut"),
        ("pipe nut", "union-nut"),
        ("lock nut", "lock-nut"),
        ("jam nut", "lock-nut"),
        ("shaft nut", "shaft-nut"),
        ("bearing nut", "shaft-nut"),
        ("pinion nut", "shaft-nut"),
        ("wheel nut", "wheel"),
        ("set screw", "set-screw"),
    ];
    kinds.iter().find(|(word, _)| words.contains(word)).map_or("bolt", |(_, role)| *role)
}

fn class(system: &str, grade: &str) -> String {
    if system == "SAE-J429" { format!("grade {grade}") } else { grade.to_owned() }
}

fn setting(low: &str, high: &str, unit: &str) -> String {
    if low == high { format!("{low} {unit}") } else { format!("{low}-{high} {unit}") }
}

fn set(record: &mut Value, field: &str, text: &str) {
    if !text.is_empty() {
        record[field] = json!(text);
    }
}

/// A segment of an id.
fn slug(text: &str) -> String {
    let text: String = text.to_lowercase().chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    text.split('-').filter(|part| !part.is_empty()).collect::<Vec<_>>().join("-")
}
