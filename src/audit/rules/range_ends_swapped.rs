use crate::audit::finding::Finding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Form, Setting, Stage};
use crate::units::Unit;

rule! {
    /// A range whose ends are swapped.
    ///
    /// # Why it matters
    /// A range is written from the smaller to the larger. The other way round, one of its ends is wrong, or a digit of
    /// it is: `30-25` was `20-25` or `25-30`.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["25-20 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m + 90-60°"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["20-25 N·m"] }
    /// ```
    ///
    /// # Sources
    /// Follows from what a range is.
    "range-ends-swapped", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, stage) in case.fastener.stages.iter().enumerate() {
        findings.extend(stage.torque().and_then(|torque| judge(index, torque)));
        findings.extend(stage.turns().iter().filter_map(|turn| judge(index, *turn)));
        if let Stage::BackOff(Some(turn)) = stage {
            findings.extend(judge(index, *turn));
        }
    }
    findings
}

fn judge<U: Unit>(index: usize, setting: Setting<U>) -> Option<Finding> {
    let Form::Range(from, to) = setting.form() else { return None };
    if from.value() <= to.value() {
        return None;
    }
    let message = format!("the range {setting} goes down; one of its ends is wrong, or they are swapped");
    let swapped = Setting::new(Form::Range(to, from), setting.unit());
    Some(Finding::error(plan::field(index), message).found(setting).one_of([swapped]))
}
