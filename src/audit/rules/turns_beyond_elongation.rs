use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::angle;
use crate::tightening::{AngleAnswer, Extent};

rule! {
    /// Turns that stretch the bolt as far as its class can stretch.
    ///
    /// # Why it matters
    /// Beyond yield every further degree stays in the bolt as stretch. At about half of the elongation of its class it
    /// begins to neck, and at all of it, it is in two pieces. An `error` breaks the bolt and a `warning` takes it into
    /// necking, each at every friction and clamped length that is plausible, and even if the thread reaches up to the
    /// head, so that the most of the bolt can stretch.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "12.9", "grip": "12 mm", "length": "25 mm", "stages": ["20 N·m + 180° + 180°"] }
    /// ```
    /// ```json
    /// { "property_class": "10.9", "length": "16 mm", "stages": ["20 N·m + 360°"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "10.9", "grip": "60 mm", "length": "80 mm", "stages": ["20 N·m + 90°"] }
    /// ```
    /// ```json
    /// { "stages": ["20 N·m + 180° + 180°"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.1 (resilience) and 5.5.1; elongation after fracture of ISO 898-1 and the other strength
    /// tables; the flow beyond yield is our own model.
    "turns-beyond-elongation", Fastener(check)
}

/// Necking begins at about half of the elongation after fracture.
const NECKING: f64 = 0.5;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let turns: f64 = case.fastener.stages.iter().map(|stage| stage.total_turn().degrees()).sum();
    if turns == 0.0 {
        return Vec::new();
    }
    let Some(answer) = case.turned() else { return Vec::new() };
    let share = answer.strain_share;
    let finding = if answer.breaks.surely() {
        Finding::error("stages", format!("{} breaks the bolt", turned(answer)))
    } else if share.min() >= NECKING {
        Finding::warning("stages", format!("{} stretches the bolt {}", turned(answer), of_elongation(share)))
    } else {
        return Vec::new();
    };
    vec![
        finding
            .found(&case.fastener.stages)
            .because("strain_share_min", share.min(), angle::SOURCE)
            .because("yield_angle_deg", answer.yield_angle_deg.min(), angle::SOURCE),
    ]
}

fn turned(answer: &AngleAnswer) -> String {
    format!("a turn of {:.0}° over a clamped length of {} mm", answer.angle_deg.max(), span(answer.grip_mm))
}

fn of_elongation(share: Extent) -> String {
    format!("by at least {:.0} % of what its class can stretch", share.min() * 100.0)
}

fn span(extent: Extent) -> String {
    let (low, high) = (extent.min(), extent.max());
    if low < high { format!("{low:.0} to {high:.0}") } else { format!("{low:.0}") }
}
