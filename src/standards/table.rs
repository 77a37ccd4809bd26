//! A published table in one common form, for printing: every file of this folder can give its rows in it.

use super::citation::{Citation, Origin};

/// One cell.
#[derive(Debug, Clone, PartialEq, serde::Serialize, utoipa::ToSchema)]
#[serde(untagged)]
pub enum Cell {
    /// A number in the unit of its column.
    Number(f64),
    /// A word: a size, a class, a description.
    Text(String),
    /// The standard has no value here.
    Empty,
}

impl std::fmt::Display for Cell {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Number(number) => std::fmt::Display::fmt(number, f),
            Self::Text(text) => f.pad(text),
            Self::Empty => f.pad(""),
        }
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl From<u32> for Cell {
    fn from(number: u32) -> Self {
        Self::Number(f64::from(number))
    }
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        if text.is_empty() { Self::Empty } else { Self::Text(text.to_owned()) }
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::from(text.as_str())
    }
}

impl<T: Into<Self>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Empty, Into::into)
    }
}

/// One row: its cells in the order of the columns, and how the row got here.
#[derive(Debug, Clone, PartialEq, serde::Serialize, utoipa::ToSchema)]
pub struct Row {
    /// The cells, as many as the table has columns.
    pub cells: Vec<Cell>,
    /// How the row got here; the least certain of its values where they differ.
    pub origin: Origin,
}

/// A table as published: the rows in the order of the standard, its units and its rounding.
#[derive(Debug, Clone, PartialEq, serde::Serialize, utoipa::ToSchema)]
pub struct Table {
    /// The name to ask for it by: `iso-898-1-proof-loads`.
    pub name: &'static str,
    /// What it holds, in words.
    pub title: &'static str,
    /// Standard or document.
    pub standard: &'static str,
    /// Edition; empty where there is none.
    pub edition: &'static str,
    /// Number of the table or clause; empty where there is none.
    pub table: &'static str,
    /// The unit of the values, or the units by column.
    pub unit: &'static str,
    /// What a reader must know beside it; empty if nothing.
    pub note: &'static str,
    /// The columns, named with their unit where it is not the unit of the table.
    pub columns: Vec<&'static str>,
    /// The rows.
    pub rows: Vec<Row>,
}

/// How many rows of a table were read, recalled and computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, utoipa::ToSchema)]
pub struct Origins {
    /// Rows read from a page that prints the table.
    pub read: usize,
    /// Rows recalled from memory.
    pub from_memory: usize,
    /// Rows computed with the formula of the standard.
    pub computed: usize,
}

impl Table {
    /// A table without rows yet.
    pub(super) fn new(
        name: &'static str,
        title: &'static str,
        citation: Citation,
        unit: &'static str,
        columns: &[&'static str],
    ) -> Self {
        Self {
            name,
            title,
            standard: citation.standard,
            edition: citation.edition,
            table: citation.table,
            unit,
            note: "",
            columns: columns.to_vec(),
            rows: Vec::new(),
        }
    }

    /// The table with a note.
    pub(super) fn note(self, note: &'static str) -> Self {
        Self { note, ..self }
    }

    /// Adds a row.
    ///
    /// # Panics
    /// If it has not as many cells as the table has columns: a mistake in this folder.
    pub(super) fn push(&mut self, origin: Origin, cells: impl IntoIterator<Item = Cell>) {
        let cells: Vec<Cell> = cells.into_iter().collect();
        assert_eq!(cells.len(), self.columns.len(), "a row of {} has another number of cells than columns", self.name);
        self.rows.push(Row { cells, origin });
    }

    /// How many rows were read, recalled and computed.
    #[must_use]
    pub fn origins(&self) -> Origins {
        self.rows.iter().fold(Origins::default(), |mut sum, row| {
            match row.origin {
                Origin::Read => sum.read += 1,
                Origin::FromMemory => sum.from_memory += 1,
                Origin::Computed => sum.computed += 1,
            }
            sum
        })
    }
}
