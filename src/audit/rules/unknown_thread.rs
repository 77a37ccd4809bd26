use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// A thread that no standard has.
    ///
    /// # Why it matters
    /// A size that does not exist was misread or misheard, and nothing else about the fastener can be judged by it.
    /// Cutting or forcing the wrong thread ruins the part.
    ///
    /// # Flagged
    /// ```json
    /// { "thread": "7/17-14" }
    /// ```
    /// ```json
    /// { "thread": "M9.5" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "thread": "M8" }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC" }
    /// ```
    ///
    /// # Sources
    /// ISO 261, ISO 262 (choice of diameters and pitches); ASME B1.1 (UNC, UNF, UN series).
    "unknown-thread", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let thread = &case.fastener.thread;
    if thread.is_standard() {
        return Vec::new();
    }
    let message = format!("{thread} is in no list of standard threads");
    vec![Finding::warning("thread", message).found(thread).one_of(thread.nearest(3))]
}
