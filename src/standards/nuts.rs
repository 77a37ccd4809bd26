//! Nuts: the classes of ISO 898-2 and ISO 3506-2 and the grades of SAE J995, what they bear, and which nut fits which bolt.
//!
//! This module knows no tapped holes: whether a thread in a part strips is computed in `mechanics`.

use super::citation::{Citation, Origin};
use super::iso898_2::{self, COARSE_LOADS, COARSE_STRESSES, COLUMNS, FINE_STRESSES, StressRow};
use super::loads::{Load, same_thread};
use super::property_class::PropertyClass;
use super::table::{Cell, Table};
use crate::thread::{System, Thread};
use crate::units::{Force, MILLIMETERS_PER_INCH, Stress, StressUnit, Unit};

/// How high a nut is for its thread (ISO 898-2, clause 5).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum NutStyle {
    /// Style 0: thin, less than 0.8 d; not made to bear the full load of a bolt.
    Thin,
    /// Style 1: regular, such as ISO 4032.
    Regular,
    /// Style 2: high, such as ISO 4033.
    High,
}

impl NutStyle {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Thin => "thin",
            Self::Regular => "regular",
            Self::High => "high",
        }
    }
}

/// What a nut bears.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NutStrength {
    /// The style that the value holds for.
    pub style: NutStyle,
    /// Stress under proof load, over the stress area of the bolt.
    pub stress: Stress,
    /// The proof load: as printed where the standard prints it, and computed.
    pub proof: Load,
    /// Where the stress stands.
    pub source: Citation,
}

/// Which nut a bolt needs.
#[derive(Debug, Clone, PartialEq)]
pub struct NutFit {
    /// The lowest nut class that bears the bolt's full load.
    pub needed: PropertyClass,
    /// Whether the nut in question is at least that.
    pub fits: bool,
    /// Where it stands.
    pub source: Citation,
}

/// Nut classes of ISO 898-2 (1992 and 2012), thin ones first as in the standard.
const ISO_898_2: [&str; 9] = ["04", "05", "4", "5", "6", "8", "9", "10", "12"];
/// Thin nuts of stainless steel; full nuts share the names of their bolts. The number is the proof stress ÷ 10.
const ISO_3506_2: [&str; 9] =
    ["A1-025", "A2-025", "A2-035", "A2-040", "A4-025", "A4-035", "A4-040", "C1-025", "C3-040"];

/// ISO 898-2:2012, Table 2, from memory: the lowest nut class for each bolt class.
const FITS: [(&str, &str); 11] = [
    ("3.6", "4"),
    ("4.6", "5"),
    ("4.8", "5"),
    ("5.6", "5"),
    ("5.8", "5"),
    ("6.8", "6"),
    ("8.8", "8"),
    ("9.8", "9"),
    ("10.9", "10"),
    ("12.9", "12"),
    ("14.9", "12"),
];
const FITS_SOURCE: Citation = Citation::new("ISO 898-2", "2012", "Table 2");

/// SAE J995:2012, Table 1, from memory: grade, greatest size in inches, proof stress in ksi for UNC, for UNF and 8UN.
const SAE_J995: [(&str, f64, f64, f64); 4] = [
    ("grade 2", 1.5, 90.0, 90.0),
    ("grade 5", 1.0, 120.0, 109.0),
    ("grade 5", 1.5, 105.0, 94.0),
    ("grade 8", 1.5, 150.0, 150.0),
];
const SAE_SOURCE: Citation = Citation::new("SAE J995", "2012", "Table 1");
/// Bolt grades of SAE J429 and the nut grade that they need.
const SAE_FITS: [(&str, &str); 10] = [
    ("grade 1", "grade 2"),
    ("grade 2", "grade 2"),
    ("grade 4", "grade 5"),
    ("grade 5", "grade 5"),
    ("grade 5.1", "grade 5"),
    ("grade 5.2", "grade 5"),
    ("grade 7", "grade 8"),
    ("grade 8", "grade 8"),
    ("grade 8.1", "grade 8"),
    ("grade 8.2", "grade 8"),
];

/// Every class that is one of nuts only.
pub(super) fn classes() -> impl Iterator<Item = &'static str> {
    ISO_898_2.into_iter().chain(ISO_3506_2)
}

