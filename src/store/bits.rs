//! Sets of slots: which records of the book have something in common.
//!
//! In memory a set is a roaring bitmap; stored it is in blocks of slots, so that a write touches few bytes of it.

use roaring::{MultiOps, RoaringBitmap};

/// How many slots a block holds.
pub const BLOCK_SLOTS: u32 = 4096;
const WORDS: usize = BLOCK_SLOTS as usize / 64;

/// Up to how many slots of a block are put in one by one.
const FEW: u32 = 64;

/// The slots of one block, a bit each.
pub type Block = [u64; WORDS];

/// A set of slots.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Bits(RoaringBitmap);

/// The word of a block in which a slot is, and the bit in that.
fn place(slot: u32) -> (usize, u64) {
    let within = slot % BLOCK_SLOTS;
    (within as usize / 64, 1 << (within % 64))
}

/// Puts a slot into a block or takes it out.
pub fn set(block: &mut Block, slot: u32, there: bool) {
    let (word, bit) = place(slot);
    if there { block[word] |= bit } else { block[word] &= !bit }
}

/// The slots of a block, counted within it.
pub fn slots_within(block: &Block) -> impl Iterator<Item = u16> + '_ {
    block.iter().enumerate().flat_map(|(at, word)| {
        let mut rest = *word;
        std::iter::from_fn(move || {
            let bit = (rest != 0).then(|| rest.trailing_zeros())?;
            rest &= rest - 1;
            u16::try_from(at as u32 * 64 + bit).ok()
        })
    })
}

impl Bits {
    /// Adds the slots of a block; none of that block or of a later one is there yet.
    pub fn push(&mut self, number: u32, block: &Block) {
        let first = number * BLOCK_SLOTS;
        let count: u32 = block.iter().map(|word| word.count_ones()).sum();
        if count < FEW {
            // They rise, and come after all that is there; otherwise they are put in one by one.
            let slots = || slots_within(block).map(|within| first + u32::from(within));
            if self.0.append(slots()).is_err() {
                self.0.extend(slots());
            }
        } else {
            let mut bytes = [0; WORDS * 8];
            for (to, word) in bytes.chunks_exact_mut(8).zip(block) {
                to.copy_from_slice(&word.to_le_bytes());
            }
            self.0 |= RoaringBitmap::from_lsb0_bytes(first, &bytes);
        }
    }

    /// Makes a block hold just these slots.
    pub fn replace(&mut self, number: u32, block: &Block) {
        let first = number * BLOCK_SLOTS;
        self.0.remove_range(first..=first + (BLOCK_SLOTS - 1));
        let mut one = Self::default();
        one.push(number, block);
        self.0 |= one.0;
    }

    /// A set of single slots in any order.
    #[must_use]
    pub fn of(slots: impl IntoIterator<Item = u32>) -> Self {
        Self(slots.into_iter().collect())
    }

    /// Puts a slot in.
    pub fn insert(&mut self, slot: u32) {
        self.0.insert(slot);
    }

    /// About how many bytes it takes in memory.
    #[must_use]
    pub fn bytes(&self) -> usize {
        self.0.serialized_size() + 64
    }

    /// How many slots there are.
    #[must_use]
    pub fn len(&self) -> u64 {
        self.0.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether the slot is there.
    #[must_use]
    pub fn contains(&self, slot: u32) -> bool {
        self.0.contains(slot)
    }

    /// The slots, rising.
    pub fn iter(&self) -> impl Iterator<Item = u32> + '_ {
        self.0.iter()
    }

    /// What is in both.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        Self(&self.0 & &other.0)
    }

    /// Leaves only what is in the other one too.
    pub fn keep(&mut self, other: &Self) {
        self.0 &= &other.0;
    }

    /// Takes out what is in the other one.
    pub fn take_out(&mut self, other: &Self) {
        self.0 -= &other.0;
    }

    /// How many are in both.
    #[must_use]
    pub fn common(&self, other: &Self) -> u64 {
        self.0.intersection_len(&other.0)
    }

    /// Whether none is in both.
    #[must_use]
    pub fn is_apart_from(&self, other: &Self) -> bool {
        self.0.is_disjoint(&other.0)
    }

    /// What is in this one and not in the other.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        Self(&self.0 - &other.0)
    }

    /// What is in one of them.
    #[must_use]
    pub fn or(&self, other: &Self) -> Self {
        Self(&self.0 | &other.0)
    }

    /// What is in any of some sets.
    #[must_use]
    pub fn union<'s>(sets: impl IntoIterator<Item = &'s Self>) -> Self {
        Self(sets.into_iter().map(|set| &set.0).union())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    fn slots() -> impl Strategy<Value = BTreeSet<u32>> {
        prop::collection::btree_set(prop_oneof![0_u32..200, 4000_u32..4200, 80_000_u32..90_000], 0..60)
    }

    fn bits(slots: &BTreeSet<u32>) -> Bits {
        Bits::of(slots.iter().copied())
    }

    proptest! {
        #[test]
        fn behaves_like_a_set(a in slots(), b in slots()) {
            prop_assert_eq!(bits(&a).iter().collect::<BTreeSet<_>>(), a.clone());
            prop_assert_eq!(bits(&a).len(), a.len() as u64);
            prop_assert_eq!(bits(&a).and(&bits(&b)), bits(&a.intersection(&b).copied().collect()));
            prop_assert_eq!(bits(&a).common(&bits(&b)), a.intersection(&b).count() as u64);
            prop_assert_eq!(bits(&a).or(&bits(&b)), bits(&a.union(&b).copied().collect()));
            prop_assert_eq!(bits(&a).without(&bits(&b)), bits(&a.difference(&b).copied().collect()));
            prop_assert_eq!(Bits::union([&bits(&a), &bits(&b)]), bits(&a.union(&b).copied().collect()));
            prop_assert_eq!(bits(&a).is_apart_from(&bits(&b)), a.is_disjoint(&b));
            prop_assert!((0..200).all(|slot| bits(&a).contains(slot) == a.contains(&slot)));
        }

        #[test]
        fn is_put_together_from_blocks(slots in slots(), others in slots(), dense in any::<bool>()) {
            let slots: BTreeSet<u32> = if dense { slots.iter().flat_map(|slot| *slot..slot + 90).collect() } else { slots };
            let blocks = |slots: &BTreeSet<u32>| {
                let mut blocks = std::collections::BTreeMap::new();
                for slot in slots {
                    set(blocks.entry(slot / BLOCK_SLOTS).or_insert([0; WORDS]), *slot, true);
                }
                blocks
            };
            let mut put = Bits::default();
            blocks(&slots).iter().for_each(|(number, block)| put.push(*number, block));
            prop_assert_eq!(&put, &bits(&slots));
            for number in 0..=90_000 / BLOCK_SLOTS {
                put.replace(number, blocks(&others).get(&number).unwrap_or(&[0; WORDS]));
            }
            prop_assert_eq!(put, bits(&others));
        }
    }
}
