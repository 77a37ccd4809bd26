//! `export`: the records in force, to be read elsewhere or imported again.

use super::book::BookArguments;
use super::failure::Failure;
use super::output::{Form, Output};
use super::whole_file::write_whole;
use crate::catalog::ExportFormat;
use crate::record::Kind;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

/// Write out every record in force.
///
/// Imported again it gives the same book. The form is NDJSON, or CSV with --as csv or a file that ends in .csv.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Only joints, or only fasteners.
    #[arg(long, value_name = "KIND", value_parser = ["joint", "fastener"], hide_possible_values = true)]
    kind: Option<String>,
    /// The file; without it, or with -, standard output. A file appears when it is whole.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// Writes the records out.
///
/// # Errors
/// If the book or the file cannot be used.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let kind = arguments.kind.as_ref().map(|kind| kind.parse::<Kind>()).transpose().map_err(Failure::usage)?;
    let file = arguments.output.as_deref().filter(|path| *path != Path::new("-"));
    let format = format(output.asked(), file)?;
    let book = book.open()?;
    let Some(path) = file else {
        let mut out = BufWriter::new(std::io::stdout().lock());
        return book.export(kind, format, &mut out).map(|_| ());
    };
    let records = write_whole(path, |out| book.export(kind, format, out))?;
    eprintln!("{} records written to {}", records, path.display());
    Ok(())
}

fn format(asked: Option<Form>, file: Option<&Path>) -> Result<ExportFormat, Failure> {
    let ends_in_csv = file.and_then(Path::extension).is_some_and(|ending| ending.eq_ignore_ascii_case("csv"));
    match asked {
        None if ends_in_csv => Ok(ExportFormat::Csv),
        None | Some(Form::Ndjson) => Ok(ExportFormat::Ndjson),
        Some(Form::Csv) => Ok(ExportFormat::Csv),
        Some(_) => Err(Failure::usage("an export is --as ndjson or --as csv")),
    }
}
