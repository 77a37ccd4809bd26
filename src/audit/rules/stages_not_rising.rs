use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Setting, Stage, Start};
use crate::units::TorqueUnit;

rule! {
    /// A stage whose torque is below that of the stage before, with no loosening between them.
    ///
    /// # Why it matters
    /// A wrench set to less than what the fastener already has does nothing: it clicks at once. Either the stages were
    /// entered in the wrong order, one of the torques is wrong, or the source loosens the fastener between the two and
    /// the entry leaves that out. A second pass at the same torque is nothing unusual.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["40 N·m", "20 N·m", "60 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m", "hand"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["20 N·m", "20 N·m", "45 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["40 N·m", "back off 180°", "20 N·m + 90°"] }
    /// ```
    ///
    /// # Sources
    /// Follows from what a torque wrench does; repeated passes and loosening between stages are common practice, no
    /// source.
    "stages-not-rising", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut reached: Option<Setting<TorqueUnit>> = None;
    for (index, stage) in case.fastener.stages.iter().enumerate() {
        match stage {
            Stage::BackOff(_) => reached = None,
            Stage::Tighten { start: Start::Hand, .. } => {
                if let Some(before) = reached {
                    let message = format!("by hand after {before}: nothing loosens it between the two");
                    findings.push(Finding::warning(plan::field(index), message).found(stage));
                }
            }
            Stage::Tighten { start: Start::Torque(torque), .. } => {
                if let Some(before) = reached.filter(|before| torque.middle() < before.middle()) {
                    findings.push(falls(index, *torque, before));
                }
                reached = Some(*torque);
            }
            Stage::Tighten { start: Start::AsItIs, .. } | Stage::Check(_) | Stage::Skip => {}
        }
    }
    findings
}

fn falls(index: usize, torque: Setting<TorqueUnit>, before: Setting<TorqueUnit>) -> Finding {
    let message = format!("{torque} comes after {before}, and nothing loosens it between the two");
    Finding::warning(plan::field(index), message)
        .found(torque)
        .allowed(Allowed::Range { min: Some(before.to_string()), max: None })
}
