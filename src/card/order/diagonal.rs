//! `diagonal`: opposite corners.

use super::across::{Measure, across};
use super::layout::Spot;

/// Each position and the one nearest to its mirror image through the middle, then where the joint is most open.
pub(super) fn diagonal(spots: &[Spot]) -> Vec<u32> {
    across(spots, &Measure { oppositeness: |a, b| -a.opposite().distance(b), apart: Spot::distance })
}
