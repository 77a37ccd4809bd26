//! `label`: a small label for the machine itself.

use super::book::{BookArguments, Sheet};
use super::failure::Failure;
use super::output::Output;
use super::sheet::{read_joints, show};
use super::table::of_members;
use crate::card::{CardOptions, LabelInput};
use std::path::PathBuf;

/// A label for the machine: what was renewed, when, next due.
///
/// What is not given is a line to write on.
#[derive(Debug, Clone, clap::Args)]
pub struct Arguments {
    /// The joints that were opened.
    #[arg(value_name = "JOINT", required = true)]
    joints: Vec<String>,
    /// Write the label to this file as HTML, 90 × 55 mm on paper.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// The day of the work.
    #[arg(long, value_name = "DAY")]
    date: Option<String>,
    /// Hours or distance at the work, with the unit.
    #[arg(long, value_name = "TEXT")]
    reading: Option<String>,
    /// When it is next due.
    #[arg(long, value_name = "TEXT")]
    next_due: Option<String>,
    /// Only what fits this variant of the machine.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
}

/// Shows the label, or writes it to a file.
///
/// # Errors
/// If the book has not all of the joints, or the file cannot be written.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let Arguments { date, reading, next_due, variant, .. } = arguments.clone();
    let input = LabelInput { date, reading, next_due, variant: variant.clone() };
    let sheet = Sheet::Label(read_joints(&arguments.joints)?, input);
    let options = CardOptions { variant, ..CardOptions::default() };
    show((&sheet, &options), book, output, arguments.output.as_deref(), of_members)
}
