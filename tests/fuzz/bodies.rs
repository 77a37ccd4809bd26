//! What is tried with arbitrary bytes: every decoder that reads what was stored or what comes from outside.
//!
//! The same bodies run under cargo-fuzz (`tests/outside/fuzz.sh`) and, bounded and always with the same bytes, as a
//! test on the stable toolchain. A body returns whether the bytes were read at all; it panics only over a fault.

use clampbook::catalog::{Decimal, ImportFormat, ImportOptions, check_backup_line, read_records};
use clampbook::query::Query;
use clampbook::record::{Record, Stage};
use clampbook::store::{read_bundle, read_value};
use clampbook::thread::Designation;

/// What is done with arbitrary bytes; whether they were read.
pub type Body = fn(&[u8]) -> bool;

/// The bodies by their names.
pub const BODIES: &[(&str, Body)] = &[
    ("stored", stored),
    ("bundle", bundle),
    ("record", record),
    ("import", import),
    ("backup", backup),
    ("words", words),
];

/// A value as the store frames it: the first byte says how long the key is; key and body follow.
pub fn stored(bytes: &[u8]) -> bool {
    let Some((length, rest)) = bytes.split_first() else { return false };
    let (key, body) = rest.split_at(usize::from(*length).min(rest.len()));
    // As it came, and with a checksum that is right, so that the decoders behind it are reached.
    let _ = read_value(key, body);
    let mut value = vec![1, 0, 1, 0, 0, 0, 0];
    value.extend(body);
    let mut crc = crc32fast::Hasher::new();
    crc.update(key);
    crc.update(&value[..3]);
    crc.update(body);
    value[3..7].copy_from_slice(&crc.finalize().to_be_bytes());
    read_value(key, &value).is_ok()
}

/// A bundle of pairs as the files have it: the first byte says how long the key is; key and bundle follow.
pub fn bundle(bytes: &[u8]) -> bool {
    let Some((length, rest)) = bytes.split_first() else { return false };
    let (key, bundle) = rest.split_at(usize::from(*length).min(rest.len()));
    read_bundle(key, bundle.to_vec()).is_ok()
}

/// A record in JSON: what is read must be read again from what it prints.
pub fn record(bytes: &[u8]) -> bool {
    let Ok(record) = Record::from_json_text(bytes) else { return false };
    let printed = serde_json::to_vec(&record).expect("a record prints");
    assert_eq!(Record::from_json_text(&printed).expect("what was printed is read"), record);
    true
}

/// A file to import; the first byte says in which form.
pub fn import(bytes: &[u8]) -> bool {
    let Some((how, text)) = bytes.split_first() else { return false };
    let format = [None, Some(ImportFormat::Ndjson), Some(ImportFormat::Json), Some(ImportFormat::Csv)];
    let options = ImportOptions {
        format: format[usize::from(how % 4)],
        decimal: if how & 4 == 0 { Decimal::Point } else { Decimal::Comma },
        ..ImportOptions::default()
    };
    let (records, report) = read_records(text, &options).expect("memory is read to its end");
    let _ = report.lines().count();
    !records.is_empty()
}

/// A line of a backup.
pub fn backup(bytes: &[u8]) -> bool {
    std::str::from_utf8(bytes).is_ok_and(|line| check_backup_line(line).is_ok())
}

/// Notations that people write: a question, a stage, a thread.
pub fn words(bytes: &[u8]) -> bool {
    let Ok(text) = std::str::from_utf8(bytes) else { return false };
    let pairs = text.split('&').filter_map(|pair| pair.split_once('='));
    let query = Query::parse(pairs.map(|(key, value)| (key.to_owned(), value.to_owned())));
    let stage = text.parse::<Stage>();
    if let Ok(stage) = &stage {
        assert_eq!(stage.to_string().parse::<Stage>().as_ref(), Ok(stage));
    }
    let designation = text.parse::<Designation>();
    if let Ok(designation) = &designation {
        assert_eq!(designation.to_string().parse::<Designation>().as_ref(), Ok(designation));
    }
    query.is_ok() || stage.is_ok() || designation.is_ok()
}
