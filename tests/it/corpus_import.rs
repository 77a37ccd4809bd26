//! The 617 rows of published tables go in as records, are found, and are audited.
//! Source: tests/it/corpus/tables.csv, whose documents stand in sources.csv beside it.

use clampbook::catalog::{AuditScope, Catalog, ImportOptions};
use clampbook::query::Query;
use serde_json::{Value, json};

/// Each source a page, each grade and condition a joint, both printed units in `source.printed`.
fn record(row: &csv::StringRecord, at: impl Fn(&str) -> usize) -> Value {
    let cell = |name: &str| row[at(name)].to_owned();
    let torque = |low: String, high: String, unit: String| {
        if low == high { format!("{low} {unit}") } else { format!("{low}-{high} {unit}") }
    };
    let stated = torque(cell("torque_min"), cell("torque_max"), cell("unit"));
    let second = torque(cell("torque2_min"), cell("torque2_max"), cell("unit2"));
    let grade =
        if cell("grade_system").starts_with("SAE") { format!("grade {}", cell("grade")) } else { cell("grade") };
    let segment: String = format!("{} {}", cell("grade"), cell("condition"))
        .to_lowercase()
        .split(|c: char| !c.is_ascii_alphanumeric())
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join("-");
    let joint = format!("tables.{}.g-{segment}", cell("source_id").to_lowercase());
    let printed = if cell("unit2").is_empty() { stated.clone() } else { format!("{stated} ({second})") };
    json!({ "kind": "fastener", "id": format!("{joint}.{}", cell("row_id").to_lowercase()), "joint": joint,
            "thread": cell("thread"), "property_class": (!grade.is_empty()).then_some(grade), "stages": [stated],
            "lubrication": Some(cell("condition")).filter(|words| !words.is_empty()),
            "source": { "document": cell("source_id"), "printed": printed } })
}

#[test]
fn every_row_goes_in_is_found_and_is_audited() {
    let mut rows = csv::Reader::from_reader(include_bytes!("corpus/tables.csv").as_slice());
    let header = rows.headers().unwrap().clone();
    let at = |name: &str| header.iter().position(|column| column == name).expect(name);
    let records: Vec<Value> = rows.records().map(|row| record(&row.unwrap(), at)).collect();
    let text: String = records.iter().map(|record| format!("{record}\n")).collect();
    let catalog = Catalog::in_memory().unwrap();
    let report = catalog.import(text.as_bytes(), &ImportOptions::default()).unwrap();
    assert_eq!((report.records, report.stored, report.faults_total), (617, 617, 0));
    for record in &records {
        let query = Query::parse([("id", record["id"].as_str().unwrap())]).unwrap();
        assert_eq!(catalog.find(&query).unwrap().items.len(), 1, "{record}");
    }
    let query = Query::parse([("thread", "3/8-16 UNC"), ("property_class", "grade 5"), ("take", "500")]).unwrap();
    let found = catalog.find(&query).unwrap().items.len();
    let meant = |record: &&Value| record["thread"] == "3/8-16 UNC" && record["property_class"] == "grade 5";
    assert_eq!(found, records.iter().filter(meant).count());
    let findings = catalog.audit(&AuditScope::Whole).unwrap();
    // Grades that no standard has are told, not guessed.
    assert!(findings.iter().any(|finding| finding.record.contains(".g-6-7-") && finding.field == "property_class"));
}
