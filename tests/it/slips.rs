//! The slip model against the published tables of `corpus/`: what was learned, no false alarm, the plainest slips.

#[path = "../bench/audit_truth/corpus.rs"]
pub mod corpus;

use clampbook::audit::slip::{Entry, Figures, Judged, Priors, Slip, Value, judge, learn};
use clampbook::audit::{Audit, Book, Severity};
use clampbook::units::{TorqueUnit, Unit};
use corpus::Published;

/// The right rows of one document, without their second unit.
fn document(source: &str) -> Vec<Entry> {
    let tables = corpus::tables();
    let mut entries = corpus::entries(tables.iter().filter(|row| row.source == source && row.misprint.is_none()));
    entries.iter_mut().for_each(|entry| entry.printed = Box::default());
    entries
}

/// The place of the entry with this torque for this size in inches.
#[track_caller]
fn place(entries: &[Entry], inches: f64, threads_per_inch: f64, torque: &str) -> usize {
    let fits = |entry: &Entry| {
        entry.size.is_some_and(|size| {
            (size.diameter_mm - inches * 25.4).abs() < 0.01 && (size.pitch_mm - 25.4 / threads_per_inch).abs() < 0.001
        }) && entry.stated.to_string() == torque
    };
    entries.iter().position(fits).unwrap_or_else(|| panic!("no {torque} at {inches} in"))
}

#[track_caller]
fn with(source: &str, at: (f64, f64, &str), seen: &str, unit: TorqueUnit) -> Judged {
    let mut entries = document(source);
    let at = place(&entries, at.0, at.1, at.2);
    entries[at].stated = Value { figures: Figures::One(seen.parse().expect(seen)), unit };
    judge(&entries, &Priors::LEARNED).swap_remove(at).unwrap_or_else(|| panic!("{seen} {unit} does not stand out"))
}

#[track_caller]
fn means(judged: &Judged, meant: &str, slip: Slip) {
    let first = judged.verdict.meant.first().expect("something was meant");
    assert!(judged.verdict.wrong > 0.5, "{judged:?}");
    assert_eq!((first.meant.to_string().as_str(), first.slip), (meant, slip), "{judged:?}");
}

#[test]
fn the_priors_are_what_the_tables_teach() {
    let tables = corpus::tables();
    let learned = learn(&corpus::entries(tables.iter().filter(|row| row.misprint.is_none())));
    assert_eq!(learned, Priors::LEARNED, "run `cargo bench --bench audit_truth -- learn`");
}

/// TM 10-4320-316-14, table G-1, grade 5, dry: 3/8-16 31 lbf·ft (as read in tests/it/corpus/tables.csv).
#[test]
fn the_plainest_slips_in_a_table_are_named() {
    let foot = TorqueUnit::PoundFoot;
    let three_eighths = (0.375, 16.0, "31 lbf·ft");
    means(&with("D01", three_eighths, "310", foot), "31 lbf·ft", Slip::PointLost);
    means(&with("D01", three_eighths, "31", TorqueUnit::NewtonMeter), "31 lbf·ft", Slip::WrongUnit);
    means(&with("D01", three_eighths, "81", foot), "31 lbf·ft", Slip::DigitMisread);
}

#[test]
fn a_right_table_raises_no_alarm() {
    for source in ["D05", "D06", "D13"] {
        let judged = judge(&document(source), &Priors::LEARNED);
        let alarms: Vec<_> = judged.iter().flatten().filter(|judged| judged.verdict.wrong >= 0.5).collect();
        assert!(alarms.is_empty(), "{source}: {alarms:?}");
    }
}

/// A particular joint is often right far below a table: nothing is said about its number.
#[test]
fn right_joints_raise_no_alarm() {
    let joints = corpus::joints();
    let book = Book::new(joints.iter().map(|joint| &joint.record));
    let audit = Audit::of(&book);
    for joint in joints.iter().filter(|joint| joint.misprint.is_none()) {
        let findings = audit.findings_of(&joint.record);
        let grave = |field: &str| field.starts_with("stages") || field == "source.printed";
        let alarms: Vec<_> = findings
            .iter()
            .filter(|f| f.severity >= Severity::Warning && f.sure.is_some() && grave(&f.field))
            .collect();
        assert!(alarms.is_empty(), "{}: {alarms:?}", joint.row);
    }
}

