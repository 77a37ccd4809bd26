use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use std::collections::BTreeSet;

rule! {
    /// A position that the drawing of the joint does not have, or that is named twice.
    ///
    /// # Why it matters
    /// A fastener at position 7 of a joint with six places was entered for another joint, or one digit of its position
    /// is wrong: then some place has no fastener, and nobody knows what belongs there.
    ///
    /// # Flagged
    /// ```json
    /// [ { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 } ] },
    ///   { "positions": "1-3" } ]
    /// ```
    /// ```json
    /// { "positions": "1-4,4" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 } ] },
    ///   { "positions": "1-2" } ]
    /// ```
    /// ```json
    /// { "positions": "1-4,6" }
    /// ```
    ///
    /// # Sources
    /// Follows from what a position is.
    "position-not-drawn", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(positions) = &case.fastener.positions else { return Vec::new() };
    let mut findings = Vec::new();
    let mut seen = BTreeSet::new();
    let twice: BTreeSet<u32> = positions.iter().filter(|n| !seen.insert(*n)).collect();
    if !twice.is_empty() {
        let message = format!("{} is named twice", super::positions(&twice));
        findings.push(Finding::error("positions", message).found(positions));
    }
    let drawn: BTreeSet<u32> = case.joint.iter().flat_map(|joint| &joint.positions).map(|position| position.n).collect();
    let unknown: BTreeSet<u32> = seen.into_iter().filter(|n| !drawn.contains(n)).collect();
    if !drawn.is_empty() && !unknown.is_empty() {
        let last = drawn.last().copied().unwrap_or_default();
        let message = format!("{} is not drawn; the joint has {} places, up to {last}", super::positions(&unknown), drawn.len());
        findings.push(Finding::error("positions", message).found(positions));
    }
    findings
}
