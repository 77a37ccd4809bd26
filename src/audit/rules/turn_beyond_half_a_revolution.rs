use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::units::Angle;

rule! {
    /// A single turn of more than half a revolution, or turns that add up to more than one.
    ///
    /// # Why it matters
    /// Nobody turns more than half a revolution in one go: the wrench has to be set anew, and the count is easily lost.
    /// Instructions split such a turn. A larger one may be right for a long bolt, but is worth a look: a `note`. Turns
    /// that add up to more than a whole revolution are a `warning`: hardly any bolt is long enough for that.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["20 N·m + 270°"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m + 180° + 180°", "+ 90°"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["20 N·m + 90° + 90°"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m + 180°", "back off 360°"] }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source: single steps up to 180°, sums up to about 360°.
    "turn-beyond-half-a-revolution", Fastener(check)
}

const SINGLE_MAX: f64 = 180.0;
const SUM_MAX: f64 = 360.0;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, stage) in case.fastener.stages.iter().enumerate() {
        for turn in stage.turns() {
            let degrees = turn.middle().degrees();
            // Beyond a whole turn it is no angle of a workshop at all, which has a rule of its own.
            if degrees > SINGLE_MAX && degrees <= SUM_MAX {
                let message = format!("{turn} is more than half a revolution; a card splits it into steps");
                findings.push(Finding::note(plan::field(index), message).found(turn).allowed(up_to(SINGLE_MAX)));
            }
        }
    }
    let turned: Vec<f64> = plan::torques(case.fastener).iter().map(|stage| stage.turned.degrees()).collect();
    let most = turned.iter().copied().fold(0.0, f64::max);
    let in_one_go = case.fastener.stages.iter().flat_map(|stage| stage.turns()).any(|turn| is_over(turn.middle()));
    if most > SUM_MAX && !in_one_go {
        let message = format!("the turns add up to {most:.0}°, more than one revolution");
        findings.push(Finding::warning("stages", message).found(format!("{most:.0}°")).allowed(up_to(SUM_MAX)));
    }
    findings
}

fn is_over(turn: Angle) -> bool {
    turn.degrees() > SUM_MAX
}

fn up_to(degrees: f64) -> Allowed {
    Allowed::Range { min: None, max: Some(format!("{degrees}°")) }
}
