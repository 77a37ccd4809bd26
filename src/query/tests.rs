use super::*;
use crate::record::{Kind, Refused};
use crate::units::Torque;

fn reads(pairs: &[(&str, &str)]) -> Query {
    Query::parse(pairs.iter().copied()).unwrap_or_else(|refused| panic!("{refused}"))
}

#[track_caller]
fn faults(pairs: &[(&str, &str)]) -> Vec<String> {
    let Refused(faults) = Query::parse(pairs.iter().copied()).unwrap_err();
    faults.iter().map(ToString::to_string).collect()
}

#[test]
fn nothing_asked_is_everything() {
    assert_eq!(reads(&[]), Query::default());
}

#[test]
fn values_are_read_leniently_and_the_answer_says_so() {
    let query = reads(&[("thread", "m8x1,25,3/8-16"), ("property_class", "8,8"), ("head", "hex"), ("reuse", "renew")]);
    assert_eq!(query.filter(Field::Thread).unwrap().any, ["M8×1.25", "3/8-16 UNC"]);
    assert_eq!(query.filter(Field::PropertyClass).unwrap().any, ["8.8"]);
    let read_as: Vec<_> = query.read_as.iter().map(|(name, value)| format!("{name}={value}")).collect();
    assert_eq!(read_as, ["head=hexagon", "property_class=8.8", "thread=M8×1.25,3/8-16 UNC"]);
    assert_eq!(reads(&[("property_class", "8.8,10.9")]).filter(Field::PropertyClass).unwrap().any, ["8.8", "10.9"]);
    assert_eq!(reads(&[("property_class", "8,10")]).filter(Field::PropertyClass).unwrap().any, ["8", "10"]);
}

#[test]
fn torques_are_read_in_their_unit() {
    let query = reads(&[("torque.min", "30"), ("torque.unit", "lbf.ft"), ("torque.max", "60 N·m")]);
    let foot = Torque::from_newton_meters(30.0 * 0.3048 * 0.453_592_37 * 9.806_65);
    assert!((query.torque.min.unwrap().newton_meters() / foot.newton_meters() - 1.0).abs() < 1e-12);
    assert_eq!(query.torque.max, Some(Torque::from_newton_meters(60.0)));
    assert_eq!(query.read_as["torque.min"], "30 lbf·ft");
    assert_eq!(reads(&[("torque.min", "30")]).read_as["torque.min"], "30 N·m");
}

#[test]
fn every_fault_is_named_at_once_with_what_was_perhaps_meant() {
    let pairs = [
        ("tread", "M8"),
        ("head", "hexagonal"),
        ("thread.min", "3"),
        ("take", "501"),
        ("sort", "weight"),
        ("facets", "heads"),
        ("torque.min", "-3"),
        ("position", "0"),
        ("take", "7"),
        ("id", "Skua"),
        ("after", "xyz"),
        ("as_of", "yesterday"),
        ("checked", "maybe"),
    ];
    let text = faults(&pairs).join("\n");
    let expected = [
        "/tread: there is no parameter \"tread\". Did you mean thread",
        "/head: \"hexagonal\" is not a kind of head (did you mean hexagon, hexagon-flange or hexagon-nut?)",
        "/thread.min: \"thread\" has no test \"min\".",
        "/take: a page holds 1 to 500 records.",
        "/sort: \"weight\" can't be ordered by.",
        "/facets: \"heads\" is not a field that can be counted. Did you mean head",
        "/position: expected the number of a position, 1 to 999, found \"0\".",
        "/take: \"take\" is given twice.",
        "/id: ",
        "/after: this is not a cursor of this book.",
        "/as_of: \"yesterday\" is not a moment.",
        "/checked: expected true or false, found \"maybe\".",
        "/torque.min: \"-3\" is not a torque.",
    ];
    for wanted in expected {
        assert!(text.contains(wanted), "{wanted}\n\nis not in\n\n{text}");
    }
    assert_eq!(faults(&pairs).len(), expected.len(), "{text}");
    let lenient = Query::parse_leniently([("tread", "M8"), ("take", "7")]).unwrap();
    assert_eq!(lenient.take, 7);
    assert_eq!(
        faults(&[("torque.min", "9"), ("torque.max", "8")]),
        ["/torque.max: torque.min is greater than torque.max. Swap the two values."]
    );
}

#[test]
fn every_parameter_is_taken_by_its_example() {
    for parameter in PARAMETERS.iter().filter(|parameter| parameter.name != "after") {
        let query = reads(&[(parameter.name, parameter.example)]);
        let neutral = ["take", "torque.unit"].contains(&parameter.name);
        assert_eq!(query == Query::default(), neutral, "{}: the example changes nothing", parameter.name);
    }
}

#[test]
fn a_question_is_told_from_another_by_its_fingerprint() {
    let one = reads(&[("head", "hexagon"), ("thread", "M8"), ("take", "5")]);
    assert_eq!(one.fingerprint(), reads(&[("thread", "M8"), ("head", "hexagon"), ("take", "9")]).fingerprint());
    for other in [[("head", "pan"), ("thread", "M8")], [("head", "hexagon"), ("thread.not", "M8")]] {
        assert_ne!(one.fingerprint(), reads(&other).fingerprint());
    }
}

#[test]
fn words_are_taken_apart_alike_in_records_and_questions() {
    assert_eq!(folded_words("M8×1.25, O-Ring 48 × 2; 3/8-16"), ["m8x1.25", "o", "ring", "48", "x", "2", "3/8", "16"]);
    assert_eq!(folded_words("m8X1,25"), ["m8x1.25"]);
}

#[test]
fn a_word_stands_for_what_it_begins_or_for_what_is_one_letter_off() {
    let vocabulary: Vocabulary = ["pump", "pumps", "cover", "coven", "m8"].map(str::to_owned).into();
    assert_eq!(expanded("pum", &vocabulary), ["pump", "pumps"]);
    assert_eq!(expanded("covre", &vocabulary), ["cover"]);
    assert_eq!(expanded("cove", &vocabulary), ["coven", "cover"]);
    assert_eq!(expanded("bolt", &vocabulary), [""; 0]);
    assert_eq!(expanded("m9", &vocabulary), [""; 0], "a wrong digit is not forgiven");
}

#[test]
fn no_more_members_are_named_than_a_list_may_have() {
    let named = |count: usize| members_named("fields", &vec!["thread"; count].join(","), Some(Kind::Fastener));
    assert_eq!(named(100).unwrap().len(), 100);
    assert!(named(101).unwrap_err().0[0].detail.contains("at most 100"));
}
