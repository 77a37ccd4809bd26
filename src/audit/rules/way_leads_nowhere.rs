use crate::audit::finding::Finding;
use crate::audit::rule::{JointCase, rule};

rule! {
    /// A joint that is behind something that is no joint of the book.
    ///
    /// # Why it matters
    /// The way to a joint is only as whole as the records on it. An id that leads nowhere is a slip in the name, or a
    /// joint that nobody has entered: its parts to renew, its tools and its cautions are missing from the way.
    ///
    /// # Flagged
    /// ```json
    /// { "kind": "joint", "behind": ["skua.example.cover"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "kind": "joint", "behind": ["skua.example.cover"] },
    ///   { "kind": "joint", "id": "skua.example.cover" } ]
    /// ```
    ///
    /// # Sources
    /// Follows from what a reference is.
    "way-leads-nowhere", Joint(check)
}

fn check(case: &JointCase<'_>) -> Vec<Finding> {
    let is_missing = |first: &crate::record::Id| *first != case.joint.id && !case.book.has_joint(first);
    let named = case.joint.behind.iter().enumerate().filter(|(_, first)| is_missing(first));
    let finding = |(i, first): (usize, &crate::record::Id)| {
        let message = format!("this joint is behind {first}, which is no joint of the book");
        Finding::warning(format!("behind[{i}]"), message).found(first)
    };
    named.map(finding).collect()
}
