use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Locking, ReuseRule};

rule! {
    /// A locking that wears out, on a fastener marked reusable without limit.
    ///
    /// # Why it matters
    /// A dry patch of threadlocker locks once. A staked collar can be bent a few times, a deformed thread or a ring of
    /// polymer grips less each time it is run on. Used again without limit, the fastener is tight on the bench and loose
    /// on the machine. The record should say how often, what to look at, or that it is renewed.
    ///
    /// # Flagged
    /// ```json
    /// { "locking": "threadlocking-patch", "reuse": { "rule": "reuse" } }
    /// ```
    /// ```json
    /// { "locking": "staked", "role": "shaft-nut", "reuse": { "rule": "reuse" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "locking": "threadlocking-patch", "reuse": { "rule": "renew" } }
    /// ```
    /// ```json
    /// { "locking": "polymer-ring-nut", "role": "nut", "reuse": { "rule": "reuse-up-to", "times": 3 } }
    /// ```
    /// ```json
    /// { "locking": "threadlocker", "reuse": { "rule": "reuse" } }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source; ISO 2320 tests prevailing torque nuts over five removals (from memory).
    "locking-reused-without-limit", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    if case.fastener.reuse_rule() != Some(ReuseRule::Reuse) {
        return Vec::new();
    }
    let why = match case.fastener.locking {
        Some(Locking::ThreadlockingPatch) => "a threadlocking patch locks once",
        Some(Locking::Staked) => "a staked collar can be bent only a few times",
        Some(Locking::DeformedThreadNut) => "a deformed thread grips less each time",
        Some(Locking::PolymerRingNut) => "a polymer ring grips less each time",
        _ => return Vec::new(),
    };
    let message = format!("{why}, and this is marked as reusable without limit");
    let rules = [ReuseRule::Renew, ReuseRule::ReuseUpTo, ReuseRule::Inspect];
    vec![Finding::warning("reuse", message).found(ReuseRule::Reuse).one_of(rules)]
}
