//! A column whose two printed units contradict each other in the same way from row to row: its headings were swapped, or
//! one of them is that of another unit.

use super::column::{Column, Member};
use super::slip::{COLUMN_MIN, Priors, Value, fits_class, units_agree};
use crate::units::{TorqueUnit, Unit};
use std::collections::BTreeMap;

/// The units of the stated and of the second figures.
pub(super) type Units = (TorqueUnit, TorqueUnit);

/// What the units of a column are instead of those that it names.
pub(super) struct Exchange {
    /// The units that the column names.
    pub named: Units,
    /// What they may be, the most probable first, with its probability.
    pub meant: Vec<(Units, f64)>,
    /// How many rows agree then.
    pub agree: usize,
    /// How many rows there are.
    pub of: usize,
}

/// This share of the rows must contradict itself, and agree in other units.
const MOST: f64 = 0.8;
/// How often headings are swapped, one of two is wrong, both are: against each other (judgement, no source).
const SWAPPED: f64 = 1.0;
const ONE_WRONG: f64 = 0.3;
const BOTH_WRONG: f64 = 0.01;

impl Exchange {
    /// What the units of this column are instead; nothing where its rows agree as they stand, or no other units make them.
    pub fn of(column: &Column<'_>) -> Option<Self> {
        let mut pairs: BTreeMap<Units, Vec<(&Member<'_>, Value)>> = BTreeMap::new();
        for (member, second) in column.members.iter().filter_map(pair) {
            pairs.entry((member.entry.stated.unit, second.unit)).or_default().push((member, second));
        }
        let (named, rows) = pairs.into_iter().max_by_key(|(_, rows)| rows.len())?;
        let enough = |count: usize| count >= COLUMN_MIN && count as f64 >= MOST * rows.len() as f64;
        if !enough(rows.iter().filter(|(member, second)| !agree(member, *second, named)).count()) {
            return None;
        }
        let (middle, _) = rows[rows.len() / 2];
        let mut meant: Vec<(Units, f64)> = Vec::new();
        let mut most = 0;
        for units in others(named) {
            let count = rows.iter().filter(|(member, second)| agree(member, *second, units)).count();
            if enough(count) {
                most = most.max(count);
                let stated = Value { unit: units.0, ..middle.entry.stated };
                meant.push((units, chance(named, units) * fits_class(middle.entry, stated, &Priors::LEARNED)));
            }
        }
        let sum: f64 = meant.iter().map(|(_, weight)| weight).sum();
        meant.iter_mut().for_each(|(_, weight)| *weight /= sum.max(f64::MIN_POSITIVE));
        meant.sort_by(|a, b| b.1.total_cmp(&a.1));
        (!meant.is_empty()).then_some(Self { named, meant, agree: most, of: rows.len() })
    }

    /// Whether the most probable units make this row agree.
    pub fn explains(&self, member: &Member<'_>) -> bool {
        let stated = member.entry.stated.unit == self.named.0;
        stated && pair(member).is_some_and(|(member, second)| agree(member, second, self.meant[0].0))
    }
}

/// The torque with the first figure in another unit that is printed for it.
fn pair<'m, 'b>(member: &'m Member<'b>) -> Option<(&'m Member<'b>, Value)> {
    let second = member.entry.printed.iter().find(|second| second.unit != member.entry.stated.unit)?;
    Some((member, *second))
}

fn agree(member: &Member<'_>, second: Value, (first_unit, second_unit): Units) -> bool {
    let (first, second) = (Value { unit: first_unit, ..member.entry.stated }, Value { unit: second_unit, ..second });
    units_agree(first, second, &Priors::LEARNED)
}

/// All other pairs of units.
fn others(named: Units) -> impl Iterator<Item = Units> {
    let units = TorqueUnit::ALL.iter().copied();
    let pairs = units.clone().flat_map(move |first| units.clone().map(move |second| (first, second)));
    pairs.filter(move |units| units.0 != units.1 && *units != named)
}

fn chance(named: Units, meant: Units) -> f64 {
    if meant == (named.1, named.0) {
        SWAPPED
    } else if meant.0 == named.0 || meant.1 == named.1 {
        ONE_WRONG
    } else {
        BOTH_WRONG
    }
}
