use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::TABLE_UTILISATION;
use crate::record::{Fastener, Form, Setting};
use crate::standards::workshop_angles;
use crate::units::{AngleUnit, TorqueUnit};

rule! {
    /// A turn whose number is a torque: that of a fastener beside it, or the one that its bolt takes.
    ///
    /// # Why it matters
    /// A final torque entered as an angle leaves a bolt loose or breaks it, depending on the number. Where another
    /// fastener of the joint, with the same thread and class, is tightened to that very number by torque alone, and the
    /// bolt bears that torque, the unit is probably wrong. So is a turn by a number that no angle gauge is used for where the
    /// same number in newton-metres would be an ordinary torque for the bolt, and more than the torque before it.
    ///
    /// # Flagged
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["8 N·m", "+ 20°"] }, { "property_class": "8.8", "stages": ["8 N·m", "20 N·m"] } ]
    /// ```
    /// ```json
    /// { "property_class": "8.8", "stages": ["8 N·m", "+ 25°"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["8 N·m", "+ 90°"] }, { "property_class": "8.8", "stages": ["8 N·m", "20 N·m"] } ]
    /// ```
    /// ```json
    /// { "property_class": "8.8", "stages": ["8 N·m", "+ 30°"] }
    /// ```
    /// ```json
    /// { "thread": "M16", "property_class": "8.8", "stages": ["60 N·m", "+ 25°"] }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source.
    "torque-typed-as-angle", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    if !plan::has_turns(case.fastener) {
        return Vec::new();
    }
    let beside: Vec<&Fastener> = case.alike_in_joint().filter(|other| !plan::has_turns(other)).collect();
    let mut findings = Vec::new();
    let bears = |torque: Setting<TorqueUnit>| {
        case.assessment().is_ok_and(|assessment| assessment.utilisation(torque.middle()).middle < 1.0)
    };
    for (index, stage) in case.fastener.stages.iter().enumerate() {
        for turn in stage.turns() {
            let torque = beside.iter().find_map(|other| torque_of_that_number(other, *turn));
            if let Some(torque) = torque.filter(|torque| bears(*torque)) {
                let message = format!("{turn} is the number of the fastener beside it, which takes {torque}");
                findings.push(Finding::warning(plan::field(index), message).found(turn).one_of([torque]));
            } else if let Some(torque) = ordinary_torque(case, index, *turn) {
                let bolt = plan::bolt(case.fastener);
                let message = format!("{turn} is no usual angle, but {torque} would be an ordinary torque for {bolt}");
                findings.push(Finding::note(plan::field(index), message).found(turn).one_of([torque]));
            }
        }
    }
    findings
}

/// The torque of this number in newton-metres, where no gauge is used for such an angle and the bolt takes such a torque.
fn ordinary_torque(case: &FastenerCase<'_>, index: usize, turn: Setting<AngleUnit>) -> Option<Setting<TorqueUnit>> {
    /// Of the torque for 90 % of the yield strength: what tables and joints mostly come to.
    const ORDINARY: std::ops::RangeInclusive<f64> = 0.6..=1.1;
    let Form::Exact(number) = turn.form() else { return None };
    let is_usual = workshop_angles().any(|angle| (angle.degrees() - turn.middle().degrees()).abs() < 1e-9);
    if is_usual || turn.unit() != AngleUnit::Degree {
        return None;
    }
    let torque = Setting::new(Form::Exact(number), TorqueUnit::NewtonMeter);
    let share = case.assessment().ok()?.utilisation(torque.middle()).middle / TABLE_UTILISATION;
    let before = plan::torques(case.fastener).into_iter().rev().find(|stage| stage.index <= index)?;
    (ORDINARY.contains(&share) && torque.middle() > before.middle()).then_some(torque)
}

fn torque_of_that_number(other: &Fastener, turn: Setting<AngleUnit>) -> Option<Setting<TorqueUnit>> {
    let Form::Exact(number) = turn.form() else { return None };
    let torque = plan::last_without_turns(other)?.torque;
    let is_same = matches!(torque.form(), Form::Exact(own) if (own.value() - number.value()).abs() < 1e-9);
    (is_same && turn.unit() == AngleUnit::Degree).then_some(torque)
}
