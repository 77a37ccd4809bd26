use super::*;
use crate::record::Record;
use serde_json::{Value, json};

#[track_caller]
fn ask(value: Value) -> Value {
    let request = TighteningRequest::from_json(&value).unwrap_or_else(|refused| panic!("{refused}"));
    let answer = tightening(&request).unwrap_or_else(|error| panic!("{error}"));
    serde_json::to_value(answer).expect("an answer is JSON")
}

#[track_caller]
fn near(value: &Value, expected: f64, tolerance: f64) {
    let value = value.as_f64().unwrap_or_else(|| panic!("{value} is no number"));
    assert!((value - expected).abs() <= tolerance, "{value}, expected {expected} ± {tolerance}");
}

fn assumed(answer: &Value) -> Vec<&str> {
    answer["assumed"].as_array().expect("a list").iter().filter_map(|one| one["what"].as_str()).collect()
}

#[test]
fn a_plain_question_gives_the_value_of_the_tables() {
    let answer = ask(json!({ "thread": "M8", "property_class": "8.8", "friction": "0.12" }));
    assert_eq!(answer["thread"], "M8×1.25");
    // VDI 2230-1:2015, table A1: FM 18.6 kN, MA 24.6 N·m
    near(&answer["preload_n"], 18_600.0, 60.0);
    near(&answer["torque_nm"], 24.6, 0.15);
    near(&answer["utilisation"], 0.9, 0.0);
    near(&answer["stress_area_mm2"], 36.6, 0.05);
    near(&answer["friction_thread"], 0.12, 0.0);
    assert_eq!(assumed(&answer), ["head", "hole", "wrenches"]);
    assert!(answer.get("yields").is_none() && answer.get("standing").is_none());
}

#[test]
fn the_way_of_tightening_scatters() {
    let answer = ask(json!({ "thread": "M12", "property_class": "8.8", "friction": "0.14" }));
    let factor = answer["scatter"]["tightening_factor"]["max"].as_f64().expect("a factor");
    near(&answer["scatter"]["least_preload_n"], answer["preload_n"].as_f64().expect("a preload") / factor, 0.1);
    let angle = ask(json!({ "thread": "M12", "property_class": "8.8", "friction": "0.14", "angles": ["90°"] }));
    assert!(angle["scatter"]["tightening_factor"]["max"].as_f64() < Some(factor));
}

#[test]
fn a_range_of_friction_gives_ranges() {
    let answer = ask(json!({ "thread": "M8", "property_class": "8.8", "friction": "0.10-0.16" }));
    // Table A1: MA 21.6 at µ 0.10, 29.8 at µ 0.16
    near(&answer["torque_nm"]["min"], 21.6, 0.15);
    near(&answer["torque_nm"]["max"], 29.8, 0.2);
    near(&answer["preload_n"]["min"], 17_600.0, 60.0);
    near(&answer["utilisation"], 0.9, 0.0);
    near(&answer["range"]["yields_from_nm"], 24.0, 0.2);
}

#[test]
fn a_torque_is_judged() {
    let ask_torque = |torque: &str| {
        ask(json!({ "thread": "M8", "property_class": "8.8", "friction": "0.12", "head": "hexagon", "torque": torque }))
    };
    assert_eq!(ask_torque("25 N·m")["standing"], "within");
    assert_eq!(ask_torque("6 N·m")["standing"], "too-loose");
    let answer = ask_torque("60 N·m");
    assert_eq!(answer["standing"], "beyond-yield");
    near(&answer["utilisation"], 0.9 * 60.0 / 24.6, 0.02);
    near(&ask_torque("20-25 N·m")["torque_nm"]["max"], 25.0, 0.0);
}

#[test]
fn inch_fasteners_answer_too() {
    let answer =
        ask(json!({ "thread": "3/8-16 UNC", "property_class": "grade 8", "friction": "0.12", "torque": "35 lbf·ft" }));
    near(&answer["torque_nm"], 47.454, 0.001);
    assert_eq!(answer["standing"], "within");
}

