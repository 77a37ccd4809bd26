//! Where results go, and in which form.

use super::failure::Failure;
use super::table::{self, Table};
use super::terminal;
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
    /// The value as the bytes that the HTTP API sends.
    fn json_bytes(&self) -> Vec<u8> {
        crate::answer::json_bytes(&self.json())
    }
    /// The values that make the lines of NDJSON.
    fn lines(&self) -> Vec<serde_json::Value>;
    /// The rows for a table, a pipe or a spreadsheet.
    fn table(&self) -> Table;
    /// What a person reads at a terminal.
    fn for_people(&self, width: usize) -> String {
        self.table().without_empty_columns().to_terminal(width)
    }
}

/// Values of one kind: a line and a row for each.
#[derive(Debug)]
pub struct Items<T>(pub Vec<T>);

impl<T: Serialize> Answer for Items<T> {
    fn json(&self) -> impl Serialize {
        serde_json::json!({ "items": self.0 })
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.0.iter().filter_map(|item| serde_json::to_value(item).ok()).collect()
    }
    fn table(&self) -> Table {
        table::of_rows(&self.0)
    }
}

/// Standard output with the form that was asked for.
#[derive(Debug)]
pub struct Output {
    form: Option<Form>,
}

impl Output {
    /// The form asked for, or the one that fits a terminal or a pipe.
    #[must_use]
    pub fn new(form: Option<Form>) -> Self {
        Self { form }
    }

    /// The form that was asked for, if one was.
    #[must_use]
    pub fn asked(&self) -> Option<Form> {
        self.form
    }

    /// The form of the result.
    #[must_use]
    pub fn form(&self) -> Form {
        let fitting = if std::io::stdout().is_terminal() { Form::Table } else { Form::Plain };
        self.form.unwrap_or(fitting)
    }

    /// Shows a result.
    ///
    /// # Errors
    /// If standard output does not take it.
    pub fn show(&self, answer: &impl Answer) -> Result<(), Failure> {
        match self.form() {
            Form::Table => self.text(&answer.for_people(terminal::width())),
            Form::Plain => self.write(answer.table().to_plain().as_bytes()),
            Form::Csv => self.write(answer.table().to_csv().as_bytes()),
            Form::Json => self.write(&answer.json_bytes()),
            Form::Ndjson => {
                let lines: Vec<u8> = answer.lines().iter().flat_map(crate::answer::json_bytes).collect();
                self.write(&lines)
            }
        }
    }

    /// Writes text for people; its styles are taken off where nobody sees them.
    ///
    /// # Errors
    /// If standard output does not take it. A pipe that was closed at the other end is no error.
    pub fn text(&self, text: &str) -> Result<(), Failure> {
        let mut out = anstream::AutoStream::auto(std::io::stdout()).lock();
        out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(|error| Failure::of_output(&error))
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
