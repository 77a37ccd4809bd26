//! `clampbook tighten`: the keys that programs read, the table and bar that people read.

use assert_cmd::Command;
use clampbook::record::Head;
use clampbook::tightening::{TighteningRequest, tightening};
use proptest::prelude::*;
use serde_json::{Value, json};

fn tighten(arguments: &[&str]) -> assert_cmd::assert::Assert {
    Command::cargo_bin("clampbook").unwrap().arg("tighten").args(arguments).assert()
}

#[track_caller]
fn answer_to(arguments: &[&str]) -> Value {
    let output = tighten(&[arguments, &["--as", "json"]].concat()).success().get_output().stdout.clone();
    serde_json::from_slice(&output).unwrap()
}

#[track_caller]
fn table(arguments: &[&str]) -> String {
    let output = tighten(&[arguments, &["--as", "table"]].concat()).success().get_output().stdout.clone();
    String::from_utf8(output).unwrap()
}

#[test]
fn a_plain_question_has_the_promised_keys() {
    let answer = answer_to(&["M8", "8.8", "--friction", "0.12"]);
    for key in [
        "thread",
        "property_class",
        "friction_thread",
        "friction_head",
        "utilisation",
        "preload_n",
        "torque_nm",
        "stress_area_mm2",
        "assumed",
    ] {
        assert!(answer.get(key).is_some(), "{key}");
    }
    assert!(answer["preload_n"].is_number());
}

#[test]
fn a_range_of_friction_gives_ranges() {
    let answer = answer_to(&["M8", "8.8", "--friction", "0.10-0.16"]);
    for key in ["friction_thread", "preload_n", "torque_nm"] {
        assert!(answer[key]["min"].as_f64() < answer[key]["max"].as_f64(), "{key}");
    }
}

#[test]
fn turns_have_their_keys() {
    let angle = ["M10", "10.9", "--friction", "0.12", "--torque", "30 N·m", "--angle", "90", "--angle", "45 deg"];
    let answer = answer_to(&[&angle[..], &["--grip", "40 mm", "--length", "60 mm"]].concat());
    assert!(answer["preload_n"].is_number() && answer["plastic_strain"].is_number());
    assert_eq!(answer["yields"], true);
    assert!(answer["yield_angle_deg"].as_f64().unwrap() < 135.0);
}

#[test]
fn a_person_sees_a_table_and_a_bar() {
    let text = table(&["M8", "8.8", "--friction", "0.12", "--torque", "20 N·m"]);
    assert!(text.starts_with("M8×1.25  8.8  friction 0.12\n"), "{text}");
    assert!(text.contains("clamps enough and does not yield"), "{text}");
    assert!(text.contains("···===") && text.contains("===!!!") && text.contains("^ 20 N·m"), "{text}");
    assert!(text.contains("assumed: head: hexagon"), "{text}");
}

#[test]
fn answers_in_the_unit_asked() {
    let inch = ["3/8-16 UNC", "grade 8", "--friction", "0.12", "--torque", "35 lbf·ft"];
    let text = table(&inch);
    assert!(text.contains("35 lbf·ft") && text.contains(" lbf\n") && !text.contains("N·m"), "{text}");
    let text = table(&[&inch[..], &["--in", "Nm"]].concat());
    assert!(text.contains("47.5 N·m") && text.contains(" kN\n"), "{text}");
}

#[test]
fn says_what_is_wrong() {
    let message = |arguments: &[&str], code| {
        let output = tighten(arguments).code(code).get_output().clone();
        assert!(output.stdout.is_empty());
        String::from_utf8(output.stderr).unwrap()
    };
    assert!(message(&["M8", "8.7"], 1).contains("Nearest: 8.8"));
    assert!(message(&["M8", "8.8", "--torque", "25"], 2).contains("expected a unit of torque"));
    assert!(
        message(&["M8", "8.8", "--hole", "30 mm"], 2).contains("inner diameter of the bearing face must be from 0 mm")
    );
    assert!(message(&["M8", "8.8", "--head", "hexgon"], 2).contains("(did you mean hexagon"));
}

/// Every number in an answer; JSON has no infinity, so one that was not finite shows as null.
fn has_null(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.iter().any(has_null),
        Value::Object(members) => members.values().any(has_null),
        _ => false,
    }
}

proptest! {
    #[test]
    fn any_request_is_answered_with_finite_numbers_or_refused(
        thread in prop::sample::select(vec!["M1", "M3", "M8", "M10×1", "M64", "M9.5×0.2", "#0-80 UNF", "1 1/2-6 UNC"]),
        class in prop::sample::select(vec!["4.6", "8.8", "12.9", "A2-70", "A4-100", "grade 8", "A574"]),
        friction in prop::sample::select(vec!["0.01", "0.12", "0.1-0.16", "0.01-1", "1"]),
        torque in prop::option::of(0_u32..2_000_000),
        angle in prop::option::of(0_u32..4000),
        grip in prop::option::of(0_u32..20_000),
        length in prop::option::of(1_u32..20_000),
        engagement in prop::option::of(0_u32..20_000),
        head in prop::sample::select(Head::ALL),
    ) {
        let mut value = json!({ "thread": thread, "property_class": class, "friction": friction, "head": head.word() });
        let mut set = |key: &str, of: Option<Value>| if let Some(of) = of { value[key] = of; };
        set("torque", torque.map(|torque| json!(format!("{torque} cN·m"))));
        set("angles", angle.map(|angle| json!([format!("{angle}°")])));
        set("grip", grip.map(|grip| json!(format!("{grip} mm"))));
        set("length", length.map(|length| json!(format!("{length} mm"))));
        let into = |engagement| json!({ "material": "GJL-250", "engagement": format!("{engagement} mm") });
        set("into", engagement.map(into));
        set("seat", engagement.map(|_| json!({ "material": "EN AW-6082" })));
        let request = TighteningRequest::from_json(&value).unwrap();
        if let Ok(answer) = tightening(&request) {
            let answer = serde_json::to_value(answer).unwrap();
            prop_assert!(!has_null(&answer), "{answer}");
        }
    }

    #[test]
    fn a_torque_at_a_utilisation_gives_that_utilisation(
        thread in prop::sample::select(vec!["M3", "M8", "M10×1", "M36", "#4-40 UNC", "1/2-13 UNC"]),
        share in 0.1..1.5_f64,
    ) {
        let ask = |more: Value| {
            let mut value = json!({ "thread": thread, "property_class": "8.8", "friction": "0.12" });
            value.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
            tightening(&TighteningRequest::from_json(&value).unwrap()).unwrap()
        };
        let torque = ask(json!({ "utilisation": share })).torque_nm.min();
        // Torque is printed and read with six figures.
        let back = ask(json!({ "torque": format!("{torque} N·m") })).utilisation.min();
        prop_assert!((back / share - 1.0).abs() < 2e-5, "{back} {share}");
    }
}
