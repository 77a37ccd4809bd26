//! Which families get through the filters of a question.

use super::{Directory, Family};
use crate::query::{Field, Filter, TorqueFilter};
use fixedbitset::FixedBitSet;

/// The families with members that get through.
pub struct Through<'d> {
    directory: &'d Directory,
    bits: FixedBitSet,
}

impl<'d> Through<'d> {
    /// Whether a family, which has members, is among them.
    #[inline]
    #[must_use]
    pub fn has(&self, family: u32) -> bool {
        self.bits.contains(family as usize)
    }

    /// All of them with their numbers, which rise.
    pub fn iter(&self) -> impl Iterator<Item = (u32, &'d Family)> {
        let numbers = self.bits.ones().filter_map(|number| u32::try_from(number).ok());
        let all = numbers.filter_map(|number| Some((number, self.directory.family(number)?)));
        all.filter(|(_, family)| family.count > 0)
    }
}

/// What [`TorqueFilter::admits`] says, of families.
struct Range {
    least: Option<f64>,
    most: Option<f64>,
    has: Option<bool>,
}

impl Range {
    /// Nothing where all get through.
    fn of(filter: &TorqueFilter) -> Option<Self> {
        // What is in a range is there.
        let has = filter.has.or((filter.min.is_some() || filter.max.is_some()).then_some(true));
        (!filter.is_open()).then(|| Self { least: filter.least(), most: filter.most(), has })
    }

    #[inline]
    fn admits(&self, family: &Family) -> bool {
        let torque = family.traits.torque();
        self.has.is_none_or(|has| has == torque.is_some())
            && torque.is_none_or(|(low, high)| {
                self.least.is_none_or(|least| high >= least) && self.most.is_none_or(|most| low <= most)
            })
    }
}

impl Directory {
    /// The families with members that get through the filters of fields that families have, of which that of one field is
    /// left out, and through a range of torques.
    #[must_use]
    pub fn through(&self, filters: &[Filter], torque: &TorqueFilter, left_out: Option<Field>) -> Through<'_> {
        let mut through: Option<FixedBitSet> = None;
        for filter in filters.iter().filter(|filter| Some(filter.field) != left_out) {
            let Some((_, column)) = self.column(filter.field) else { continue };
            let codes = column.admitted(filter);
            match (&mut through, codes.as_slice()) {
                (Some(through), [code]) => column.families(*code).narrow(through),
                (before, codes) => {
                    let mut any = FixedBitSet::with_capacity(self.families());
                    codes.iter().for_each(|code| column.families(*code).join(&mut any));
                    match before {
                        Some(before) => before.intersect_with(&any),
                        None => *before = Some(any),
                    }
                }
            }
        }
        let mut bits = through.unwrap_or_else(|| {
            let mut all = FixedBitSet::with_capacity(self.families());
            all.insert_range(..);
            all
        });
        if let Some(range) = Range::of(torque) {
            let numbers: Vec<usize> = bits.ones().collect();
            let is_out = |number: &usize| !self.families.get(*number).is_some_and(|family| range.admits(family));
            numbers.into_iter().filter(is_out).for_each(|number| bits.remove(number));
        }
        Through { directory: self, bits }
    }

    /// How many records of those families have each code of a column.
    #[must_use]
    pub fn tally(&self, filters: &[Filter], torque: &TorqueFilter, left_out: Option<Field>, column: usize) -> Vec<u64> {
        let mut counts = vec![0; self.columns.get(column).map_or(0, |column| column.codes())];
        for (_, family) in self.through(filters, torque, left_out).iter() {
            counts[usize::from(family.traits.codes[column])] += u64::from(family.count);
        }
        counts
    }
}
