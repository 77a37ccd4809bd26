//! Which families have something in common: numbers where they are few, else bits, which are put together word by word.

use fixedbitset::FixedBitSet;

/// From one family in so many on a set is kept in bits: its numbers would take half the room of these, or more.
const BITS_FROM: usize = 64;

/// Families by their numbers, which come in as they rise.
#[derive(Debug, Clone)]
pub enum FamilySet {
    /// Their numbers.
    Few(Vec<u32>),
    /// A bit for each, up to the last one that is in, and how many are.
    Many(FixedBitSet, usize),
}

impl Default for FamilySet {
    fn default() -> Self {
        Self::Few(Vec::new())
    }
}

impl FamilySet {
    /// How many there are.
    fn len(&self) -> usize {
        match self {
            Self::Few(numbers) => numbers.len(),
            Self::Many(_, count) => *count,
        }
    }

    /// Puts in a family whose number is above all that are in.
    pub fn push(&mut self, family: u32) {
        let is_many = (self.len() + 1) * BITS_FROM > family as usize;
        match self {
            Self::Few(numbers) if !is_many => numbers.push(family),
            Self::Many(bits, count) if is_many => {
                bits.grow_and_insert(family as usize);
                *count += 1;
            }
            // How common they are has changed.
            Self::Few(numbers) => {
                let bits: FixedBitSet = numbers.iter().chain([&family]).map(|number| *number as usize).collect();
                *self = Self::Many(bits, numbers.len() + 1);
            }
            Self::Many(bits, _) => {
                let numbers = bits.ones().filter_map(|number| u32::try_from(number).ok());
                *self = Self::Few(numbers.chain([family]).collect());
            }
        }
    }

    /// Puts them into bits.
    pub fn join(&self, all: &mut FixedBitSet) {
        match self {
            Self::Few(numbers) => numbers.iter().for_each(|number| all.grow_and_insert(*number as usize)),
            Self::Many(bits, _) => all.union_with(bits),
        }
    }

    /// Takes all others out of bits.
    pub fn narrow(&self, all: &mut FixedBitSet) {
        match self {
            Self::Few(numbers) => {
                let both: Vec<u32> = numbers.iter().copied().filter(|number| all.contains(*number as usize)).collect();
                all.clear();
                both.into_iter().for_each(|number| all.insert(number as usize));
            }
            Self::Many(bits, _) => all.intersect_with(bits),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    fn set_of(numbers: &BTreeSet<u32>) -> FamilySet {
        let mut set = FamilySet::default();
        numbers.iter().for_each(|number| set.push(*number));
        set
    }

    fn numbers_of(bits: &FixedBitSet) -> Vec<u32> {
        bits.ones().map(|number| number as u32).collect()
    }

    proptest! {
        #[test]
        fn is_a_set(
            one in prop::collection::btree_set(0_u32..4000, 0..300),
            other in prop::collection::btree_set(0_u32..300, 0..300),
        ) {
            for (one, other) in [(&one, &other), (&other, &one)] {
                let (set, mut bits) = (set_of(one), FixedBitSet::new());
                prop_assert_eq!(set.len(), one.len());
                set.join(&mut bits);
                prop_assert_eq!(numbers_of(&bits), one.iter().copied().collect::<Vec<_>>());
                let mut both = bits.clone();
                set_of(other).narrow(&mut both);
                prop_assert_eq!(numbers_of(&both), one.intersection(other).copied().collect::<Vec<_>>());
                set_of(other).join(&mut bits);
                prop_assert_eq!(numbers_of(&bits), one.union(other).copied().collect::<Vec<_>>());
            }
        }
    }

    #[test]
    fn is_in_bits_only_as_long_as_it_is_common() {
        let mut set = set_of(&(0..10).collect());
        assert!(matches!(set, FamilySet::Many(_, 10)));
        set.push(100_000);
        assert!(matches!(set, FamilySet::Few(ref numbers) if numbers.len() == 11));
        (100_001..102_000).for_each(|number| set.push(number));
        assert!(matches!(set, FamilySet::Many(_, 2010)));
    }
}
