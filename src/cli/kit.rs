//! `kit`: what must lie on the bench before joints are opened.

use super::book::{BookArguments, read_id};
use super::failure::Failure;
use super::output::{Answer, Form, Output};
use super::table::Table;
use crate::card::{Kit, KitOptions};
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
    /// Only what fits this variant of the machine.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
}

/// Shows the kit.
///
/// # Errors
/// If the book has not all of the joints.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let joints = arguments.joints.iter().map(|joint| read_id(joint)).collect::<Result<Vec<_>, _>>()?;
    let options = KitOptions { variant: arguments.variant.clone(), ..KitOptions::default() };
    let (kit, missing) = book.catalog_to_read()?.kit(&joints, &options)?;
    if !missing.is_empty() {
        let missing: Vec<String> = missing.iter().map(ToString::to_string).collect();
        return Err(Failure::no(Some(format!("the book has no joint {}", missing.join(" and no joint ")))));
    }
    match output.asked() {
        Some(Form::Csv) => output.write(kit.csv().as_bytes()),
        _ => output.show(&kit),
    }
}

impl Answer for Kit {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        super::table::of_members(self)
    }
    fn for_people(&self, _width: usize) -> String {
        self.plain_text()
    }
}
