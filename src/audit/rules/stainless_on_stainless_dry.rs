use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::Fastener;
use crate::standards::{MaterialGroup, PropertyClass, material};

rule! {
    /// Stainless steel screwed into stainless steel without a lubricant.
    ///
    /// # Why it matters
    /// Stainless threads gall: under load the surfaces weld, the wrench clicks at its torque with hardly any preload, and
    /// the bolt can neither be tightened nor loosened any more. A paste or wax prevents that, and the torque must be the
    /// one for that lubricant. Stated as dry it is a `warning`, not stated a `note`.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "A2-70", "nut_class": "A2-70", "lubrication": "dry" }
    /// ```
    /// ```json
    /// { "property_class": "A4-80", "into": { "material": "1.4401" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "A2-70", "nut_class": "A2-70", "lubrication": "anti-seize paste" }
    /// ```
    /// ```json
    /// { "property_class": "A2-70", "into": { "material": "EN AC-46000" }, "lubrication": "dry" }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source; VDI 2230-1:2015, table A5 puts dry stainless pairs into its class of highest friction.
    "stainless-on-stainless-dry", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fastener = case.fastener;
    if !fastener.property_class.as_ref().is_some_and(is_stainless) || !is_into_stainless(fastener) {
        return Vec::new();
    }
    let field = "lubrication";
    let wanted = ["anti-seize paste", "wax"];
    match &fastener.lubrication {
        None if fastener.locking.is_some_and(super::is_liquid) => Vec::new(),
        None => {
            let message = "stainless threads gall in stainless; nothing says which lubricant is on them";
            vec![Finding::note(field, message).one_of(wanted)]
        }
        Some(words) if super::is_dry(words) => {
            let message = format!("stainless threads gall in stainless, and these are stated as \"{words}\"");
            vec![Finding::warning(field, message).found(words).one_of(wanted)]
        }
        Some(_) => Vec::new(),
    }
}

fn is_stainless(class: &PropertyClass) -> bool {
    matches!(class.standard(), Some("ISO 3506-1" | "ISO 3506-2"))
}

fn is_into_stainless(fastener: &Fastener) -> bool {
    let words = fastener.into.as_ref().and_then(|into| into.material.as_ref());
    let into_stainless = words.and_then(|words| material(words)).is_some_and(|found| {
        found.group == MaterialGroup::Stainless
    });
    into_stainless || fastener.nut_class.as_ref().is_some_and(is_stainless)
}
