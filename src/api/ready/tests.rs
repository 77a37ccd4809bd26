//! What is ready is what would be made anew, byte for byte, whatever was written in between.

use super::places::AtPosition;
use super::*;
use crate::api::tags;
use crate::catalog::{Author, Expected, PositionAsked, State};
use crate::record::{Head, Record};
use crate::view::{Entry, PositionView};
use actix_web::web::Bytes;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// The joints of a small book, and how many fasteners each may have.
const JOINTS: [&str; 3] = ["a.pump.cover", "a.pump.drain", "b.winch.foot"];
const EACH: u8 = 4;
/// Torques of which some are suspicious beside the others.
const TORQUES: [&str; 6] = ["20 N·m", "21 N·m", "22 N·m", "15 lbf·ft", "210 N·m", "2.1 N·m"];
const HEADS: [&str; 2] = ["hexagon", "pan"];

#[derive(Debug, Clone)]
enum Step {
    Joint {
        joint: usize,
        title: bool,
    },
    Fastener {
        joint: usize,
        number: u8,
        torque: usize,
        head: usize,
        is_checked: bool,
    },
    /// The same with what tells fasteners apart at odds, or not stated.
    Odd {
        joint: usize,
        number: u8,
        odd: u8,
    },
    Withdraw {
        joint: usize,
        number: u8,
    },
    Read,
}

fn step() -> impl Strategy<Value = Step> {
    let joint = || 0..JOINTS.len();
    prop_oneof![
        1 => (joint(), any::<bool>()).prop_map(|(joint, title)| Step::Joint { joint, title }),
        6 => (joint(), 0..EACH, 0..TORQUES.len(), 0..HEADS.len(), any::<bool>()).prop_map(
            |(joint, number, torque, head, is_checked)| Step::Fastener { joint, number, torque, head, is_checked }
        ),
        4 => (joint(), 0..EACH, 0..64_u8).prop_map(|(joint, number, odd)| Step::Odd { joint, number, odd }),
        1 => (joint(), 0..EACH).prop_map(|(joint, number)| Step::Withdraw { joint, number }),
        2 => Just(Step::Read),
    ]
}

fn id_of(joint: usize, number: u8) -> Id {
    format!("{}.f{number}", JOINTS[joint]).parse().unwrap()
}

fn fastener(joint: usize, number: u8, torque: usize, head: usize, is_checked: bool) -> Record {
    let mut source = json!({ "document": "Skerry Yard workshop book", "page": "7", "entered_by": "mo" });
    if is_checked {
        source["checked_by"] = "ada".into();
    }
    let record = json!({
        "kind": "fastener", "id": id_of(joint, number).as_str(), "joint": JOINTS[joint], "thread": "M8",
        "property_class": "8.8", "head": HEADS[head], "positions": format!("{}-{}", number + 1, number + 2),
        "stages": [TORQUES[torque]], "source": source, "note": "say \"items\":[] twice, \\\"items\\\":[]",
    });
    Record::from_json(&record).unwrap()
}

/// A fastener whose bits say what is stated of it.
fn odd_fastener(joint: usize, number: u8, odd: u8) -> Record {
    let is_stated = |bit: u8| odd >> bit & 1 == 1;
    let mut record = json!({
        "kind": "fastener", "id": id_of(joint, number).as_str(), "joint": JOINTS[joint], "thread": "M10",
        "stages": [TORQUES[0]], "name": "Bolt \"B\"",
    });
    let mut state = |bit: u8, name: &str, value: Value| {
        if is_stated(bit) {
            record[name] = value;
        }
    };
    state(0, "head", HEADS[usize::from(number) % 2].into());
    state(1, "positions", if number == 0 { "1,3-4,3" } else { "2" }.into());
    state(2, "fits", json!({ "variants": ["Bronze-Housing", "long \"shaft\""] }));
    state(3, "part_no", format!("SY-{number}\\7 \"x\"").into());
    state(4, "length", "20 mm".into());
    state(5, "finish", "zinc-plated".into());
    Record::from_json(&record).unwrap()
}

