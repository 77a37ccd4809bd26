use crate::audit::finding::Finding;
use crate::audit::parts::Taken;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::units::Torque;

rule! {
    /// The same fastener with different values in two places of the book.
    ///
    /// # Why it matters
    /// One part number is one bolt. Screwed into the same material in the same condition it takes the same torque
    /// wherever it sits; when two places of the book differ, one of them was mistyped, or comes from an older edition.
    /// A different joint can also have its reason (a gasket, a cover), so this is a `note`; twice as much is a
    /// `warning`.
    ///
    /// # Flagged
    /// ```json
    /// [ { "part_no": "SY-1", "stages": ["20 N·m"] },
    ///   { "id": "skua.other.joint.bolt", "joint": "skua.other.joint", "part_no": "SY-1", "stages": ["24 N·m"] } ]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "part_no": "SY-1", "stages": ["20 N·m"] },
    ///   { "id": "skua.other.joint.bolt", "joint": "skua.other.joint", "part_no": "SY-1", "stages": ["20 N·m"] } ]
    /// ```
    /// ```json
    /// [ { "part_no": "SY-1", "stages": ["20 N·m"], "into": { "material": "GJL-250" } },
    ///   { "id": "skua.other.joint.bolt", "joint": "skua.other.joint", "part_no": "SY-1", "stages": ["14 N·m"],
    ///     "into": { "material": "EN AC-46000" } } ]
    /// ```
    ///
    /// # Sources
    /// Common practice, no source.
    "same-part-different-torque", Fastener(check)
}

/// Up to this ratio two torques are the same, rounded in different units.
const SAME: f64 = 1.035;
/// From this ratio on no joint explains the difference.
const APART: f64 = 2.0;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fastener = case.fastener;
    let Some(part) = &fastener.part_no else { return Vec::new() };
    let Some(own) = plan::last_without_turns(fastener) else { return Vec::new() };
    let elsewhere = case.book.parts().elsewhere(fastener).filter(|taken| ratio(own.middle(), taken.middle()) > SAME);
    let apart = |taken: &Taken| ratio(own.middle(), taken.middle());
    let Some(taken) = elsewhere.max_by(|a, b| apart(a).total_cmp(&apart(b))) else { return Vec::new() };
    let Some(id) = case.book.id_of_taken(taken) else { return Vec::new() };
    let message = format!("{part} takes {} here, but {} at {id}", own.torque, taken.torque);
    let finding =
        if apart(taken) >= APART { Finding::warning(own.field(), message) } else { Finding::note(own.field(), message) };
    vec![finding.found(own.torque).one_of([taken.torque]).because_of("elsewhere", id, "the same part number")]
}

fn ratio(one: Torque, other: Torque) -> f64 {
    let ratio = one / other;
    if ratio < 1.0 { 1.0 / ratio } else { ratio }
}
