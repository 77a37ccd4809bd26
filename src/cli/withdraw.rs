//! `withdraw`: take a record back.

use super::book::{BookArguments, Which, read_id};
use super::failure::Failure;
use super::output::Output;
use super::put::Stored;
use crate::catalog::{Expected, Write};

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
    let author = book.author()?;
    let book = book.open_to_write()?;
    if book.entry(&id, Which::Last)?.is_none() {
        return Err(Failure::no(Some(super::show::not_there(&book.ids_near(&id)?, &id, Which::Last))));
    }
    let write = Write::Withdraw { id: id.clone(), expected: Expected::Any, why: Some(why) };
    let written = book.apply(vec![write], &author)?;
    output.show(&Stored(written))
}