/// Grades and nut kinds of no standard strength: the series still speaks, the class alone says nothing.
#[test]
fn without_a_strength_only_the_series_speaks() {
    let mut entries = document("D01");
    let at = place(&entries, 0.5, 13.0, "85 lbf·ft");
    assert_eq!(entries[at].yield_mpa, None, "grade 6-7 has no strength");
    entries[at].stated.figures = Figures::One("850".parse().expect("850"));
    let in_table = judge(&entries, &Priors::LEARNED).swap_remove(at);
    assert!(in_table.is_some_and(|judged| judged.verdict.wrong > 0.9));
    let alone = judge(&entries[at..=at], &Priors::LEARNED).swap_remove(0);
    assert!(alone.is_none_or(|judged| judged.verdict.wrong < 0.5));
}

/// The same figures through the whole audit: misprints that a second unit gives away (tests/it/corpus/misprints.csv).
#[test]
fn printed_units_give_misprints_away() {
    let tables = corpus::tables();
    let rows: Vec<&Published> = tables.iter().filter(|row| row.source == "D04").collect();
    let book = Book::new(rows.iter().map(|row| &row.record));
    let audit = Audit::of(&book);
    for row in ["D04-007", "D04-010", "D04-024", "D04-033"] {
        let published = rows.iter().find(|published| published.row == row).expect(row);
        let findings = audit.findings_of(&published.record);
        let hit = findings.iter().find(|finding| finding.rule == "printed-units-disagree").expect(row);
        assert!(hit.severity >= Severity::Warning && hit.sure >= Some(0.5), "{row}: {hit:?}");
        assert!(!hit.perhaps.is_empty(), "{row}: {hit:?}");
        assert!(published.misprint.is_some(), "{row}");
    }
}

#[test]
fn every_unit_can_be_taken_for_another() {
    for unit in TorqueUnit::ALL {
        let value = Value { figures: Figures::One("20".parse().expect("20")), unit: *unit };
        assert!(
            clampbook::audit::slip::suspects(value).iter().any(|suspect| suspect.slip == Slip::WrongUnit),
            "{unit}"
        );
    }
}

/// TM 10-4320-316-14, table G-1, grade 5, dry, as somebody enters it who reads the heading of the inch-pound column.
#[test]
fn a_whole_column_under_a_wrong_heading_is_told_once() {
    let tables = corpus::tables();
    let is_of_column = |row: &&Published| {
        let class = row.fastener().property_class.as_ref();
        row.source == "D01" && class.is_some_and(|class| class.as_str() == "grade 5")
    };
    let column: Vec<&Published> = tables.iter().filter(is_of_column).collect();
    assert_eq!(column.len(), 18);
    let told = |unit: &str| {
        let entered = |row: &&Published| {
            let mut value = serde_json::to_value(&row.record).unwrap();
            let stage = value["stages"][0].as_str().unwrap().replace("lbf·ft", unit);
            value["stages"][0] = stage.into();
            value["source"].as_object_mut().unwrap().shift_remove("printed");
            clampbook::record::Record::from_json(&value).unwrap()
        };
        let records: Vec<_> = column.iter().map(entered).collect();
        let book = Book::new(&records);
        let findings = Audit::of(&book).findings();
        findings.into_iter().filter(|finding| finding.severity >= Severity::Warning).collect::<Vec<_>>()
    };
    assert_eq!(told("lbf·ft"), []);
    let wrong = told("lbf·in");
    let [finding] = wrong.as_slice() else { panic!("one finding for the column, not {}: {wrong:#?}", wrong.len()) };
    assert_eq!(finding.rule, "whole-column-improbable");
    assert_eq!(finding.perhaps[0].value, "the whole column in lbf·ft");
    assert!(finding.sure.is_some_and(|sure| sure > 0.9), "{finding:?}");
}
