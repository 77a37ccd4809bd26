use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::angle;
use crate::record::ReuseRule;
use crate::tightening::{AngleAnswer, YieldVerdict};

rule! {
    /// A tightening by angle without a word on whether the fastener may go back.
    ///
    /// # Why it matters
    /// Tightening by angle is how bolts are taken beyond yield on purpose, and a bolt that was stretched once may not
    /// be stretched again, or only up to a length. Whoever opens the joint must know before it is opened whether new
    /// ones have to be on the bench. Where the turn is too small to yield the bolt at any clamped length, this is a
    /// `note`.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["20 N·m + 90°"] }
    /// ```
    /// ```json
    /// { "property_class": "10.9", "grip": "30 mm", "stages": ["20 N·m + 90° + 90°"] }
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
    /// Common practice, no source: makers allow none, one or a few reuses, or a greatest length. Whether the bolt yields:
    /// VDI 2230-1:2015, 5.1 and 5.5.1.
    "one-time-rule-missing", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    if case.fastener.reuse.is_some() || !plan::has_turns(case.fastener) {
        return Vec::new();
    }
    let answer = case.turned();
    let finding = match answer.map(|answer| answer.yield_verdict) {
        Some(YieldVerdict::DoesNotYield | YieldVerdict::YieldsAtNoGrip) => {
            Finding::note("reuse", "nothing says whether it may go back; the turn leaves the bolt below yield")
        }
        Some(YieldVerdict::Yields | YieldVerdict::YieldsAtEveryGrip) => {
            Finding::warning("reuse", "the turn takes the bolt beyond yield, and nothing says whether it may go back")
        }
        _ => Finding::warning("reuse", "it is tightened by angle, and nothing says whether it may go back"),
    };
    let finding = finding.found(&case.fastener.stages).one_of(ReuseRule::ALL);
    vec![answer.map_or(finding.clone(), |answer| with_angles(finding, answer))]
}

fn with_angles(finding: Finding, answer: &AngleAnswer) -> Finding {
    finding.because("angle_deg", answer.angle_deg.max(), "the record").because(
        "yield_angle_deg",
        answer.yield_angle_deg.max(),
        angle::SOURCE,
    )
}
