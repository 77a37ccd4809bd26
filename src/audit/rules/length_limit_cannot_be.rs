use crate::audit::finding::{Allowed, Finding};
use crate::audit::rule::{FastenerCase, rule};
use crate::record::ReuseRule;
use crate::standards::{self, Elongation};
use crate::units::{LengthUnit, Stated, StatedLength};

rule! {
    /// A length limit that every new bolt is beyond, or that none can reach.
    ///
    /// # Why it matters
    /// A bolt that is measured before it goes back is renewed when it is longer than the limit. A limit at or below the
    /// nominal length rejects every bolt, one far above it lets through a bolt that is about to break. Either way the
    /// limit or the length was misread.
    ///
    /// # Flagged
    /// ```json
    /// { "length": "60 mm", "reuse": { "rule": "measure", "limit": "56.6 mm" } }
    /// ```
    /// ```json
    /// { "length": "60 mm", "reuse": { "rule": "measure", "limit": "606 mm" } }
    /// ```
    /// ```json
    /// { "length": "60 mm", "reuse": { "rule": "measure" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "length": "60 mm", "reuse": { "rule": "measure", "limit": "60.6 mm" } }
    /// ```
    /// ```json
    /// { "reuse": { "rule": "measure", "limit": "60.6 mm" } }
    /// ```
    ///
    /// # Sources
    /// Follows from what a limit is; no bolt stretches by more than the elongation of its class, over all its length.
    "length-limit-cannot-be", Fastener(check)
}

/// The elongation where the class is not known: the greatest of ISO 898-1, of class 4.8.
const ELONGATION_MAX: f64 = 0.24;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(reuse) = case.fastener.reuse.as_ref().filter(|reuse| reuse.rule == ReuseRule::Measure) else {
        return Vec::new();
    };
    let Some(limit) = reuse.limit else {
        return vec![Finding::note("reuse.limit", "it is to be measured, but the limit is not stated")];
    };
    let Some(length) = case.fastener.length else { return Vec::new() };
    let greatest = length.quantity() * (1.0 + elongation(case));
    let message = if limit.quantity() <= length.quantity() {
        format!("a new bolt is {length} long, so the limit of {limit} rejects every one")
    } else if limit.quantity() > greatest {
        format!("a bolt of {length} breaks long before it is {limit} long")
    } else {
        return Vec::new();
    };
    let max: StatedLength = Stated::<LengthUnit>::of(greatest, limit.unit(), 3);
    let allowed = Allowed::Range { min: Some(length.to_string()), max: Some(max.to_string()) };
    vec![Finding::error("reuse.limit", message).found(limit).allowed(allowed)]
}

fn elongation(case: &FastenerCase<'_>) -> f64 {
    let strength = || {
        let diameter = case.fastener.thread.geometry()?.major();
        standards::strength(case.fastener.property_class.as_ref()?, diameter).ok()?.elongation
    };
    strength().and_then(Elongation::strain).unwrap_or(ELONGATION_MAX)
}
