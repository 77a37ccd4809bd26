//! `import` and `put`: records from files into the book.

use super::book::BookArguments;
use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::{self, Table};
use crate::catalog::{Decimal, ImportMode, ImportOptions, OnSame, read_records};
use crate::record::Record;
use crate::view::IntakeView;
use serde::Serialize;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Bring records into the book from NDJSON, a JSON list or CSV; nothing is stored unless all of them are right.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The files; - for standard input.
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// Look for faults and store nothing.
    #[arg(long, conflicts_with = "partial")]
    check: bool,
    /// Store what is right, even where other records have faults.
    #[arg(long)]
    partial: bool,
    /// What to do with a record whose id the book has already, with other content.
    #[arg(long, value_name = "WHAT", default_value = "refuse")]
    on_same: Same,
    /// How decimals are written in CSV.
    #[arg(long, value_name = "SIGN", default_value = "point")]
    decimal: Sign,
    /// Write the faults to this file as CSV.
    #[arg(long, value_name = "FILE")]
    faults: Option<PathBuf>,
}

/// What to do with a record that the book has already.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Same {
    /// Call it a fault.
    Refuse,
    /// Leave the book's own.
    Skip,
    /// Store it as a new revision.
    Replace,
}

/// How decimals are written.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Sign {
    /// 8.5
    Point,
    /// 8,5
    Comma,
}

/// Imports the files, one after the other; faults are a no.
///
/// # Errors
/// If a file cannot be read, the book cannot be opened, or records have faults.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let catalog = book.open_or_create()?;
    let mut reports = Vec::new();
    for path in &arguments.files {
        let report = catalog.import(open(path)?, &arguments.options(path, book)?)?;
        for line in report.lines() {
            eprintln!("{line}");
        }
        reports.push(IntakeView::of(report));
    }
    if let Some(path) = &arguments.faults {
        let faults: Vec<_> = reports.iter().flat_map(|report| report.faults.iter()).collect();
        let written = std::fs::write(path, table::of_rows(&faults).to_csv());
        written.map_err(|error| Failure::undone(format!("{} cannot be written: {error}", path.display())))?;
    }
    let is_clean = reports.iter().all(|report| report.faults_total == 0);
    output.show(&Reports(reports))?;
    if is_clean { Ok(()) } else { Err(Failure::no(None)) }
}

impl Arguments {
    fn options(&self, path: &Path, book: &BookArguments) -> Result<ImportOptions, Failure> {
        Ok(ImportOptions {
            name: named(path),
            mode: match (self.check, self.partial) {
                (true, _) => ImportMode::Check,
                (_, true) => ImportMode::Partial,
                _ => ImportMode::Whole,
            },
            on_same: match self.on_same {
                Same::Refuse => OnSame::Refuse,
                Same::Skip => OnSame::Skip,
                Same::Replace => OnSame::Replace,
            },
            decimal: match self.decimal {
                Sign::Point => Decimal::Point,
                Sign::Comma => Decimal::Comma,
            },
            author: book.author()?,
            ..ImportOptions::default()
        })
    }
}

/// Every record of a file, for a command that stores none of them.
///
/// # Errors
/// If the file cannot be read or a record of it has faults, all of them at once.
pub fn read_file(path: &Path) -> Result<Vec<Record>, Failure> {
    let options = ImportOptions { name: named(path), ..ImportOptions::default() };
    let (records, report) = read_records(open(path)?, &options)?;
    if report.is_clean() {
        return Ok(records);
    }
    let lines: Vec<String> = report.lines().collect();
    Err(Failure::no(Some(format!("{} has faults, nothing was done:\n{}", options.name, lines.join("\n")))))
}

fn named(path: &Path) -> String {
    if path == Path::new("-") { "standard input".to_owned() } else { path.display().to_string() }
}

fn open(path: &Path) -> Result<Box<dyn Read>, Failure> {
    if path == Path::new("-") {
        return Ok(Box::new(std::io::stdin()));
    }
    match File::open(path) {
        Ok(file) => Ok(Box::new(file)),
        Err(error) => Err(Failure::undone(format!("{} cannot be read: {error}", path.display()))),
    }
}

/// What became of each file.
struct Reports(Vec<IntakeView>);

impl Answer for Reports {
    fn json(&self) -> impl Serialize {
        match self.0.as_slice() {
            [one] => serde_json::to_value(one).unwrap_or_default(),
            many => serde_json::json!({ "items": many }),
        }
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.0.iter().filter_map(|report| serde_json::to_value(report).ok()).collect()
    }
    fn table(&self) -> Table {
        let mut table = Table::new(["file", "records", "stored", "new", "replaced", "unchanged", "skipped", "faults"]);
        for report in &self.0 {
            let counts = [
                report.records,
                report.stored,
                report.new,
                report.replaced,
                report.unchanged,
                report.skipped,
                report.faults_total,
            ];
            table.row(std::iter::once(report.name.clone()).chain(counts.iter().map(u64::to_string)));
        }
        table
    }
}
