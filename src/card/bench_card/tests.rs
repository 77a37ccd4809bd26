use super::*;
use crate::record::Record;
use serde_json::json;

fn record(value: serde_json::Value) -> Record {
    Record::from_json(&value).unwrap_or_else(|e| panic!("{e}"))
}

fn cover() -> Record {
    record(json!({ "kind": "joint", "id": "a.b.cover", "title": "Pump <cover>", "assembly_title": "Pump",
        "positions": [ { "n": 1, "x_mm": -30, "y_mm": 20 }, { "n": 2, "x_mm": 30, "y_mm": 20 },
            { "n": 3, "x_mm": 30, "y_mm": -20 }, { "n": 4, "x_mm": -30, "y_mm": -20 } ],
        "order": { "pattern": "diagonal" }, "prepare": ["Clean both faces"], "cautions": ["Hot"],
        "renew": [ { "item": "O-ring", "count": 1, "part_no": "SY-1" } ],
        "source": { "document": "Yard book", "edition": "3", "page": "40", "entered_by": "mo", "checked_by": "ines" } }))
}

fn bolt(name: &str, more: serde_json::Value) -> Record {
    let mut value = json!({ "kind": "fastener", "id": format!("a.b.cover.{name}"), "joint": "a.b.cover",
        "thread": "M8", "head": "hexagon", "positions": "1-4", "stages": ["hand", "8 N·m", "20 N·m + 180°"],
        "reuse": { "rule": "renew" }, "lubrication": "oiled",
        "source": { "document": "Yard book", "edition": "3", "page": "41", "entered_by": "mo", "checked_by": "ines" } });
    for (key, member) in more.as_object().unwrap() {
        value[key] = member.clone();
    }
    record(value)
}

fn made(fasteners: &[Record], findings: &[Finding], options: CardOptions) -> Card {
    let joint = cover();
    let fasteners = fasteners.iter().filter_map(Record::as_fastener);
    bench_card(&CardInput {
        joint: Numbered::new(joint.as_joint().unwrap(), Some(3)),
        fasteners: fasteners.map(|fastener| Numbered::new(fastener, Some(1))).collect(),
        findings,
        printed_at: "2026-05-01 14:03 UTC".to_owned(),
        options,
    })
}

fn cautions(card: &Card) -> Vec<String> {
    let about = |caution: &Caution| caution.about.as_ref().map_or(String::new(), |letter| format!("{letter}: "));
    card.cautions.iter().map(|caution| format!("{}{}", about(caution), caution.text)).collect()
}

#[test]
fn stages_become_actions_with_the_stated_unit_first() {
    let card = made(&[bolt("hex", json!({}))], &[], CardOptions::default());
    let said: Vec<Vec<(String, Option<String>)>> = card
        .passes
        .iter()
        .map(|pass| pass.cells[0].actions.iter().map(|action| (action.words(), action.aside())).collect())
        .collect();
    let aside = |text: &str| Some(text.to_owned());
    assert_eq!(said[0], [("by hand".to_owned(), None)]);
    assert_eq!(said[1], [("8 N·m".to_owned(), aside("≈ 70.8 lbf·in converted"))]);
    assert_eq!(
        said[2],
        [("20 N·m".to_owned(), aside("≈ 14.8 lbf·ft converted")), ("+ 180°".to_owned(), aside("as 90° + 90°"))]
    );
    let boxes: Vec<_> = card.passes[1].boxes.iter().filter_map(|tick| tick.position).collect();
    assert_eq!((boxes, card.loosening), (vec![1, 3, 2, 4], vec![4, 2, 3, 1]));
}

#[test]
fn larger_steps_are_split_only_as_far_as_asked() {
    let options = CardOptions { largest_step: Angle::from_degrees(180.0), ..CardOptions::default() };
    let card = made(&[bolt("hex", json!({}))], &[], options);
    assert!(card.passes[2].cells[0].actions[1].steps.is_empty());
}

