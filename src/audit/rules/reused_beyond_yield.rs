use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::angle;
use crate::record::ReuseRule;
use crate::tightening::{AngleAnswer, YieldVerdict};

rule! {
    /// A bolt that is stretched beyond yield and marked as reusable.
    ///
    /// # Why it matters
    /// What a bolt was stretched beyond yield stays in it. Tightened again in the same way it is stretched again, until
    /// it necks; how often it may go back is for its maker to say, or for a length that is measured. A plain *reuse* is
    /// a `warning` where the turn yields the bolt at every clamped length and friction that is plausible, and a `note`
    /// where it depends on them. A number of reuses is a `warning` where it stretches the bolt by more than half of the
    /// elongation of its class.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "10.9", "grip": "30 mm", "stages": ["20 N·m + 90° + 90°"], "reuse": { "rule": "reuse" } }
    /// ```
    /// ```json
    /// { "property_class": "10.9", "grip": "12 mm", "stages": ["20 N·m + 180°"],
    ///   "reuse": { "rule": "reuse-up-to", "times": 9 } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "10.9", "grip": "30 mm", "stages": ["20 N·m + 90° + 90°"], "reuse": { "rule": "renew" } }
    /// ```
    /// ```json
    /// { "property_class": "10.9", "grip": "90 mm", "stages": ["10 N·m + 30°"], "reuse": { "rule": "reuse" } }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.1 and 5.5.1 (whether it yields); elongation of the strength tables; the flow beyond yield is
    /// our own model. That makers decide is common practice, no source.
    "reused-beyond-yield", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(reuse) = case.fastener.reuse.as_ref().filter(|_| plan::has_turns(case.fastener)) else {
        return Vec::new();
    };
    let Some(answer) = case.turned() else { return Vec::new() };
    let finding = match (reuse.rule, reuse.times) {
        (ReuseRule::Reuse, _) => reused(answer),
        (ReuseRule::ReuseUpTo, Some(times)) => reused_times(answer, times),
        _ => None,
    };
    let with_evidence = |finding: Finding| {
        finding
            .found(reuse)
            .because("angle_deg", answer.angle_deg.max(), "the record")
            .because("yield_angle_deg", answer.yield_angle_deg.max(), angle::SOURCE)
    };
    finding.map(with_evidence).into_iter().collect()
}

fn reused(answer: &AngleAnswer) -> Option<Finding> {
    let angle = answer.angle_deg.max();
    match answer.yield_verdict {
        YieldVerdict::Yields | YieldVerdict::YieldsAtEveryGrip => {
            let message = format!("a turn of {angle:.0}° takes the bolt beyond yield, and it is marked as reusable");
            Some(Finding::warning("reuse", message).one_of([
                ReuseRule::Renew,
                ReuseRule::ReuseUpTo,
                ReuseRule::Measure,
                ReuseRule::Inspect,
            ]))
        }
        YieldVerdict::DependsOnFriction | YieldVerdict::DependsOnGrip => {
            let message = format!("a turn of {angle:.0}° may take the bolt beyond yield, and it is marked as reusable");
            Some(Finding::note("reuse", message))
        }
        YieldVerdict::DoesNotYield | YieldVerdict::YieldsAtNoGrip => None,
    }
}

fn reused_times(answer: &AngleAnswer, times: u32) -> Option<Finding> {
    let bearable = answer.reuse.as_ref()?.tightenings?.max();
    // Used again n times, it is tightened once more than that.
    if f64::from(times) + 1.0 <= bearable {
        return None;
    }
    let message = format!(
        "used again {times} times it is tightened {} times, but after {bearable:.0} it is stretched by half of what its \
         class can stretch",
        times + 1
    );
    Some(Finding::warning("reuse.times", message))
}
