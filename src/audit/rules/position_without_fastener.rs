use crate::audit::finding::Finding;
use crate::audit::rule::{JointCase, rule};
use std::collections::BTreeSet;

rule! {
    /// A drawn position at which no fastener sits, or a position that is drawn twice.
    ///
    /// # Why it matters
    /// Whoever looks a place up must find what belongs there. A place without a record is a fastener that was
    /// forgotten, or whose position was mistyped. Where a fastener of the joint does not say where it sits, the empty
    /// places may be its own: then this is a `note`.
    ///
    /// # Flagged
    /// ```json
    /// [ { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 } ] },
    ///   { "positions": "1" } ]
    /// ```
    /// ```json
    /// [ { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 1, "x_mm": 9, "y_mm": 0 } ] },
    ///   { "positions": "1" } ]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 } ] },
    ///   { "positions": "1" }, { "positions": "2" } ]
    /// ```
    /// ```json
    /// { "kind": "joint", "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 } ] }
    /// ```
    ///
    /// # Sources
    /// Follows from what a position is.
    "position-without-fastener", Joint(check)
}

fn check(case: &JointCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut drawn = BTreeSet::new();
    let numbers = case.joint.positions.iter().map(|position| position.n);
    let twice: BTreeSet<u32> = numbers.filter(|n| !drawn.insert(*n)).collect();
    if !twice.is_empty() {
        findings.push(Finding::error("positions", format!("{} is drawn twice", super::positions(&twice))));
    }
    let taken: BTreeSet<u32> =
        case.fasteners.iter().filter_map(|fastener| fastener.positions.as_ref()).flat_map(|own| own.iter()).collect();
    let empty: BTreeSet<u32> = drawn.difference(&taken).copied().collect();
    if taken.is_empty() || empty.is_empty() {
        return findings;
    }
    let message = format!("no fastener sits at {}", super::positions(&empty));
    let somewhere = case.fasteners.iter().any(|fastener| fastener.positions.is_none());
    findings.push(if somewhere {
        Finding::note("positions", format!("{message}, but one does not say where it sits"))
    } else {
        Finding::warning("positions", message)
    });
    findings
}
