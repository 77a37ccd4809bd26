//! What is printed before a job: card, kit, way, label.

use super::{Book, COVER};

const SEAL: &str = "skua.diesel.raw-water-pump.seal-carrier";
const HEAD: &str = "skua.diesel.cylinder-head";

#[test]
fn the_way_in_is_the_way_out_reversed() {
    let book = Book::of_the_yard();
    let way = book.run(&["way", SEAL, "--as", "json"]).json();
    let ids = |key: &str| -> Vec<String> {
        way["way"][key].as_array().unwrap().iter().map(|id| id.as_str().unwrap().to_owned()).collect()
    };
    let (open, mut close) = (ids("open"), ids("close"));
    close.reverse();
    assert_eq!(open, close);
    assert_eq!(open.last().map(String::as_str), Some(SEAL));
    let at = |id: &str| open.iter().position(|known| known == id).unwrap();
    assert!(at("skua.diesel.intake-trunk.flange") < at(COVER), "what stands before the cover is opened first");
    assert_eq!(way["cards"].as_array().unwrap().len(), open.len());
    let rows = book.run(&["way", SEAL]).fine();
    assert_eq!(rows.lines().next(), Some("1\t7\tskua.diesel.alternator.bracket\tAlternator and belt tensioner"));
    assert_eq!(rows.lines().count(), open.len());
}

#[test]
fn several_targets_share_their_way_and_an_unknown_one_is_named() {
    let book = Book::of_the_yard();
    let both = book.run(&["way", COVER, SEAL, "--as", "table"]).fine();
    assert!(both.starts_with("WAY TO RAW-WATER PUMP COVER, SHAFT SEAL CARRIER\n"), "{both}");
    assert_eq!(both.matches("Intake trunk to head  skua.diesel.intake-trunk.flange").count(), 1);
    for heading in ["DRAIN, DISCONNECT, PREPARE", "SPECIAL TOOLS", "WORTH DOING AT THE SAME TIME", "RENEW"] {
        assert!(both.contains(heading), "{heading}");
    }
    let wrong = book.run(&["way", COVER, "skua.diesel.nope"]);
    wrong.says(1, "clampbook: the book has no joint skua.diesel.nope\n");
    book.run(&["label", "skua.nope"]).says(1, "clampbook: the book has no joint skua.nope\n");
}

#[test]
fn the_whole_way_is_one_file() {
    let book = Book::of_the_yard();
    book.run(&["way", SEAL, "-o", "way.html"]).fine();
    let html = std::fs::read_to_string(book.store().with_file_name("way.html")).unwrap();
    assert_eq!(html.matches("<article class=\"sheet").count(), 7);
    assert!(html.contains("Kit for the whole way") && !html.contains("src="));
}

#[test]
fn a_kit_is_made_from_the_wrenches_at_hand() {
    let book = Book::of_the_yard();
    let kit = book.run(&["kit", HEAD, "--wrench", "10-60 N·m", "--as", "json"]).json();
    assert_eq!(kit["wrenches"][0]["range"], "10-60 N·m");
    assert_eq!(kit["unserved"], serde_json::json!(["80 N·m", "140 N·m"]));
    let kit = book.run(&["kit", HEAD, "--wrench", "10-60 N·m", "--wrench", "60-300 N·m", "--as", "json"]).json();
    assert_eq!(kit["unserved"], serde_json::Value::Null);
    let refused = book.run(&["kit", HEAD, "--wrench", "40 N·m"]);
    assert!(refused.code == 2 && refused.err.contains("is no range. Write from where to where"), "{refused:?}");
    let table = book.run(&["kit", HEAD, "--as", "csv"]).fine();
    assert!(table.starts_with("section,item,size,part_no,count,note,for\r\n"), "{table}");
    let alone = book.run(&["kit", COVER]).fine();
    let whole = book.run(&["kit", COVER, "--way"]).fine();
    assert!(whole.contains("SY-21310") && !alone.contains("SY-21310"), "the gaskets on the way");
}

#[test]
fn a_turn_is_split_into_the_steps_asked_for() {
    let book = Book::of_the_yard();
    let steps = |options: &[&str]| {
        let card = book.run(&[&["card", HEAD, "--as", "json"], options].concat()).json();
        let passes = card["passes"].as_array().unwrap().clone();
        let actions = passes.iter().flat_map(|pass| pass["cells"].as_array().unwrap().clone());
        let turns = actions.flat_map(|cell| cell["actions"].as_array().unwrap().clone());
        turns.filter(|action| action["what"] == "turn").map(|action| action["steps"].clone()).collect::<Vec<_>>()
    };
    assert_eq!(steps(&[]), [serde_json::Value::Null, serde_json::Value::Null], "90° is one swing");
    assert_eq!(steps(&["--step", "40°"])[0], serde_json::json!(["40°", "40°", "10°"]));
    let refused = book.run(&["card", HEAD, "--step", "400°"]);
    assert!(refused.code == 2 && refused.err.contains("a step is from 1° to 360°"), "{refused:?}");
}

#[test]
fn a_label_leaves_lines_to_write_on() {
    let book = Book::of_the_yard();
    let label = book.run(&["label", HEAD, "--reading", "1240 h", "--as", "table"]).fine();
    assert_eq!(
        label,
        "Cylinder head to block\nRenewed:\n  1 × Cylinder head gasket (SY-21110)\n  2 × O-ring, oil gallery 16 × 2 (SY-21114)\n  \
         10 × Head bolt, two middle rows (SY-14160E)\nDate: ____________________\nHours or distance: 1240 h\n\
         Next due: ____________________\nskua.diesel.cylinder-head\n"
    );
    book.run(&["label", HEAD, "-o", "label.html"]).fine();
    assert!(std::fs::read_to_string(book.store().with_file_name("label.html")).unwrap().contains("Next due"));
}
