//! Which families get through the filters of a question.

use super::{Directory, Family};
use crate::query::{Field, Filter, TorqueFilter};

/// A filter as it concerns families.
struct Admits {
    /// The place of its field in the codes.
    at: usize,
    /// For each code whether it gets through.
    codes: Vec<bool>,
}

impl Directory {
    /// The families with members that get through filters, of which those of other fields and that of one field are left
    /// out, and through a range of torques.
    #[must_use]
    pub fn families_through(&self, filters: &[Filter], torque: &TorqueFilter, left_out: Option<Field>) -> Vec<u32> {
        let mut rarest: Option<(u64, Vec<u32>)> = None;
        let mut filters: Vec<Admits> = filters
            .iter()
            .filter(|filter| Some(filter.field) != left_out)
            .filter_map(|filter| {
                let (at, column) = self.column(filter.field)?;
                Some(Admits { at, codes: column.admitted(filter) })
            })
            .collect();
        // Only the families of the rarest values are looked at.
        let (mut least, mut of) = (self.families() as u64, None);
        for (number, admits) in filters.iter().enumerate() {
            let count = self.with_codes(admits).map(|families| families.len()).sum();
            if count < least {
                (least, of) = (count, Some(number));
            }
        }
        if let Some(number) = of {
            let admits = filters.swap_remove(number);
            rarest = Some((least, self.with_codes(&admits).flat_map(|families| families.iter()).collect()));
        }
        let gets_through = |family: &Family| {
            family.count > 0
                && filters.iter().all(|admits| admits.codes[usize::from(family.traits.codes[admits.at])])
                && admits_torque(torque, family)
        };
        match rarest {
            Some((_, mut families)) => {
                families.retain(|number| self.family(*number).is_some_and(gets_through));
                families
            }
            None => {
                let all = (0_u32..).zip(self.families.iter());
                all.filter(|(_, family)| gets_through(family)).map(|(number, _)| number).collect()
            }
        }
    }

    fn with_codes<'d>(&'d self, admits: &'d Admits) -> impl Iterator<Item = &'d crate::store::Bits> {
        let codes = (0_u16..).zip(&admits.codes).filter(|(_, admitted)| **admitted).map(|(code, _)| code);
        codes.filter_map(|code| self.columns[admits.at].families(code))
    }
}

/// What [`TorqueFilter::admits`] says of the torque of a family.
fn admits_torque(filter: &TorqueFilter, family: &Family) -> bool {
    let torque = family.traits.torque();
    let there = filter.has.is_none_or(|has| has == torque.is_some());
    let reaches = |(low, high): (f64, f64)| {
        filter.least().is_none_or(|least| high >= least) && filter.most().is_none_or(|most| low <= most)
    };
    there && ((filter.min.is_none() && filter.max.is_none()) || torque.is_some_and(reaches))
}
