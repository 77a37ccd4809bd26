//! Slots in an order, in pieces, so that versions of the list share what has not changed.

use std::sync::Arc;

/// The most slots of one piece.
const PIECE: usize = 512;
/// How many slots a piece has at first, so that there is room for more.
const AT_FIRST: usize = 384;

/// Slots in an order that whoever puts them in knows.
#[derive(Debug, Clone)]
pub enum Members {
    /// In one piece, and so with little beside it.
    Few(Arc<[u32]>),
    /// In several pieces, none of them empty.
    Many(Arc<Vec<Arc<[u32]>>>),
}

impl Default for Members {
    fn default() -> Self {
        Self::Few(Arc::default())
    }
}

/// A place in the list: the piece, and the place in that.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Spot(usize, usize);

impl Members {
    /// The list of slots that are in order.
    pub fn of(slots: &[u32]) -> Self {
        if slots.len() <= PIECE {
            Self::Few(slots.into())
        } else {
            Self::Many(Arc::new(slots.chunks(AT_FIRST).map(Arc::from).collect()))
        }
    }

    fn pieces(&self) -> &[Arc<[u32]>] {
        match self {
            Self::Few(piece) if piece.is_empty() => &[],
            Self::Few(piece) => std::slice::from_ref(piece),
            Self::Many(pieces) => pieces,
        }
    }

    /// The first place.
    pub fn start() -> Spot {
        Spot(0, 0)
    }

    /// The last place; nothing in an empty list.
    pub fn last(&self) -> Option<Spot> {
        let pieces = self.pieces();
        pieces.last().map(|piece| Spot(pieces.len() - 1, piece.len() - 1))
    }

    /// What is at a place; nothing behind the end.
    #[inline]
    pub fn at(&self, Spot(piece, at): Spot) -> Option<u32> {
        self.pieces().get(piece)?.get(at).copied()
    }

    /// The place after this one.
    #[inline]
    pub fn next(&self, Spot(piece, at): Spot) -> Spot {
        match self.pieces().get(piece) {
            Some(slots) if at + 1 < slots.len() => Spot(piece, at + 1),
            _ => Spot(piece + 1, 0),
        }
    }

    /// The place before this one, which may be the one behind the end; nothing before the first.
    #[inline]
    pub fn previous(&self, Spot(piece, at): Spot) -> Option<Spot> {
        if at > 0 {
            return Some(Spot(piece, at - 1));
        }
        let piece = piece.checked_sub(1)?;
        Some(Spot(piece, self.pieces().get(piece)?.len() - 1))
    }

    /// The first place whose slot does not come before what is looked for; the end if all do.
    pub fn seek(&self, comes_before: impl Fn(u32) -> bool) -> Spot {
        let pieces = self.pieces();
        let begins_before = |piece: &Arc<[u32]>| piece.first().is_some_and(|slot| comes_before(*slot));
        let Some(piece) = pieces.partition_point(begins_before).checked_sub(1) else { return Self::start() };
        let at = pieces[piece].partition_point(|slot| comes_before(*slot));
        if at < pieces[piece].len() { Spot(piece, at) } else { Spot(piece + 1, 0) }
    }

    /// Puts a slot in at a place, before what is there.
    pub fn insert(&mut self, Spot(piece, at): Spot, slot: u32) {
        let with = |old: &[u32], at: usize| [&old[..at], &[slot], &old[at..]].concat();
        match self {
            Self::Few(old) => *self = Self::of(&with(old, if piece > 0 { old.len() } else { at })),
            Self::Many(pieces) => {
                let pieces = Arc::make_mut(pieces);
                // The end is behind the last slot of the last piece.
                let (piece, at) =
                    if piece == pieces.len() { (piece - 1, pieces[piece - 1].len()) } else { (piece, at) };
                let new = with(&pieces[piece], at);
                if new.len() <= PIECE {
                    pieces[piece] = new.into();
                } else {
                    let (left, right) = new.split_at(new.len() / 2);
                    pieces.splice(piece..=piece, [left.into(), right.into()]);
                }
            }
        }
    }

    /// Takes out what is at a place.
    pub fn remove(&mut self, Spot(piece, at): Spot) {
        let without = |old: &[u32]| [&old[..at], &old[at + 1..]].concat();
        match self {
            Self::Few(old) => *self = Self::Few(without(old).into()),
            Self::Many(pieces) => {
                let pieces = Arc::make_mut(pieces);
                let new = without(&pieces[piece]);
                if new.is_empty() {
                    pieces.remove(piece);
                } else {
                    pieces[piece] = new.into();
                }
            }
        }
    }

    /// All slots in order.
    pub fn iter(&self) -> impl Iterator<Item = u32> + '_ {
        self.pieces().iter().flat_map(|piece| piece.iter().copied())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    proptest! {
        #[test]
        fn is_a_sorted_list(
            first in prop::collection::btree_set(0_u32..5000, 0..1500),
            steps in prop::collection::vec(0_u32..5000, 0..1500),
        ) {
            let mut model: BTreeSet<u32> = first;
            let mut members = Members::of(&model.iter().copied().collect::<Vec<_>>());
            for slot in steps {
                let place = members.seek(|there| there < slot);
                if model.remove(&slot) {
                    prop_assert_eq!(members.at(place), Some(slot));
                    members.remove(place);
                } else {
                    prop_assert_eq!(members.at(place), model.range(slot..).next().copied());
                    members.insert(place, slot);
                    model.insert(slot);
                }
            }
            prop_assert!(members.iter().eq(model.iter().copied()));
            let mut place = Members::start();
            for slot in &model {
                prop_assert_eq!(members.at(place), Some(*slot));
                place = members.next(place);
            }
            prop_assert_eq!(members.at(place), None);
            let mut place = members.last();
            for slot in model.iter().rev() {
                prop_assert_eq!(place.and_then(|place| members.at(place)), Some(*slot));
                place = place.and_then(|place| members.previous(place));
            }
            prop_assert_eq!(place, None);
        }
    }
}