#[test]
fn what_is_wrong_comes_before_what_is_merely_careful() {
    let mut finding = Finding::error("stages[1]", "95 N·m cannot be");
    finding.record = "a.b.cover.hex".to_owned();
    finding.perhaps =
        vec![crate::audit::Perhaps { value: "9.5 N·m".to_owned(), slip: "decimal-lost".to_owned(), probability: 0.8 }];
    let mut accepted = Finding::error("stages[1]", "accepted");
    accepted.record = "a.b.cover.hex".to_owned();
    accepted.accepted = Some("known".to_owned());
    let card = made(&[bolt("hex", json!({ "hand": "left" }))], &[finding, accepted], CardOptions::default());
    assert_eq!(
        cautions(&card),
        [
            "A: audit error: 95 N·m cannot be. Perhaps 9.5 N·m was meant.",
            "Hot",
            "A: Left-hand thread: tightens anticlockwise"
        ]
    );
    assert_eq!((card.standing.errors, card.standing.is_checked), (1, true));
    assert_eq!(card.standing.words, "Checked by a second person. Audit: 1 error");
}

#[test]
fn an_unchecked_record_says_so() {
    let unchecked =
        bolt("hex", json!({ "source": { "document": "Yard book", "entered_by": "mo", "checked_by": "mo" } }));
    let card = made(&[unchecked], &[], CardOptions::default());
    assert_eq!(card.standing.words, "PARTLY UNCHECKED. Audit: no finding");
    assert_eq!(cautions(&card)[1], "Unchecked: no second person has compared A with the source");
    assert!(html(&card).contains("<b>unchecked</b>") && plain_text(&card).contains("UNCHECKED"));
}

#[test]
fn nothing_is_picked_among_variants() {
    let fasteners = [
        bolt("early", json!({ "fits": { "variants": ["bronze"] } })),
        bolt("late", json!({ "fits": { "variants": ["alloy"] }, "head": "hexagon-flange" })),
    ];
    let card = made(&fasteners, &[], CardOptions::default());
    assert_eq!(
        cautions(&card)[..2],
        [
            "At 1, 2, 3, 4 sits A or B, one of them: A: fits bronze, head hexagon; B: fits alloy, head hexagon flange",
            "2 kinds of head: check the head before you set a value. A: hexagon head; B: hexagon flange head"
        ]
    );
    assert_eq!(card.passes[0].boxes.len(), 8);
    let one = CardOptions { variant: Some("alloy".to_owned()), ..CardOptions::default() };
    let card = made(&fasteners, &[], one);
    assert_eq!((card.fasteners.len(), cautions(&card)), (1, vec!["Hot".to_owned()]));
}

#[test]
fn what_people_wrote_does_not_become_markup() {
    let page = html(&made(&[bolt("hex", json!({ "note": "<script>alert(1)</script>" }))], &[], CardOptions::default()));
    assert!(page.contains("Pump &#60;cover&#62;") && !page.contains("<script"), "{page}");
    for outside in ["src=", "href=", "url(", "@import", "http:"] {
        assert!(!page.replace("http://www.w3.org/2000/svg", "").contains(outside), "{outside}");
    }
}

#[test]
fn text_fits_a_terminal() {
    let fasteners = [
        bolt(
            "hex",
            json!({ "name": "A name that goes on and on until it no longer fits beside anything at all, really" }),
        ),
        bolt("long", json!({ "positions": "1-200" })),
    ];
    let text = plain_text(&made(&fasteners, &[], CardOptions::default()));
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
}

#[test]
fn json_has_no_drawing_in_it() {
    let value = serde_json::to_value(made(&[bolt("hex", json!({}))], &[], CardOptions::default())).unwrap();
    assert!(value.get("drawing").is_none());
    assert_eq!(value["passes"][2]["cells"][0]["actions"][1]["what"], "turn");
}
