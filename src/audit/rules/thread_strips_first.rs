use crate::audit::finding::Finding;
use crate::audit::holding::{Hold, hold};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::stripping;

rule! {
    /// A tapped thread that strips before the bolt yields.
    ///
    /// # Why it matters
    /// When a bolt is overloaded it should stretch, not tear the thread out of the part: a bolt is cheap, a housing is
    /// not. An `error` strips the thread while the bolt is being tightened, even at the highest friction; a `warning`
    /// at the middle friction; a `note` says that the stated torque holds, but the thread would go before the bolt.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "12.9", "friction": "0.10-0.16", "stages": ["35 N·m"],
    ///   "into": { "material": "EN AC-46000", "engagement": "6 mm" } }
    /// ```
    /// ```json
    /// { "property_class": "10.9", "friction": "0.10-0.16", "stages": ["10 N·m"],
    ///   "into": { "material": "EN AC-46000", "engagement": "8 mm" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["20 N·m"],
    ///   "into": { "material": "EN AC-46000", "engagement": "18 mm" } }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "stages": ["20 N·m"], "into": { "material": "oak", "engagement": "18 mm" } }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.5.5 (after Alexander); shear strengths of VDI 2230-1, table A9; tolerances of ISO 965-1 and
    /// ASME B1.1.
    "thread-strips-first", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let Some(Hold { material, engagement, force, needed }) = hold(case, assessment) else { return Vec::new() };
    let reached = plan::greatest_preload(case, assessment);
    let yields_at = assessment.yield_preload();
    let (field, into) = ("into.engagement", format!("{engagement} in {}", material.name));
    let kn = |force: crate::units::Force| format!("{:.1} kN", force.newtons() / 1000.0);
    let finding = match reached {
        Some(reached) if reached.highest >= force => {
            let message = format!("{into} strips at {}, and the stages reach {}", kn(force), kn(reached.highest));
            Finding::error(field, message)
        }
        Some(reached) if reached.middle >= force => {
            let message = format!("{into} strips at {}, and the stages reach {}", kn(force), kn(reached.middle));
            Finding::warning(field, message)
        }
        _ if yields_at >= force => {
            let message = format!("{into} strips at {}, before the bolt yields at {}", kn(force), kn(yields_at));
            Finding::note(field, message)
        }
        _ => return Vec::new(),
    };
    let min = crate::audit::finding::Allowed::Range { min: Some(needed), max: None };
    vec![
        finding
            .found(engagement)
            .allowed(min)
            .because("stripping_force_n", force.newtons(), stripping::SOURCE)
            .because("shear_strength_mpa", material.shear.megapascals(), material.shear_source),
    ]
}