#[test]
fn turns_are_followed_beyond_yield() {
    let ask_angle = |angles: Value| {
        ask(json!({
            "thread": "M10", "property_class": "10.9", "friction": "0.12", "torque": "30 N·m", "angles": angles,
            "grip": "40 mm", "length": "60 mm",
        }))
    };
    let whole = ask_angle(json!(["180°"]));
    assert_eq!(whole["yields"], true);
    assert_eq!(whole["yield_verdict"], "yields");
    assert!(whole["plastic_strain"].as_f64().unwrap() > 0.005);
    assert!(whole["yield_angle_deg"].as_f64().unwrap() < 180.0);
    assert!(whole["preload_n"].as_f64().unwrap() < 1040.0 * 58.0);
    assert!(whole["utilisation"].as_f64().unwrap() > 1.0);
    assert!(whole.get("standing").is_none());
    let parts = ask_angle(json!(["90°", "45°", "45°"]));
    for key in ["preload_n", "plastic_strain", "yield_angle_deg", "permanent_stretch_mm"] {
        assert_eq!(whole[key], parts[key], "{key}");
    }
    assert_eq!(ask_angle(json!(["10°"]))["yield_verdict"], "does-not-yield");
}

#[test]
fn an_unknown_grip_gives_a_verdict_for_all() {
    let ask_angle = |angle: &str| {
        ask(
            json!({ "thread": "M10", "property_class": "10.9", "friction": "0.12", "torque": "30 N·m", "angles": [angle] }),
        )
    };
    assert_eq!(ask_angle("5°")["yield_verdict"], "yields-at-no-grip");
    let depends = ask_angle("60°");
    assert_eq!(depends["yield_verdict"], "depends-on-grip");
    assert_eq!(depends["yields"], json!({ "min": false, "max": true }));
    assert_eq!(ask_angle("270°")["yield_verdict"], "yields-at-every-grip");
    assert!(assumed(&depends).contains(&"grip"));
}

#[test]
fn turns_from_hand_tight_begin_without_preload() {
    let answer = ask(
        json!({ "thread": "M10", "property_class": "8.8", "friction": "0.12", "angles": ["3/4 turn"], "grip": "30 mm" }),
    );
    near(&answer["torque_nm"], 0.0, 0.0);
    near(&answer["snug_preload_n"], 0.0, 0.0);
    near(&answer["angle_deg"], 270.0, 0.0);
    assert!(answer.get("wrench").is_none() && assumed(&answer).contains(&"snug torque"));
}

#[test]
fn a_measured_bolt_tells_whether_it_was_stretched() {
    let ask_length = |measured: &str| {
        ask(json!({
            "thread": "M10", "property_class": "10.9", "friction": "0.12", "torque": "30 N·m", "angles": ["180°"],
            "grip": "40 mm", "length": "60 mm", "measured_length": measured,
        }))["reuse"]
            .clone()
    };
    assert_eq!(ask_length("60.2 mm")["measured"]["verdict"], "as-new");
    assert_eq!(ask_length("60.9 mm")["measured"]["verdict"], "stretched");
    assert!(ask_length("60.2 mm")["tightenings"].as_f64().unwrap() < 5.0);
}

#[test]
fn aluminium_needs_engagement_and_a_washer() {
    let answer = ask(json!({
        "thread": "M10", "property_class": "10.9", "friction": "0.12", "head": "hexagon",
        "into": { "material": "EN AC-46000", "engagement": "10 mm" }, "seat": { "material": "EN AC-46000" },
    }));
    let stripping = &answer["stripping"];
    assert!(stripping["needed_engagement_mm"].as_f64().unwrap() > 15.0);
    assert!(stripping["utilisation"].as_f64().unwrap() > 1.0);
    assert!(answer["pressure"]["utilisation"].as_f64().unwrap() > 1.0);
    let washer = ask(json!({
        "thread": "M10", "property_class": "10.9", "friction": "0.12", "head": "hexagon", "washer": "large",
        "seat": { "material": "EN AC-46000" },
    }));
    assert!(washer["pressure"]["pressure_mpa"].as_f64() < answer["pressure"]["pressure_mpa"].as_f64());
}

