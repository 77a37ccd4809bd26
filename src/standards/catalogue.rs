//! The catalogue of the tables: what there is, from which edition, in which unit, and how much of it was read.

use super::table::Table;
use super::{
    breaking_torque, drives, friction, heads, holes, loads, materials, nuts, strength, tightening_factor, washers,
    wrench,
};

/// Every table, grouped by subject: strengths and loads, nuts, breaking torques, heads, drives, holes, washers, friction,
/// tightening, materials, wrenches. Built anew on each call.
#[must_use]
pub fn tables() -> Vec<Table> {
    let groups: [fn() -> Vec<Table>; 12] = [
        strength::tables,
        loads::tables,
        nuts::tables,
        breaking_torque::tables,
        heads::tables,
        drives::tables,
        holes::tables,
        washers::tables,
        friction::tables,
        tightening_factor::tables,
        materials::tables,
        wrench::tables,
    ];
    groups.into_iter().flat_map(|group| group()).collect()
}

/// The table of a name, such as `iso-898-1-proof-coarse`; `heads` gives those of all heads and nuts as one.
#[must_use]
pub fn table(name: &str) -> Option<Table> {
    if name == "heads" {
        return Some(heads::all());
    }
    tables().into_iter().find(|table| table.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_rows_full() {
        let tables = tables();
        for (i, table) in tables.iter().enumerate() {
            assert!(tables[..i].iter().all(|other| other.name != table.name), "{} twice", table.name);
            assert!(!table.rows.is_empty() && !table.title.is_empty(), "{}", table.name);
            assert!(
                table.name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
                "{}",
                table.name
            );
            let origins = table.origins();
            assert!(table.name != "heads", "that name is taken");
            assert_eq!(origins.read + origins.from_memory + origins.computed, table.rows.len());
        }
    }
}