/// Writes; what the book refuses is refused.
fn write(catalog: &Catalog, step: &Step) {
    let author = Author::unknown();
    match *step {
        Step::Joint { joint, title } => {
            let title = if title { "Cover \"items\":[]" } else { "Cover" };
            let record = json!({ "kind": "joint", "id": JOINTS[joint], "title": title });
            let _ = catalog.put(Record::from_json(&record).unwrap(), Expected::Any, &author);
        }
        Step::Fastener { joint, number, torque, head, is_checked } => {
            let _ = catalog.put(fastener(joint, number, torque, head, is_checked), Expected::Any, &author);
        }
        Step::Odd { joint, number, odd } => {
            let _ = catalog.put(odd_fastener(joint, number, odd), Expected::Any, &author);
        }
        Step::Withdraw { joint, number } => {
            let _ = catalog.withdraw(&id_of(joint, number), Expected::Any, None, &author);
        }
        Step::Read => {}
    }
}

/// Everything that is ready is what is made anew now.
fn compare(ready: &Ready, catalog: &Catalog) {
    compare_with(ready, catalog, 0..JOINTS.len());
}

/// The same, of all records and pages, and of the positions of some joints.
fn compare_with(ready: &Ready, catalog: &Catalog, joints: Range<usize>) {
    for id in ids() {
        // The audit is taken up to the last change, as whoever asks first does.
        let anew = catalog.get(&id).unwrap().map(|stored| Entry::of(catalog, stored).unwrap());
        for _ in 0..2 {
            let shown = ready.one(catalog, id.as_str()).unwrap();
            match (&anew, shown) {
                (Some(entry), Some((shown, up_to))) => {
                    assert_eq!(up_to, None, "{id}");
                    let bytes = json_bytes(entry);
                    assert_eq!(shown.line, bytes, "{id}");
                    assert_eq!(shown.tag(), tags::of_shown(entry.stored.revision, &bytes));
                    assert_eq!(shown.kind, entry.stored.record.kind());
                }
                (None, None) => {}
                (anew, shown) => panic!("{id}: {anew:?} is made anew, ready is {shown:?}"),
            }
        }
    }
    for pairs in [vec![], vec![("head", "pan")], vec![("sort", "-torque"), ("take", "3")], vec![("fields", "name")]] {
        let pairs = pairs.into_iter().map(|(name, value)| (name.to_owned(), value.to_owned()));
        let query = Query::parse(pairs).unwrap();
        compare_page(ready, catalog, &query);
    }
    let heads = [None, Some(Head::Hexagon), Some(Head::Pan)];
    let variants = [None, Some("bronze-housing"), Some("LONG \"shaft\""), Some("ice-class")];
    let asked = joints.flat_map(|joint| [1, 2, 3, 9].map(|position| (joint, position)));
    let asked = asked.flat_map(|at| heads.map(|head| (at, head)));
    for (((joint, position), head), variant) in asked.flat_map(|at| variants.map(|variant| (at, variant))) {
        let joint: Id = JOINTS[joint].parse().unwrap();
        let asked = PositionAsked { position, head, variant, as_of: None };
        let answer = catalog.at_position(&joint, &asked).unwrap();
        let (has_joint, is_there) = (answer.joint.is_some(), answer.joint.is_some() || !answer.fasteners.is_empty());
        let is_there = is_there || !answer.nearest.is_empty();
        let bytes: Bytes = json_bytes(&PositionView::of(catalog, &joint, answer).unwrap()).into();
        for _ in 0..2 {
            let at = ready.position(catalog, &joint, &asked).unwrap();
            assert_eq!(at, is_there.then(|| AtPosition { has_joint, bytes: bytes.clone(), up_to: None }));
        }
    }
}

fn compare_page(ready: &Ready, catalog: &Catalog, query: &Query) {
    let page = catalog.find(query).unwrap();
    let address = format!("/v1/records?{query:?}");
    let link = page.next.as_deref().and_then(|next| link_to(&address, next));
    let anew = PageSent { bytes: json_bytes(&PageView::of(catalog, query, page).unwrap()).into(), link, up_to: None };
    for _ in 0..3 {
        if let Some((again, mark)) = ready.page_again(catalog, &address) {
            assert_eq!((&again, mark), (&anew, catalog.mark()));
        }
        assert_eq!(ready.page(catalog, query, &address, true).unwrap(), anew);
    }
}

