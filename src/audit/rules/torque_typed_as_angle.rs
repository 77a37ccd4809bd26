use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Fastener, Form, Setting};
use crate::units::{AngleUnit, TorqueUnit};

rule! {
    /// A turn whose number is the torque of a fastener beside it.
    ///
    /// # Why it matters
    /// A final torque entered as an angle leaves a bolt loose or breaks it, depending on the number. Where another
    /// fastener of the joint, with the same thread and class, is tightened to that very number by torque alone, and the
    /// bolt bears that torque, the unit is probably wrong.
    ///
    /// # Flagged
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["8 N·m", "+ 20°"] }, { "property_class": "8.8", "stages": ["8 N·m", "20 N·m"] } ]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "property_class": "8.8", "stages": ["8 N·m", "+ 90°"] }, { "property_class": "8.8", "stages": ["8 N·m", "20 N·m"] } ]
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
    if beside.is_empty() {
        return Vec::new();
    }
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
            }
        }
    }
    findings
}

fn torque_of_that_number(other: &Fastener, turn: Setting<AngleUnit>) -> Option<Setting<TorqueUnit>> {
    let Form::Exact(number) = turn.form() else { return None };
    let torque = plan::last_without_turns(other)?.torque;
    let is_same = matches!(torque.form(), Form::Exact(own) if (own.value() - number.value()).abs() < 1e-9);
    (is_same && turn.unit() == AngleUnit::Degree).then_some(torque)
}
