//! `kit`: what must lie on the bench before joints are opened.

use super::bench_options::BenchOptions;
use super::book::{BookArguments, Where, read_id};
use super::failure::Failure;
use super::output::{Answer, Form, Output};
use super::said::Said;
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
    let book = match book.to_read()? {
        Where::Here(catalog) => catalog,
        Where::There(_) if arguments.way => return Err(Failure::usage("a server makes a kit without --way")),
        Where::There(there) => {
            let options = arguments.options.of_kit();
            let wrenches: Vec<String> = options.wrenches.iter().map(ToString::to_string).collect();
            return output.show(&KitThere(there.kit(&joints, options.variant.as_deref(), &wrenches)?));
        }
    };
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

/// A kit as a server says it.
struct KitThere(Said);

impl Answer for KitThere {
    fn json(&self) -> impl Serialize {
        self.0.value()
    }
    fn json_bytes(&self) -> Vec<u8> {
        self.0.bytes()
    }
    fn lines(&self) -> Vec<Value> {
        vec![self.0.value().clone()]
    }
    fn table(&self) -> Table {
        super::table::of_paths(self.0.value())
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