/// The property would say nothing of pages that are asked for again if none ever were kept.
#[test]
fn a_page_is_kept_until_the_next_change() {
    let catalog = Catalog::in_memory().unwrap();
    catalog.keep_directory().unwrap();
    for number in 0..EACH {
        write(&catalog, &Step::Fastener { joint: 0, number, torque: 0, head: 0, is_checked: true });
    }
    let (ready, address) = (Ready::default(), "/v1/records?take=3");
    let query = Query::parse([("take".to_owned(), "3".to_owned())]).unwrap();
    let again = |address: &str| ready.page_again(&catalog, address).map(|(page, _)| page);
    let page = ready.page(&catalog, &query, address, false).unwrap();
    assert!(page.link.is_some() && again(address).is_none(), "it was not to be kept");
    assert_eq!(ready.page(&catalog, &query, address, true).unwrap(), page);
    assert!(again(address).is_none(), "it was asked for once");
    assert_eq!(ready.page(&catalog, &query, address, true).unwrap(), page);
    assert_eq!((again(address), again("/v1/records?take=4")), (Some(page), None));
    write(&catalog, &Step::Fastener { joint: 0, number: 0, torque: 4, head: 1, is_checked: true });
    assert_eq!(again(address), None);
    compare_page(&ready, &catalog, &query);
}

#[test]
fn the_link_is_the_same_address_with_another_cursor() {
    let link = |address: &str| link_to(address, "c2").map(|link| link.to_str().unwrap().to_owned());
    assert_eq!(link("/v1/joints").as_deref(), Some("</v1/joints?after=c2>; rel=\"next\""));
    let whole = Some("</v1/records?q=a%20b&take=3&after=c2>; rel=\"next\"");
    assert_eq!(link("/v1/records?q=a%20b&take=3").as_deref(), whole);
    assert_eq!(link("/v1/records?q=a%20b&after=c1&take=3").as_deref(), whole);
}

/// The joints and the fasteners.
fn ids() -> impl Iterator<Item = Id> {
    let joints = JOINTS.iter().map(|joint| joint.parse().unwrap());
    joints.chain((0..JOINTS.len()).flat_map(|joint| (0..EACH).map(move |number| id_of(joint, number))))
}

/// Every record as it is sent, with the audit taken up to the last change, and what that is.
fn all_lines(catalog: &Catalog) -> (u64, BTreeMap<Id, Vec<u8>>) {
    let line = |id: Id| Some((catalog.get(&id).unwrap()?, id));
    let lines = ids().filter_map(line).map(|(stored, id)| (id, json_bytes(&Entry::of(catalog, stored).unwrap())));
    (catalog.sequence(), lines.collect())
}

/// What is shown before anybody has waited for the audit of a write is what was shown before it, and says so; and it is
/// neither what was written nor of the same joint. Where it takes long to get here, the next audit has not begun soon enough.
fn compare_unwaited(ready: &Ready, catalog: &Catalog, (up_to, lines): &(u64, BTreeMap<Id, Vec<u8>>)) {
    let began = Instant::now();
    let written: Vec<Id> = catalog.changes(*up_to, 9).unwrap().into_iter().map(|change| change.id).collect();
    let has_to_wait = |joint: &str| written.iter().any(|written| written.as_str().starts_with(joint));
    let is_late = || began.elapsed() > Duration::from_millis(700);
    let audited = (!written.is_empty()).then_some(*up_to);
    for id in ids() {
        let joint = JOINTS.iter().find(|joint| id.as_str().starts_with(**joint)).unwrap();
        match ready.one(catalog, id.as_str()).unwrap() {
            Some((shown, told)) => {
                assert!(!has_to_wait(joint), "{id} is shown after {written:?}");
                assert_eq!(told, audited, "{id}");
                assert_eq!(shown.line, lines[&id], "{id}");
            }
            None => assert!(
                has_to_wait(joint) || is_late() || !is_in_force(catalog, &id),
                "{id} was not shown after {written:?}"
            ),
        }
    }
    let is_told = |bytes: &Bytes, told: Option<u64>| {
        let view: Value = serde_json::from_slice(bytes).unwrap();
        let shown = view["items"].as_array().unwrap();
        assert!(told == audited || shown.is_empty() || is_late(), "{view} is of {told:?}, after {written:?}");
        for one in shown.iter().filter(|_| told == audited) {
            let line = &lines[one["id"].as_str().unwrap()];
            assert_eq!(*one, serde_json::from_slice::<Value>(line).unwrap());
        }
        !shown.is_empty()
    };
    let untouched = || JOINTS.into_iter().filter(|joint| !has_to_wait(joint));
    for joint in untouched() {
        let query = Query::parse([("joint".to_owned(), joint.to_owned())]).unwrap();
        let page = ready.page(catalog, &query, "/v1/fasteners", false).unwrap();
        is_told(&page.bytes, page.up_to);
    }
    // Where nothing sits, what comes near waits for the audit, which is finished for the joints behind it; and without a
    // directory nobody can tell whether a joint is what it was.
    for joint in untouched().filter(|_| catalog.has_directory()) {
        let asked = PositionAsked { position: 2, ..PositionAsked::default() };
        match ready.position(catalog, &joint.parse().unwrap(), &asked).unwrap() {
            Some(at) if is_told(&at.bytes, at.up_to) => {}
            _ => break,
        }
    }
}

