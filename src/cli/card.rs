//! `card`: the bench card of a joint.

use super::bench_options::{BenchOptions, StepOption};
use super::book::{BookArguments, Sheet, read_id};
use super::failure::Failure;
use super::output::Output;
use super::said::{count, list, text};
use super::sheet::show;
use super::table::Table;
use crate::card::CardOptions;
use crate::card::bench_card::ActionKind;
use crate::query::Moment;
use serde_json::Value;
use std::path::PathBuf;

/// The bench card of a joint.
///
/// One page: cautions, what to prepare and renew, the fasteners with their heads, the passes with boxes to tick.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The joint.
    #[arg(value_name = "JOINT")]
    joint: String,
    /// Write the card to this file as HTML that needs no other file; it prints on A4 and Letter.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    #[command(flatten)]
    options: BenchOptions,
    #[command(flatten)]
    step: StepOption,
    /// The card of the joint as it was at this moment: 2026-03-01, 2026-03-01T08:00:00Z. It says so.
    #[arg(long = "as-of", value_name = "TIME")]
    as_of: Option<Moment>,
}

/// Shows the card, or writes it to a file.
///
/// # Errors
/// If the book has no such joint, or the file cannot be written.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let sheet = Sheet::Card(read_id(&arguments.joint)?);
    let as_of = arguments.as_of.map(|Moment(moment)| moment);
    let options = CardOptions { as_of, ..arguments.options.of_card(&arguments.step) };
    show((&sheet, &options), book, output, arguments.output.as_deref(), table)
}

/// What is done in each pass to each kind of fastener.
fn table(card: &Value) -> Table {
    let mut table = Table::new(["pass", "fastener", "head", "stage"]);
    for pass in list(card, "passes") {
        for cell in list(pass, "cells") {
            let letter = text(cell, "letter");
            let fastener = list(card, "fasteners").iter().find(|fastener| text(fastener, "letter") == letter);
            let of_fastener = |name| fastener.map_or("", |fastener| text(fastener, name)).to_owned();
            let actions: Vec<String> = list(cell, "actions").iter().map(action).collect();
            let number = count(pass, "number").to_string();
            table.row([number, of_fastener("id"), of_fastener("head_words"), actions.join(", then ")]);
        }
    }
    table
}

/// An action as it stands on the card.
fn action(action: &Value) -> String {
    let amount = action.pointer("/amount/stated").and_then(Value::as_str).unwrap_or_default();
    match ActionKind::named(text(action, "what")) {
        Some(what) => what.words(amount),
        None => format!("{} {amount}", text(action, "what")),
    }
}
