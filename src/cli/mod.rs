//! The command line: one file a command, one definition for arguments, help, completions and man pages.
//!
//! A command reads its arguments, asks the book or the pure core once, and shows the answer. Results go to
//! standard output, everything else to standard error.

mod amend;
mod at;
mod audit;
mod backup;
mod bench_options;
mod book;
mod card;
mod class;
mod completions;
mod convert;
mod demo;
mod entries;
mod explain;
mod export;
mod failure;
mod find;
mod findings;
mod findings_as_they_come;
mod help;
mod import;
mod kit;
mod label;
mod layout;
mod log;
mod man;
mod markdown;
mod openapi;
mod output;
mod progress;
mod put;
mod said;
mod serve;
mod sheet;
mod show;
mod store;
mod table;
mod tables;
mod terminal;
mod thread;
mod tighten;
mod tighten_view;
mod token;
mod torque_range;
mod verify;
mod way;
mod whole_file;
mod withdraw;
mod words;

use clap::{FromArgMatches, Parser, Subcommand};
use failure::Failure;
use output::{Form, Output};
use std::process::ExitCode;

pub use help::command;

/// A book of fastener specifications that checks every number it takes in.
#[derive(Debug, Parser)]
#[command(name = "clampbook", version)]
pub struct CommandLine {
    /// The form of the result: table (on a terminal), plain (tabs; in a pipe), json, ndjson or csv.
    #[arg(long = "as", global = true, value_name = "FORM", help_heading = EVERYWHERE, hide_possible_values = true)]
    form: Option<Form>,
    #[command(flatten)]
    book: book::BookArguments,
    #[command(subcommand)]
    verb: Option<Verb>,
}

/// The heading of options that every verb has.
const EVERYWHERE: &str = "Options of every command";

/// What is said wherever numbers are shown to people.
pub const CAUTION: &str = "Fasteners that are tightened wrongly hurt people. The maker's current instructions, local codes and \
licensed practice come before this book. The audit says what a number was compared with, never that it is right.";

#[derive(Debug, Subcommand)]
enum Verb {
    Demo(demo::Arguments),
    Find(Box<find::Arguments>),
    Show(show::Arguments),
    At(at::Arguments),
    Card(card::Arguments),
    Kit(kit::Arguments),
    Way(way::Arguments),
    Label(label::Arguments),
    Audit(audit::Arguments),
    Explain(explain::Arguments),
    Put(put::Arguments),
    Amend(amend::Arguments),
    Withdraw(withdraw::Arguments),
    Import(import::Arguments),
    Export(export::Arguments),
    Log(log::Arguments),
    Backup(backup::Arguments),
    Restore(backup::RestoreArguments),
    Verify(verify::Arguments),
    Compact(verify::CompactArguments),
    Thread(thread::Arguments),
    Class(class::Arguments),
    Tighten(Box<tighten::Arguments>),
    Convert(convert::Arguments),
    Tables(tables::Arguments),
    Serve(Box<serve::Arguments>),
    Token(token::Arguments),
    Store(store::Arguments),
    Openapi(openapi::Arguments),
    Completions(completions::Arguments),
    Man(man::Arguments),
}

/// Runs the command line of this process.
#[must_use]
pub fn run() -> ExitCode {
    terminal::heed_dumb();
    let line = match CommandLine::from_arg_matches(&command().get_matches()) {
        Ok(line) => line,
        Err(error) => error.exit(),
    };
    let output = Output::new(line.form);
    let Some(verb) = line.verb else {
        eprint!("{}", command().render_help());
        return ExitCode::from(2);
    };
    match dispatch(verb, &line.book, &output) {
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
        Verb::Card(arguments) => card::run(&arguments, book, output),
        Verb::Kit(arguments) => kit::run(&arguments, book, output),
        Verb::Way(arguments) => way::run(&arguments, book, output),
        Verb::Label(arguments) => label::run(&arguments, book, output),
        Verb::Audit(arguments) => audit::run(&arguments, book, output),
        Verb::Explain(arguments) => explain::run(&arguments, output),
        Verb::Put(arguments) => put::run(&arguments, book, output),
        Verb::Amend(arguments) => amend::run(&arguments, book, output),
        Verb::Withdraw(arguments) => withdraw::run(&arguments, book, output),
        Verb::Import(arguments) => import::run(&arguments, book, output),
        Verb::Export(arguments) => export::run(&arguments, book, output),
        Verb::Log(arguments) => log::run(&arguments, book, output),
        Verb::Backup(arguments) => backup::run(&arguments, book, output),
        Verb::Restore(arguments) => backup::restore(&arguments, book, output),
        Verb::Verify(arguments) => verify::run(&arguments, book, output),
        Verb::Compact(arguments) => verify::compact(&arguments, book, output),
        Verb::Thread(arguments) => thread::run(&arguments, output),
        Verb::Class(arguments) => class::run(&arguments, output),
        Verb::Tighten(arguments) => tighten::run(&arguments, output),
        Verb::Convert(arguments) => convert::run(&arguments, output),
        Verb::Tables(arguments) => tables::run(&arguments, output),
        Verb::Serve(arguments) => serve::run(&arguments, book, output),
        Verb::Store(arguments) => store::run(&arguments, book, output),
        Verb::Token(arguments) => token::run(&arguments, book, output),
        Verb::Openapi(arguments) => openapi::run(&arguments, output),
        Verb::Completions(arguments) => completions::run(&arguments, output),
        Verb::Man(arguments) => man::run(&arguments, output),
    }
}
