//! Taking records in from NDJSON, a JSON array, or CSV: all faults of all lines, each with its place.
//!
//! Reading is streamed: at no time are more than some hundred records of the input held. What a *whole* import keeps
//! until it knows that there is no fault lies in a file when it is more than a little. Good records are stored in batches.

mod ahead;
mod fault;
mod fault_table;
mod json;
mod kept;
mod options;
mod rows;

pub use fault::{ImportReport, LineFault};
pub use fault_table::FaultTable;
pub use kept::Kept;
pub use options::{Decimal, ImportFormat, ImportMode, ImportOptions, MayCheck, OnSame};

use super::{Catalog, CatalogError, Write};
use crate::query::State;
use crate::record::Record;
use fault::Faults;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{BufRead, BufReader, Read};

/// After how many records an import tells how far it is.
const PROGRESS_RECORDS: u64 = 500;

/// A record as it was sent.
#[derive(Clone, Copy)]
enum Sent<'b> {
    /// A row below a heading.
    Row { heading: &'b csv::ByteRecord, row: &'b csv::ByteRecord },
    /// Some JSON.
    Text(&'b [u8]),
}

/// Where a record of the input stands, and what it is.
struct Item<'b> {
    /// The physical line on which it begins, from 1.
    line: u64,
    /// Its number, from 1; a heading does not count.
    number: u64,
    /// The record, or its faults with the columns they are in.
    record: Result<Record, Vec<fault::Blame>>,
    /// What it was read from.
    sent: Sent<'b>,
}

impl Catalog {
    /// Takes records in. What is reported stored is stored.
    ///
    /// # Errors
    /// If the input can't be read or the store can't; what was stored by then is in the error's report only if the
    /// mode is partial. Faults of the input are in the report, not an error.
    pub fn import(&self, reader: impl Read, options: &ImportOptions) -> Result<ImportReport, CatalogError> {
        self.import_with(reader, options, |_| {})
    }

    /// Takes records in, and tells every now and then how far it is.
    ///
    /// # Errors
    /// As [`Catalog::import`].
    pub fn import_with(
        &self,
        reader: impl Read,
        options: &ImportOptions,
        on_progress: impl FnMut(&ImportReport),
    ) -> Result<ImportReport, CatalogError> {
        self.import_telling(reader, options, None, on_progress)
    }

    /// Takes records in, tells how far it is, and writes what has faults into a table.
    ///
    /// A *whole* import is decided when all of it was read: then its records are stored, as [`Catalog::store_kept`] does.
    ///
    /// # Errors
    /// As [`Catalog::import`].
    pub fn import_telling(
        &self,
        reader: impl Read,
        options: &ImportOptions,
        faults: Option<&mut FaultTable>,
        mut on_progress: impl FnMut(&ImportReport),
    ) -> Result<ImportReport, CatalogError> {
        let keeps = options.mode == ImportMode::Whole;
        let (mut report, mut kept) = self.read_all(reader, options, faults, keeps, &mut on_progress)?;
        if keeps && report.is_clean() {
            kept.store(self, options, &mut report, &mut on_progress)?;
        }
        if options.mode != ImportMode::Check {
            self.sync()?;
        }
        report.sequence = self.sequence();
        on_progress(&report);
        Ok(report)
    }

    /// Looks for faults and stores nothing; what would be stored is kept, so that just this can be stored.
    ///
    /// # Errors
    /// If the input or the store can't be read, or nothing can be kept.
    pub fn check_and_keep(
        &self,
        reader: impl Read,
        options: &ImportOptions,
        faults: Option<&mut FaultTable>,
        mut on_progress: impl FnMut(&ImportReport),
    ) -> Result<(ImportReport, Kept), CatalogError> {
        let options = ImportOptions { mode: ImportMode::Check, ..options.clone() };
        self.read_all(reader, &options, faults, true, &mut on_progress)
    }

    /// Stores what was kept, each record on the revision that it was checked against. A few thousand records are stored all
    /// or none; more of them in batches that are all or none each, and `report` says how many are stored.
    ///
    /// # Errors
    /// [`StoreError::Changed`](super::StoreError::Changed) if a record was changed since; otherwise if the store can't.
    pub fn store_kept(
        &self,
        kept: &mut Kept,
        options: &ImportOptions,
        report: &mut ImportReport,
        mut on_progress: impl FnMut(&ImportReport),
    ) -> Result<(), CatalogError> {
        kept.store(self, options, report, &mut on_progress)?;
        self.sync()?;
        report.sequence = self.sequence();
        Ok(())
    }

    fn read_all(
        &self,
        reader: impl Read,
        options: &ImportOptions,
        faults: Option<&mut FaultTable>,
        keeps: bool,
        on_progress: &mut dyn FnMut(&ImportReport),
    ) -> Result<(ImportReport, Kept), CatalogError> {
        let mut intake = Intake::new(self, options, faults, keeps);
        each_item(reader, options, |item| {
            intake.take(item)?;
            if intake.writes.len() >= options.batch.max(1) {
                intake.store()?;
            }
            if intake.report.records.is_multiple_of(PROGRESS_RECORDS) {
                on_progress(&intake.report);
            }
            Ok(())
        })?;
        intake.finish()
    }
}

