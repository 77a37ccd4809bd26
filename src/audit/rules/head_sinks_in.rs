use crate::audit::finding::{Allowed, Finding};
use crate::audit::holding;
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::pressure;
use crate::standards::{Material, PressureLimit, material};
use crate::units::{Stress, StressUnit, StatedStress};

rule! {
    /// A head that sinks into the part under it.
    ///
    /// # Why it matters
    /// Above its limiting pressure the part creeps under the head, and the preload is gone after the first warm day. A
    /// washer or a flange spreads the pressure. The editions of the guideline differ in their limits: a `warning` is
    /// above the highest of them, a `note` above the lowest.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "12.9", "head": "socket-cap", "friction": "0.10-0.16", "stages": ["38 N·m"],
    ///   "seat": { "material": "EN AC-46000" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "head": "hexagon-flange", "friction": "0.10-0.16", "stages": ["18 N·m"],
    ///   "seat": { "material": "GJL-250" } }
    /// ```
    /// ```json
    /// { "property_class": "12.9", "head": "hexagon", "friction": "0.10-0.16", "stages": ["38 N·m"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.5.4; limits of VDI 2230, table A9, editions 1986, 2003 and 2015.
    "head-sinks-in", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let words = case.fastener.seat.as_ref().and_then(|seat| seat.material.as_ref());
    let Some(material) = words.and_then(|words| material(words)) else { return Vec::new() };
    let Some((face, source)) = holding::bearing_face(case.fastener) else { return Vec::new() };
    let Some(preload) = plan::greatest_preload(case, assessment) else { return Vec::new() };
    let Some((least, most)) = limits(&material) else { return Vec::new() };
    let pressure = preload.middle / face.area();
    if pressure < least.pressure {
        return Vec::new();
    }
    let mpa = |stress: Stress| StatedStress::of(stress, StressUnit::Megapascal, 3).to_string();
    let limit = if pressure >= most.pressure { most } else { least };
    let message = format!(
        "the head presses with {} on {}, which creeps from {}",
        mpa(pressure),
        material.name,
        mpa(limit.pressure)
    );
    let finding = if pressure >= most.pressure {
        Finding::warning("seat.material", message)
    } else {
        Finding::note("seat.material", format!("{message} by the strictest edition"))
    };
    vec![
        finding
            .found(mpa(pressure))
            .allowed(Allowed::Range { min: None, max: Some(mpa(limit.pressure)) })
            .because("pressure_mpa", pressure.megapascals(), pressure::SOURCE)
            .because("limit_mpa", limit.pressure.megapascals(), limit.source)
            .because("bearing_area_mm2", face.area().square_millimeters(), source),
    ]
}

/// The lowest and the highest limit that an edition has for the material.
fn limits(material: &Material) -> Option<(PressureLimit, PressureLimit)> {
    let by = |a: &&PressureLimit, b: &&PressureLimit| a.pressure.megapascals().total_cmp(&b.pressure.megapascals());
    let (least, most) = (material.pressures.iter().min_by(by)?, material.pressures.iter().max_by(by)?);
    Some((*least, *most))
}
