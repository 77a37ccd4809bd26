//! Showing a sheet, or writing it to a file: what `card`, `way`, `label` and `kit` have in common.

use super::book::{BookArguments, Sheet, SheetForm};
use super::failure::Failure;
use super::output::{Answer, Form, Output};
use super::said::Said;
use super::table::Table;
use super::whole_file::write_bytes;
use crate::card::CardOptions;
use crate::record::Id;
use serde::Serialize;
use serde_json::Value;
use std::path::Path;

/// Shows a sheet in the form asked for, or writes its page to a file. `table` makes rows of its data.
///
/// # Errors
/// If the book has not all of the joints, or the file can't be written.
pub fn show(
    (sheet, options): (&Sheet, &CardOptions),
    book: &BookArguments,
    output: &Output,
    file: Option<&Path>,
    table: fn(&Value) -> Table,
) -> Result<(), Failure> {
    let book = book.open()?;
    if let Some(path) = file {
        return write_bytes(path, &book.sheet(sheet, options, SheetForm::Page)?);
    }
    if output.form() == Form::Table {
        let text = book.sheet(sheet, options, SheetForm::Text)?;
        return output.text(&String::from_utf8_lossy(&text));
    }
    let foreign = || Failure::undone("what answers there does not speak as this program does. Is the address right?");
    let said = Said::of_bytes(book.sheet(sheet, options, SheetForm::Json)?).ok_or_else(foreign)?;
    output.show(&Shown { said, table })
}

/// The ids that were given on the command line.
///
/// # Errors
/// If one is none.
pub fn read_joints(joints: &[String]) -> Result<Vec<Id>, Failure> {
    joints.iter().map(|joint| super::book::read_id(joint)).collect()
}

/// The data of a sheet.
struct Shown {
    said: Said,
    table: fn(&Value) -> Table,
}

impl Answer for Shown {
    fn json(&self) -> impl Serialize {
        self.said.value()
    }
    fn json_bytes(&self) -> Vec<u8> {
        self.said.bytes()
    }
    fn lines(&self) -> Vec<Value> {
        vec![self.said.value().clone()]
    }
    fn table(&self) -> Table {
        (self.table)(self.said.value())
    }
}
