//! `export`: the records in force, to be read elsewhere or imported again.

use super::book::BookArguments;
use super::failure::Failure;
use crate::catalog::ExportFormat;
use crate::record::Kind;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// Write out every record in force; imported again it gives the same book.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Only joints, or only fasteners.
    #[arg(long, value_name = "KIND", value_parser = ["joint", "fastener"])]
    kind: Option<String>,
    /// The format.
    #[arg(long, value_name = "FORMAT", default_value = "ndjson")]
    format: Format,
    /// The file; without it, standard output. It appears when it is whole.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// The format of an export.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Format {
    /// One JSON object a line.
    Ndjson,
    /// RFC 4180.
    Csv,
}

/// Writes the records out.
///
/// # Errors
/// If the book or the file cannot be used.
pub fn run(arguments: &Arguments, book: &BookArguments) -> Result<(), Failure> {
    let catalog = book.open()?;
    let kind = arguments.kind.as_ref().map(|kind| kind.parse::<Kind>()).transpose().map_err(Failure::usage)?;
    let format = match arguments.format {
        Format::Ndjson => ExportFormat::Ndjson,
        Format::Csv => ExportFormat::Csv,
    };
    let Some(path) = &arguments.output else {
        let mut out = BufWriter::new(std::io::stdout().lock());
        catalog.export(kind, format, &mut out)?;
        return out.flush().map_err(|error| Failure::of_output(&error));
    };
    let written = |error: std::io::Error| Failure::undone(format!("{} cannot be written: {error}", path.display()));
    let unfinished = beside(path);
    let mut out = BufWriter::new(std::fs::File::create(&unfinished).map_err(written)?);
    let exported = catalog.export(kind, format, &mut out)?;
    out.into_inner().map_err(|error| written(error.into_error()))?.sync_all().map_err(written)?;
    std::fs::rename(&unfinished, path).map_err(written)?;
    eprintln!("{} records written to {}", exported.records, path.display());
    Ok(())
}

/// Where the file grows until it is whole.
fn beside(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(".unfinished");
    path.with_file_name(name)
}
