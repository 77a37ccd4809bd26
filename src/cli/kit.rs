//! `kit`: what must lie on the bench before joints are opened.

use super::bench_options::BenchOptions;
use super::book::{BookArguments, Sheet, SheetForm};
use super::failure::Failure;
use super::output::{Form, Output};
use super::sheet::{read_joints, show};
use super::table::{Table, of_paths};

/// What must lie on the bench for some joints.
///
/// Parts to renew with their counts, fasteners to measure, sockets and drives, the fewest torque wrenches, fluids.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The joints.
    #[arg(value_name = "JOINT", required = true)]
    joints: Vec<String>,
    /// With the joints that must be opened first.
    #[arg(long)]
    way: bool,
    #[command(flatten)]
    options: BenchOptions,
}

/// Shows the kit.
///
/// # Errors
/// If the book has not all of the joints.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let sheet = Sheet::Kit { joints: read_joints(&arguments.joints)?, way: arguments.way };
    let options = arguments.options.of_kit();
    if !matches!(output.form(), Form::Csv | Form::Plain) {
        return show((&sheet, &options), book, output, None, of_paths);
    }
    let csv = book.open()?.sheet(&sheet, &options, SheetForm::Table)?;
    if output.form() == Form::Csv {
        return output.write(&csv);
    }
    output.write(Table::of_csv(&csv).to_plain().as_bytes())
}
