//! Records as rows of a table: one column for each field, named by its dotted path.
//!
//! A list is written in one cell, its entries joined by ` | `, the parts of an entry by `; `. A `|`, `;` or `\`
//! inside a text has a `\` before it.

use crate::record::{Kind, Record};
use serde_json::{Map, Value, json};

/// What stands in the cells of a column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    /// Text, or a quantity with its unit.
    Text,
    /// A quantity with its unit, whose decimal sign matters.
    Quantity,
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// Texts.
    Texts,
    /// Quantities with their units.
    Quantities,
    /// Whole numbers, joined by commas.
    Wholes,
    /// Entries with these parts.
    Entries(&'static [(&'static str, Cell)]),
    /// Orders of single passes: `2: 21,22,23 | 3: 4,5`.
    Passes,
    /// Positions: of a joint entries of number, x and y; of a fastener text.
    Positions,
}

/// A column of the table.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    /// Its name: the dotted path of the field.
    pub name: &'static str,
    /// What stands in it.
    pub(super) cell: Cell,
}

/// What programs may take the cells of a column for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CellKind {
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// Text, such as a quantity with its unit.
    Text,
    /// A list in one cell, its entries joined by ` | `.
    List,
}

impl Column {
    /// What its cells may be taken for.
    #[must_use]
    pub fn kind(&self) -> CellKind {
        match self.cell {
            Cell::Whole => CellKind::Whole,
            Cell::Number => CellKind::Number,
            Cell::Text | Cell::Quantity | Cell::Positions => CellKind::Text,
            Cell::Texts | Cell::Quantities | Cell::Wholes | Cell::Entries(_) | Cell::Passes => CellKind::List,
        }
    }
}

const RENEW: &[(&str, Cell)] = &[("item", Cell::Text), ("count", Cell::Whole), ("part_no", Cell::Text)];
const CHECK: &[(&str, Cell)] = &[("item", Cell::Text), ("count", Cell::Whole)];
const ACCEPTED: &[(&str, Cell)] = &[("rule", Cell::Text), ("reason", Cell::Text)];
const PLACES: &[(&str, Cell)] = &[("n", Cell::Whole), ("x_mm", Cell::Number), ("y_mm", Cell::Number)];

macro_rules! columns {
    ($( $name:literal: $cell:expr, )*) => {
        /// Every column, in the order of an export.
        pub const COLUMNS: &[Column] = &[$( Column { name: $name, cell: $cell } ),*];
    };
}

columns! {
    "kind": Cell::Text,
    "id": Cell::Text,
    "joint": Cell::Text,
    "name": Cell::Text,
    "title": Cell::Text,
    "assembly_title": Cell::Text,
    "role": Cell::Text,
    "fits.variants": Cell::Texts,
    "fits.serials": Cell::Text,
    "positions": Cell::Positions,
    "count": Cell::Whole,
    "head": Cell::Text,
    "drive.type": Cell::Text,
    "drive.size": Cell::Quantity,
    "thread": Cell::Text,
    "thread_class": Cell::Text,
    "hand": Cell::Text,
    "length": Cell::Quantity,
    "property_class": Cell::Text,
    "nut_class": Cell::Text,
    "finish": Cell::Text,
    "lubrication": Cell::Text,
    "friction": Cell::Quantity,
    "grip": Cell::Quantity,
    "seat.material": Cell::Text,
    "seat.hole": Cell::Quantity,
    "into.material": Cell::Text,
    "into.engagement": Cell::Quantity,
    "stages": Cell::Quantities,
    "reuse.rule": Cell::Text,
    "reuse.times": Cell::Whole,
    "reuse.limit": Cell::Quantity,
    "reuse.what": Cell::Text,
    "locking": Cell::Text,
    "part_no": Cell::Text,
    "view": Cell::Text,
    "landmark.text": Cell::Text,
    "landmark.x_mm": Cell::Number,
    "landmark.y_mm": Cell::Number,
    "order.pattern": Cell::Text,
    "order.positions": Cell::Wholes,
    "order.passes": Cell::Passes,
    "prepare": Cell::Texts,
    "renew": Cell::Entries(RENEW),
    "check": Cell::Entries(CHECK),
    "tools": Cell::Texts,
    "behind": Cell::Texts,
    "together": Cell::Texts,
    "cautions": Cell::Texts,
    "note": Cell::Text,
    "source.document": Cell::Text,
    "source.edition": Cell::Text,
    "source.page": Cell::Text,
    "source.printed": Cell::Text,
    "source.entered_by": Cell::Text,
    "source.checked_by": Cell::Text,
    "accepted": Cell::Entries(ACCEPTED),
}

/// The column of this name.
pub(super) fn column(name: &str) -> Option<&'static Column> {
    COLUMNS.iter().find(|column| column.name == name)
}

/// The JSON value that a cell of this column stands for in a record of this kind; nothing if there is no such column.
#[must_use]
pub fn cell_value(name: &str, kind: Kind, text: &str) -> Option<Value> {
    column(name).map(|column| read(effective(column.cell, kind), text))
}

