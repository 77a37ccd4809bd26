//! `withdraw`: take a record back.

use super::book::{BookArguments, read_id};
use super::failure::Failure;
use super::output::Output;
use super::put::Stored;
use crate::catalog::Expected;
use crate::record::Id;
use crate::view::Written;

/// Take a record back.
///
/// It stays readable, since printed cards point at it.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The record.
    #[arg(value_name = "ID")]
    id: String,
    /// Why.
    #[arg(long, value_name = "TEXT")]
    why: String,
}

/// Withdraws the record.
///
/// # Errors
/// If it is not in the book.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let id = read_id(&arguments.id)?;
    let why = arguments.why.parse().map_err(|reason| Failure::usage(format!("--why: {reason}")))?;
    let put = book.open()?.withdraw(&id, Expected::Any, Some(why), &book.author()?)?;
    output.show(&Stored(vec![Written::of(id.to_string(), &put)]))
}
