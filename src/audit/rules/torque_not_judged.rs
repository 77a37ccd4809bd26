use crate::audit::Unjudged;
use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::standards::NoStrength;

rule! {
    /// A torque that could not be judged by the strength of a bolt.
    ///
    /// # Why it matters
    /// Silence must not be taken for approval. Without a property class there is no strength, and nothing is guessed in
    /// its place; a plug, a pipe nut, a shaft nut or a stud being set is limited by something else than a bolt. What
    /// stands there was compared with other records at most.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["20 N·m"] }
    /// ```
    /// ```json
    /// { "role": "plug", "property_class": "8.8", "stages": ["20 N·m"] }
    /// ```
    /// ```json
    /// { "role": "nut", "property_class": "10", "stages": ["20 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "stages": ["20 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["hand"] }
    /// ```
    ///
    /// # Sources
    /// Follows from what a strength class is.
    "torque-not-judged", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(stage) = plan::highest(case.fastener) else { return Vec::new() };
    let Err(reason) = case.assessment() else { return Vec::new() };
    let missing = match reason {
        // An unknown thread and an unknown class have findings of their own.
        Unjudged::NoGeometry => return Vec::new(),
        Unjudged::NoStrength(reason) if matches!(**reason, NoStrength::Unknown { .. }) => return Vec::new(),
        Unjudged::NotLimitedByBolt(_) => "role",
        Unjudged::NoClass | Unjudged::NoStrength(_) => "property_class",
        Unjudged::OutOfRange => "thread",
    };
    let message = format!("{} could not be judged: {reason}", stage.torque);
    vec![Finding::note(missing, message).found(stage.torque)]
}
