//! `clampbook tighten`: the keys that programs read, the table and bar that people read.

use assert_cmd::Command;
use serde_json::Value;

fn tighten(arguments: &[&str]) -> assert_cmd::assert::Assert {
    Command::cargo_bin("clampbook").unwrap().arg("tighten").args(arguments).assert()
}

#[track_caller]
fn json(arguments: &[&str]) -> Value {
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
    let answer = json(&["M8", "8.8", "--friction", "0.12"]);
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
    let answer = json(&["M8", "8.8", "--friction", "0.10-0.16"]);
    for key in ["friction_thread", "preload_n", "torque_nm"] {
        assert!(answer[key]["min"].as_f64() < answer[key]["max"].as_f64(), "{key}");
    }
}

#[test]
fn turns_have_their_keys() {
    let angle = ["M10", "10.9", "--friction", "0.12", "--torque", "30 N·m", "--angle", "90", "--angle", "45 deg"];
    let answer = json(&[&angle[..], &["--grip", "40 mm", "--length", "60 mm"]].concat());
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
