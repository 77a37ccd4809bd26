//! The same book in SQLite, as somebody would keep it there who knows SQLite well.

use crate::book::member;
use crate::questions::Question;
use clampbook::query::SortField;
use rusqlite::types::Value;
use rusqlite::{Connection, Transaction, backup, params};
use std::collections::HashMap;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::time::Duration;

/// The tables. Words are an index without a copy of the text.
const TABLES: &str = "
    create table record (rowid integer primary key, id text not null, kind text not null, joint text, head text,
        drive text, thread text, thread_key blob, class text, role text, reuse text, locking text, hand text,
        variant text, checked integer, part_no text, angle integer, document text, low real, high real, json text);
    create table place (record integer, n integer);
    create virtual table words using fts5(kind, text, content='', contentless_delete=1, prefix='2 3 4 5');";

/// An index for every field that the book can be asked about.
const INDEXES: &str = "
    create unique index by_id on record (id);
    create index by_joint on record (joint); create index by_head on record (head);
    create index by_drive on record (drive); create index by_thread on record (thread);
    create index by_class on record (class); create index by_role on record (role);
    create index by_reuse on record (reuse); create index by_locking on record (locking);
    create index by_hand on record (hand); create index by_variant on record (variant);
    create index by_checked on record (checked); create index by_part_no on record (part_no);
    create index by_angle on record (angle); create index by_document on record (document);
    create index by_low on record (low); create index by_high on record (high);
    create index by_place on place (n, record);";

/// Indexes that serve just the questions that are asked here: each is the best one for its question.
pub const BEST_INDEXES: &str = "
    create index for_range on record (thread, class, low, high, id);
    create index for_reuse on record (head, thread, reuse, low desc, high desc, id);
    create index for_path on record (class, head, id);
    create index count_head on record (kind, head); create index count_drive on record (kind, drive);
    create index count_reuse on record (kind, reuse); create index count_thread on record (kind, thread);
    create index count_class on record (kind, class);
    create index some_head on record (thread, class, head); create index some_drive on record (thread, class, drive);
    create index some_reuse on record (thread, class, reuse); create index some_class on record (class, thread);";

/// The book in SQLite.
pub struct Sqlite {
    connection: Connection,
}

impl Sqlite {
    /// Imports a file of lines in one transaction, into a file, to last.
    pub fn import(path: &Path, lines: &Path) -> Self {
        let mut connection = Connection::open(path).expect("a file for SQLite");
        connection.execute_batch("pragma synchronous = full; pragma cache_size = -262144;").expect("options");
        let transaction = connection.transaction().expect("a transaction");
        transaction.execute_batch(TABLES).expect("tables");
        let mut keys = ThreadKeys::default();
        let lines = BufReader::with_capacity(1 << 18, std::fs::File::open(lines).expect("the book"));
        for line in lines.lines() {
            insert(&transaction, None, &line.expect("a line"), &mut keys);
        }
        transaction.execute_batch(INDEXES).expect("indexes");
        transaction.commit().expect("room for SQLite");
        Self { connection }
    }

    /// Replaces some records and takes others away.
    pub fn change(&mut self, changed: &[String], withdrawn: &[String]) {
        // Only for this: without it every deletion would look at all places, which a million records have too many of.
        self.connection.execute_batch("create index of_record on place (record);").expect("an index");
        let transaction = self.connection.transaction().expect("a transaction");
        let mut keys = ThreadKeys::default();
        for line in changed {
            let row = take_away(&transaction, member(line, "id"));
            insert(&transaction, Some(row), line, &mut keys);
        }
        for id in withdrawn {
            take_away(&transaction, id);
        }
        transaction.commit().expect("a commit");
        self.connection.execute_batch("drop index of_record;").expect("no index");
    }

    /// Copies it into memory and makes the indexes that serve just these questions.
    pub fn into_memory(self) -> Self {
        let mut memory = Connection::open_in_memory().expect("memory");
        let copy = backup::Backup::new(&self.connection, &mut memory).expect("a copy");
        copy.run_to_completion(10_000, Duration::ZERO, None).expect("a copy");
        drop(copy);
        memory.execute_batch(BEST_INDEXES).expect("indexes");
        memory.execute_batch("analyze;").expect("an analysis");
        Self { connection: memory }
    }

