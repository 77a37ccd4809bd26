use crate::audit::assessment::{Assessment, ByFriction, FrictionIs, SOURCE};
use crate::audit::doubt::{is_in_line, perhaps_meant};
use crate::audit::finding::{Allowed, Finding, Severity};
use crate::audit::plan::{self, TorqueStage};
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::{Friction, LEAST_SHARE, TABLE_UTILISATION};
use crate::record::Fastener;

rule! {
    /// A torque that stretches the bolt beyond its yield strength.
    ///
    /// # Why it matters
    /// A bolt tightened beyond yield stays longer, clamps less each time it is used again, and is close to breaking.
    /// A torque that does so is nearly always a wrong one: a lost decimal point, *thirteen* heard as *thirty*, the
    /// value of the next size. Tightening beyond yield on purpose is done by angle, not by torque alone.
    ///
    /// Friction and the bolt's real strength decide; the standard states only the least strength, and real bolts are 5
    /// to 15 % stronger. An `error` yields the strongest of them even at the highest friction to be expected; a
    /// `warning` yields either the strongest at the middle friction or the weakest at the highest; a `note` yields the
    /// weakest if friction is low. Where the record says nothing about friction, the low end of what is assumed is not
    /// held against the torque. Where the value stands in line with a whole series of its source, the source counts on
    /// more friction or more strength than is stated here: it is a `note`, and what speaks against the whole series is told
    /// once, by `whole-column-improbable`.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["60 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["35 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "10.9", "lubrication": "oiled", "stages": ["36 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["22 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "role": "plug", "stages": ["60 N·m"] }
    /// ```
    /// ```json
    /// { "stages": ["60 N·m"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.4.3 and 5.5.1 (exact form, plastic torsion); strengths of ISO 898-1, ISO 3506-1, SAE J429 and
    /// ASTM; friction of VDI 2230-1, table A5.
    "torque-beyond-yield", Fastener(check)
}

/// How much stronger a real bolt may be than its class demands (common practice, no source: 5 to 15 %).
const STRONGEST: f64 = 1.15;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let Some(stage) = plan::highest(case.fastener) else { return Vec::new() };
    let utilisation = assessment.utilisation(stage.middle());
    let friction = assessment.friction();
    let at = |words: &str, friction: Friction| format!("{words} {:.2}", friction.head());
    let finding = if utilisation.highest >= STRONGEST {
        let at = at("even at the highest friction,", friction.highest());
        Finding::error(stage.field(), takes(case.fastener, &stage, utilisation.highest, &at))
    } else if utilisation.middle >= STRONGEST {
        let at = at("at friction", friction.middle());
        Finding::warning(stage.field(), takes(case.fastener, &stage, utilisation.middle, &at))
    } else if utilisation.highest >= 1.0 {
        let at = at("even at the highest friction,", friction.highest());
        Finding::warning(stage.field(), takes(case.fastener, &stage, utilisation.highest, &at))
    } else if utilisation.lowest >= 1.0 && !only_by_assumption(assessment, utilisation) {
        let at = at("if friction is as low as", friction.lowest());
        Finding::note(stage.field(), takes(case.fastener, &stage, utilisation.lowest, &at))
    } else {
        return Vec::new();
    };
    let mut finding = with_evidence(finding, assessment, &stage);
    if finding.severity > Severity::Note && is_in_line(case, stage.index) {
        finding.severity = Severity::Note;
        finding.message += ", as the other values of its series do";
    }
    finding.perhaps = perhaps_meant(case, stage.index);
    vec![finding]
}

/// Whether nothing but the low end of an assumed range of friction speaks against the torque.
fn only_by_assumption(assessment: &Assessment, utilisation: ByFriction<f64>) -> bool {
    *assessment.friction_is() == FrictionIs::Assumed && utilisation.middle < 1.0
}

fn takes(fastener: &Fastener, stage: &TorqueStage, utilisation: f64, at: &str) -> String {
    format!("{} takes {} to {utilisation:.2} times its yield strength {at}", stage.torque, plan::bolt(fastener))
}

/// The finding with the torque, what is allowed at the middle friction (from half of the preload that tables are made
/// for, up to yield), and what it rests on.
fn with_evidence(finding: Finding, assessment: &Assessment, stage: &TorqueStage) -> Finding {
    let (strength, unit) = (assessment.strength(), stage.torque.unit());
    let yields_from = assessment.yields_from().middle;
    let min = plan::in_unit(yields_from * (LEAST_SHARE * TABLE_UTILISATION), unit);
    let max = plan::in_unit(yields_from, unit);
    finding
        .found(stage.torque)
        .allowed(Allowed::Range { min: Some(min), max: Some(max) })
        .because("utilisation", assessment.utilisation(stage.middle()).middle, SOURCE)
        .because("yield_mpa", strength.yield_.megapascals(), strength.source)
        .because_of("friction", assessment.friction_words(), assessment.friction_source())
}
