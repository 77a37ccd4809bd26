use crate::audit::finding::Finding;
use crate::audit::rule::{JointCase, rule};

/// So many joints of a ring are named; of a longer one the rest is counted.
const NAMED: usize = 8;

rule! {
    /// Joints that are behind each other.
    ///
    /// # Why it matters
    /// What is behind another joint is opened after it. When two joints wait for each other, no order opens both: one of
    /// them is written the wrong way round, and whoever follows the book stands before a machine that does not
    /// come apart, or opens by force what should have come later.
    ///
    /// # Flagged
    /// ```json
    /// [ { "kind": "joint", "behind": ["skua.example.cover"] },
    ///   { "kind": "joint", "id": "skua.example.cover", "behind": ["skua.example.joint"] } ]
    /// ```
    /// ```json
    /// { "kind": "joint", "behind": ["skua.example.joint"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "kind": "joint", "behind": ["skua.example.cover"] },
    ///   { "kind": "joint", "id": "skua.example.cover" } ]
    /// ```
    ///
    /// # Sources
    /// Follows from what an order is.
    "way-in-a-ring", Joint(check)
}

fn check(case: &JointCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (i, first) in case.joint.behind.iter().enumerate() {
        let Some(ring) = case.book.ways().ring(case.joint, first) else { continue };
        let message = if *first == case.joint.id {
            "the joint is behind itself, so it could never be opened".to_owned()
        } else {
            let named: Vec<&str> = ring.iter().take(NAMED).map(|id| id.as_str()).collect();
            let more = ring.len() - named.len();
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            format!(
                "this joint is behind {first}, which is behind this one; no order opens all of {}{more}",
                named.join(", ")
            )
        };
        findings.push(Finding::error(format!("behind[{i}]"), message).found(first));
    }
    findings
}
