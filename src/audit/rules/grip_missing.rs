use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::tightening::YieldVerdict;

rule! {
    /// A tightening by angle whose clamped length is not stated, and decides.
    ///
    /// # Why it matters
    /// A turn stretches a short bolt far more than a long one: the same 90° leaves one elastic and takes another beyond
    /// yield. Where the grip decides whether the bolt yields and it is not stated, nobody can tell whether the bolt may
    /// go back, and the audit cannot either.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.8", "stages": ["8 N·m + 60°"], "reuse": { "rule": "reuse" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "stages": ["8 N·m + 60°"], "grip": "40 mm", "reuse": { "rule": "reuse" } }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "stages": ["8 N·m + 180°"], "length": "20 mm", "reuse": { "rule": "renew" } }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "stages": ["20 N·m"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.1 and 5.5.1; the plausible clamped lengths are common practice, no source.
    "grip-missing", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    if case.fastener.grip.is_some() || !plan::has_turns(case.fastener) {
        return Vec::new();
    }
    let Some(answer) = case.turned() else { return Vec::new() };
    if answer.yield_verdict != YieldVerdict::DependsOnGrip {
        return Vec::new();
    }
    let message = format!(
        "whether the turn of {:.0}° takes the bolt beyond yield depends on the grip, which is not stated",
        answer.angle_deg.max()
    );
    let (from, to) = (answer.yield_angle_deg.min(), answer.yield_angle_deg.max());
    vec![
        Finding::note("grip", message)
            .because("yield_angle_deg_min", from, crate::mechanics::angle::SOURCE)
            .because("yield_angle_deg_max", to, crate::mechanics::angle::SOURCE),
    ]
}
