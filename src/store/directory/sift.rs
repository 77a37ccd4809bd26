//! Which families get through the filters of a question.

use super::{Directory, Family};
use crate::query::{Field, Filter, TorqueFilter};
use crate::store::Bits;
use std::borrow::Cow;

/// A filter as it concerns families.
struct Admits {
    /// The place of its field in the codes.
    at: usize,
    /// For each code whether it gets through.
    codes: Vec<bool>,
}

/// Filters made ready to look at families.
struct Sieve<'d> {
    directory: &'d Directory,
    /// The families that have the rarest of the values that are let through, if those are rare: only these are looked at.
    rare: Option<Cow<'d, Bits>>,
    others: Vec<Admits>,
    least: Option<f64>,
    most: Option<f64>,
    has_torque: Option<bool>,
}

impl<'d> Sieve<'d> {
    fn of(directory: &'d Directory, filters: &[Filter], torque: &TorqueFilter, left_out: Option<Field>) -> Self {
        let admits = |filter: &Filter| {
            let (at, column) = directory.column(filter.field)?;
            let admits = Admits { at, codes: column.admitted(filter) };
            Some((directory.with_codes(&admits).map(Bits::len).sum::<u64>(), admits))
        };
        let filters = filters.iter().filter(|filter| Some(filter.field) != left_out);
        let mut counted: Vec<(u64, Admits)> = filters.filter_map(admits).collect();
        counted.sort_by_key(|(count, _)| *count);
        let (mut rare, mut others) = (None::<Cow<'_, Bits>>, Vec::new());
        for (count, admits) in counted {
            // To look at a family costs about as much as to pass over eight numbers of a set.
            let is_worth_it = match &rare {
                None => count < directory.families() as u64,
                Some(rare) => count / 8 < rare.len(),
            };
            if is_worth_it {
                let set = directory.with_any(&admits);
                rare = Some(match rare {
                    Some(rare) => Cow::Owned(rare.and(&set)),
                    None => set,
                });
            } else {
                others.push(admits);
            }
        }
        Self {
            directory,
            rare,
            others,
            least: torque.least(),
            most: torque.most(),
            // What is in a range is there.
            has_torque: torque.has.or((torque.min.is_some() || torque.max.is_some()).then_some(true)),
        }
    }

    #[inline]
    fn lets_through(&self, family: &Family) -> bool {
        family.count > 0
            && self.others.iter().all(|admits| admits.codes[usize::from(family.traits.codes[admits.at])])
            && self.admits_torque(family)
    }

    /// What [`TorqueFilter::admits`] says of the torque of a family.
    #[inline]
    fn admits_torque(&self, family: &Family) -> bool {
        let torque = family.traits.torque();
        self.has_torque.is_none_or(|has| has == torque.is_some())
            && torque.is_none_or(|(low, high)| {
                self.least.is_none_or(|least| high >= least) && self.most.is_none_or(|most| low <= most)
            })
    }

    /// Calls `visit` for every family that gets through.
    fn each(&self, mut visit: impl FnMut(u32, &'d Family)) {
        let directory = self.directory;
        match &self.rare {
            Some(rare) => {
                for number in rare.iter() {
                    if let Some(family) = directory.family(number).filter(|family| self.lets_through(family)) {
                        visit(number, family);
                    }
                }
            }
            None => {
                let all = (0_u32..).zip(directory.families.iter());
                all.filter(|(_, family)| self.lets_through(family)).for_each(|(number, family)| visit(number, family));
            }
        }
    }
}

impl Directory {
    /// The families with members that get through the filters of fields that families have, of which that of one field is
    /// left out, and through a range of torques.
    #[must_use]
    pub fn families_through(
        &self,
        filters: &[Filter],
        torque: &TorqueFilter,
        left_out: Option<Field>,
    ) -> Vec<(u32, &Family)> {
        let mut through = Vec::new();
        Sieve::of(self, filters, torque, left_out).each(|number, family| through.push((number, family)));
        through
    }

    /// How many records of those families have each code of a column.
    #[must_use]
    pub fn tally(&self, filters: &[Filter], torque: &TorqueFilter, left_out: Option<Field>, column: usize) -> Vec<u64> {
        let mut counts = vec![0; self.columns.get(column).map_or(0, |column| column.codes())];
        let add = |_, family: &Family| counts[usize::from(family.traits.codes[column])] += u64::from(family.count);
        Sieve::of(self, filters, torque, left_out).each(add);
        counts
    }

    /// The families that have one of the codes that are let through.
    fn with_any(&self, admits: &Admits) -> Cow<'_, Bits> {
        let mut sets = self.with_codes(admits);
        match (sets.next(), sets.next()) {
            (Some(one), None) => Cow::Borrowed(one),
            _ => Cow::Owned(Bits::union(self.with_codes(admits))),
        }
    }

    fn with_codes<'d, 'a>(&'d self, admits: &'a Admits) -> impl Iterator<Item = &'d Bits> + use<'d, 'a> {
        let codes = (0_u16..).zip(&admits.codes).filter(|(_, admitted)| **admitted).map(|(code, _)| code);
        codes.filter_map(|code| self.columns[admits.at].families(code))
    }
}
