use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use std::collections::BTreeSet;

rule! {
    /// A count that is not the number of positions.
    ///
    /// # Why it matters
    /// The count says how many to lay on the bench, the positions where they go. When the two differ, one fastener is
    /// missing or left over, and it takes the drawing to find out which of the two is right.
    ///
    /// # Flagged
    /// ```json
    /// { "positions": "1-4", "count": 5 }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "positions": "1-4,6", "count": 5 }
    /// ```
    /// ```json
    /// { "count": 5 }
    /// ```
    ///
    /// # Sources
    /// Follows from what a count is.
    "count-disagrees-with-positions", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let (Some(positions), Some(count)) = (&case.fastener.positions, case.fastener.count) else { return Vec::new() };
    let places = positions.iter().collect::<BTreeSet<_>>().len();
    if places == count as usize {
        return Vec::new();
    }
    let message = format!("the count is {count}, but positions {positions} are {places}");
    vec![Finding::error("count", message).found(count).one_of([places])]
}
