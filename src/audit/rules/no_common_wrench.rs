use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::standards::workshop_wrenches;

rule! {
    /// A torque that no common wrench can be set to.
    ///
    /// # Why it matters
    /// Below 1 N·m it takes a torque screwdriver, above 1000 N·m a multiplier or a hydraulic wrench. Whoever opens the
    /// joint should know before it is opened; and a number out there may be one with a misplaced decimal point.
    ///
    /// # Flagged
    /// ```json
    /// { "thread": "M2", "stages": ["0.3 N·m"] }
    /// ```
    /// ```json
    /// { "thread": "M42", "stages": ["4000 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["20 N·m"] }
    /// ```
    ///
    /// # Sources
    /// Usual ranges of wrenches: common practice, no source.
    "no-common-wrench", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let (Some((least, _)), Some((_, greatest))) = (workshop_wrenches().next(), workshop_wrenches().last()) else {
        return Vec::new();
    };
    let outside = plan::torques(case.fastener).into_iter().filter_map(|stage| {
        let torque = stage.middle();
        let tool = match torque {
            _ if torque < least => "a torque screwdriver",
            _ if torque > greatest => "a torque multiplier or a hydraulic wrench",
            _ => return None,
        };
        let unit = stage.torque.unit();
        let (min, max) = (plan::in_unit(least, unit), plan::in_unit(greatest, unit));
        let message = format!("{} takes {tool}: common wrenches go from {min} to {max}", stage.torque);
        let allowed = Allowed::Range { min: Some(min), max: Some(max) };
        Some(Finding::note(stage.field(), message).found(stage.torque).allowed(allowed))
    });
    outside.collect()
}
