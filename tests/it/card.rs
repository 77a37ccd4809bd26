//! Cards, kits, ways and drawings of the demo yard as people see them; samples to look at go to the build output.

use clampbook::audit::{Audit, Book, Finding};
use clampbook::card::{
    self, Card, CardInput, CardOptions, JointRecords, KitOptions, Look, Numbered, WrenchRange, drawing, passes,
};
use clampbook::record::{Fastener, Id, Joint, Pattern, Position, Record};
use std::fs;
use std::path::{Path, PathBuf};

/// Every record of the demo yard.
fn yard() -> Vec<Record> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("seed");
    let mut files: Vec<PathBuf> = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|file| file.file_name().unwrap().to_str().unwrap().starts_with("skua."));
    files.sort();
    let values = files.iter().flat_map(|file| {
        let value: serde_json::Value = serde_json::from_slice(&fs::read(file).unwrap()).unwrap();
        value.as_array().cloned().unwrap_or_else(|| vec![value])
    });
    values.map(|value| Record::from_json(&value).unwrap_or_else(|e| panic!("{e}"))).collect()
}

/// Where samples to look at are kept.
fn samples() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("card");
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn fasteners_of<'r>(records: &'r [Record], joint: &Joint) -> Vec<&'r Fastener> {
    records.iter().filter_map(Record::as_fastener).filter(|fastener| fastener.joint == joint.id).collect()
}

fn looks(joint: &Joint, fasteners: &[&Fastener]) -> Look {
    let wanted = passes::positions_of(fasteners);
    let sequence = card::order::whole(joint, &wanted);
    Look { order: sequence.positions, order_words: sequence.from.words().to_owned(), ..Look::default() }
}

#[test]
fn the_whole_yard_is_drawn() {
    let records = yard();
    let mut page = String::from(HEAD);
    let mut count = 0;
    for joint in records.iter().filter_map(Record::as_joint) {
        let fasteners = fasteners_of(&records, joint);
        let svg = drawing(joint, &fasteners, &looks(joint, &fasteners)).unwrap();
        page.push_str(&format!(
            "<figure><figcaption>{} {:?}</figcaption>{svg}</figure>\n",
            joint.id,
            joint.order.as_ref().and_then(|o| o.pattern)
        ));
        count += 1;
    }
    for pattern in Pattern::ALL {
        for size in [1_u32, 5, 24, 60] {
            let positions = (0..size).map(|i| {
                let (x_mm, y_mm) = (f64::from(i) / f64::from(size) * std::f64::consts::TAU).sin_cos();
                Position { n: i + 1, x_mm, y_mm }
            });
            let joint = Joint { positions: positions.collect(), ..Joint::bare("a.ring".parse().unwrap()) };
            let look = Look {
                order: card::order::by_pattern(*pattern, &joint.positions),
                now: Some(2),
                done: [1].into(),
                ..Look::default()
            };
            let svg = drawing(&joint, &[], &look).unwrap();
            page.push_str(&format!("<figure><figcaption>{pattern} {size}</figcaption>{svg}</figure>\n"));
        }
    }
    fs::write(samples().join("drawings.html"), page).unwrap();
    assert!(count > 50, "{count} joints drawn");
}

#[test]
fn ranges_and_series_are_pictured() {
    let torque = clampbook::units::Torque::from_newton_meters;
    let mut page = String::from(HEAD);
    let bars = [
        (Some("20 N·m"), "N·m", (11.0, 14.5), (22.6, 30.0)),
        (Some("20-25 N·m"), "N·m", (11.0, 14.5), (22.6, 30.0)),
        (Some("600 N·m"), "N·m", (11.0, 14.5), (22.6, 30.0)),
        (Some("15 lbf·ft"), "lbf·ft", (11.0, 14.5), (22.6, 30.0)),
        (None, "N·m", (11.0, 18.5), (15.6, 30.0)),
        (Some("5.5 N·m"), "N·m", (3.0, 3.0), (9.0, 9.0)),
    ];
    for (entered, unit, clamps, yields) in bars {
        let friction = if clamps.0 == clamps.1 { (0.12, 0.12) } else { (0.10, 0.16) };
        let svg = card::range_bar(&card::RangeBar {
            subject: "M8×1.25, 8.8".to_owned(),
            unit: clampbook::units::Unit::from_name(unit).unwrap(),
            friction,
            clamps: (torque(clamps.0), torque(clamps.1)),
            yields: (torque(yields.0), torque(yields.1)),
            entered: entered.map(|text| text.parse().unwrap()),
        });
        page.push_str(&format!("<figure>{svg}</figure>\n"));
    }
    let sizes =
        [("M5×0.8", 5.0), ("M6×1", 6.0), ("M8×1.25", 8.0), ("M10×1.5", 10.0), ("M12×1.75", 12.0), ("M16×2", 16.0)];
    let points: Vec<_> = (0..30)
        .map(|i| {
            let (size, diameter_mm) = sizes[i % 6];
            let utilisation = if i == 13 { 2.4 } else { 0.6 + 0.01 * (i * 7 % 23) as f64 };
            card::SeriesPoint {
                size: size.to_owned(),
                diameter_mm,
                utilisation,
                name: "cover.hex".to_owned(),
                is_outlier: i == 13,
            }
        })
        .collect();
    page.push_str(&format!("<figure>{}</figure>", card::series_plot("Series of 8.8", &points).unwrap()));
    fs::write(samples().join("pictures.html"), page).unwrap();
}

