use crate::audit::finding::Finding;
use crate::audit::plan::{self, TorqueStage};
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Form, Stage, Start};
use crate::standards::workshop_angles;
use crate::units::TorqueUnit;

rule! {
    /// A torque that is an angle with the wrong unit.
    ///
    /// # Why it matters
    /// `20 N·m, then 90` is easily entered as 20 N·m and 90 N·m. The number gives it away: it is one that angle gauges
    /// have, comes after a torque that would do for seating, and is more than the bolt bears.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["15 N·m", "90 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["15 N·m", "+ 90°"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "thread": "M14", "stages": ["50 N·m", "90 N·m"] }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source; the bolt's strength as in the rule `torque-beyond-yield`.
    "angle-typed-as-torque", Fastener(check)
}

/// Angles from here on are unlikely to be torques of small fasteners by chance.
const ANGLE_MIN: f64 = 45.0;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let stages = plan::torques(case.fastener);
    let pairs = stages.windows(2).map(|pair| (&pair[0], &pair[1]));
    pairs
        .filter(|(before, stage)| {
            is_an_angle(stage)
                && assessment.utilisation(stage.middle()).highest >= 1.0
                && assessment.utilisation(before.middle()).middle < 1.0
        })
        .map(|(before, stage)| {
            let number = stage.torque.numbers()[0];
            let message = format!(
                "{} is more than {} bears, but as an angle, {} + {number}°, it would be ordinary",
                stage.torque,
                plan::bolt(case.fastener),
                before.torque,
            );
            let turn = Stage::Tighten {
                start: Start::AsItIs,
                turns: vec![crate::record::Setting::new(Form::Exact(number), crate::units::AngleUnit::Degree)],
            };
            Finding::warning(stage.field(), message).found(stage.torque).one_of([turn])
        })
        .collect()
}

/// Whether the number is one that angle gauges have, in a unit that could have been typed for degrees.
fn is_an_angle(stage: &TorqueStage) -> bool {
    let Form::Exact(number) = stage.torque.form() else { return false };
    let in_a_workshop_unit = matches!(stage.torque.unit(), TorqueUnit::NewtonMeter | TorqueUnit::PoundFoot);
    in_a_workshop_unit
        && number.value() >= ANGLE_MIN
        && workshop_angles().any(|angle| (angle.degrees() - number.value()).abs() < 1e-9)
}
