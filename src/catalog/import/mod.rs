//! Taking records in from NDJSON, a JSON array, or CSV: all faults of all lines, each with its place.
//!
//! Reading is streamed: at no time is more than one record of the input held, except for what a *whole* import
//! keeps until it knows that there is no fault. Good records are stored in batches.

mod fault;
mod json;
mod rows;

pub use fault::{ImportReport, LineFault};

use super::{Author, Catalog, CatalogError, Write};
use crate::query::{State, Stored};
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
            batch: 1000,
            faults_max: 10_000,
        }
    }
}

/// After how many records an import tells how far it is.
const PROGRESS_RECORDS: u64 = 500;

/// Where a record of the input stands, and what it is.
struct Item {
    /// The physical line on which it begins, from 1.
    line: u64,
    /// Its number, from 1; a heading does not count.
    number: u64,
    /// The record, or its faults with the columns they are in.
    record: Result<Record, Vec<fault::Blame>>,
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
        mut on_progress: impl FnMut(&ImportReport),
    ) -> Result<ImportReport, CatalogError> {
        let mut intake = Intake::new(self, options);
        each_item(reader, options, |item| {
            intake.take(item)?;
            if options.mode == ImportMode::Partial && intake.writes.len() >= options.batch.max(1) {
                intake.store()?;
            }
            if intake.report.records.is_multiple_of(PROGRESS_RECORDS) {
                on_progress(&intake.report);
            }
            Ok(())
        })?;
        let report = intake.finish()?;
        on_progress(&report);
        Ok(report)
    }
}

/// Reads the records of an input without storing them, with the faults of those that are not read.
///
/// # Errors
/// If the input can't be read.
pub fn read_records(reader: impl Read, options: &ImportOptions) -> Result<(Vec<Record>, ImportReport), CatalogError> {
    let mut records = Vec::new();
    let mut faults = Faults::new(options);
    let mut report = ImportReport::new(options);
    each_item(reader, options, |item| {
        report.records += 1;
        match item.record {
            Ok(record) => records.push(record),
            Err(blames) => faults.add(item.line, item.number, blames),
        }
        Ok(())
    })?;
    faults.into_report(&mut report);
    Ok((records, report))
}

fn each_item(
    reader: impl Read,
    options: &ImportOptions,
    visit: impl FnMut(Item) -> Result<(), CatalogError>,
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
    let start = reader.fill_buf().map_err(CatalogError::reading)?;
    let text = start.trim_ascii_start();
    Ok(match text.first() {
        Some(b'[') => ImportFormat::Json,
        Some(b'{') => {
            let line = text.split(|byte| *byte == b'\n').next().unwrap_or_default();
            if serde_json::from_slice::<serde::de::IgnoredAny>(line).is_ok() {
                ImportFormat::Ndjson
            } else {
                ImportFormat::Json
            }
        }
        _ => ImportFormat::Csv,
    })
}

/// An import under way.
struct Intake<'a> {
    catalog: &'a Catalog,
    options: &'a ImportOptions,
    writes: Vec<Write>,
    /// The number of the record in which an id was seen, by the hash of the id.
    seen: HashMap<u64, u64>,
    faults: Faults,
    report: ImportReport,
}

impl<'a> Intake<'a> {
    fn new(catalog: &'a Catalog, options: &'a ImportOptions) -> Self {
        Self {
            catalog,
            options,
            writes: Vec::new(),
            seen: HashMap::new(),
            faults: Faults::new(options),
            report: ImportReport::new(options),
        }
    }

    fn take(&mut self, item: Item) -> Result<(), CatalogError> {
        self.report.records += 1;
        let Item { line, number, record } = item;
        let record = match record {
            Ok(record) => record,
            Err(blames) => {
                self.faults.add(line, number, blames);
                return Ok(());
            }
        };
        if let Some(first) = self.seen.insert(hash_of(&record), number) {
            self.faults.add(line, number, vec![fault::twice(&record, first)]);
            return Ok(());
        }
        let there = self.catalog.get(record.id())?;
        let fate = match there.filter(|there| there.state == State::Current) {
            None => Fate::Store,
            Some(there) if *there.record == record => Fate::Keep,
            Some(there) => match self.options.on_same {
                OnSame::Skip => Fate::Skip,
                OnSame::Replace => Fate::Replace,
                OnSame::Refuse => Fate::Refuse(Box::new(there)),
            },
        };
        match fate {
            Fate::Keep => self.report.unchanged += 1,
            Fate::Skip => self.report.skipped += 1,
            Fate::Refuse(there) => self.faults.add(line, number, vec![fault::already_there(&there)]),
            Fate::Replace => {
                self.report.replaced += 1;
                self.writes.push(Write::put(record));
            }
            Fate::Store => {
                self.report.new += 1;
                self.writes.push(Write::put(record));
            }
        }
        Ok(())
    }

    fn store(&mut self) -> Result<(), CatalogError> {
        let writes = std::mem::take(&mut self.writes);
        let count = writes.len() as u64;
        if count > 0 {
            self.catalog.apply(writes, &self.options.author)?;
            self.report.stored += count;
        }
        self.report.sequence = self.catalog.sequence();
        Ok(())
    }

    fn finish(mut self) -> Result<ImportReport, CatalogError> {
        let stores = match self.options.mode {
            ImportMode::Check => false,
            ImportMode::Whole => self.faults.is_empty(),
            ImportMode::Partial => true,
        };
        if stores {
            self.store()?;
            self.catalog.sync()?;
        }
        let mut report = self.report;
        self.faults.into_report(&mut report);
        report.sequence = self.catalog.sequence();
        Ok(report)
    }
}

enum Fate {
    Store,
    Keep,
    Skip,
    Replace,
    Refuse(Box<Stored>),
}

fn hash_of(record: &Record) -> u64 {
    let mut hash = DefaultHasher::new();
    record.id().as_str().hash(&mut hash);
    hash.finish()
}
