//! What an import will store once it is decided: in memory while it is little, else in a file without a name.

use super::super::{Catalog, CatalogError, Expected, Write};
use super::{ImportOptions, ImportReport};
use crate::record::{Record, Refused};
use std::io::{BufRead, BufReader, Seek, Write as _};
use tempfile::SpooledTempFile;

/// How many bytes are kept in memory.
const IN_MEMORY: usize = 4 << 20;
/// The most records that are stored in one batch, all or none.
const ATOMIC_MAX: u64 = 5000;

/// Records that are to be stored, each with the revision that must stand there then.
#[derive(Debug)]
pub struct Kept {
    file: SpooledTempFile,
    records: u64,
}

impl Default for Kept {
    fn default() -> Self {
        Self { file: SpooledTempFile::new(IN_MEMORY), records: 0 }
    }
}

impl Kept {
    /// How many records there are.
    #[must_use]
    pub fn records(&self) -> u64 {
        self.records
    }

    /// Keeps a record; `there` is the revision that stands there now.
    pub(super) fn keep(&mut self, record: &Record, there: Option<u64>) -> Result<(), CatalogError> {
        let mut line = format!("{} ", there.unwrap_or(0)).into_bytes();
        serde_json::to_writer(&mut line, record).map_err(|error| CatalogError::keeping(error.into()))?;
        line.push(b'\n');
        self.records += 1;
        self.file.write_all(&line).map_err(CatalogError::keeping)
    }

    /// Stores the records.
    pub(super) fn store(
        &mut self,
        catalog: &Catalog,
        options: &ImportOptions,
        report: &mut ImportReport,
        on_progress: &mut dyn FnMut(&ImportReport),
    ) -> Result<(), CatalogError> {
        self.file.rewind().map_err(CatalogError::keeping)?;
        let batch = if self.records <= ATOMIC_MAX { ATOMIC_MAX as usize } else { options.batch.max(1) };
        let mut writes = Vec::new();
        let mut lines = BufReader::new(&mut self.file).split(b'\n');
        loop {
            let line = lines.next().transpose().map_err(CatalogError::keeping)?;
            let is_last = line.is_none();
            if let Some(line) = line {
                writes.push(write_of(&line)?);
            }
            if !writes.is_empty() && (is_last || writes.len() >= batch) {
                let count = writes.len() as u64;
                catalog.apply(std::mem::take(&mut writes), &options.author)?;
                report.stored += count;
                on_progress(report);
            }
            if is_last {
                return Ok(());
            }
        }
    }
}

fn write_of(line: &[u8]) -> Result<Write, CatalogError> {
    let broken = || CatalogError::keeping(std::io::Error::other("what was kept is not what was written"));
    let at = line.iter().position(|byte| *byte == b' ').ok_or_else(broken)?;
    let revision: u64 = std::str::from_utf8(&line[..at]).ok().and_then(|text| text.parse().ok()).ok_or_else(broken)?;
    let record = Record::from_json_text(&line[at + 1..]).map_err(|Refused(_)| broken())?;
    let expected = if revision == 0 { Expected::New } else { Expected::Revision(revision) };
    Ok(Write::Put { record: Box::new(record), expected })
}
