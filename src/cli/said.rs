//! What the book said: the JSON that the HTTP API sends, and the value that tables are made from.

use super::output::Answer;
use super::table::Table;
use crate::answer::json_bytes;
use crate::record::Record;
use serde::Serialize;
use serde_json::Value;

/// An answer of the book.
#[derive(Debug, Clone)]
pub struct Said {
    bytes: Vec<u8>,
    value: Value,
    /// The change up to which the book had been audited, where that is not the last one.
    audited_up_to: Option<u64>,
}

impl Said {
    /// What a view of the catalog says.
    #[must_use]
    pub fn of(view: &impl Serialize) -> Self {
        let value = serde_json::to_value(view).unwrap_or_default();
        Self { bytes: json_bytes(view), value, audited_up_to: None }
    }

    /// What a server says; nothing if it is no JSON.
    #[must_use]
    pub fn of_bytes(bytes: Vec<u8>) -> Option<Self> {
        let value = serde_json::from_slice(&bytes).ok()?;
        Some(Self { bytes, value, audited_up_to: None })
    }

    /// The same, where what the audit says in it was found up to a change before the last one.
    #[must_use]
    pub fn audited_up_to(self, change: Option<u64>) -> Self {
        Self { audited_up_to: change, ..self }
    }

    /// What people are told besides, where the audit has not come to the last change.
    #[must_use]
    pub fn words_on_audit(&self) -> Option<String> {
        let change = self.audited_up_to?;
        Some(match change {
            0 => "The book has not been audited yet".to_owned(),
            _ => format!("What the audit says is of change {change}; the book has had more since"),
        })
    }

    /// The bytes of the API.
    #[must_use]
    pub fn bytes(&self) -> Vec<u8> {
        self.bytes.clone()
    }

    /// The value.
    #[must_use]
    pub fn value(&self) -> &Value {
        &self.value
    }

    /// The items of a list.
    #[must_use]
    pub fn items(&self) -> &[Value] {
        list(&self.value, "items")
    }
}

/// A list that the book said. Programs get it as it was said; its rows and its page for people are made from it.
pub trait ListSaid {
    /// What the book said.
    fn said(&self) -> &Said;
    /// A row for each item.
    fn rows(&self) -> Table;
    /// What people read.
    fn page(&self, width: usize) -> String;
}

impl<L: ListSaid> Answer for L {
    fn json(&self) -> impl Serialize {
        self.said().value()
    }
    fn json_bytes(&self) -> Vec<u8> {
        self.said().bytes()
    }
    fn lines(&self) -> Vec<Value> {
        self.said().items().to_vec()
    }
    fn table(&self) -> Table {
        self.rows()
    }
    fn for_people(&self, width: usize) -> String {
        self.page(width)
    }
}

/// The text of a member; empty if there is none.
#[must_use]
pub fn text<'v>(value: &'v Value, name: &str) -> &'v str {
    value.get(name).and_then(Value::as_str).unwrap_or_default()
}

/// The entries of a member that is a list; none if there is none.
#[must_use]
pub fn list<'v>(value: &'v Value, name: &str) -> &'v [Value] {
    value.get(name).and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

/// The whole number of a member; 0 if there is none.
#[must_use]
pub fn count(value: &Value, name: &str) -> u64 {
    value.get(name).and_then(Value::as_u64).unwrap_or(0)
}

/// A record as the book shows it, with what the book knows about it.
#[derive(Debug, Clone)]
pub struct Shown<'v> {
    /// The record; absent if a newer program wrote fields that this one does not know.
    pub record: Option<Record>,
    /// The JSON as shown.
    pub value: &'v Value,
}

impl<'v> Shown<'v> {
    /// A record as shown.
    #[must_use]
    pub fn of(value: &'v Value) -> Self {
        Self { record: Record::from_json(value).ok(), value }
    }

    /// Its id.
    #[must_use]
    pub fn id(&self) -> &'v str {
        text(self.value, "id")
    }

    /// `checked` or `unchecked`.
    #[must_use]
    pub fn checked(&self) -> &'static str {
        match self.value.pointer("/book/is_checked") {
            Some(Value::Bool(true)) => "checked",
            _ => "unchecked",
        }
    }

    /// What the audit says of it in a word: the severity of the worst finding, or that it is pending; empty without either.
    #[must_use]
    pub fn audit(&self) -> &'v str {
        if self.value.pointer("/book/audit/is_pending") == Some(&Value::Bool(true)) {
            return "pending";
        }
        self.value.pointer("/book/audit/worst").and_then(Value::as_str).unwrap_or_default()
    }

    /// Whether it has been taken back.
    #[must_use]
    pub fn is_withdrawn(&self) -> bool {
        self.value.pointer("/book/state").and_then(Value::as_str) == Some("withdrawn")
    }
}
