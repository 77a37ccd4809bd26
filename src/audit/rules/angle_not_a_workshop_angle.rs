use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::{Form, Setting, Stage};
use crate::units::{Angle, AngleUnit};

rule! {
    /// An angle that no workshop instruction would ask for.
    ///
    /// # Why it matters
    /// Angles are turned with a gauge that is marked in steps of 5°, or by flats and fractions of a turn: 30°, 45°,
    /// 60°, 90°, 120°. `9°` and `900°` are a 90° with a slipped digit; `37°` was a torque, or was misread.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["20 N·m + 9°"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m + 900°"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m", "+ 37°"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "stages": ["20 N·m + 90° + 45°"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m + 3/4 turn"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m + 110 ± 5°", "back off 180°"] }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source: steps of 5° or 15°, from 15° to one turn; fractions of a turn.
    "angle-not-a-workshop-angle", Fastener(check)
}

/// The least and the greatest angle of one turn, and of loosening.
const TURN: (f64, f64) = (10.0, 360.0);
const LOOSENING_MAX: f64 = 1080.0;
/// Gauges are marked in these steps.
const STEP: f64 = 5.0;
/// Half of a sixteenth of a turn: the finest fraction in use is 22.5°.
const FRACTION: f64 = 22.5;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, stage) in case.fastener.stages.iter().enumerate() {
        findings.extend(stage.turns().iter().filter_map(|turn| judge(index, *turn, TURN)));
        if let Stage::BackOff(Some(turn)) = stage {
            findings.extend(judge(index, *turn, (TURN.0, LOOSENING_MAX)));
        }
    }
    findings
}

fn judge(index: usize, turn: Setting<AngleUnit>, (min, max): (f64, f64)) -> Option<Finding> {
    let angle: Angle = turn.middle();
    let degrees = angle.degrees();
    let field = plan::field(index);
    if !(min..=max).contains(&degrees) {
        let message = format!("{turn} is not an angle that is turned in one go");
        let allowed = Allowed::Range { min: Some(format!("{min}°")), max: Some(format!("{max}°")) };
        return Some(Finding::warning(field, message).found(turn).allowed(allowed));
    }
    if turn.unit() == AngleUnit::Turn || is_multiple(degrees, STEP) || is_multiple(degrees, FRACTION) {
        return None;
    }
    let message = format!("{turn} is not on an angle gauge, which goes by steps of {STEP}°");
    let near = [(degrees / STEP).floor() * STEP, (degrees / STEP).ceil() * STEP];
    // A range from one angle to another is read off a drawing, not off a gauge.
    let finding = match turn.form() {
        Form::Exact(_) => Finding::warning(field, message),
        _ => Finding::note(field, message),
    };
    Some(finding.found(turn).one_of(near.map(|angle| format!("{angle}°"))))
}

fn is_multiple(degrees: f64, step: f64) -> bool {
    let times = degrees / step;
    (times - times.round()).abs() < 1e-9
}
