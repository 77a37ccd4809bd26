//! Taking records in from NDJSON, a JSON array, or CSV: all faults of all lines, each with its place.
//!
//! Reading is streamed: at no time are more than some hundred records of the input held. What a *whole* import keeps
//! until it knows that there is no fault lies in a file when it is more than a little. Good records are stored in batches.

mod ahead;
mod fault;
mod fault_table;
mod json;
mod kept;
mod rows;

pub use fault::{ImportReport, LineFault};
pub use fault_table::FaultTable;
pub use kept::Kept;

use super::{Author, Catalog, CatalogError, Write};
use crate::query::State;
use crate::record::Record;
use fault::Faults;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::io::{BufRead, BufReader, Read};

/// The form of what is taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ImportFormat {
    /// One JSON object a line.
    Ndjson,
    /// A JSON array of objects, or objects one after the other.
    Json,
    /// A table whose first row names the columns of [`super::COLUMNS`].
    Csv,
}

/// What happens to good records when others have faults.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ImportMode {
    /// Nothing is stored; the report says what [`ImportMode::Whole`] would do.
    Check,
    /// All are stored, or none if there is a fault.
    #[default]
    Whole,
    /// The good ones are stored.
    Partial,
}

/// What happens to a record whose id stands in the book with another content.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum OnSame {
    /// It is a fault.
    #[default]
    Refuse,
    /// The book keeps what it has.
    Skip,
    /// It becomes a new revision.
    Replace,
}

/// Who may say in an input that a record was compared with its source.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum MayCheck {
    /// Whoever brings it in: the input is believed.
    #[default]
    Everybody,
    /// Nobody: that is a fault.
    Nobody,
    /// Somebody of this name, where another one stored what is in the book.
    Another(String),
}

/// The decimal sign of a table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Decimal {
    /// `8.5`; a comma between digits is a fault, because it may part thousands.
    #[default]
    Point,
    /// `8,5`; a point between digits is a fault for the same reason.
    Comma,
}

/// How something is taken in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ImportOptions {
    /// What it is called in messages, such as `parts.csv`.
    pub name: String,
    /// Its form; absent means that its first character tells.
    pub format: Option<ImportFormat>,
    /// What happens to good records when others have faults.
    pub mode: ImportMode,
    /// What happens to a record that the book has with another content.
    pub on_same: OnSame,
    /// What parts the cells of a table; absent means a comma, or a semicolon if the first row has more of those.
    pub delimiter: Option<u8>,
    /// The decimal sign of a table.
    pub decimal: Decimal,
    /// Who stores it.
    pub author: Author,
    /// Who may say that records were checked.
    pub may_check: MayCheck,
    /// How many records go into one batch when batches may be parted.
    pub batch: usize,
    /// How many faults are kept; the others are only counted.
    pub faults_max: usize,
}

impl Default for ImportOptions {
    fn default() -> Self {
        Self {
            name: "input".to_owned(),
            format: None,
            mode: ImportMode::default(),
            on_same: OnSame::default(),
            delimiter: None,
            decimal: Decimal::default(),
            author: Author::unknown(),
            may_check: MayCheck::default(),
            batch: 4096,
            faults_max: 10_000,
        }
    }
}

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

impl ImportFormat {
    /// The form that the beginning of an input tells.
    #[must_use]
    pub fn of(start: &[u8]) -> Self {
        let text = start.trim_ascii_start();
        match text.first() {
            Some(b'[') => Self::Json,
            Some(b'{') => {
                let line = text.split(|byte| *byte == b'\n').next().unwrap_or_default();
                let is_whole = serde_json::from_slice::<serde::de::IgnoredAny>(line).is_ok();
                if is_whole { Self::Ndjson } else { Self::Json }
            }
            _ => Self::Csv,
        }
    }
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
