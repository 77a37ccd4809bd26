use crate::audit::assessment::SOURCE;
use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::TABLE_UTILISATION;

rule! {
    /// A torque that is a full tightening by itself, followed by an angle.
    ///
    /// # Why it matters
    /// Before an angle, the torque only seats the parts: 20 to 60 % of what the bolt would get from torque alone. When
    /// the torque already uses the bolt up, the angle comes on top of it: either the final torque was entered as the
    /// snug torque, or the angle belongs to another fastener.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["27 N·m + 90°"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["27 N·m", "+ 90°"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["12 N·m + 90°"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["27 N·m", "back off", "10 N·m + 90°"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.5.1: the full torque is the one at 90 % of the yield strength and the middle friction. The
    /// usual share of a snug torque is common practice, no source.
    "snug-torque-too-high", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let stages = plan::torques(case.fastener);
    let Some(stage) = stages.iter().find(|stage| stage.is_snug()) else { return Vec::new() };
    let share = assessment.utilisation(stage.middle()).middle / TABLE_UTILISATION;
    if share < 1.0 {
        return Vec::new();
    }
    let full = assessment.yields_from().middle * TABLE_UTILISATION;
    let max = plan::in_unit(full, stage.torque.unit());
    let message = format!(
        "{} is a full tightening for {} ({:.0} % of {max}), and {:.0}° come on top of it",
        stage.torque,
        plan::bolt(case.fastener),
        share * 100.0,
        stage.turned.degrees(),
    );
    vec![
        Finding::warning(stage.field(), message)
            .found(stage.torque)
            .allowed(Allowed::Range { min: None, max: Some(max) })
            .because("share_of_full_torque", share, SOURCE)
            .because_of("friction", assessment.friction_words(), assessment.friction_source()),
    ]
}
