use crate::audit::finding::Finding;
use crate::audit::rule::{JointCase, rule};
use crate::record::Pattern;

rule! {
    /// A joint of several positions without an order.
    ///
    /// # Why it matters
    /// Tightened in any order, a cover warps and a gasket is squeezed out on one side: the bolts that were first loosen
    /// again as their neighbours pull. The order belongs to the number. With three positions or more it should be
    /// stated, even if it is only *round*.
    ///
    /// # Flagged
    /// ```json
    /// { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 },
    ///   { "n": 3, "x_mm": 9, "y_mm": 9 } ] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "kind": "joint", "order": { "pattern": "round" }, "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 },
    ///   { "n": 2, "x_mm": 9, "y_mm": 0 }, { "n": 3, "x_mm": 9, "y_mm": 9 } ] }
    /// ```
    /// ```json
    /// { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 } ] }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source.
    "order-missing", Joint(check)
}

/// Two positions have no order worth stating.
const POSITIONS_MIN: usize = 3;

fn check(case: &JointCase<'_>) -> Vec<Finding> {
    let count = case.joint.positions.len();
    let stated = case.joint.order.as_ref().is_some_and(|order| order.pattern.is_some() || !order.positions.is_empty());
    if stated || count < POSITIONS_MIN {
        return Vec::new();
    }
    let message = format!("{count} positions are drawn, and nothing says in which order they are tightened");
    vec![Finding::note("order", message).one_of(Pattern::ALL)]
}