const HEAD: &str = "<!doctype html><meta charset=utf-8><meta name=viewport content=width=device-width><style>body{margin:8px;font:18px system-ui}svg{max-width:100%;height:auto;border:1px solid #999}figure{margin:0 0 16px;display:inline-block}</style>";

/// The card of a joint of the yard with everything the audit finds about it.
fn card_of(records: &[Record], findings: &[Finding], id: &str, options: CardOptions) -> Card {
    let joint = records.iter().filter_map(Record::as_joint).find(|joint| joint.id.as_str() == id).unwrap();
    let fasteners = fasteners_of(records, joint);
    card::bench_card(&CardInput {
        joint: Numbered::new(joint, Some(3)),
        fasteners: fasteners.into_iter().map(|fastener| Numbered::new(fastener, Some(1))).collect(),
        findings,
        printed_at: "2026-05-01 14:03 UTC".to_owned(),
        options,
    })
}

#[test]
fn every_joint_of_the_yard_has_a_card() {
    let records = yard();
    let findings = Audit::of(&Book::new(&records)).findings();
    let folder = samples().join("cards");
    fs::create_dir_all(&folder).unwrap();
    for joint in records.iter().filter_map(Record::as_joint) {
        let card = card_of(&records, &findings, joint.id.as_str(), CardOptions::default());
        let (html, text) = (card::bench_card::html(&card), card::bench_card::plain_text(&card));
        assert!(html.len() < 120_000, "{}: {} bytes", joint.id, html.len());
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        let boxes: usize = card.passes.iter().map(|pass| pass.boxes.len()).sum();
        assert_eq!(html.matches("class=\"box\"").count(), boxes, "{}", joint.id);
        fs::write(folder.join(format!("{}.html", joint.id)), html).unwrap();
        fs::write(folder.join(format!("{}.txt", joint.id)), text).unwrap();
    }
}

/// The joints of these ids with their fasteners, in the order given.
fn joint_records<'r>(records: &'r [Record], ids: &[Id]) -> Vec<JointRecords<'r>> {
    let joint = |id: &Id| records.iter().filter_map(Record::as_joint).find(|joint| joint.id == *id).unwrap();
    let with_fasteners = |joint: &'r Joint| JointRecords { joint, fasteners: fasteners_of(records, joint) };
    ids.iter().map(|id| with_fasteners(joint(id))).collect()
}

fn behind_in(records: &[Record]) -> impl Fn(&Id) -> Result<Option<Vec<Id>>, std::convert::Infallible> {
    |id| Ok(records.iter().filter_map(Record::as_joint).find(|joint| joint.id == *id).map(|joint| joint.behind.clone()))
}

fn id(text: &str) -> Id {
    text.parse().unwrap()
}

#[test]
fn the_card_in_a_terminal() {
    let records = yard();
    let findings = Audit::of(&Book::new(&records)).findings();
    let card = |id: &str, options| card::bench_card::plain_text(&card_of(&records, &findings, id, options));
    insta::assert_snapshot!(card("skua.diesel.raw-water-pump.cover", CardOptions::default()));
    let bronze = CardOptions { variant: Some("bronze-housing".to_owned()), ..CardOptions::default() };
    insta::assert_snapshot!(card("skua.diesel.raw-water-pump.cover", bronze));
    insta::assert_snapshot!(card("skua.diesel.cylinder-head", CardOptions::default()));
    insta::assert_snapshot!(card("skua.deck-winch.gearcase", CardOptions::default()));
}

#[test]
fn the_card_as_json() {
    let records = yard();
    let findings = Audit::of(&Book::new(&records)).findings();
    let card = card_of(&records, &findings, "skua.sea-strainer.lid", CardOptions::default());
    insta::assert_json_snapshot!(card);
}

