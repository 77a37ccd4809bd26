//! In which order the positions of a pass are taken.
//!
//! An order is a list from the record, or a pattern made from the drawn positions of the pass. It depends on nothing
//! but the record: where positions lie the same way, the lower number comes first. Nothing here says that an order
//! is the maker's.

mod across;
mod diagonal;
mod layout;
mod line_out;
mod round;
mod spiral_out;
mod star;

use crate::record::{Joint, Pattern, Position};
use std::collections::BTreeSet;

/// The positions of one pass in their order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sequence {
    /// The positions, each once.
    pub positions: Vec<u32>,
    /// Positions that have something to do in this pass but that the order of the pass leaves out.
    pub left_out: Vec<u32>,
    /// What the order was made from.
    pub from: OrderFrom,
}

/// What an order was made from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OrderFrom {
    /// The list that the record gives for this pass.
    PassList,
    /// The list that the record gives for the joint.
    List,
    /// A pattern over the drawn positions.
    Pattern(Pattern),
    /// Nothing: the record states no order, so the positions stand by number.
    Number,
}

impl OrderFrom {
    /// The order in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::PassList | Self::List => "as listed",
            Self::Pattern(Pattern::Diagonal) => "diagonally, opposite corners",
            Self::Pattern(Pattern::Star) => "across the bolt circle",
            Self::Pattern(Pattern::SpiralOut) => "from the centre outwards",
            Self::Pattern(Pattern::Round) => "once round the edge",
            Self::Pattern(Pattern::LineOut) => "from the middle of the row outwards",
            Self::Number => "by number: the record states no order",
        }
    }
}

/// The positions in the order of a pattern, each number once.
#[must_use]
pub fn by_pattern(pattern: Pattern, positions: &[Position]) -> Vec<u32> {
    let spots = layout::spots(positions);
    match pattern {
        Pattern::Diagonal => diagonal::diagonal(&spots),
        Pattern::Star => star::star(&spots),
        Pattern::SpiralOut => spiral_out::spiral_out(&spots),
        Pattern::Round => round::round(&spots),
        Pattern::LineOut => line_out::line_out(&spots),
    }
}

/// The order in which pass `number` takes the `wanted` positions of a joint.
///
/// The result holds exactly the wanted positions, less those that the order of this pass leaves out. Wanted positions
/// that are not drawn, or that the order of the joint forgets, come last by number.
#[must_use]
pub fn sequence(joint: &Joint, number: u32, wanted: &BTreeSet<u32>) -> Sequence {
    let order = joint.order.as_ref();
    if let Some(list) = order.and_then(|order| order.passes.get(&number)) {
        let positions = distinct(list, wanted);
        let left_out = wanted.iter().copied().filter(|n| !positions.contains(n)).collect();
        return Sequence { positions, left_out, from: OrderFrom::PassList };
    }
    let (mut positions, from) = match order {
        Some(order) if !order.positions.is_empty() => (distinct(&order.positions, wanted), OrderFrom::List),
        Some(order) => match order.pattern {
            Some(pattern) => {
                let drawn: Vec<Position> = joint.positions.iter().filter(|p| wanted.contains(&p.n)).cloned().collect();
                (by_pattern(pattern, &drawn), OrderFrom::Pattern(pattern))
            }
            None => (Vec::new(), OrderFrom::Number),
        },
        None => (Vec::new(), OrderFrom::Number),
    };
    let placed: BTreeSet<u32> = positions.iter().copied().collect();
    positions.extend(wanted.difference(&placed));
    Sequence { positions, left_out: Vec::new(), from }
}

/// The order of the whole joint, without regard to passes.
#[must_use]
pub fn whole(joint: &Joint, wanted: &BTreeSet<u32>) -> Sequence {
    // Passes are numbered from 1, so no list of a single pass answers to 0.
    sequence(joint, 0, wanted)
}

/// The order in which the joint is loosened: the reverse of the order in which it is tightened.
#[must_use]
pub fn loosening(joint: &Joint, wanted: &BTreeSet<u32>) -> Vec<u32> {
    let mut positions = whole(joint, wanted).positions;
    positions.reverse();
    positions
}

fn distinct(list: &[u32], wanted: &BTreeSet<u32>) -> Vec<u32> {
    let mut seen = BTreeSet::new();
    list.iter().copied().filter(|n| wanted.contains(n) && seen.insert(*n)).collect()
}

#[cfg(test)]
mod tests;
