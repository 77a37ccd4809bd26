use crate::audit::finding::{Allowed, Finding};
use crate::audit::rule::{FastenerCase, rule};
use crate::standards::{MaterialGroup, material};
use crate::units::{Length, LengthUnit, Stated};

rule! {
    /// A thread that reaches less far into the part than its material needs.
    ///
    /// # Why it matters
    /// The softer the part, the more turns have to share the load. With fewer than that, the thread wears out or tears
    /// after a few tightenings, even if it holds once. A `warning` is below half a diameter, where no material holds a
    /// bolt; a `note` is below what the trade reckons with for the material.
    ///
    /// # Flagged
    /// ```json
    /// { "into": { "material": "EN AC-46000", "engagement": "8 mm" } }
    /// ```
    /// ```json
    /// { "into": { "engagement": "3 mm" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "into": { "material": "EN AC-46000", "engagement": "16 mm" } }
    /// ```
    /// ```json
    /// { "into": { "material": "S355J0", "engagement": "8 mm" } }
    /// ```
    /// ```json
    /// { "role": "sensor", "into": { "engagement": "3 mm" } }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source: 0.8 diameters into steel, 1.25 into grey iron, 1.5 into aluminium, 2 into magnesium.
    "engagement-too-short", Fastener(check)
}

/// Below this share of the diameter no material holds a bolt.
const LEAST_OVER_DIAMETER: f64 = 0.5;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(into) = case.fastener.into.as_ref().filter(|_| case.fastener.role().is_limited_by_bolt()) else {
        return Vec::new();
    };
    let Some(engagement) = into.engagement else { return Vec::new() };
    let Some(geometry) = case.fastener.thread.geometry() else { return Vec::new() };
    let share = engagement.quantity() / geometry.major();
    let known = into.material.as_ref().and_then(|words| material(words));
    let needed = known.as_ref().map_or(LEAST_OVER_DIAMETER, |known| needed_over_diameter(known.group));
    if share >= needed.max(LEAST_OVER_DIAMETER) {
        return Vec::new();
    }
    let min: Length = geometry.major() * needed;
    let min = Stated::<LengthUnit>::of(min, engagement.unit(), 2);
    let name = known.as_ref().map_or("any material", |known| known.name);
    let message = format!("{engagement} is {share:.2} diameters of thread; {name} takes at least {needed} ({min})");
    let finding = if share < LEAST_OVER_DIAMETER {
        Finding::warning("into.engagement", message)
    } else {
        Finding::note("into.engagement", message)
    };
    let allowed = Allowed::Range { min: Some(min.to_string()), max: None };
    vec![finding.found(engagement).allowed(allowed).because("engagement_diameters", share, "common practice, no source")]
}

/// The least engagement that the trade reckons with, over the diameter.
fn needed_over_diameter(group: MaterialGroup) -> f64 {
    match group {
        MaterialGroup::Steel | MaterialGroup::Stainless | MaterialGroup::Nickel | MaterialGroup::Titanium => 0.8,
        MaterialGroup::DuctileIron => 1.0,
        MaterialGroup::GreyIron => 1.25,
        MaterialGroup::WroughtAluminium | MaterialGroup::CastAluminium => 1.5,
        MaterialGroup::Magnesium => 2.0,
    }
}
