//! The command line: one file a command, one definition for arguments, help, completions and man pages.
//!
//! A command reads its arguments, asks the catalog or the pure core once, and shows the answer. Results go to
//! standard output, everything else to standard error.

mod at;
mod audit;
mod book;
mod class;
mod convert;
mod demo;
mod explain;
mod export;
mod failure;
mod find;
mod import;
mod log;
mod openapi;
mod output;
mod put;
mod serve;
mod show;
mod table;
mod tables;
mod thread;
mod tighten;
mod tighten_view;
mod withdraw;

use clap::{Parser, Subcommand};
use failure::Failure;
use output::{Form, Output};
use std::process::ExitCode;

/// A book of fastener specifications that checks every number it takes in.
#[derive(Debug, Parser)]
#[command(name = "clampbook", version, propagate_version = true, arg_required_else_help = true)]
#[command(after_help = CAUTION)]
pub struct CommandLine {
    /// The form of the result: table on a terminal and plain in a pipe unless said otherwise.
    #[arg(long = "as", global = true, value_name = "FORM")]
    form: Option<Form>,
    #[command(flatten)]
    book: book::BookArguments,
    #[command(subcommand)]
    verb: Verb,
}

/// What is said wherever numbers are shown to people.
pub const CAUTION: &str = "Fasteners that are tightened wrongly hurt people. The maker's current instructions, local codes and \
licensed practice come before this book. The audit says what a number was compared with, never that it is right.";

#[derive(Debug, Subcommand)]
enum Verb {
    Demo(demo::Arguments),
    Find(Box<find::Arguments>),
    Show(show::Arguments),
    At(at::Arguments),
    Audit(audit::Arguments),
    Put(put::Arguments),
    Withdraw(withdraw::Arguments),
    Import(import::Arguments),
    Export(export::Arguments),
    Log(log::Arguments),
    Thread(thread::Arguments),
    Tighten(Box<tighten::Arguments>),
    Class(class::Arguments),
    Convert(convert::Arguments),
    Explain(explain::Arguments),
    Tables(tables::Arguments),
    Serve(serve::Arguments),
    Openapi(openapi::Arguments),
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    let line = CommandLine::parse();
    let output = Output::new(line.form);
    match dispatch(line.verb, &line.book, &output) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => failure.report(),
    }
}

fn dispatch(verb: Verb, book: &book::BookArguments, output: &Output) -> Result<(), Failure> {
    match verb {
        Verb::Demo(arguments) => demo::run(&arguments, output),
        Verb::Find(arguments) => find::run(&arguments, book, output),
        Verb::Show(arguments) => show::run(&arguments, book, output),
        Verb::At(arguments) => at::run(&arguments, book, output),
        Verb::Audit(arguments) => audit::run(&arguments, book, output),
        Verb::Put(arguments) => put::run(&arguments, book, output),
        Verb::Withdraw(arguments) => withdraw::run(&arguments, book, output),
        Verb::Import(arguments) => import::run(&arguments, book, output),
        Verb::Log(arguments) => log::run(&arguments, book, output),
        Verb::Export(arguments) => export::run(&arguments, book),
        Verb::Thread(arguments) => thread::run(&arguments, output),
        Verb::Tighten(arguments) => tighten::run(&arguments, output),
        Verb::Class(arguments) => class::run(&arguments, output),
        Verb::Convert(arguments) => convert::run(&arguments, output),
        Verb::Explain(arguments) => explain::run(&arguments, output),
        Verb::Tables(arguments) => tables::run(&arguments, output),
        Verb::Serve(arguments) => serve::run(&arguments, book, output),
        Verb::Openapi(arguments) => openapi::run(&arguments, output),
    }
}