    /// The ids that answer a question, in order; the records are read too.
    pub fn ids(&self, question: &Question) -> Vec<String> {
        let mut statement = self.connection.prepare_cached(question.sql).expect("a statement");
        let row = |row: &rusqlite::Row<'_>| {
            std::hint::black_box(row.get::<_, String>(1)?);
            row.get(0)
        };
        let rows = statement.query_map(rusqlite::params_from_iter(&question.values), row).expect("an answer");
        rows.map(|id| id.expect("a row")).collect()
    }

    /// The values of a column and how many records have each.
    pub fn counts(&self, sql: &str, values: &[Value]) -> HashMap<String, u64> {
        let mut statement = self.connection.prepare_cached(sql).expect("a statement");
        let row = |row: &rusqlite::Row<'_>| Ok((row.get(0)?, row.get::<_, i64>(1)?.unsigned_abs()));
        let rows = statement.query_map(rusqlite::params_from_iter(values), row).expect("an answer");
        rows.map(|row| row.expect("a row")).collect()
    }
}

/// The bytes that threads are ordered by; there are few threads.
#[derive(Default)]
struct ThreadKeys(HashMap<String, Vec<u8>>);

impl ThreadKeys {
    fn of(&mut self, thread: &str) -> &[u8] {
        self.0
            .entry(thread.to_owned())
            .or_insert_with(|| SortField::Thread.bytes_of(thread).expect("the generator writes threads"))
    }
}

fn insert(transaction: &Transaction<'_>, row: Option<i64>, line: &str, keys: &mut ThreadKeys) {
    let json: serde_json::Value = serde_json::from_str(line).expect("a line of JSON");
    let text = |name: &str| json[name].as_str();
    let torque = torque(&json);
    let mut statement = transaction
        .prepare_cached(
            "insert into record values (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, \
             ?19, ?20, ?21)",
        )
        .expect("a statement");
    let source = &json["source"];
    let turns = json["stages"].as_array().is_some_and(|stages| stages.iter().any(|s| s.to_string().contains('°')));
    statement
        .execute(params![
            row,
            text("id"),
            text("kind"),
            text("joint"),
            text("head"),
            json["drive"]["type"].as_str(),
            text("thread"),
            text("thread").map(|thread| keys.of(thread)),
            text("property_class"),
            "bolt",
            json["reuse"]["rule"].as_str(),
            text("locking"),
            "right",
            json["fits"]["variants"][0].as_str(),
            source["checked_by"].as_str().is_some(),
            text("part_no"),
            turns,
            source["document"].as_str(),
            torque,
            torque,
            line
        ])
        .expect("a row");
    let row = transaction.last_insert_rowid();
    let mut place = transaction.prepare_cached("insert into place values (?1, ?2)").expect("a statement");
    for n in positions(text("positions").unwrap_or_default()) {
        place.execute(params![row, n]).expect("a row");
    }
    let mut words =
        transaction.prepare_cached("insert into words (rowid, kind, text) values (?1, ?2, ?3)").expect("a statement");
    words.execute(params![row, text("kind"), words_of(&json)]).expect("words");
}

/// Takes a record away and gives the number of its row.
fn take_away(transaction: &Transaction<'_>, id: &str) -> i64 {
    let row = transaction.query_row("select rowid from record where id = ?1", [id], |row| row.get(0)).expect("a row");
    for sql in [
        "delete from record where rowid = ?1",
        "delete from place where record = ?1",
        "delete from words where rowid = ?1",
    ] {
        transaction.prepare_cached(sql).and_then(|mut delete| delete.execute([row])).expect("a delete");
    }
    row
}

/// The torque of the last stage that states one, as the generator writes it.
fn torque(json: &serde_json::Value) -> Option<f64> {
    let stages = json["stages"].as_array()?.iter().rev().filter_map(|stage| stage.as_str());
    stages.filter_map(|stage| stage.split_once(" N·m")?.0.parse().ok()).next()
}

fn positions(text: &str) -> std::ops::RangeInclusive<u32> {
    let (first, last) = text.split_once('-').unwrap_or(("1", "0"));
    first.parse().unwrap_or(1)..=last.parse().unwrap_or(0)
}

/// The words that can be looked for.
fn words_of(json: &serde_json::Value) -> String {
    let mut words = String::new();
    let mut add = |value: &serde_json::Value| {
        if let Some(text) = value.as_str() {
            words.push_str(text);
            words.push(' ');
        }
    };
    for name in ["id", "name", "title", "head", "thread", "property_class", "finish", "lubrication", "part_no", "note"]
    {
        add(&json[name]);
    }
    add(&json["drive"]["type"]);
    add(&json["drive"]["size"]);
    add(&json["source"]["document"]);
    json["prepare"].as_array().into_iter().flatten().for_each(&mut add);
    words
}
