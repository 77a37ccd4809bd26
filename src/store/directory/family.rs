//! Families: records that are alike in every field with at most one value, and in their torque.

use super::column::Column;
use super::members::Members;
use crate::query::{Field, final_torque, torque_bytes};
use crate::record::Record;
use std::sync::Arc;

/// The fields that have at most one value.
pub const FIELDS: [Field; 11] = [
    Field::Kind,
    Field::Head,
    Field::Drive,
    Field::Thread,
    Field::PropertyClass,
    Field::Role,
    Field::Reuse,
    Field::Locking,
    Field::Hand,
    Field::Checked,
    Field::Angle,
];

/// Whether all records of a family have the same value in a field.
#[must_use]
pub fn is_of_families(field: Field) -> bool {
    FIELDS.contains(&field)
}

/// The torque of what has none.
pub const NO_TORQUE: u64 = u64::MAX;

/// What the records of a family have in common: the codes of their values, and the two ends of the torque in bits that
/// compare like the numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Traits {
    /// The codes in the order of [`FIELDS`].
    pub codes: [u16; FIELDS.len()],
    /// The lower end of the final torque.
    pub low: u64,
    /// The higher end.
    pub high: u64,
}

impl Default for Traits {
    fn default() -> Self {
        Self { codes: [0; _], low: NO_TORQUE, high: NO_TORQUE }
    }
}

impl Traits {
    /// The traits of a record; values that are new get a code. Nothing if a field has too many values.
    pub fn of(record: &Record, columns: &mut [Arc<Column>]) -> Option<Self> {
        let mut traits = Self::default();
        for (code, column) in traits.codes.iter_mut().zip(columns) {
            let values = column.field.values(record);
            if let Some(value) = values.first() {
                *code = match column.code(value) {
                    Some(code) => code,
                    None => Arc::make_mut(column).enter(value)?,
                };
            }
        }
        if let Some((low, high)) = record.as_fastener().and_then(final_torque) {
            let bits = |newton_meters| u64::from_be_bytes(torque_bytes(newton_meters));
            (traits.low, traits.high) = (bits(low.newton_meters()), bits(high.newton_meters()));
        }
        Some(traits)
    }

    /// The two ends of the torque in newton-metres.
    pub fn torque(&self) -> Option<(f64, f64)> {
        (self.low != NO_TORQUE).then(|| (f64::from_bits(self.low), f64::from_bits(self.high)))
    }
}

/// Records that are alike.
#[derive(Debug, Clone, Default)]
pub struct Family {
    /// What they have in common.
    pub traits: Traits,
    /// Their slots, in the order of their ids.
    pub members: Members,
    /// How many they are.
    pub count: u32,
}