fn is_in_force(catalog: &Catalog, id: &Id) -> bool {
    catalog.get(id).unwrap().is_some_and(|stored| stored.state == State::Current)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// With room for everything, and with room for two or three records, so that most are pushed out again.
    #[test]
    fn after_any_write_what_is_ready_is_what_is_made_anew(
        steps in prop::collection::vec(step(), 1..24),
        is_narrow in any::<bool>(),
        has_directory in any::<bool>(),
    ) {
        let catalog = Catalog::in_memory().unwrap();
        if has_directory {
            catalog.keep_directory().unwrap();
        }
        let ready = Ready::with_room(if is_narrow { 4000 } else { BYTES_MAX });
        for joint in 0..JOINTS.len() {
            write(&catalog, &Step::Joint { joint, title: false });
        }
        for (number, step) in steps.iter().enumerate() {
            let before = all_lines(&catalog);
            write(&catalog, step);
            compare_unwaited(&ready, &catalog, &before);
            let joint = number % JOINTS.len();
            compare_with(&ready, &catalog, joint..joint + 1);
        }
        compare(&ready, &catalog);
    }
}

/// Everything is ready before anybody has asked for it.
#[test]
fn what_is_made_ready_ahead_is_what_is_made_anew() {
    let catalog = Catalog::in_memory().unwrap();
    for joint in 0..JOINTS.len() {
        write(&catalog, &Step::Joint { joint, title: false });
        for number in 0..EACH {
            write(&catalog, &Step::Fastener { joint, number, torque: 0, head: 0, is_checked: number % 2 == 0 });
        }
    }
    write(&catalog, &Step::Withdraw { joint: 1, number: 2 });
    let (ready, mut ahead) = (Ready::default(), Ahead::default());
    assert!(!ahead.has_more(&catalog), "nothing has been audited");
    all_lines(&catalog);
    catalog.keep_directory().unwrap();
    let go_on = |ahead: &mut Ahead| {
        while ahead.has_more(&catalog) {
            *ahead = ready.go_ahead(&catalog, std::mem::take(ahead)).unwrap();
        }
    };
    go_on(&mut ahead);
    let in_force: Vec<Id> = ids().filter(|id| is_in_force(&catalog, id) && !JOINTS.contains(&id.as_str())).collect();
    let held = ready.of_epoch.load_full();
    assert_eq!(held.records.len(), in_force.len());
    let mark = catalog.mark();
    for id in in_force {
        let slot = catalog.slot_of(id.as_str()).unwrap().unwrap();
        let stored = catalog.get(&id).unwrap().unwrap();
        assert!(held.known(slot, stored.sequence, &mark).is_some(), "{id}");
    }
    compare(&ready, &catalog);
    write(&catalog, &Step::Fastener { joint: 0, number: 0, torque: 4, head: 1, is_checked: true });
    compare(&ready, &catalog);
}

/// The property would say nothing if the audit said the same of every record, or nothing ever stayed ready.
#[test]
fn the_steps_make_the_audit_change_its_mind_while_a_revision_stands() {
    let catalog = Catalog::in_memory().unwrap();
    let ready = Ready::default();
    write(&catalog, &Step::Joint { joint: 0, title: false });
    for number in 0..3 {
        write(&catalog, &Step::Fastener { joint: 0, number, torque: 0, head: 0, is_checked: false });
    }
    let id = id_of(0, 0);
    assert!(ready.one(&catalog, id.as_str()).unwrap().is_none(), "the audit has to be waited for");
    compare(&ready, &catalog);
    let one = || ready.one(&catalog, id.as_str()).unwrap().unwrap().0;
    let slot = catalog.slot_of(id.as_str()).unwrap().unwrap();
    let kept = || ready.of_epoch.load().records.get(&slot).unwrap();
    let (before, first) = (one(), kept());
    one();
    assert!(Arc::ptr_eq(&first, &kept()), "it was made twice");
    for number in 1..4 {
        write(&catalog, &Step::Fastener { joint: 0, number, torque: 4, head: 0, is_checked: false });
    }
    compare(&ready, &catalog);
    let after = one();
    let change = catalog.get(&id).unwrap().unwrap().sequence;
    assert!(before.is_of(change) && after.is_of(change));
    assert_ne!(before.line, after.line, "the audit says the same of it: {}", String::from_utf8_lossy(&after.line));
}

