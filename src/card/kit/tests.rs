use super::*;
use crate::record::Record;
use serde_json::json;

fn record(value: serde_json::Value) -> Record {
    Record::from_json(&value).unwrap_or_else(|e| panic!("{e}"))
}

fn cover(name: &str) -> Record {
    record(json!({ "kind": "joint", "id": format!("a.b.{name}"), "title": "Cover",
        "renew": [ { "item": "O-ring 48 × 2", "count": 1, "part_no": "SY-1" }, { "item": "Gasket" } ],
        "tools": ["Strap wrench"] }))
}

fn bolt(joint: &str, name: &str, more: serde_json::Value) -> Record {
    let mut value = json!({ "kind": "fastener", "id": format!("a.b.{joint}.{name}"), "joint": format!("a.b.{joint}"),
        "name": "Cover bolt", "thread": "M8", "length": "35 mm", "property_class": "8.8", "part_no": "SY-8",
        "drive": { "type": "hexagon", "size": "13 mm" }, "positions": "1-4", "stages": ["hand", "8 N·m", "20 N·m + 90°"],
        "reuse": { "rule": "renew" }, "lubrication": "oiled" });
    for (key, member) in more.as_object().unwrap() {
        value[key] = member.clone();
    }
    record(value)
}

fn made<'r>(joints: &'r [Record], fasteners: &'r [Record], options: &KitOptions) -> Kit {
    let joints: Vec<JointRecords<'r>> = joints
        .iter()
        .map(|joint| {
            let joint = joint.as_joint().unwrap();
            let all = fasteners.iter().filter_map(Record::as_fastener);
            JointRecords { joint, fasteners: all.filter(|fastener| fastener.joint == joint.id).collect() }
        })
        .collect();
    kit(&joints, options)
}

#[track_caller]
fn lists(parts: &[KitPart], expected: &[(&str, Option<u32>, &str)]) {
    let found: Vec<_> =
        parts.iter().map(|part| (part.item.as_str(), part.count, part.part_no.as_deref().unwrap_or(""))).collect();
    assert_eq!(found, expected);
}

#[test]
fn parts_are_summed_by_number_and_size() {
    let joints = [cover("left"), cover("right"), cover("left")];
    let fasteners = [
        bolt("left", "x", json!({})),
        bolt("right", "x", json!({ "name": "Long cover bolt", "positions": "1-3,3" })),
        bolt("right", "y", json!({ "length": "40 mm" })),
    ];
    let kit = made(&joints, &fasteners, &KitOptions::default());
    let expected = [
        ("O-ring 48 × 2", Some(2), "SY-1"),
        ("Gasket", None, ""),
        ("Cover bolt / Long cover bolt", Some(7), "SY-8"),
        ("Cover bolt", Some(4), "SY-8"),
    ];
    lists(&kit.renew, &expected);
    assert_eq!(kit.renew[2].joints.len(), 2);
    assert_eq!(kit.joints.len(), 2, "a joint named twice counts once");
}

#[test]
fn what_depends_on_a_measurement_comes_with_its_limit() {
    let fasteners = [
        bolt("left", "x", json!({ "reuse": { "rule": "measure", "limit": "62.5 mm" } })),
        bolt("left", "y", json!({ "reuse": { "rule": "reuse-up-to", "times": 3 }, "part_no": "SY-9" })),
        bolt("left", "z", json!({ "reuse": { "rule": "reuse" } })),
    ];
    let kit = made(&[cover("left")], &fasteners, &KitOptions::default());
    let rules: Vec<_> = kit.conditional.iter().map(|part| part.rule.clone().unwrap()).collect();
    assert_eq!(rules, ["measure; renew if longer than 62.5 mm", "may be used again 3 times"]);
}

