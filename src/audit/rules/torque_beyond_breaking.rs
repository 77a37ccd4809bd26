use crate::audit::assessment::SOURCE;
use crate::audit::doubt::{is_in_line, perhaps_meant};
use crate::audit::finding::{Allowed, Finding, Severity};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// A torque that the bolt cannot bear at all.
    ///
    /// # Why it matters
    /// Before the wrench clicks the bolt is in two pieces, and what is left of it sits in the part. The combined
    /// stress reaches the tensile strength even at the highest friction to be expected, so the number cannot be right
    /// for this thread and class: one of the three was misread or misheard. Where the value stands in line with a whole
    /// series that does the same, it is a `note`, and the series is told once, by `whole-column-improbable`.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["200 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "grade 5", "thread": "1/4-20 UNC", "lubrication": "dry", "stages": ["80 lbf·ft"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["20 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "role": "shaft-nut", "stages": ["200 N·m"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.4.3 and 5.5.1 (exact form, plastic torsion), against the least tensile strength of the class.
    "torque-beyond-breaking", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let Some(stage) = plan::highest(case.fastener) else { return Vec::new() };
    if stage.middle() < assessment.breaks_from().highest {
        return Vec::new();
    }
    let strength = assessment.strength();
    let friction = assessment.friction().highest().thread();
    let times = assessment.least_stress(stage.middle()) / strength.tensile;
    let message = format!(
        "{} breaks {}: {times:.1} times what it bears, even at the highest friction, {friction:.2}",
        stage.torque,
        plan::bolt(case.fastener),
    );
    let max = plan::in_unit(assessment.yields_from().middle, stage.torque.unit());
    let mut finding = Finding::error(stage.field(), message)
            .found(stage.torque)
            .allowed(Allowed::Range { min: None, max: Some(max) })
            .because("utilisation", assessment.utilisation(stage.middle()).middle, SOURCE)
            .because("tensile_mpa", strength.tensile.megapascals(), strength.source)
            .because_of("friction", assessment.friction_words(), assessment.friction_source());
    finding.perhaps = perhaps_meant(case, stage.index);
    if is_in_line(case, stage.index) {
        finding.severity = Severity::Note;
        finding.message += ", as the other values of its series do";
    }
    vec![finding]
}