#[test]
fn the_drawing_as_svg() {
    let records = yard();
    let joints = joint_records(&records, &[id("skua.diesel.raw-water-pump.cover")]);
    let svg = drawing(joints[0].joint, &joints[0].fasteners, &looks(joints[0].joint, &joints[0].fasteners)).unwrap();
    insta::assert_snapshot!(svg);
}

#[test]
fn the_kit_for_a_way() {
    let records = yard();
    let way = card::way(&[id("skua.diesel.cylinder-head")], behind_in(&records)).unwrap_or_else(|never| match never {});
    assert!(way.faults.is_empty());
    let kit = card::kit(&joint_records(&records, &way.open), &KitOptions::default());
    insta::assert_snapshot!(kit.plain_text());
    insta::assert_snapshot!(kit.csv());
    let own = ["5-50 N·m", "40-250 N·m"].map(|scale| WrenchRange::new(scale.parse().unwrap()).unwrap());
    let options = KitOptions { variant: Some("bronze-housing".to_owned()), wrenches: own.to_vec() };
    insta::assert_snapshot!(card::kit(&joint_records(&records, &way.open), &options).plain_text());
}

#[test]
fn the_whole_way_on_paper_and_the_label() {
    let records = yard();
    let findings = Audit::of(&Book::new(&records)).findings();
    let way = card::way(&[id("skua.diesel.raw-water-pump.cover")], behind_in(&records))
        .unwrap_or_else(|never| match never {});
    let joints = joint_records(&records, &way.open);
    let label = card::label(&joints, &card::LabelInput::default());
    fs::write(samples().join("label.html"), label.html()).unwrap();
    let sheet = card::WaySheet {
        work: card::way_work(&joints.iter().map(|joint| joint.joint).collect::<Vec<_>>()),
        kit: card::kit(&joints, &KitOptions::default()),
        cards: way.open.iter().map(|id| card_of(&records, &findings, id.as_str(), CardOptions::default())).collect(),
        printed_at: "2026-05-01 14:03 UTC".to_owned(),
        way,
    };
    assert_eq!(sheet.cards.last().unwrap().id, sheet.way.targets[0]);
    let html = sheet.html();
    assert_eq!(html.matches("class=\"sheet").count(), sheet.cards.len());
    fs::write(samples().join("way.html"), html).unwrap();
}

#[test]
fn every_way_of_the_yard_can_be_gone() {
    let records = yard();
    for joint in records.iter().filter_map(Record::as_joint) {
        let way =
            card::way(std::slice::from_ref(&joint.id), behind_in(&records)).unwrap_or_else(|never| match never {});
        assert!(way.faults.is_empty(), "{:?}", way.faults);
        assert_eq!(way.open.last(), Some(&joint.id));
    }
}

#[test]
fn the_catalog_makes_cards_kits_and_ways() {
    let book = crate::store_catalog::yard();
    let cover = id("skua.diesel.raw-water-pump.cover");
    let card = book.card(&cover, &CardOptions::default(), "now").unwrap().unwrap();
    assert_eq!((card.revision, card.fasteners.len(), card.printed_at.as_str()), (Some(1), 3, "now"));
    assert!(card.fasteners.iter().all(|fastener| fastener.revision == Some(1)));
    assert_eq!(book.card(&id("skua.no.such"), &CardOptions::default(), "now").unwrap(), None);
    let (kit, unknown) = book.kit(&[cover.clone(), id("skua.no.such")], &KitOptions::default()).unwrap();
    assert_eq!((kit.joints.len(), unknown), (1, vec![id("skua.no.such")]));
    let sheet = book.way_sheet(std::slice::from_ref(&cover), &CardOptions::default(), "now").unwrap();
    assert_eq!(sheet.cards.iter().map(|card| card.id.clone()).collect::<Vec<_>>(), sheet.way.open);
    assert_eq!(sheet.way.close.first(), Some(&cover));
}

#[test]
fn the_tree_of_assemblies_has_every_joint_once() {
    let book = crate::store_catalog::yard();
    let machines = book.assemblies("").unwrap();
    assert_eq!(machines.iter().map(|part| part.path.as_str()).collect::<Vec<_>>(), ["skua"]);
    let (mut joints, mut open) = (0, vec!["skua".to_owned()]);
    while let Some(path) = open.pop() {
        for part in book.assemblies(&path).unwrap() {
            joints += usize::from(part.is_joint);
            open.push(part.path);
        }
    }
    assert_eq!(joints, machines[0].joints);
    let pump = book
        .assemblies("skua.diesel")
        .unwrap()
        .into_iter()
        .find(|part| part.path.ends_with(".raw-water-pump"))
        .unwrap();
    assert_eq!((pump.title.is_some(), pump.is_joint), (true, false));
}