#[test]
fn a_wrench_is_set_behind_its_adapter() {
    let answer = ask(json!({
        "thread": "M8", "property_class": "8.8", "friction": "0.10-0.16", "torque": "22 N·m",
        "wrenches": ["5-25 N·m", "20-100 N·m", "60-340 N·m"],
        "adapter": { "wrench_length": "400 mm", "adapter_length": "50 mm" },
    }));
    let wrench = &answer["wrench"];
    near(&wrench["setting_nm"], 22.0 * 400.0 / 450.0, 1e-3);
    let serving: Vec<_> = wrench["serving"].as_array().unwrap().iter().map(|one| one["to_nm"].as_f64()).collect();
    assert_eq!(serving, [Some(25.0)]);
    assert!(wrench["preload_n"]["min"].as_f64() < answer["preload_n"]["min"].as_f64());
}

#[track_caller]
fn answers(thread: &crate::thread::Thread, class: &str, head: Option<crate::record::Head>) {
    let mut request = TighteningRequest::new(thread.clone(), class.parse().expect("a class"));
    request.head = head;
    request.torque = Some("10 N·m".parse().expect("a torque"));
    request.angles = vec!["90°".parse().expect("an angle")];
    tightening(&request).unwrap_or_else(|error| panic!("{thread} {class} {head:?}: {error}"));
}

#[test]
fn every_standard_thread_head_and_class_has_an_answer() {
    for thread in crate::thread::Thread::standards() {
        let is_metric = thread.system() == Some(crate::thread::System::Metric);
        answers(thread, if is_metric { "8.8" } else { "grade 5" }, None);
    }
    for thread in ["M1.6", "M10", "M36", "M64", "#4-40 UNC", "1/2-13 UNC"] {
        for head in crate::record::Head::ALL {
            answers(&thread.parse().expect(thread), "8.8", Some(*head));
        }
    }
    for class in ["4.6", "4.8", "5.8", "6.8", "9.8", "12.9", "A2-50", "A2-70", "A4-80", "A4-100", "grade 2", "A574"] {
        answers(&"M10".parse().expect("a thread"), class, None);
    }
}

#[test]
fn says_what_has_no_answer() {
    let ask = |thread: &str, class: &str| {
        let request = TighteningRequest::new(thread.parse().expect(thread), class.parse().expect(class));
        tightening(&request).unwrap_err()
    };
    assert_eq!(ask("G 1/2", "8.8").pointer(), "/thread");
    assert_eq!(ask("M8", "7.7").pointer(), "/property_class");
}

#[test]
fn the_demo_bolt_is_answered_from_its_record() {
    let record = Record::from_json(&json!({
        "kind": "fastener", "id": "skua.diesel.raw-water-pump.cover.hex", "joint": "skua.diesel.raw-water-pump.cover",
        "head": "hexagon-flange", "thread": "M8×1.25-6g", "length": "35 mm", "property_class": "8.8",
        "friction": "0.10-0.16", "grip": "22 mm", "into": { "material": "EN AC-46000", "engagement": "16 mm" },
        "stages": ["hand", "8 N·m", "15 N·m + 90°"],
    }));
    let Ok(Record::Fastener(fastener)) = record else { panic!("a fastener") };
    let request = TighteningRequest::of_fastener(&fastener).expect("it has a class");
    let answer = tightening(&request).unwrap();
    assert_eq!(answer.torque_nm, Extent::One(15.0));
    assert!(answer.stripping.is_some() && answer.angle.is_some());
}
