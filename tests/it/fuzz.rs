//! Every decoder against bytes that are nearly right: a bounded run, always the same, of what tests/fuzz tries without
//! an end.

#[path = "../fuzz/bodies.rs"]
mod bodies;

use crate::generator::{Dice, book};
use crate::store_catalog::seed_texts;
use crate::store_old_bytes::pairs_of_format_1;
use clampbook::catalog::{Author, Catalog, ExportFormat, ImportOptions, Write};
use clampbook::record::Record;
use std::fs;
use std::path::Path;

/// How many variants of its examples each body gets.
const VARIANTS: usize = 1_500;

/// Sound bytes for each body.
fn examples(body: &str) -> Vec<Vec<u8>> {
    let mut lines = Vec::new();
    book(30, 6, |line| lines.push(line.as_bytes().to_vec()));
    let (_, seed) = seed_texts().remove(2);
    match body {
        "stored" => {
            let framed = |(key, value): &(Vec<u8>, Vec<u8>)| {
                [&[u8::try_from(key.len()).unwrap()], key.as_slice(), &value[7..]].concat()
            };
            pairs_of_format_1().iter().map(framed).collect()
        }
        "bundle" => {
            let framed = |(key, value): &(Vec<u8>, Vec<u8>)| {
                [&[u8::try_from(key.len()).unwrap()], key.as_slice(), value].concat()
            };
            let pairs = crate::store_bundles::pairs_below_a_store();
            pairs.iter().filter(|(_, value)| value[0] == 2).map(framed).collect()
        }
        "record" => {
            let records: Vec<serde_json::Value> = serde_json::from_str(&seed).unwrap();
            lines.into_iter().chain(records.iter().map(|record| record.to_string().into_bytes())).collect()
        }
        "import" => {
            let catalog = Catalog::in_memory().unwrap();
            catalog.import(seed.as_bytes(), &ImportOptions::default()).unwrap();
            let exported = |format| {
                let mut text = Vec::new();
                catalog.export(None, format, &mut text).unwrap();
                text.truncate(6_000);
                text
            };
            let (csv, ndjson) = (exported(ExportFormat::Csv), exported(ExportFormat::Ndjson));
            let json = seed.as_bytes()[..seed.len().min(6_000)].to_vec();
            [(0, &csv), (0, &ndjson), (1, &ndjson), (2, &json), (3, &csv), (7, &csv)]
                .map(|(how, text)| [&[how], text.as_slice()].concat())
                .to_vec()
        }
        "backup" => backup_lines(&lines),
        _ => {
            ["20 N·m + 90° + 45°", "15-20 lbf·ft", "check ≥ 60 N·m", "back off 180°", "3/8-16 UNC-2A", "M10×1.25-6g LH"]
                .iter()
                .chain(&[
                    "thread=M8&torque.min=30&torque.unit=lbf.ft&sort=-torque,id",
                    "q=pump cover&position=4&take=7",
                ])
                .map(|text| text.as_bytes().to_vec())
                .collect()
        }
    }
}

/// The lines of a real backup.
fn backup_lines(records: &[Vec<u8>]) -> Vec<Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    let catalog = Catalog::in_memory().unwrap();
    let writes = records.iter().map(|line| Write::put(Record::from_json_text(line).unwrap())).collect();
    catalog.apply(writes, &Author::named("runa".parse().unwrap())).unwrap();
    catalog.backup(&folder.path().join("kept")).unwrap();
    let text = fs::read_to_string(folder.path().join("kept/changes-0000000001.ndjson")).unwrap();
    let lines = text.lines().skip(1).filter(|line| !line.starts_with("{\"sha256\""));
    lines.map(|line| line.as_bytes().to_vec()).collect()
}

/// What people and decaying disks do to bytes.
fn spoil(bytes: &mut Vec<u8>, other: &[u8], dice: &mut Dice) {
    const PIECES: &[&[u8]] = &[
        b"\"",
        b"{",
        b"[[[[",
        b",",
        b";",
        b"\n",
        b"\r\n",
        b"\0",
        b"\xff\xff\xff\xff\xff\xff\xff\xff\xff\x01",
        b"-1",
        b"1e999",
        b"9223372036854775808",
        b"null",
        b"\xc3",
        "°".as_bytes(),
        "⅜".as_bytes(),
        b"0x",
        b".",
        b"..",
        b"-",
        b"\\u0000",
        b"=cmd",
    ];
    for _ in 0..=dice.below(4) {
        let at = dice.below(bytes.len() + 1);
        let end = (at + dice.below(24)).min(bytes.len());
        match dice.below(7) {
            0 if at < bytes.len() => bytes[at] ^= 1 << dice.below(8),
            1 if at < bytes.len() => bytes[at] = u8::try_from(dice.below(256)).unwrap(),
            2 => bytes.truncate(at),
            3 => drop(bytes.drain(at..end)),
            4 => {
                let twice = bytes[at..end].to_vec();
                bytes.splice(at..at, twice);
            }
            5 => drop(bytes.splice(at..at, dice.one_of(PIECES).iter().copied())),
            _ => {
                let from = dice.below(other.len());
                let to = (from + dice.below(40)).min(other.len());
                bytes.splice(at..end, other[from..to].iter().copied());
            }
        }
    }
}

#[test]
fn no_bytes_bring_a_decoder_down() {
    for (name, body) in bodies::BODIES {
        let examples = examples(name);
        let mut dice = Dice::new(99);
        for example in &examples {
            assert!(body(example), "{name}: {}", String::from_utf8_lossy(example));
        }
        let (mut read, mut refused) = (0, 0);
        for _ in 0..VARIANTS {
            let mut bytes = dice.one_of(&examples).clone();
            let other = dice.one_of(&examples);
            spoil(&mut bytes, other, &mut dice);
            *(if body(&bytes) { &mut read } else { &mut refused }) += 1;
        }
        println!("{name}: {} examples, {read} variants read, {refused} refused", examples.len());
        assert!(read > 0 && refused > 0, "{name}: {read} read, {refused} refused: the variants try nothing");
    }
}

#[test]
fn every_body_has_a_target() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz");
    let manifest = fs::read_to_string(folder.join("Cargo.toml")).unwrap();
    let mut targets: Vec<String> = fs::read_dir(folder.join("targets"))
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    let mut bodies: Vec<&str> = bodies::BODIES.iter().map(|(name, _)| *name).collect();
    targets.sort();
    bodies.sort_unstable();
    assert_eq!(targets, bodies);
    for name in bodies {
        assert!(manifest.contains(&format!("name = \"{name}\"\npath = \"targets/{name}.rs\"")), "{name}");
    }
}
