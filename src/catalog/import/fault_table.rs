//! The records of an input that have faults, as a table: what was sent, with the faults beside it.
//!
//! Corrected and sent again it is read as it is: columns whose names begin with `fault.` are passed over.

use super::super::CatalogError;
use super::super::export::{guarded, unguarded};
use super::Sent;
use super::fault::LineFault;
use std::fs::File;
use std::io::{self, BufWriter, Seek, Write};

/// The columns beside what was sent.
const BESIDE: [&str; 6] = ["fault.line", "fault.record", "fault.column", "fault.code", "fault.detail", "fault.hint"];
/// What the names of these columns begin with.
pub const PREFIX: &str = "fault.";

/// The table of an input, in a file without a name.
#[derive(Debug)]
pub struct FaultTable {
    writer: csv::Writer<BufWriter<File>>,
    has_heading: bool,
}

impl FaultTable {
    /// An empty table.
    ///
    /// # Errors
    /// If no file can be made.
    pub fn new() -> Result<Self, CatalogError> {
        let file = tempfile::tempfile().map_err(CatalogError::keeping)?;
        let writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(BufWriter::new(file));
        Ok(Self { writer, has_heading: false })
    }

    /// Enters a record with its faults.
    pub(super) fn add(&mut self, sent: Sent<'_>, faults: &[LineFault]) -> Result<(), CatalogError> {
        let own = |name: &[u8]| !String::from_utf8_lossy(name).trim().to_lowercase().starts_with(PREFIX);
        if !self.has_heading {
            let heading: Vec<String> = match sent {
                Sent::Row { heading, .. } => heading.iter().filter(|name| own(name)).map(cell).collect(),
                Sent::Text(_) => vec!["json".to_owned()],
            };
            self.heading(heading)?;
        }
        let mut row: Vec<String> = match sent {
            Sent::Row { heading, row } => {
                // A row may have fewer cells than the heading, or more.
                let cells = (0..heading.len().max(row.len())).filter(|i| heading.get(*i).is_none_or(own));
                cells.map(|i| cell(row.get(i).unwrap_or_default())).collect()
            }
            Sent::Text(text) => vec![cell(text)],
        };
        if let Sent::Row { heading, .. } = sent {
            row.truncate(heading.iter().filter(|name| own(name)).count());
        }
        let joined = |part: fn(&LineFault) -> Option<&str>| {
            faults.iter().map(|fault| part(fault).unwrap_or_default()).collect::<Vec<_>>().join(" | ")
        };
        row.extend(faults.first().map(|fault| fault.line.to_string()));
        row.extend(faults.first().map(|fault| fault.record.to_string()));
        row.push(guarded(&joined(|fault| fault.column.as_deref().or(Some(&fault.fault.pointer)))));
        row.push(joined(|fault| Some(&fault.fault.code)));
        row.push(guarded(&joined(|fault| Some(&fault.fault.detail))));
        row.push(guarded(&joined(|fault| fault.fault.hint.as_deref())));
        self.writer.write_record(&row).map_err(csv_error)
    }

    fn heading(&mut self, sent: Vec<String>) -> Result<(), CatalogError> {
        self.has_heading = true;
        self.writer.write_record(sent.into_iter().chain(BESIDE.map(str::to_owned))).map_err(csv_error)
    }

    /// The table as a file, to be read from its beginning.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn into_file(mut self) -> Result<File, CatalogError> {
        if !self.has_heading {
            self.heading(Vec::new())?;
        }
        let buffered =
            self.writer.into_inner().map_err(|error| CatalogError::keeping(io::Error::other(error.to_string())))?;
        let mut file = buffered.into_inner().map_err(|error| CatalogError::keeping(error.into_error()))?;
        file.flush().and_then(|()| file.rewind()).map_err(CatalogError::keeping)?;
        Ok(file)
    }
}

/// A cell as it was sent, guarded against being taken for a formula.
fn cell(bytes: &[u8]) -> String {
    guarded(unguarded(&String::from_utf8_lossy(bytes)))
}

fn csv_error(error: csv::Error) -> CatalogError {
    CatalogError::keeping(io::Error::other(error))
}
