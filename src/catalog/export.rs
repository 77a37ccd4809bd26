//! The book as text that other programs read: CSV and NDJSON, by id.

use super::table::{COLUMNS, CellKind, Column, cells_of};
use super::{Catalog, CatalogError, StoreError};
use crate::query::State;
use crate::record::{Kind, Record};
use std::io::Write;

/// A form to export in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExportFormat {
    /// RFC 4180, with the columns of [`COLUMNS`].
    Csv,
    /// One JSON object a line.
    Ndjson,
}

/// What an export will hold, said before its first byte.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportPlan {
    kind: Option<Kind>,
    /// How many records.
    pub records: u64,
    /// The life of the store.
    pub epoch: String,
    /// The last change that they know.
    pub sequence: u64,
}

/// What was exported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Exported {
    /// How many records.
    pub records: u64,
    /// The last change that they know.
    pub sequence: u64,
}

impl Catalog {
    /// How many records an export will hold.
    #[must_use]
    pub fn export_count(&self, kind: Option<Kind>) -> u64 {
        self.export_plan(kind).records
    }

    /// What an export of the present state will hold: every record in force, all of one kind or of both.
    #[must_use]
    pub fn export_plan(&self, kind: Option<Kind>) -> ExportPlan {
        let head = self.store().head();
        let records = match kind {
            Some(Kind::Joint) => head.counts.joints,
            Some(Kind::Fastener) => head.counts.fasteners,
            None => head.counts.joints + head.counts.fasteners,
        };
        ExportPlan { kind, records, epoch: head.epoch.clone(), sequence: head.sequence }
    }

    /// Writes every record in force, by id: all of one kind, or of both. Later changes are not seen.
    ///
    /// # Errors
    /// If the store can't be read or the writer fails; what was written before stands.
    pub fn export(
        &self,
        kind: Option<Kind>,
        format: ExportFormat,
        writer: impl Write,
    ) -> Result<Exported, CatalogError> {
        self.export_as_planned(&self.export_plan(kind), format, writer)
    }

    /// Writes the records of a plan, by id, as they were when it was made.
    ///
    /// # Errors
    /// If the store can't be read or has not as many records as was said, or the writer fails; what was written before
    /// stands.
    pub fn export_as_planned(
        &self,
        plan: &ExportPlan,
        format: ExportFormat,
        writer: impl Write,
    ) -> Result<Exported, CatalogError> {
        let mut out = Out::new(format, writer)?;
        let mut records = 0;
        let mut failed = None;
        self.store().walk(None, plan.sequence, |stored| {
            if stored.state == State::Current && plan.kind.is_none_or(|kind| kind == stored.record.kind()) {
                records += 1;
                failed = out.write(&stored.record).err();
            }
            Ok(failed.is_none())
        })?;
        if let Some(error) = failed {
            return Err(error);
        }
        if records != plan.records {
            let what = format!("the store counts {} records and has {records}", plan.records);
            return Err(StoreError::Internal(what).into());
        }
        out.finish().map(|()| Exported { records, sequence: plan.sequence })
    }

    /// Writes these records in this form.
    ///
    /// # Errors
    /// If the writer fails.
    pub fn export_records<'r>(
        records: impl IntoIterator<Item = &'r Record>,
        format: ExportFormat,
        writer: impl Write,
    ) -> Result<(), CatalogError> {
        let mut out = Out::new(format, writer)?;
        records.into_iter().try_for_each(|record| out.write(record))?;
        out.finish()
    }
}

enum Out<W: Write> {
    Csv(Box<csv::Writer<W>>),
    Ndjson(W),
}

impl<W: Write> Out<W> {
    fn new(format: ExportFormat, writer: W) -> Result<Self, CatalogError> {
        match format {
            ExportFormat::Ndjson => Ok(Self::Ndjson(writer)),
            ExportFormat::Csv => {
                let mut csv = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(writer);
                csv.write_record(COLUMNS.iter().map(|column| column.name)).map_err(csv_error)?;
                Ok(Self::Csv(Box::new(csv)))
            }
        }
    }

    fn write(&mut self, record: &Record) -> Result<(), CatalogError> {
        match self {
            Self::Csv(csv) => {
                let cells = cells_of(record).into_iter().zip(COLUMNS);
                csv.write_record(cells.map(|(cell, column)| guarded_in(column, cell))).map_err(csv_error)
            }
            Self::Ndjson(writer) => {
                let mut line = serde_json::to_vec(record).map_err(|error| CatalogError::writing(error.into()))?;
                line.push(b'\n');
                writer.write_all(&line).map_err(CatalogError::writing)
            }
        }
    }

    fn finish(self) -> Result<(), CatalogError> {
        match self {
            Self::Csv(mut csv) => csv.flush().map_err(CatalogError::writing),
            Self::Ndjson(mut writer) => writer.flush().map_err(CatalogError::writing),
        }
    }
}

/// What kind of trouble it was must stay known: a closed pipe is no fault.
fn csv_error(error: csv::Error) -> CatalogError {
    CatalogError::writing(match error.into_kind() {
        csv::ErrorKind::Io(source) => source,
        other => std::io::Error::other(csv_text(&other)),
    })
}

fn csv_text(kind: &csv::ErrorKind) -> String {
    format!("a row could not be written: {kind:?}")
}

/// A cell of a column. A number with its sign is a number to everybody: it is no text that could be a formula.
fn guarded_in(column: &Column, cell: String) -> String {
    let is_number = matches!(column.kind(), CellKind::Number | CellKind::Whole) && cell.parse::<f64>().is_ok();
    if is_number { cell } else { guarded(&cell) }
}

/// A cell that a spreadsheet would take for a formula gets a `'` before it, and so does one that begins with such a `'`.
pub(super) fn guarded(cell: &str) -> String {
    if needs_guard(cell.strip_prefix('\'').unwrap_or(cell)) { format!("'{cell}") } else { cell.to_owned() }
}

fn needs_guard(cell: &str) -> bool {
    cell.trim_start_matches('\'').starts_with(['=', '+', '-', '@'])
}

/// The cell without the guard of an export.
pub(super) fn unguarded(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if needs_guard(rest) => rest,
        _ => cell,
    }
}
