use crate::audit::finding::Finding;
use crate::audit::rule::rule;
use crate::record::Record;

rule! {
    /// An acceptance that excuses nothing.
    ///
    /// # Why it matters
    /// A finding was accepted with a reason, and the finding is gone: the record was corrected, or the rule's name is
    /// misspelt. Left in place, the acceptance would silence the next real finding of that rule.
    ///
    /// # Flagged
    /// ```json
    /// { "accepted": [ { "rule": "unknown-thread", "reason": "special of the yard" } ] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "thread": "M9.5", "accepted": [ { "rule": "unknown-thread", "reason": "special of the yard" } ] }
    /// ```
    ///
    /// # Sources
    /// Follows from what an acceptance is.
    "acceptance-excuses-nothing", Outcome(check)
}

fn check(record: &Record, findings: &[Finding]) -> Vec<Finding> {
    let idle = record.accepted().iter().enumerate().filter(|(_, accepted)| {
        !findings.iter().any(|finding| finding.rule == accepted.rule.as_str())
    });
    idle.map(|(i, accepted)| {
        let message = format!("{} is accepted here, but that rule finds nothing", accepted.rule);
        Finding::warning(format!("accepted[{i}]"), message).found(&accepted.rule)
    })
    .collect()
}
