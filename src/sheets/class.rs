//! The sheet of one property class.

use super::six_figures;
use crate::standards::{Elongation, NoStrength, PropertyClass, Strength, YieldKind, loads, strength, strength_sizes};
use crate::thread::Thread;
use serde::Serialize;

/// What a standard demands of a property class: in one size, or in every size that it distinguishes.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
#[serde(untagged)]
pub enum ClassSheet {
    /// For one thread.
    Thread(Box<ClassSize>),
    /// For every range of sizes.
    Sizes {
        /// The class.
        property_class: String,
        /// A row for each range of sizes, in the order of the standard.
        sizes: Vec<ClassSize>,
    },
}

/// The least strengths of a class in a size or a range of sizes.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct ClassSize {
    /// The class.
    pub property_class: String,
    /// The thread that loads were computed for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thread: Option<String>,
    /// The sizes that the strengths hold for.
    pub sizes: String,
    /// Least tensile strength.
    pub tensile_mpa: f64,
    /// Least yield strength.
    pub yield_mpa: f64,
    /// What the yield strength is measured as.
    pub yield_kind: YieldKind,
    /// Stress under proof load.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proof_mpa: Option<f64>,
    /// Least elongation after fracture, in per cent of the gauge length.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub elongation_percent: Option<f64>,
    /// Least extension at fracture as a multiple of the diameter (stainless steel).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub elongation_diameters: Option<f64>,
    /// Stress area of the thread.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stress_area_mm2: Option<f64>,
    /// Proof load of the thread: as the standard prints it where it does, else stress area times stress.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub proof_load_n: Option<f64>,
    /// Least ultimate tensile load of the thread, likewise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ultimate_load_n: Option<f64>,
    /// Where the strengths stand.
    pub source: String,
    /// Where the loads stand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loads_source: Option<String>,
}

impl ClassSheet {
    /// The sheet of this class, for one thread or for all sizes.
    ///
    /// # Errors
    /// If no standard known here has the class, has it in this size, or has strengths for it.
    pub fn of(class: &PropertyClass, thread: Option<&Thread>) -> Result<Self, NoStrength> {
        let Some(geometry) = thread.and_then(Thread::geometry) else {
            let sizes: Vec<_> = strength_sizes(class)?.iter().map(|strength| ClassSize::of(class, strength)).collect();
            return Ok(Self::Sizes { property_class: class.to_string(), sizes });
        };
        let strength = strength(class, geometry.major())?;
        let loads = loads(class, &geometry)?;
        Ok(Self::Thread(Box::new(ClassSize {
            thread: thread.map(ToString::to_string),
            stress_area_mm2: Some(six_figures(loads.stress_area.square_millimeters())),
            proof_load_n: loads.proof.map(|load| six_figures(load.value().newtons())),
            ultimate_load_n: Some(six_figures(loads.ultimate.value().newtons())),
            loads_source: Some(
                loads
                    .ultimate
                    .published
                    .map_or_else(|| "stress area × stress, computed".to_owned(), |(_, citation)| citation.to_string()),
            ),
            ..ClassSize::of(class, &strength)
        })))
    }

    /// The rows of the sheet.
    #[must_use]
    pub fn rows(&self) -> &[ClassSize] {
        match self {
            Self::Thread(row) => std::slice::from_ref(row),
            Self::Sizes { sizes, .. } => sizes,
        }
    }
}

impl ClassSize {
    fn of(class: &PropertyClass, strength: &Strength) -> Self {
        Self {
            property_class: class.to_string(),
            thread: None,
            sizes: strength.sizes.to_string(),
            tensile_mpa: six_figures(strength.tensile.megapascals()),
            yield_mpa: six_figures(strength.yield_.megapascals()),
            yield_kind: strength.yield_kind,
            proof_mpa: strength.proof.map(|proof| six_figures(proof.megapascals())),
            elongation_percent: strength
                .elongation
                .and_then(Elongation::strain)
                .map(|strain| six_figures(strain * 100.0)),
            elongation_diameters: match strength.elongation {
                Some(Elongation::Diameters(multiple)) => Some(multiple),
                _ => None,
            },
            stress_area_mm2: None,
            proof_load_n: None,
            ultimate_load_n: None,
            source: strength.source.to_string(),
            loads_source: None,
        }
    }
}
