//! `kit`: what must lie on the bench before joints are opened.

use super::bench_options::BenchOptions;
use super::book::{BookArguments, read_id};
use super::failure::Failure;
use super::output::{Answer, Form, Output};
use super::table::Table;
use crate::card::Kit;
use crate::record::Id;
use serde::Serialize;
use serde_json::Value;

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
    let joints = arguments.joints.iter().map(|joint| read_id(joint)).collect::<Result<Vec<_>, _>>()?;
    let book = book.catalog_to_read()?;
    let (kit, missing) = book.kit(&joints, &arguments.options.of_kit())?;
    no_joint_missing(&missing)?;
    let kit = if arguments.way { book.kit(&book.way(&joints)?.open, &arguments.options.of_kit())?.0 } else { kit };
    match output.asked() {
        Some(Form::Csv) => output.write(kit.csv().as_bytes()),
        _ => output.show(&kit),
    }
}

/// Refuses ids that are no joints of the book.
///
/// # Errors
/// If there is one.
pub fn no_joint_missing(missing: &[Id]) -> Result<(), Failure> {
    if missing.is_empty() {
        return Ok(());
    }
    let missing: Vec<String> = missing.iter().map(ToString::to_string).collect();
    Err(Failure::no(Some(format!("the book has no joint {}", missing.join(" and no joint ")))))
}

impl Answer for Kit {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        let mut table = Table::new(Self::COLUMNS);
        for row in self.rows() {
            table.row(row);
        }
        table
    }
    fn for_people(&self, _width: usize) -> String {
        self.plain_text()
    }
}
