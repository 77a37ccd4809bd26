//! `import`: records from files into the book.

use super::book::{BookArguments, When};
use super::failure::Failure;
use super::output::{Answer, Output};
use super::progress::Progress;
use super::said::{Said, count, list, text};
use super::table::{self, Table};
use super::whole_file::write_bytes;
use crate::catalog::{Decimal, ImportMode, ImportOptions, OnSame, read_records};
use crate::record::Record;
use serde::Serialize;
use serde_json::Value;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Bring records into the book from files.
///
/// From NDJSON, a JSON list or CSV. Nothing of a file is stored unless all of it is right; --check only looks,
/// --partial stores what is right. Every fault of every line is told. Where it is most of the book, the book is audited, so
/// that who looks at it next need not wait; "clampbook audit" tells the findings.
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
    /// What to do with a record whose id the book has with other content: refuse, skip or replace.
    #[arg(long, value_name = "WHAT", default_value = "refuse", hide_possible_values = true)]
    on_same: Same,
    /// How decimals are written in CSV: point or comma.
    #[arg(long, value_name = "SIGN", default_value = "point", hide_possible_values = true)]
    decimal: Sign,
    /// When a batch of records counts as stored: always (each survives a loss of power) or batch (all at the end).
    #[arg(long, value_name = "WHEN", default_value = "always", hide_possible_values = true)]
    sync: When,
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
    // A file that cannot be read must not leave an empty book behind, nor half of the files imported.
    let inputs: Vec<_> = arguments.files.iter().map(|path| open(path)).collect::<Result<_, _>>()?;
    let author = book.author()?;
    let book = book.open_or_create_to(arguments.sync)?;
    let (mut reports, mut written, mut progress) = (Vec::new(), 0, Progress::new("importing".to_owned()));
    for (path, input) in arguments.files.iter().zip(inputs) {
        let options = ImportOptions { author: author.clone(), ..arguments.options(path) };
        let of = format!("records of {}", options.name);
        let said = book.import(input, &options, |report| progress.show(report.records, &of))?;
        if arguments.sync == When::Batch {
            book.sync()?;
        }
        progress.clear();
        written += count(said.value(), "stored");
        for line in fault_lines(&said) {
            eprintln!("{line}");
        }
        reports.push(said);
    }
    if let Some(path) = &arguments.faults {
        let faults: Vec<&Value> = reports.iter().flat_map(|report| list(report.value(), "faults")).collect();
        write_bytes(path, table::of_rows(&faults).to_csv().as_bytes())?;
    }
    let is_clean = reports.iter().all(|report| count(report.value(), "faults_total") == 0);
    output.show(&Reports(reports))?;
    // Last: what was stored is told even if this takes long or is broken off.
    progress.show(written, "records are in the book and are audited");
    book.audit_imported(written)?;
    progress.clear();
    if is_clean { Ok(()) } else { Err(Failure::no(None)) }
}

/// The faults of an input as lines: `parts.csv:17: torque "95" has no unit. Write 95 N·m.`
fn fault_lines(report: &Said) -> Vec<String> {
    let name = text(report.value(), "name");
    let faults = list(report.value(), "faults");
    let mut lines: Vec<String> = faults.iter().map(|fault| format!("{name}:{}", fault_line(fault))).collect();
    let total = usize::try_from(count(report.value(), "faults_total")).unwrap_or(usize::MAX);
    if total > faults.len() {
        lines.push(format!("{name}: {} more faults are not shown", total - faults.len()));
    }
    lines
}

/// One fault with its line and its place.
fn fault_line(fault: &Value) -> String {
    let place = match (text(fault, "column"), text(fault, "pointer")) {
        _ if text(fault, "code") == "no-unit" => String::new(),
        ("", "") => String::new(),
        ("", pointer) => format!("{pointer}: "),
        (column, _) => format!("{column}: "),
    };
    let hint = match in_options(text(fault, "hint")) {
        hint if hint.is_empty() => hint,
        question if question.starts_with("Did you mean") => format!(" {question}?"),
        hint => format!(" {hint}."),
    };
    format!("{}: {place}{}.{hint}", count(fault, "line"), text(fault, "detail"))
}

/// A hint in the words of this command line.
fn in_options(hint: &str) -> String {
    hint.replace("Import with on_same replace or skip", "Import with --on-same replace or --on-same skip")
        .replace("say that the decimal sign is a comma", "say --decimal comma")
        .replace("leave the decimal sign at the point", "leave out --decimal comma")
}

impl Arguments {
    fn options(&self, path: &Path) -> ImportOptions {
        ImportOptions {
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
            ..ImportOptions::default()
        }
    }
}

/// Every record of a file, for a command that stores none of them.
///
/// # Errors
/// If the file cannot be read or a record of it has faults, all of them at once.
pub fn read_file(path: &Path) -> Result<Vec<Record>, Failure> {
    let options = ImportOptions { name: named(path), ..ImportOptions::default() };
    let (records, report) = read_records(open(path)?, &options)?;
    if report.is_clean() && !records.is_empty() {
        return Ok(records);
    }
    if report.is_clean() {
        return Err(Failure::no(Some(format!("{} holds no record", options.name))));
    }
    let said = Said::of(&crate::view::IntakeView::of(report));
    Err(Failure::no(Some(format!("{} has faults, nothing was done:\n{}", options.name, fault_lines(&said).join("\n")))))
}

fn named(path: &Path) -> String {
    if path == Path::new("-") { "standard input".to_owned() } else { path.display().to_string() }
}

/// Opens an input: a file, or standard input for `-`.
fn open(path: &Path) -> Result<Box<dyn Read>, Failure> {
    if path == Path::new("-") {
        return Ok(Box::new(std::io::stdin()));
    }
    let unread =
        |reason: &dyn std::fmt::Display| Failure::undone(format!("{} cannot be read: {reason}", path.display()));
    let file = File::open(path).map_err(|error| unread(&error))?;
    if file.metadata().is_ok_and(|about| about.is_dir()) {
        return Err(unread(&"it is a folder. Name the files in it"));
    }
    Ok(Box::new(file))
}

/// What became of each file.
struct Reports(Vec<Said>);

impl Answer for Reports {
    fn json(&self) -> impl Serialize {
        serde_json::json!({ "items": self.lines() })
    }
    fn json_bytes(&self) -> Vec<u8> {
        match self.0.as_slice() {
            [one] => one.bytes(),
            _ => crate::answer::json_bytes(&self.json()),
        }
    }
    fn lines(&self) -> Vec<Value> {
        self.0.iter().map(|report| report.value().clone()).collect()
    }
    fn table(&self) -> Table {
        let counts = ["records", "stored", "new", "replaced", "unchanged", "skipped"];
        let mut table = Table::new(std::iter::once("file").chain(counts).chain(["faults"]));
        for report in &self.0 {
            let value = report.value();
            let numbers = counts.iter().copied().chain(["faults_total"]).map(|name| count(value, name).to_string());
            table.row(std::iter::once(text(value, "name").to_owned()).chain(numbers));
        }
        table
    }
}
