//! The questions that are asked: of the book as `key=value` pairs, of SQLite as a statement with its values.

use crate::generator::{CLASSES, Dice, HEADS, REUSE, THREADS};
use clampbook::query::Query;
use rusqlite::types::Value;

/// A question in both languages.
pub struct Question {
    /// What the book is asked.
    pub pairs: Vec<(&'static str, String)>,
    /// What SQLite is asked: a statement that gives ids.
    pub sql: &'static str,
    /// The values of the statement.
    pub values: Vec<Value>,
}

impl Question {
    /// The question as the catalog takes it, about fasteners, as the HTTP API asks it.
    pub fn query(&self) -> Query {
        let pairs = self.pairs.iter().map(|(name, value)| ((*name).to_owned(), value.clone()));
        let pairs = pairs.chain([("kind".to_owned(), "fastener".to_owned())]);
        Query::parse(pairs).unwrap_or_else(|refused| panic!("{refused:?}"))
    }

    /// The question as the path of a request.
    pub fn path(&self) -> String {
        self.path_spelled(0)
    }

    /// The same in one of many spellings: each bit of the number says whether the next letter of the values is escaped
    /// though it need not be.
    pub fn path_spelled(&self, mut spelling: u32) -> String {
        let mut escape = |byte: u8| match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b',' | b'_' => {
                let is_escaped = spelling % 2 == 1;
                spelling /= 2;
                if is_escaped { format!("%{byte:02X}") } else { char::from(byte).to_string() }
            }
            _ => format!("%{byte:02X}"),
        };
        let mut word = |(name, value): &(&str, String)| {
            let value: String = value.bytes().map(&mut escape).collect();
            format!("{name}={value}")
        };
        let words: Vec<String> = self.pairs.iter().map(&mut word).collect();
        format!("/v1/fasteners?{}", words.join("&"))
    }
}

fn text(value: &str) -> Value {
    Value::Text(value.to_owned())
}

/// Three filters, an order and a page of 20, of three kinds in turn. The indexes that serve just these are in
/// [`crate::sqlite::BEST_INDEXES`].
pub fn searches(seed: u64, count: usize, ferries: usize) -> Vec<Question> {
    let mut dice = Dice::new(seed);
    (0..count).map(|number| search(number % 3, &mut dice, ferries)).collect()
}

fn search(kind: usize, dice: &mut Dice, ferries: usize) -> Question {
    let (thread, _, torque) = *dice.early_of(THREADS);
    let (class, _) = *dice.early_of(CLASSES);
    let (head, _) = *dice.early_of(HEADS);
    let take = ("take", "20".to_owned());
    match kind {
        0 => {
            let (least, most) = (torque * 2 / 3, torque * 3 / 2);
            Question {
                pairs: vec![
                    ("thread", thread.to_owned()),
                    ("property_class", class.to_owned()),
                    ("torque.min", least.to_string()),
                    ("torque.max", most.to_string()),
                    ("sort", "torque".to_owned()),
                    take,
                ],
                sql: "select id, json from record where thread = ?1 and class = ?2 and low <= ?4 and high >= ?3 \
                      order by low, high, id limit 20",
                values: vec![text(thread), text(class), Value::Real(least.into()), Value::Real(most.into())],
            }
        }
        1 => {
            let reuse = *dice.early_of(REUSE);
            Question {
                pairs: vec![
                    ("head", head.to_owned()),
                    ("thread", thread.to_owned()),
                    ("reuse", reuse.to_owned()),
                    ("sort", "-torque".to_owned()),
                    take,
                ],
                sql: "select id, json from record where head = ?1 and thread = ?2 and reuse = ?3 \
                      order by low desc, high desc, id limit 20",
                values: vec![text(head), text(thread), text(reuse)],
            }
        }
        _ => {
            let ferry = format!("ferry-{:03}", dice.below(ferries));
            let (from, below) = (format!("{ferry}."), format!("{ferry}/"));
            Question {
                pairs: vec![
                    ("within", ferry),
                    ("head", head.to_owned()),
                    ("property_class", class.to_owned()),
                    ("sort", "thread".to_owned()),
                    take,
                ],
                sql: "select id, json from record where class = ?1 and head = ?2 and id >= ?3 and id < ?4 \
                      order by thread_key, id limit 20",
                values: vec![text(class), text(head), text(&from), text(&below)],
            }
        }
    }
}

/// Words, a page of 20 by id. SQLite is asked for the same beginnings of words.
pub fn words(seed: u64, count: usize) -> Vec<Question> {
    const ASKED: &[&str] = &[
        "flange bolt",
        "clamp",
        "sump cap screw",
        "winch pan",
        "thruster tunnel cover",
        "exhaust bolt",
        "twelve point",
        "strainer foot",
        "gearbox hous",
        "workshop gangway",
    ];
    let mut dice = Dice::new(seed);
    let asked = (0..count).map(|_| *dice.one_of(ASKED));
    let question = |words: &str| {
        let begun: Vec<String> = words.split(' ').map(|word| format!("\"{word}\" *")).collect();
        Question {
            pairs: vec![("q", words.to_owned()), ("take", "20".to_owned())],
            sql: "select id, json from record where rowid in \
                  (select rowid from words where words match ?1 order by rowid limit 20) order by rowid",
            values: vec![Value::Text(format!("kind:fastener AND text:({})", begun.join(" AND ")))],
        }
    };
    asked.map(question).collect()
}

/// Words with one wrong letter each, and what was meant.
pub const TYPING_ERRORS: &[(&str, &str)] =
    &[("flnage bolt", "flange bolt"), ("claamp", "clamp"), ("exhoust bolt", "exhaust bolt"), ("gangwy", "gangway")];