#[test]
fn tools_and_supplies_are_named_once() {
    let fasteners = [
        bolt("left", "x", json!({ "locking": "split-pin" })),
        bolt(
            "left",
            "y",
            json!({ "drive": { "type": "hexalobular-socket", "size": "T45" }, "locking": "threadlocker", "lubrication": "threadlocker" }),
        ),
        bolt(
            "left",
            "z",
            json!({ "drive": { "type": "none" }, "lubrication": "dry", "stages": ["200 N·m", "back off 90°", "2000 N·m"] }),
        ),
    ];
    let kit = made(&[cover("left")], &fasteners, &KitOptions::default());
    let names = |tools: &[KitTool]| tools.iter().map(|tool| tool.item.clone()).collect::<Vec<_>>();
    assert_eq!(names(&kit.drives), ["13 mm hexagon socket wrench", "T45 hexalobular bit"]);
    assert_eq!(names(&kit.supplies), ["Oil", "Threadlocker"]);
    assert_eq!(names(&kit.special_tools), ["Strap wrench"]);
    assert_eq!(kit.angle_gauge.unwrap().item, "90°");
    let wrenches: Vec<_> =
        kit.wrenches.iter().map(|wrench| (wrench.range.as_str(), wrench.settings.join(" "))).collect();
    assert_eq!(wrenches, [("5-25 N·m", "8 N·m 20 N·m".to_owned()), ("40-200 N·m", "200 N·m".to_owned())]);
    assert_eq!(kit.unserved, ["2000 N·m"]);
    assert!(kit.renew.iter().any(|part| part.item == "Split pin" && part.count == Some(4)));
}

#[test]
fn own_wrenches_are_used_when_given() {
    let own = ["4-20 lbf·ft", "10-60 N·m"].map(|scale| WrenchRange::new(scale.parse().unwrap()).unwrap());
    let options = KitOptions { wrenches: own.to_vec(), ..KitOptions::default() };
    let kit = made(&[cover("left")], &[bolt("left", "x", json!({}))], &options);
    assert_eq!(kit.wrenches.len(), 1);
    assert_eq!((kit.wrenches[0].range.as_str(), kit.wrenches[0].settings.len()), ("4-20 lbf·ft", 2));
}

#[test]
fn nothing_is_picked_among_variants() {
    let fasteners = [
        bolt("left", "x", json!({ "fits": { "variants": ["bronze"] } })),
        bolt("left", "y", json!({ "fits": { "variants": ["alloy"] } })),
    ];
    let both = made(&[cover("left")], &fasteners, &KitOptions::default());
    let bolts: Vec<_> = both.renew.iter().filter_map(|part| Some((part.fits.clone()?, part.count))).collect();
    assert_eq!(bolts, [("bronze".to_owned(), Some(4)), ("alloy".to_owned(), Some(4))]);
    let one = KitOptions { variant: Some("alloy".to_owned()), ..KitOptions::default() };
    assert_eq!(made(&[cover("left")], &fasteners, &one).renew.len(), 3);
}

#[test]
fn what_is_not_stated_is_said() {
    let fasteners =
        [bolt("left", "x", json!({ "positions": null, "drive": null })), bolt("left", "y", json!({ "reuse": null }))];
    let kit = made(&[cover("left")], &fasteners, &KitOptions::default());
    let expected = ["a.b.left.x: how many there are", "a.b.left.y: no reuse rule", "a.b.left.x: no drive"];
    assert_eq!(kit.not_stated, expected);
    let text = kit.plain_text();
    assert!(text.contains("[ ]   ? × Cover bolt, M8×1.25 × 35 mm, 8.8"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 80));
}

#[test]
fn csv_has_one_line_an_item_and_guards_formulas() {
    let fasteners = [bolt("left", "x", json!({ "name": "=1+1" }))];
    let csv = made(&[cover("left")], &fasteners, &KitOptions::default()).csv();
    let lines: Vec<&str> = csv.split("\r\n").collect();
    assert_eq!(lines[0], "section,item,size,part_no,count,note,for");
    assert_eq!(lines[1], "renew,O-ring 48 × 2,,SY-1,1,,a.b.left");
    assert_eq!(lines[3], "renew,'=1+1,\"M8×1.25 × 35 mm, 8.8\",SY-8,4,,a.b.left");
    assert!(lines.contains(&"torque-wrench,5-25 N·m,,,,\"set to 8 N·m, 20 N·m\","));
}
