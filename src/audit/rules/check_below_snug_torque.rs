use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Setting, Stage, Start};
use crate::units::TorqueUnit;

rule! {
    /// A check value below what the fastener was already tightened to.
    ///
    /// # Why it matters
    /// A check after the last stage says which torque must have been reached. When it is below the torque that the
    /// stages already ask for, every fastener passes it, and the check finds nothing. One of the two numbers is wrong.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["50 N·m + 90°", "check ≥ 10 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["50 N·m + 90°", "check ≥ 100 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["50 N·m", "back off", "20 N·m + 90°", "check ≥ 40 N·m"] }
    /// ```
    ///
    /// # Sources
    /// Follows from what a check is.
    "check-below-snug-torque", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut reached: Option<Setting<TorqueUnit>> = None;
    for (index, stage) in case.fastener.stages.iter().enumerate() {
        match stage {
            Stage::Tighten { start: Start::Torque(torque), .. } => reached = Some(*torque),
            Stage::Tighten { start: Start::Hand, .. } | Stage::BackOff(_) => reached = None,
            Stage::Tighten { .. } | Stage::Skip => {}
            Stage::Check(least) => {
                let Some(before) = reached.filter(|before| least.quantity() < before.ends().0) else { continue };
                let message = format!("the check asks for {least}, but the stages have already reached {before}");
                let allowed = Allowed::Range { min: Some(before.to_string()), max: None };
                findings.push(Finding::warning(plan::field(index), message).found(stage).allowed(allowed));
            }
        }
    }
    findings
}
