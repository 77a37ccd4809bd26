//! Where results go, and in which form.

use super::failure::Failure;
use super::table::Table;
use crate::answer::json_bytes;
use serde::Serialize;
use std::io::{IsTerminal, Write};

/// The form of the result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Form {
    /// Aligned columns for people; the default on a terminal.
    Table,
    /// Separated by tabs, nothing cut; the default in a pipe.
    Plain,
    /// One JSON document, the same bytes that the HTTP API gives.
    Json,
    /// One JSON value a line.
    Ndjson,
    /// RFC 4180 with a header.
    Csv,
}

/// A result that can be shown in every form.
pub trait Answer {
    /// The value as JSON.
    fn json(&self) -> impl Serialize;
    /// The values that make the lines of NDJSON.
    fn lines(&self) -> Vec<serde_json::Value>;
    /// The rows for a table, a pipe or a spreadsheet.
    fn table(&self) -> Table;
    /// What a person reads at a terminal.
    fn for_people(&self, width: u16) -> String {
        self.table().without_empty_columns().to_terminal(width)
    }
}

/// Standard output with the form that was asked for.
#[derive(Debug)]
pub struct Output {
    form: Form,
}

impl Output {
    /// The form asked for, or the one that fits a terminal or a pipe.
    #[must_use]
    pub fn new(form: Option<Form>) -> Self {
        let fitting = if std::io::stdout().is_terminal() { Form::Table } else { Form::Plain };
        Self { form: form.unwrap_or(fitting) }
    }

    /// Shows a result.
    ///
    /// # Errors
    /// If standard output does not take it.
    pub fn show(&self, answer: &impl Answer) -> Result<(), Failure> {
        let bytes = match self.form {
            Form::Table => answer.for_people(terminal_width()).into_bytes(),
            Form::Plain => answer.table().to_plain().into_bytes(),
            Form::Csv => answer.table().to_csv().into_bytes(),
            Form::Json => json_bytes(&answer.json()),
            Form::Ndjson => answer.lines().iter().flat_map(json_bytes).collect(),
        };
        self.write(&bytes)
    }

    /// Writes bytes as they are.
    ///
    /// # Errors
    /// If standard output does not take them. A pipe that was closed at the other end is no error.
    pub fn write(&self, bytes: &[u8]) -> Result<(), Failure> {
        let mut out = std::io::stdout().lock();
        out.write_all(bytes).and_then(|()| out.flush()).map_err(|error| Failure::of_output(&error))
    }
}

/// The width to wrap at: that of the terminal, or of a page.
fn terminal_width() -> u16 {
    std::env::var("COLUMNS").ok().and_then(|columns| columns.parse().ok()).unwrap_or(100).clamp(40, 200)
}
