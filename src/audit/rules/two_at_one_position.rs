use crate::audit::book::JOINT_MAX;
use crate::audit::finding::{Finding, Severity};
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Fastener, Fits, Role};
use std::collections::BTreeSet;

rule! {
    /// Two fasteners at one position, with nothing that tells which belongs there.
    ///
    /// # Why it matters
    /// A place holds one bolt. Two records for it are right if they are for different machines (`fits`), or if one is
    /// the stud and the other the nut on it. Otherwise one of the two has a wrong position, and the wrong one may be
    /// put in. The record that comes later in the book gets a `warning`, because it takes a place that was taken; the
    /// earlier one gets a `note`.
    ///
    /// # Flagged
    /// ```json
    /// [ { "positions": "1-3" }, { "positions": "3-4" } ]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "positions": "1-3", "fits": { "variants": ["bronze-housing"] } },
    ///   { "positions": "1-3", "fits": { "variants": ["iron-housing"] } } ]
    /// ```
    /// ```json
    /// [ { "positions": "1-3", "role": "stud-setting" }, { "positions": "1-3", "role": "nut" } ]
    /// ```
    ///
    /// # Sources
    /// Follows from what a position is.
    "two-at-one-position", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fastener = case.fastener;
    let Some(own) = &fastener.positions else { return Vec::new() };
    let places: BTreeSet<u32> = own.iter().collect();
    let mut is_past = false;
    let mut findings = Vec::new();
    for other in case.book.fasteners_of(&fastener.joint).iter().take(JOINT_MAX) {
        if other.id == fastener.id {
            is_past = true;
            continue;
        }
        let Some(theirs) = &other.positions else { continue };
        let at: Vec<u32> = places.iter().copied().filter(|position| theirs.contains(*position)).collect();
        if at.is_empty() || !both_fit(fastener, other) {
            continue;
        }
        let message =
            format!("{} sits at {} too, and nothing tells which belongs there", other.id.last(), super::positions(&at));
        // Until this fastener itself was met, the others stand before it.
        let severity = if is_past { Severity::Note } else { Severity::Warning };
        let finding = Finding::new(severity, "positions", message).found(own);
        findings.push(finding.because_of("other", &other.id, "the same joint"));
    }
    findings
}

/// Whether both can be in the same place of the same machine.
fn both_fit(one: &Fastener, other: &Fastener) -> bool {
    let sets_a_stud = |fastener: &Fastener| fastener.role() == Role::StudSetting;
    let locks = |fastener: &Fastener| fastener.role() == Role::LockNut;
    let stacked = sets_a_stud(one) != sets_a_stud(other) || locks(one) != locks(other);
    !stacked && overlap(one.fits.as_ref(), other.fits.as_ref())
}

/// Whether a machine can be meant by both. Serial numbers are as the maker writes them: different texts are taken apart.
fn overlap(one: Option<&Fits>, other: Option<&Fits>) -> bool {
    let (Some(one), Some(other)) = (one, other) else { return true };
    let variants = one.variants.is_empty()
        || other.variants.is_empty()
        || one.variants.iter().any(|variant| other.variants.contains(variant));
    let serials = one.serials.is_none() || other.serials.is_none() || one.serials == other.serials;
    variants && serials
}
