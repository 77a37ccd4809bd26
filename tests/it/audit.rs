//! The whole audit: no false alarm of the rules on published values, any record survives it, findings read well.

use crate::slips::corpus::{self, Published};
use clampbook::audit::{Audit, Book, Evidence, Finding, RULES, Severity};
use clampbook::record::{Record, Role};
use proptest::prelude::*;
use serde_json::{Value, json};

/// Findings of warning or error that rest on a rule alone, not on the slip model, which is measured by itself.
fn alarms_of_rules(set: &[Published]) -> Vec<(&Published, Vec<Finding>)> {
    let book = Book::new(set.iter().map(|row| &row.record));
    let audit = Audit::of(&book);
    let right = set.iter().filter(|row| row.misprint.is_none());
    let grave = |row: &Published| {
        let findings = audit.findings_of(&row.record).into_iter();
        findings.filter(|finding| finding.severity >= Severity::Warning && finding.sure.is_none()).collect()
    };
    right.map(|row| (row, grave(row))).collect()
}

fn alarmed<'a>(rows: &'a [(&Published, Vec<Finding>)], about: impl Fn(&Finding) -> bool) -> Vec<&'a str> {
    let is_alarmed = |(_, findings): &&(&Published, Vec<Finding>)| findings.iter().any(&about);
    rows.iter().filter(is_alarmed).map(|(row, _)| row.row.as_str()).collect()
}

/// General tables of government documents, 577 right rows (tests/it/corpus/README of their origin: sources.csv).
#[test]
fn one_right_row_in_a_hundred_of_the_tables_at_most_is_alarmed() {
    let tables = corpus::tables();
    let rows = alarms_of_rules(&tables);
    assert!(rows.len() > 500, "only {} rows", rows.len());
    let alarmed = alarmed(&rows, |_| true);
    assert!(alarmed.len() * 100 <= rows.len(), "{} of {}: {alarmed:?}", alarmed.len(), rows.len());
}

#[test]
fn one_right_bolted_joint_in_fifty_at_most_is_alarmed_about_its_number() {
    let joints = corpus::joints();
    let mut rows = alarms_of_rules(&joints);
    rows.retain(|(row, _)| matches!(row.fastener().role(), Role::Bolt | Role::Nut | Role::Wheel));
    assert!(rows.len() > 100, "only {} joints", rows.len());
    let about_number =
        |finding: &Finding| finding.field.starts_with("stages") || finding.field.starts_with("source.printed");
    let alarmed = alarmed(&rows, about_number);
    assert!(alarmed.len() * 50 <= rows.len(), "{} of {}: {alarmed:?}", alarmed.len(), rows.len());
}

/// A text of a list, or one that nobody would write.
fn one_of(texts: &'static [&'static str]) -> impl Strategy<Value = String> {
    prop::sample::select(texts).prop_map(str::to_owned)
}

fn stages() -> impl Strategy<Value = Vec<String>> {
    let torque = (0_u32..200_000, one_of(&["N·m", "lbf·ft", "lbf·in", "kgf·m", "cN·m"]));
    let torque = torque.prop_map(|(tenths, unit)| format!("{} {unit}", f64::from(tenths) / 10.0));
    let range = (0_u32..900, 0_u32..900).prop_map(|(a, b)| format!("{a}-{b} N·m"));
    let turned = (0_u32..500, 0_u32..1500).prop_map(|(torque, angle)| format!("{torque} N·m + {angle}°"));
    let other =
        one_of(&["hand", "skip", "back off", "back off 180°", "check ≥ 60 N·m", "+ 90°", "+ 90-45°", "+ 3 turn"]);
    prop::collection::vec(prop_oneof![torque, range, turned, other], 1..5)
}