/// Reads the records of an input without storing them, with the faults of those that are not read.
///
/// # Errors
/// If the input can't be read.
pub fn read_records(reader: impl Read, options: &ImportOptions) -> Result<(Vec<Record>, ImportReport), CatalogError> {
    let mut records = Vec::new();
    let mut faults = Faults::new(options);
    let mut report = ImportReport::empty(options);
    each_item(reader, options, |item| {
        report.records += 1;
        match item.record {
            Ok(record) => records.push(record),
            Err(blames) => drop(faults.add(item.line, item.number, blames)),
        }
        Ok(())
    })?;
    faults.into_report(&mut report);
    Ok((records, report))
}

fn each_item(
    reader: impl Read,
    options: &ImportOptions,
    visit: impl FnMut(Item<'_>) -> Result<(), CatalogError>,
) -> Result<(), CatalogError> {
    let mut reader = BufReader::with_capacity(1 << 18, reader);
    json::skip_byte_order_mark(&mut reader)?;
    let format = match options.format {
        Some(format) => format,
        None => format_of(&mut reader)?,
    };
    match format {
        ImportFormat::Ndjson => json::each_line(reader, visit),
        ImportFormat::Json => json::each_value(reader, visit),
        ImportFormat::Csv => rows::each_row(reader, options, visit),
    }
}

/// The form that the beginning of an input tells.
fn format_of(reader: &mut impl BufRead) -> Result<ImportFormat, CatalogError> {
    Ok(ImportFormat::of(reader.fill_buf().map_err(CatalogError::reading)?))
}

/// An import under way.
struct Intake<'a> {
    catalog: &'a Catalog,
    options: &'a ImportOptions,
    table: Option<&'a mut FaultTable>,
    /// What is to be stored with the next batch.
    writes: Vec<Write>,
    /// What is to be stored when all of it was read.
    kept: Option<Kept>,
    /// The number of the record in which an id was seen, by the hash of the id.
    seen: HashMap<u64, u64>,
    faults: Faults,
    report: ImportReport,
}

impl<'a> Intake<'a> {
    fn new(catalog: &'a Catalog, options: &'a ImportOptions, table: Option<&'a mut FaultTable>, keeps: bool) -> Self {
        Self {
            catalog,
            options,
            table,
            writes: Vec::new(),
            kept: keeps.then(Kept::default),
            seen: HashMap::new(),
            faults: Faults::new(options),
            report: ImportReport::empty(options),
        }
    }

    fn take(&mut self, item: Item<'_>) -> Result<(), CatalogError> {
        self.report.records += 1;
        let Item { line, number, record, sent } = item;
        let blames = match record {
            Ok(record) => self.judge(record, number)?,
            Err(blames) => blames,
        };
        if !blames.is_empty() {
            let faults = self.faults.add(line, number, blames);
            if let Some(table) = &mut self.table {
                table.add(sent, &faults)?;
            }
        }
        Ok(())
    }

    /// Takes a record that was read, or says what is wrong with it here.
    fn judge(&mut self, record: Record, number: u64) -> Result<Vec<fault::Blame>, CatalogError> {
        if let Some(first) = self.seen.insert(hash_of(&record), number) {
            return Ok(vec![fault::twice(&record, first)]);
        }
        let there = self.catalog.get(record.id())?;
        if let Some(blame) = fault::not_allowed(&record, there.as_ref(), &self.options.may_check) {
            return Ok(vec![blame]);
        }
        let current = there.as_ref().filter(|there| there.state == State::Current);
        match current {
            Some(current) if *current.record == record => {
                self.report.unchanged += 1;
                return Ok(Vec::new());
            }
            Some(current) => match self.options.on_same {
                OnSame::Refuse => return Ok(vec![fault::already_there(current)]),
                OnSame::Skip => {
                    self.report.skipped += 1;
                    return Ok(Vec::new());
                }
                OnSame::Replace => self.report.replaced += 1,
            },
            None => self.report.new += 1,
        }
        if let Some(kept) = &mut self.kept {
            if self.faults.is_empty() {
                kept.keep(&record, there.map(|there| there.revision))?;
            }
        } else if self.options.mode == ImportMode::Partial {
            self.writes.push(Write::put(record));
        }
        Ok(Vec::new())
    }

    fn store(&mut self) -> Result<(), CatalogError> {
        let writes = std::mem::take(&mut self.writes);
        let count = writes.len() as u64;
        if count > 0 {
            self.catalog.apply(writes, &self.options.author)?;
            self.report.stored += count;
        }
        Ok(())
    }

    fn finish(mut self) -> Result<(ImportReport, Kept), CatalogError> {
        self.store()?;
        let mut report = self.report;
        self.faults.into_report(&mut report);
        report.sequence = self.catalog.sequence();
        Ok((report, self.kept.unwrap_or_default()))
    }
}

fn hash_of(record: &Record) -> u64 {
    let mut hash = DefaultHasher::new();
    record.id().as_str().hash(&mut hash);
    hash.finish()
}
