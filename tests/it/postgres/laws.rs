//! The laws of an engine that several processes write to, engine against engine.

use super::{Database, sql};
use clampbook::store::{Batch, Engine, EngineError, PostgresEngine, Requirement, Sharing, Source};
use std::time::Duration;

/// An engine that looks for nothing by itself.
fn engine(database: &Database) -> PostgresEngine {
    let sharing = Sharing { listens: false, looks_every: Duration::from_secs(3600), ..Sharing::default() };
    PostgresEngine::open(&database.url(), &sharing).unwrap()
}

fn batch(key: &str, value: Option<&str>) -> Batch {
    let mut batch = Batch::default();
    match value {
        Some(value) => batch.put(key.into(), value.into()),
        None => batch.remove(key.into()),
    }
    batch
}

fn value(engine: &PostgresEngine, key: &str) -> Option<String> {
    engine.get(key.as_bytes()).unwrap().map(|value| String::from_utf8(value).unwrap())
}

#[test]
fn what_others_wrote_is_seen_whole_once_it_was_taken_in() {
    let database = Database::take();
    let (one, other) = (engine(&database), engine(&database));
    let mut two = batch("ka", Some("1"));
    two.put("kb".into(), "2".into());
    one.apply(&two).unwrap();
    one.apply(&batch("ka", None)).unwrap();
    assert_eq!((value(&one, "ka"), value(&one, "kb")), (None, Some("2".to_owned())));
    assert_eq!(other.scan(b"", b"\xff", 9).unwrap(), []);
    let shared = other.shared().unwrap();
    let news = shared.news(Source::Writable).unwrap().unwrap();
    assert_eq!(news.version, 2);
    assert_eq!(other.scan(b"", b"\xff", 9).unwrap(), [], "asking for news changes nothing");
    shared.take_in(&news);
    assert_eq!(other.scan(b"", b"\xff", 9).unwrap(), one.scan(b"", b"\xff", 9).unwrap());
    assert!(shared.news(Source::Writable).unwrap().is_none());
    one.apply(&batch("kb", Some("3"))).unwrap();
    shared.take_in(&shared.news(Source::Writable).unwrap().unwrap());
    shared.take_in(&news);
    assert_eq!(value(&other, "kb").unwrap(), "3", "news of yesterday change nothing");
}

#[test]
fn a_requirement_is_about_what_everybody_has_written() {
    let database = Database::take();
    let (one, other) = (engine(&database), engine(&database));
    let require = |key: &str, value: Option<&str>, mut batch: Batch| {
        batch.require(Requirement { key: key.into(), value: value.map(Into::into) });
        batch
    };
    one.apply(&require("ka", None, batch("ka", Some("1")))).unwrap();
    let late = other.apply(&require("ka", None, batch("ka", Some("x"))));
    assert!(matches!(late, Err(EngineError::Overtaken)), "{late:?}");
    let news = other.shared().unwrap().news(Source::Writable).unwrap().expect("at least what was faster");
    other.shared().unwrap().take_in(&news);
    other.apply(&require("ka", Some("1"), batch("ka", Some("2")))).unwrap();
    assert_eq!(value(&other, "ka").unwrap(), "2");
    // One that requires nothing goes on top of what others wrote, and holds that too.
    one.apply(&batch("kb", Some("3"))).unwrap();
    assert_eq!((value(&one, "ka").unwrap(), value(&one, "kb").unwrap()), ("2".to_owned(), "3".to_owned()));
}

#[test]
fn the_bell_rings_for_what_others_write() {
    let database = Database::take();
    let one = engine(&database);
    let other = PostgresEngine::open(&database.url(), &Sharing::default()).unwrap();
    let bell = other.shared().unwrap().bell();
    let waiting = std::thread::spawn(move || (bell.wait(), bell.wait()));
    one.apply(&batch("ka", Some("1"))).unwrap();
    while other.shared().unwrap().news(Source::Writable).unwrap().is_none() {}
    std::thread::sleep(Duration::from_millis(300));
    drop(other);
    assert!(waiting.join().unwrap().0);
}

#[test]
fn what_tells_old_batches_apart_is_forgotten_and_nothing_else() {
    let database = Database::take();
    let url = database.url();
    let made = "insert into clampbook.batch (version, token, at) \
        select n, decode(lpad(to_hex(n), 32, '0'), 'hex'), \
            now() - case when n <= 11500 then interval '31 days' else interval '29 days' end \
        from generate_series(1, 12600) n; update clampbook.book set version = 12600";
    sql(&url, made);
    let one = engine(&database);
    let held = || sql(&url, "select count(*), min(version) from clampbook.batch");
    let forget = || sql(&url, "select clampbook.forget_batches()");
    assert_eq!((forget(), held()), ("10000".to_owned(), "2600|10001".to_owned()), "so many at a time");
    assert_eq!((forget(), held()), ("1500".to_owned(), "1100|11501".to_owned()), "what is young stays");
    sql(&url, "update clampbook.batch set at = now() - interval '31 days'");
    assert_eq!((forget(), held()), ("99".to_owned(), "1001|11600".to_owned()), "the last thousand stay, however old");
    one.apply(&batch("ka", Some("1"))).unwrap();
    assert_eq!(value(&one, "ka").unwrap(), "1", "who was there goes on");
    assert_eq!(value(&engine(&database), "ka").unwrap(), "1");
}
