use crate::audit::assessment::{Assessment, SOURCE};
use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan::{self, TorqueStage};
use crate::audit::rule::{FastenerCase, rule};
use crate::record::Fastener;

rule! {
    /// A torque that stretches the bolt beyond its yield strength.
    ///
    /// # Why it matters
    /// A bolt tightened beyond yield stays longer, clamps less each time it is used again, and is close to breaking.
    /// A torque that does so is nearly always a wrong one: a lost decimal point, *thirteen* heard as *thirty*, the
    /// value of the next size. Tightening beyond yield on purpose is done by angle, not by torque alone.
    ///
    /// Friction decides: an `error` yields the bolt even at the highest friction to be expected, a `warning` at the
    /// middle of it, a `note` only if friction is as low as it can be. Strength is the least that the standard
    /// demands; real bolts are a little stronger.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["60 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["33 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["22 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "role": "plug", "stages": ["60 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["60 N·m"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.4.3 and 5.5.1 (exact form, plastic torsion); strengths of ISO 898-1, ISO 3506-1, SAE J429 and
    /// ASTM; friction of VDI 2230-1, table A5.
    "torque-beyond-yield", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let Some(stage) = plan::highest(case.fastener) else { return Vec::new() };
    let utilisation = assessment.utilisation(stage.middle());
    let friction = assessment.friction();
    let finding = if utilisation.highest >= 1.0 {
        let at = format!("even at the highest friction, {:.2}", friction.highest().thread());
        Finding::error(stage.field(), takes(case.fastener, &stage, utilisation.highest, &at))
    } else if utilisation.middle >= 1.0 {
        let at = format!("at friction {:.2}", friction.middle().thread());
        Finding::warning(stage.field(), takes(case.fastener, &stage, utilisation.middle, &at))
    } else if utilisation.lowest >= 1.0 {
        let at = format!("if friction is as low as {:.2}", friction.lowest().thread());
        Finding::note(stage.field(), takes(case.fastener, &stage, utilisation.lowest, &at))
    } else {
        return Vec::new();
    };
    vec![with_evidence(finding, assessment, &stage)]
}

fn takes(fastener: &Fastener, stage: &TorqueStage, utilisation: f64, at: &str) -> String {
    format!("{} takes {} to {utilisation:.2} times its yield strength {at}", stage.torque, plan::bolt(fastener))
}

/// The finding with the torque, what is allowed, and what it rests on.
fn with_evidence(finding: Finding, assessment: &Assessment, stage: &TorqueStage) -> Finding {
    let (strength, unit) = (assessment.strength(), stage.torque.unit());
    let max = plan::in_unit(assessment.yields_from().middle, unit);
    finding
        .found(stage.torque)
        .allowed(Allowed::Range { min: None, max: Some(max) })
        .because("utilisation", assessment.utilisation(stage.middle()).middle, SOURCE)
        .because("yield_mpa", strength.yield_.megapascals(), strength.source)
        .because_of("friction", assessment.friction_words(), "VDI 2230-1:2015, table A5")
}
