//! Sets of slots: which records of the book have something in common.

/// How many slots a block holds.
pub const BLOCK_SLOTS: u32 = 4096;
const WORDS: usize = BLOCK_SLOTS as usize / 64;

/// The slots of one block, a bit each.
pub type Block = [u64; WORDS];

/// A set of slots, in blocks that are left out where they are empty.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Bits(Vec<(u32, Box<Block>)>);

/// The block of a slot, the word in it, and the bit in that.
fn place(slot: u32) -> (u32, usize, u64) {
    let within = slot % BLOCK_SLOTS;
    (slot / BLOCK_SLOTS, within as usize / 64, 1 << (within % 64))
}

/// Puts a slot into a block or takes it out.
pub fn set(block: &mut Block, slot: u32, there: bool) {
    let (_, word, bit) = place(slot);
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
    /// Adds a block; blocks come in their order.
    pub fn push(&mut self, number: u32, block: Box<Block>) {
        if block.iter().any(|word| *word != 0) {
            self.0.push((number, block));
        }
    }

    /// A set of single slots in any order.
    #[must_use]
    pub fn of(slots: impl IntoIterator<Item = u32>) -> Self {
        let mut slots: Vec<u32> = slots.into_iter().collect();
        slots.sort_unstable();
        let mut bits = Self::default();
        for slot in slots {
            let (number, word, bit) = place(slot);
            if bits.0.last().is_none_or(|(last, _)| *last != number) {
                bits.0.push((number, Box::new([0; WORDS])));
            }
            if let Some((_, block)) = bits.0.last_mut() {
                block[word] |= bit;
            }
        }
        bits
    }

    /// How many slots there are.
    #[must_use]
    pub fn len(&self) -> u64 {
        self.0.iter().flat_map(|(_, block)| block.iter()).map(|word| u64::from(word.count_ones())).sum()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Whether the slot is there.
    #[must_use]
    pub fn contains(&self, slot: u32) -> bool {
        let (number, word, bit) = place(slot);
        let at = self.0.binary_search_by_key(&number, |(number, _)| *number);
        at.is_ok_and(|at| self.0[at].1[word] & bit != 0)
    }

    /// The slots, rising.
    pub fn iter(&self) -> impl Iterator<Item = u32> + '_ {
        self.0
            .iter()
            .flat_map(|(number, block)| slots_within(block).map(move |within| number * BLOCK_SLOTS + u32::from(within)))
    }

    /// What is in both.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        let mut out = Self::default();
        let mut others = other.0.iter().peekable();
        for (number, block) in &self.0 {
            while others.next_if(|(other, _)| other < number).is_some() {}
            if let Some((_, other)) = others.next_if(|(other, _)| other == number) {
                out.push(*number, Box::new(std::array::from_fn(|i| block[i] & other[i])));
            }
        }
        out
    }

    /// How many are in both.
    #[must_use]
    pub fn common(&self, other: &Self) -> u64 {
        let mut count = 0;
        let mut others = other.0.iter().peekable();
        for (number, block) in &self.0 {
            while others.next_if(|(other, _)| other < number).is_some() {}
            if let Some((_, other)) = others.next_if(|(other, _)| other == number) {
                count += block.iter().zip(other.iter()).map(|(a, b)| u64::from((a & b).count_ones())).sum::<u64>();
            }
        }
        count
    }

    /// What is in this one and not in the other.
    #[must_use]
    pub fn without(&self, other: &Self) -> Self {
        let mut out = Self::default();
        let mut others = other.0.iter().peekable();
        for (number, block) in &self.0 {
            while others.next_if(|(other, _)| other < number).is_some() {}
            match others.next_if(|(other, _)| other == number) {
                Some((_, other)) => out.push(*number, Box::new(std::array::from_fn(|i| block[i] & !other[i]))),
                None => out.0.push((*number, block.clone())),
            }
        }
        out
    }

    /// What is in one of them.
    #[must_use]
    pub fn or(&self, other: &Self) -> Self {
        let mut out = Vec::with_capacity(self.0.len().max(other.0.len()));
        let (mut ours, mut theirs) = (self.0.iter().peekable(), other.0.iter().peekable());
        loop {
            let next = match (ours.peek(), theirs.peek()) {
                (None, None) => return Self(out),
                (Some((a, _)), Some((b, _))) => a.min(b),
                (Some((a, _)), None) | (None, Some((a, _))) => a,
            };
            let number = *next;
            let mine = ours.next_if(|(own, _)| *own == number);
            let other = theirs.next_if(|(other, _)| *other == number);
            out.push(match (mine, other) {
                (Some((_, a)), Some((_, b))) => (number, Box::new(std::array::from_fn(|i| a[i] | b[i]))),
                (Some(one), None) | (None, Some(one)) => one.clone(),
                (None, None) => return Self(out),
            });
        }
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
            prop_assert!((0..200).all(|slot| bits(&a).contains(slot) == a.contains(&slot)));
        }
    }
}