/// The standard that has the class as one of nuts only.
pub(super) fn standard_of(class: &PropertyClass) -> Option<&'static str> {
    let found = |classes: &[&str]| classes.contains(&class.as_str());
    if found(&ISO_898_2) { Some("ISO 898-2") } else { found(&ISO_3506_2).then_some("ISO 3506-2") }
}

/// What a nut of a class bears on a thread. Without a style, the regular one where the class has it.
/// `None` for a class or size that no table has, and for a thread without geometry.
#[must_use]
pub fn nut_strength(class: &PropertyClass, style: Option<NutStyle>, thread: &Thread) -> Option<NutStrength> {
    let area = thread.geometry()?.stress_area();
    let (style, stress, source) = iso_898_2(class, style, thread)
        .or_else(|| stainless(class).filter(|found| style.is_none_or(|style| style == found.0)))
        .or_else(|| sae_j995(class, thread))?;
    let computed = Force::from_newtons(area.square_millimeters() * stress.megapascals());
    let proof = Load { published: published(class, style, thread), computed };
    Some(NutStrength { style, stress, proof, source })
}

fn iso_898_2(class: &PropertyClass, style: Option<NutStyle>, thread: &Thread) -> Option<(NutStyle, Stress, Citation)> {
    let (rows, citation): (&[StressRow], _) =
        if thread.is_coarse() { (&COARSE_STRESSES, iso898_2::COARSE) } else { (&FINE_STRESSES, iso898_2::FINE) };
    let d = thread.geometry()?.major().millimeters();
    let row = rows.iter().find(|row| {
        row.class == class.as_str()
            && style.is_none_or(|style| style == row.style)
            && d > row.over_mm + 0.001
            && d < row.to_mm + 0.001
    })?;
    Some((row.style, Stress::from_megapascals(row.stress_mpa), citation.with(row.origin)))
}

/// ISO 3506-2:2020, Table 3, from memory: the number of the class is a tenth of the proof stress in MPa.
fn stainless(class: &PropertyClass) -> Option<(NutStyle, Stress, Citation)> {
    let (_, number) =
        class.as_str().split_once('-').filter(|_| matches!(class.standard(), Some("ISO 3506-1" | "ISO 3506-2")))?;
    let style = if number.starts_with('0') { NutStyle::Thin } else { NutStyle::Regular };
    let tenth: f64 = number.parse().ok()?;
    Some((style, Stress::from_megapascals(tenth * 10.0), Citation::new("ISO 3506-2", "2020", "Table 3")))
}

/// Proof stress is higher for UNC than for the finer threads, where the nut is the thread's weaker half.
fn sae_j995(class: &PropertyClass, thread: &Thread) -> Option<(NutStyle, Stress, Citation)> {
    let diameter = thread.geometry().filter(|_| thread.system() == Some(System::Unified))?.major();
    let inches = diameter.millimeters() / MILLIMETERS_PER_INCH;
    let (_, _, coarse, fine) =
        *SAE_J995.iter().find(|(grade, to, ..)| *grade == class.as_str() && inches < to + 1e-4)?;
    let ksi = if thread.is_coarse() { coarse } else { fine };
    let stress = Stress::from_megapascals(ksi * StressUnit::KipPerSquareInch.in_base());
    Some((NutStyle::Regular, stress, SAE_SOURCE))
}

fn published(class: &PropertyClass, style: NutStyle, thread: &Thread) -> Option<(Force, Citation)> {
    let thread = thread.geometry()?;
    let column = COLUMNS.iter().position(|(listed, its)| *listed == class.as_str() && *its == style)?;
    let row = COARSE_LOADS.iter().find(|row| same_thread(row.diameter_mm, row.pitch_mm, &thread))?;
    let load = row.loads[column];
    let source = iso898_2::LOADS.with(iso898_2::column_origin(class.as_str()));
    (load > 0).then(|| (Force::from_newtons(f64::from(load)), source))
}

/// Whether a nut class bears the full load of a bolt class, and which class would.
/// A nut of a higher class fits. `None` where either is unknown or the two belong to different systems.
#[must_use]
pub fn nut_fit(nut: &PropertyClass, bolt: &PropertyClass) -> Option<NutFit> {
    let (needed, source) = nut_for(bolt)?;
    let fits =
        bearing(nut)? >= bearing(&needed)? && nut.as_str().starts_with("grade") == needed.as_str().starts_with("grade");
    Some(NutFit { needed, fits, source })
}

