use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::ReuseRule;

rule! {
    /// A tightening by angle without a word on whether the fastener may go back.
    ///
    /// # Why it matters
    /// Tightening by angle is how bolts are taken beyond yield on purpose, and a bolt that was stretched once may not
    /// be stretched again, or only up to a length. Whoever opens the joint must know before it is opened whether new
    /// ones have to be on the bench.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["20 N·m + 90°"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["20 N·m + 90°"], "reuse": { "rule": "renew" } }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m", "40 N·m"] }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source: makers allow none, one or a few reuses, or a greatest length.
    "one-time-rule-missing", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    if case.fastener.reuse.is_some() || !plan::has_turns(case.fastener) {
        return Vec::new();
    }
    let message = "it is tightened by angle, and nothing says whether it may go back";
    vec![Finding::warning("reuse", message).found(&case.fastener.stages).one_of(ReuseRule::ALL)]
}