/// The cells of a record, in the order of [`COLUMNS`].
pub(super) fn cells_of(record: &Record) -> Vec<String> {
    let value = serde_json::to_value(record).unwrap_or_default();
    let cell = |column: &Column| {
        let place = format!("/{}", column.name.replace('.', "/"));
        value.pointer(&place).map(|value| written(effective(column.cell, record.kind()), value)).unwrap_or_default()
    };
    COLUMNS.iter().map(cell).collect()
}

/// What stands in a column for a record of this kind.
fn effective(cell: Cell, kind: Kind) -> Cell {
    match (cell, kind) {
        (Cell::Positions, Kind::Joint) => Cell::Entries(PLACES),
        (Cell::Positions, Kind::Fastener) => Cell::Text,
        (cell, _) => cell,
    }
}

fn written(cell: Cell, value: &Value) -> String {
    let items = || value.as_array().map(Vec::as_slice).unwrap_or_default();
    match cell {
        Cell::Texts | Cell::Quantities => joined(items().iter().map(|item| escaped(&plain(item))), " | "),
        Cell::Wholes => joined(items().iter().map(plain), ","),
        Cell::Entries(parts) => joined(items().iter().map(|item| written_entry(parts, item)), " | "),
        Cell::Passes => {
            let passes = value.as_object().into_iter().flatten();
            joined(passes.map(|(pass, positions)| format!("{pass}: {}", written(Cell::Wholes, positions))), " | ")
        }
        _ => plain(value),
    }
}

fn written_entry(parts: &[(&str, Cell)], entry: &Value) -> String {
    let mut cells: Vec<String> =
        parts.iter().map(|(name, _)| entry.get(name).map(|part| escaped(&plain(part))).unwrap_or_default()).collect();
    while cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
    cells.join("; ")
}

fn plain(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

fn joined(parts: impl Iterator<Item = String>, between: &str) -> String {
    parts.collect::<Vec<_>>().join(between)
}

fn escaped(text: &str) -> String {
    text.replace('\\', "\\\\").replace('|', "\\|").replace(';', "\\;")
}

/// Parts a cell at a sign that has no `\` before it; the escapes stay.
fn parted(text: &str, sign: char) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut escaped = false;
    for c in text.chars() {
        if c == sign && !escaped {
            parts.push(String::new());
        } else if let Some(part) = parts.last_mut() {
            part.push(c);
        }
        escaped = c == '\\' && !escaped;
    }
    parts.iter().map(|part| part.trim().to_owned()).collect()
}

fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut characters = text.chars();
    while let Some(c) = characters.next() {
        match c {
            '\\' => out.extend(characters.next()),
            c => out.push(c),
        }
    }
    out
}

/// The JSON value of a row: each named cell at its place, empty cells left out.
pub(super) fn value_of_row<'c>(cells: impl Iterator<Item = (&'static Column, &'c str)>, kind: Kind) -> Value {
    let mut root = Map::new();
    root.insert("kind".to_owned(), json!(kind.word()));
    for (column, text) in cells {
        if text.is_empty() || column.name == "kind" {
            continue;
        }
        let value = read(effective(column.cell, kind), text);
        insert(&mut root, column.name, value);
    }
    Value::Object(root)
}

fn insert(root: &mut Map<String, Value>, path: &str, value: Value) {
    match path.split_once('.') {
        None => {
            root.insert(path.to_owned(), value);
        }
        Some((parent, child)) => {
            let parent = root.entry(parent).or_insert_with(|| Value::Object(Map::new()));
            if let Value::Object(members) = parent {
                members.insert(child.to_owned(), value);
            }
        }
    }
}

/// The JSON value of a cell; what is no number where one belongs stays text, and is a fault of the record.
fn read(cell: Cell, text: &str) -> Value {
    match cell {
        Cell::Whole => text.parse::<u64>().map_or_else(|_| json!(text), |number| json!(number)),
        Cell::Number => text.parse::<f64>().map_or_else(|_| json!(text), |number| json!(number)),
        Cell::Texts | Cell::Quantities => parted(text, '|').iter().map(|part| json!(unescaped(part))).collect(),
        Cell::Wholes => text.split(',').map(|part| read(Cell::Whole, part.trim())).collect(),
        Cell::Entries(parts) => parted(text, '|').iter().map(|entry| read_entry(parts, entry)).collect(),
        Cell::Passes => {
            let passes = parted(text, '|').into_iter().map(|entry| {
                let (pass, positions) = entry.split_once(':').unwrap_or((&entry, ""));
                (pass.trim().to_owned(), read(Cell::Wholes, positions.trim()))
            });
            Value::Object(passes.collect())
        }
        Cell::Text | Cell::Quantity | Cell::Positions => json!(text),
    }
}

fn read_entry(parts: &[(&str, Cell)], entry: &str) -> Value {
    let cells = parted(entry, ';');
    let mut members = Map::new();
    for ((name, cell), text) in parts.iter().zip(&cells) {
        if !text.is_empty() {
            members.insert((*name).to_owned(), read(*cell, &unescaped(text)));
        }
    }
    if cells.len() > parts.len() {
        members.insert(format!("part {}", parts.len() + 1), json!(cells[parts.len()]));
    }
    Value::Object(members)
}