fn fastener() -> impl Strategy<Value = Value> {
    let identity = (
        one_of(&["M8", "M1", "M300×8", "M10×1", "M999×6", "M9.5", "3/8-16", "#10-24", "4-4", "3/8", "G 1/2", "?7"]),
        one_of(&["8.8", "12.9", "8", "45H", "A4-80", "grade 5", "8.7", "hard", "3.6", "14.9", "A574"]),
        one_of(&["bolt", "nut", "plug", "shaft-nut", "wheel", "stud-setting", "lock-nut", "set-screw"]),
        one_of(&["hexagon", "socket-cap", "countersunk", "none", "square", "flange-nut", "pan"]),
    );
    let parts = (
        one_of(&["dry", "oiled", "paste", "wax", "stardust"]),
        one_of(&["0.01", "0.12", "0.10-0.16", "1", "0.01-1"]),
        one_of(&["0.1 mm", "1 in", "30 mm", "900 mm"]),
        one_of(&["EN AC-46000", "GJL-250", "1.4401", "oak", "AZ91"]),
        one_of(&["none", "threadlocker", "threadlocking-patch", "staked", "polymer-ring-nut"]),
    );
    (identity, parts, stages(), 1_u32..9, 1_u32..9, any::<[bool; 5]>()).prop_map(
        |((thread, class, role, head), (lubrication, friction, length, material, locking), stages, n, count, has)| {
            let mut record = json!({
                "kind": "fastener", "joint": "skua.any.joint", "id": format!("skua.any.joint.f{n}-{count}"),
                "thread": thread, "property_class": class, "role": role, "head": head, "stages": stages,
                "lubrication": lubrication, "locking": locking, "part_no": format!("SY-{count}"), "count": count,
                "positions": format!("{n}"), "nut_class": class,
                "into": { "material": material, "engagement": length }, "seat": { "material": material, "hole": length },
                "source": { "printed": stages.join("; ") },
            });
            let members = record.as_object_mut().expect("an object");
            for (field, value) in [
                ("friction", json!(friction)),
                ("grip", json!(length)),
                ("length", json!(length)),
                ("reuse", json!({ "rule": "reuse-up-to", "times": count })),
                ("drive", json!({ "type": "hexagon", "size": length })),
            ]
            .into_iter()
            .zip(has)
            .filter_map(|(member, has)| has.then_some(member))
            {
                members.insert(field.to_owned(), value);
            }
            record
        },
    )
}

fn reads_well(finding: &Finding) -> Result<(), String> {
    let text = &finding.message;
    let is_plain = !text.is_empty()
        && !text.contains("  ")
        && !text.ends_with('.')
        && !["NaN", "inf", "Some(", "None", "{"].iter().any(|word| text.contains(word));
    let finite = finding.because.iter().all(|because| match &because.value {
        Evidence::Number(number) => number.is_finite(),
        Evidence::Text(text) => !text.is_empty(),
    });
    let known = RULES.iter().any(|rule| rule.name == finding.rule) && !finding.record.is_empty();
    if is_plain && finite && known { Ok(()) } else { Err(format!("{finding:?}")) }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_record_survives_the_audit(values in prop::collection::vec(fastener(), 1..4)) {
        let records: Vec<Record> =
            values.iter().map(|value| Record::from_json(value).unwrap_or_else(|e| panic!("{value}: {e}"))).collect();
        let book = Book::new(&records);
        for finding in Audit::of(&book).findings() {
            prop_assert_eq!(reads_well(&finding), Ok(()));
        }
    }
}

#[test]
fn findings_about_published_values_read_well() {
    for set in [corpus::tables(), corpus::joints()] {
        let book = Book::new(set.iter().map(|row| &row.record));
        for finding in Audit::of(&book).findings() {
            assert_eq!(reads_well(&finding), Ok(()));
        }
    }
}

/// The right rows of a table that prints both units, with the two units swapped in every row.
fn with_units_swapped(source: &str) -> Vec<Record> {
    let swapped = |text: &str| text.replace("lbf·ft", "?").replace("N·m", "lbf·ft").replace('?', "N·m");
    let rows = corpus::tables().into_iter().filter(|row| row.source == source && row.misprint.is_none());
    let one = |row: Published| {
        let mut value = serde_json::to_value(&row.record).expect("a record can be written");
        value["kind"] = json!("fastener");
        value["stages"] = json!([swapped(value["stages"][0].as_str().expect("a stage"))]);
        value["source"]["printed"] = json!(swapped(value["source"]["printed"].as_str().expect("as printed")));
        Record::from_json(&value).unwrap_or_else(|e| panic!("{value}: {e}"))
    };
    rows.map(one).collect()
}

/// The table D08 of `tests/it/corpus/sources.csv`, which prints pound-feet and newton-metres.
#[test]
fn swapped_units_of_a_column_are_one_fault_and_not_one_in_every_row() {
    let records = with_units_swapped("D08");
    let mut columns = std::collections::BTreeMap::new();
    for record in &records {
        *columns.entry(record.as_fastener().expect("a fastener").joint.to_string()).or_insert(0) += 1;
    }
    assert!(columns.values().all(|rows| *rows >= 4), "{columns:?}");
    let book = Book::new(&records);
    let findings = Audit::of(&book).findings();
    let of_units = findings.iter().filter(|finding| finding.rule.contains("units-disagree"));
    let told: Vec<(&str, &str)> = of_units.map(|finding| (finding.rule, finding.perhaps[0].value.as_str())).collect();
    let expected = ("whole-column-units-disagree", "the whole column in lbf·ft, its second figures in N·m");
    assert_eq!(told, vec![expected; columns.len()]);
}