#[test]
fn another_history_has_nothing_ready() {
    let ready = Ready::default();
    for torque in [0, 4] {
        // Two books whose changes have the same numbers.
        let catalog = Catalog::in_memory().unwrap();
        write(&catalog, &Step::Joint { joint: 0, title: false });
        write(&catalog, &Step::Fastener { joint: 0, number: 0, torque, head: 0, is_checked: false });
        compare(&ready, &catalog);
    }
}

#[test]
fn no_more_is_kept_than_there_is_room_for() {
    let catalog = Catalog::in_memory().unwrap();
    let ready = Ready::with_room(20_000);
    for joint in 0..JOINTS.len() {
        write(&catalog, &Step::Joint { joint, title: true });
        for number in 0..EACH {
            write(&catalog, &Step::Fastener { joint, number, torque: 0, head: 0, is_checked: true });
        }
    }
    compare(&ready, &catalog);
    let held = ready.of_epoch.load();
    assert!(held.records.len() > 1 && held.records.weight() <= 20_000, "{}", held.records.weight());
}

/// Whoever reads after a write was reported stored sees it, also while others write on.
#[test]
fn nobody_is_shown_less_than_was_stored_before_they_asked() {
    let catalog = Catalog::in_memory().unwrap();
    let (ready, stored, is_over) = (Ready::default(), AtomicU64::new(0), AtomicBool::new(false));
    write(&catalog, &Step::Joint { joint: 0, title: false });
    let id = id_of(0, 0);
    let seen = AtomicU64::new(0);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !is_over.load(Ordering::SeqCst) {
                let least = stored.load(Ordering::SeqCst);
                // Half of the time somebody has waited for the audit.
                catalog.get(&id).unwrap().map(|stored| Entry::of(&catalog, stored).unwrap());
                if let Some((shown, _)) = ready.one(&catalog, id.as_str()).unwrap() {
                    let value: Value = serde_json::from_slice(&shown.line).unwrap();
                    assert!(value["book"]["revision"].as_u64().unwrap() >= least, "{value} after {least}");
                    seen.fetch_add(1, Ordering::SeqCst);
                }
            }
        });
        for number in 0..20_000_usize {
            // Whoever writes without a pause may leave no moment in which a record of the same joint is ready.
            if number >= 200 && seen.load(Ordering::SeqCst) > 9 {
                break;
            }
            let put = catalog.put(fastener(0, 0, number % 3, 0, false), Expected::Any, &Author::unknown()).unwrap();
            stored.store(put.revision, Ordering::SeqCst);
        }
        is_over.store(true, Ordering::SeqCst);
    });
    assert!(seen.into_inner() > 9, "hardly anything was ever ready");
    assert_eq!(catalog.get(&id).unwrap().unwrap().state, State::Current);
}

/// What was found at another moment is never taken for the last revision.
#[test]
fn a_revision_of_another_moment_is_not_the_last_one() {
    let catalog = Catalog::in_memory().unwrap();
    let ready = Ready::default();
    write(&catalog, &Step::Joint { joint: 0, title: false });
    write(&catalog, &Step::Fastener { joint: 0, number: 0, torque: 0, head: 0, is_checked: false });
    let id = id_of(0, 0);
    let first = catalog.get(&id).unwrap().unwrap();
    std::thread::sleep(std::time::Duration::from_millis(2));
    write(&catalog, &Step::Fastener { joint: 0, number: 0, torque: 1, head: 0, is_checked: false });
    compare(&ready, &catalog);
    let query = Query::parse([("as_of".to_owned(), first.changed_at.to_string())]).unwrap();
    assert_eq!(catalog.find(&query).unwrap().items.last(), Some(&first));
    compare_page(&ready, &catalog, &query);
    compare(&ready, &catalog);
}
