use crate::audit::finding::Finding;
use crate::audit::rule::{JointCase, rule};
use std::collections::BTreeSet;

rule! {
    /// An order that leaves a position out, names one twice, or names one that is not drawn.
    ///
    /// # Why it matters
    /// A position left out of the order is a bolt left loose; one named twice is tightened twice, which stretches a
    /// bolt that is turned by an angle.
    ///
    /// # Flagged
    /// ```json
    /// { "kind": "joint", "order": [1, 3, 3],
    ///   "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 }, { "n": 3, "x_mm": 9, "y_mm": 9 } ] }
    /// ```
    /// ```json
    /// { "kind": "joint", "order": { "pattern": "round", "passes": { "2": [7] } },
    ///   "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 } ] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "kind": "joint", "order": { "positions": [1, 3, 2], "passes": { "2": [3] } },
    ///   "positions": [ { "n": 1, "x_mm": 0, "y_mm": 0 }, { "n": 2, "x_mm": 9, "y_mm": 0 }, { "n": 3, "x_mm": 9, "y_mm": 9 } ] }
    /// ```
    ///
    /// # Sources
    /// Follows from what an order is; a single pass may leave positions out, the whole order may not.
    "order-not-a-permutation", Joint(check)
}

fn check(case: &JointCase<'_>) -> Vec<Finding> {
    let Some(order) = &case.joint.order else { return Vec::new() };
    let drawn: BTreeSet<u32> = case.joint.positions.iter().map(|position| position.n).collect();
    if drawn.is_empty() {
        return Vec::new();
    }
    let mut findings = Vec::new();
    if !order.positions.is_empty() {
        findings.extend(compare("order.positions", &order.positions, &drawn));
        let left_out: Vec<_> = drawn.iter().filter(|n| !order.positions.contains(n)).collect();
        if !left_out.is_empty() {
            let message = format!("the order leaves out {}", listed(&left_out));
            findings.push(Finding::error("order.positions", message));
        }
    }
    for (pass, positions) in &order.passes {
        findings.extend(compare(&format!("order.passes.{pass}"), positions, &drawn));
    }
    findings
}

/// What is named twice or not drawn at all.
fn compare(field: &str, order: &[u32], drawn: &BTreeSet<u32>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut seen = BTreeSet::new();
    let twice: BTreeSet<&u32> = order.iter().filter(|n| !seen.insert(**n)).collect();
    if !twice.is_empty() {
        findings.push(Finding::error(field, format!("the order names {} twice", listed(&twice))));
    }
    let unknown: BTreeSet<&u32> = order.iter().filter(|n| !drawn.contains(n)).collect();
    if !unknown.is_empty() {
        findings.push(Finding::error(field, format!("the order names {}, which is not drawn", listed(&unknown))));
    }
    findings
}

fn listed<'n>(numbers: impl IntoIterator<Item = &'n &'n u32>) -> String {
    let numbers: Vec<_> = numbers.into_iter().map(ToString::to_string).collect();
    format!("position {}", numbers.join(", "))
}
