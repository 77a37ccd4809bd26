//! `convert`: a quantity in another unit.

use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::Table;
use crate::sheets::{Conversion, convert};
use serde::Serialize;

/// A torque, length, force or stress in another unit.
///
/// No store is needed.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The quantity with its unit, such as "20 N·m".
    #[arg(value_name = "QUANTITY")]
    quantity: String,
    /// The other unit, such as lbf.ft.
    #[arg(value_name = "UNIT")]
    unit: String,
}

/// Shows the quantity in the other unit.
///
/// # Errors
/// If either cannot be read or they are not of one kind.
pub fn run(arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let conversion = convert(&arguments.quantity, &arguments.unit).map_err(Failure::usage)?;
    output.show(&conversion)
}

impl Answer for Conversion {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        serde_json::to_value(self).into_iter().collect()
    }
    fn table(&self) -> Table {
        super::table::of_members(self)
    }
    fn for_people(&self, _width: usize) -> String {
        format!("{} = {}\n", self.stated, self.converted)
    }
}
