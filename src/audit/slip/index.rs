//! Groups of entries by a key: sorted once, found by halving. Books are large, and every entry asks for its group.
//! A group that gains or loses an entry later is kept beside them from then on.

use rayon::prelude::*;
use std::collections::HashMap;

/// The places of entries, grouped by a key.
#[derive(Debug, Default)]
pub struct Index {
    /// The keys in order, and where the group of each ends among the places.
    keys: Vec<u64>,
    ends: Vec<u32>,
    places: Vec<u32>,
    /// The groups that have changed since they were sorted, whole.
    changed: HashMap<u64, Vec<u32>>,
}

impl Index {
    /// The index of `count` entries by a key; entries without one are left out.
    #[must_use]
    pub fn of(count: usize, key: impl Fn(usize) -> Option<u64> + Sync) -> Self {
        let pair = |i: u32| key(i as usize).map(|key| (key, i));
        let mut pairs: Vec<(u64, u32)> =
            (0..u32::try_from(count).unwrap_or(u32::MAX)).into_par_iter().filter_map(pair).collect();
        pairs.par_sort_unstable();
        let groups = pairs.chunk_by(|a, b| a.0 == b.0);
        let keys: Vec<u64> = groups.clone().map(|group| group[0].0).collect();
        let mut end = 0;
        let ends = groups.map(|group| {
            end += group.len() as u32;
            end
        });
        let (ends, places) = (ends.collect(), pairs.iter().map(|(_, place)| *place).collect());
        Self { keys, ends, places, changed: HashMap::new() }
    }

    /// Adds a place to a group, behind those that come before it.
    pub fn add(&mut self, key: u64, place: u32, comes_before: impl Fn(usize) -> bool) {
        let group = self.own(key);
        let at = group.partition_point(|other| comes_before(*other as usize));
        group.insert(at, place);
    }

    /// Takes a place out of a group.
    pub fn remove(&mut self, key: u64, place: u32) {
        self.own(key).retain(|other| *other != place);
    }

    fn own(&mut self, key: u64) -> &mut Vec<u32> {
        let sorted = (!self.changed.contains_key(&key)).then(|| self.sorted(key).to_vec());
        self.changed.entry(key).or_insert_with(|| sorted.unwrap_or_default())
    }

    /// A group as it was sorted.
    fn sorted(&self, key: u64) -> &[u32] {
        self.keys.binary_search(&key).map_or(&[], |at| self.nth(at))
    }

    fn nth(&self, at: usize) -> &[u32] {
        let from = if at == 0 { 0 } else { self.ends[at - 1] };
        &self.places[from as usize..self.ends[at] as usize]
    }

    /// The places of the entries with this key, in their order.
    pub fn group(&self, key: u64) -> impl Iterator<Item = usize> + Clone + '_ {
        let changed = if self.changed.is_empty() { None } else { self.changed.get(&key) };
        let places = changed.map_or_else(|| self.sorted(key), Vec::as_slice);
        places.iter().map(|i| *i as usize)
    }

    /// Every group with its key, as they were sorted.
    #[must_use]
    pub fn groups(&self) -> Vec<(u64, &[u32])> {
        self.keys.iter().enumerate().map(|(at, key)| (*key, self.nth(at))).collect()
    }
}

/// One key of two.
#[must_use]
pub fn joined(a: u64, b: u64) -> u64 {
    // The finaliser of SplitMix64 spreads the bits; the factor keeps (a, b) apart from (b, a).
    let mut mixed = a.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ b;
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    mixed ^ (mixed >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_group_has_all_entries_of_its_key_in_order() {
        let index = Index::of(10, |i| (i != 4).then_some(i as u64 % 3));
        assert_eq!(index.group(1).collect::<Vec<_>>(), [1, 7]);
        assert_eq!(index.group(0).collect::<Vec<_>>(), [0, 3, 6, 9]);
        assert_eq!(index.group(9).count(), 0);
        assert_eq!(index.groups().len(), 3);
    }

    #[test]
    fn a_group_that_changes_keeps_its_order() {
        let mut index = Index::of(9, |i| Some(i as u64 % 3));
        index.remove(1, 4);
        index.add(1, 9, |other| other < 6);
        index.add(7, 10, |_| true);
        assert_eq!(index.group(1).collect::<Vec<_>>(), [1, 9, 7]);
        assert_eq!(index.group(0).collect::<Vec<_>>(), [0, 3, 6]);
        assert_eq!(index.group(7).collect::<Vec<_>>(), [10]);
    }

    #[test]
    fn the_order_of_a_joined_key_counts() {
        assert_ne!(joined(1, 2), joined(2, 1));
        assert_ne!(joined(0, 1), joined(0, 2));
    }
}