/// The lowest nut class that bears the full load of a bolt class.
#[must_use]
pub fn nut_for(bolt: &PropertyClass) -> Option<(PropertyClass, Citation)> {
    let find =
        |pairs: &[(&str, &'static str)]| pairs.iter().find(|(class, _)| *class == bolt.as_str()).map(|(_, nut)| *nut);
    let known = |text: &str| text.parse().ok();
    if let Some(nut) = find(&FITS) {
        return Some((known(nut)?, FITS_SOURCE));
    }
    if let Some(nut) = find(&SAE_FITS) {
        return Some((known(nut)?, SAE_SOURCE));
    }
    let is_stainless = bolt.standard() == Some("ISO 3506-1");
    is_stainless.then(|| (bolt.clone(), Citation::new("ISO 3506-2", "2020", "Clause 5")))
}

/// A number that rises with what a nut class bears, comparable across ISO 898-2 and ISO 3506-2; thin nuts bear least.
fn bearing(nut: &PropertyClass) -> Option<f64> {
    let text = nut.as_str();
    if let Some((_, _, ksi, _)) = SAE_J995.iter().find(|(grade, ..)| *grade == text) {
        return Some(*ksi);
    }
    if let Some((_, stress, _)) = stainless(nut) {
        return Some(stress.megapascals() / 100.0);
    }
    let number = ISO_898_2.contains(&text).then(|| text.parse::<f64>().ok()).flatten()?;
    // 04 and 05 are thin: they are called for their proof stress of 380 and 500 MPa and never fit a full load.
    Some(if text.starts_with('0') { 0.0 } else { number })
}

/// The tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let mut tables = iso898_2::tables();
    let mut fits = Table::new("iso-898-2-fits", "Which nut fits which bolt", FITS_SOURCE, "", &["bolt", "nut"])
        .note("A nut of a higher class fits too. Thin nuts bear less than the bolt.");
    for (bolt, nut) in FITS {
        fits.push(Origin::FromMemory, [Cell::from(bolt), Cell::from(nut)]);
    }
    let columns = ["grade", "up_to_in", "unc_ksi", "unf_ksi"];
    let mut sae = Table::new("sae-j995-nuts", "Proof stress of inch nuts", SAE_SOURCE, "ksi", &columns);
    for (grade, to, coarse, fine) in SAE_J995 {
        sae.push(Origin::FromMemory, [Cell::from(grade), to.into(), coarse.into(), fine.into()]);
    }
    tables.extend([fits, sae]);
    tables
}

#[cfg(test)]
mod tests {
    use super::*;

    fn class(text: &str) -> PropertyClass {
        text.parse().expect(text)
    }

    fn on(thread: &str) -> Thread {
        thread.parse().expect(thread)
    }

    #[test]
    fn style_and_pitch_decide() {
        let strength = |text: &str, style, thread: &str| {
            nut_strength(&class(text), style, &on(thread)).map(|n| n.stress.megapascals())
        };
        assert_eq!(strength("8", None, "M20"), Some(920.0));
        assert_eq!(strength("8", Some(NutStyle::High), "M20"), Some(890.0));
        assert_eq!(strength("8", None, "M20×1.5"), Some(1030.0));
        assert_eq!(strength("4", None, "M10"), None);
        assert_eq!(strength("A4-80", None, "M10"), Some(800.0));
        assert_eq!(strength("grade 5", None, "3/8-16 UNC").map(f64::round), Some(827.0));
        assert_eq!(strength("grade 5", None, "3/8-24 UNF").map(f64::round), Some(752.0));
    }

    #[test]
    fn which_nut_fits() {
        let fit =
            |nut: &str, bolt: &str| nut_fit(&class(nut), &class(bolt)).map(|fit| (fit.needed.to_string(), fit.fits));
        assert_eq!(fit("8", "8.8"), Some(("8".into(), true)));
        assert_eq!(fit("10", "8.8"), Some(("8".into(), true)));
        assert_eq!(fit("8", "10.9"), Some(("10".into(), false)));
        assert_eq!(fit("05", "5.8"), Some(("5".into(), false)));
        assert_eq!(fit("A2-70", "A4-80"), Some(("A4-80".into(), false)));
        assert_eq!(fit("grade 5", "grade 8"), Some(("grade 8".into(), false)));
        assert_eq!(fit("8", "8.7"), None);
    }
}
