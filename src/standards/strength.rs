//! The strength of a property class in a size, whichever standard has the class.
//!
//! This module judges nothing: it says what the standard demands at least, not what a bolt has.

use super::citation::{Citation, Origin};
use super::property_class::PropertyClass;
use super::shear_ratio::{ShearRatio, shear_ratio};
use super::size::{Size, SizeRange};
use super::table::{Cell, Table};
use super::{astm, iso898_1, iso3506_1, nuts, sae_j429};
use crate::units::{Length, Stress, StressUnit, Unit};
use std::borrow::Cow;

/// What the yield strength of a class is measured as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, utoipa::ToSchema)]
pub enum YieldKind {
    /// Lower yield strength, `ReL`.
    ReL,
    /// Stress at 0.2 % permanent strain of a machined test piece, `Rp0.2`.
    #[serde(rename = "Rp0.2")]
    Rp02,
    /// Stress at a permanent strain of the whole fastener, `Rpf` (0.0048 d in ISO 898-1, 0.2 % in ISO 3506-1).
    Rpf,
    /// The standard states no yield strength; the proof stress, which is lower, stands in for it.
    Proof,
}

impl YieldKind {
    /// The symbol of the standards: `ReL`, `Rp0.2`, `Rpf`.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Self::ReL => "ReL",
            Self::Rp02 => "Rp0.2",
            Self::Rpf => "Rpf",
            Self::Proof => "Sp",
        }
    }
}

/// How far a class stretches before it breaks, at least.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Elongation {
    /// `A`: permanent strain of a machined test piece after fracture, as a fraction of its gauge length.
    TestPiece(f64),
    /// `Af`: permanent strain of a full-size fastener after fracture, as a fraction.
    FullSize(f64),
    /// Total extension of the whole fastener at fracture, as a multiple of the thread diameter (stainless).
    Diameters(f64),
}

impl Elongation {
    /// The strain as a fraction, where the standard states a strain.
    #[must_use]
    pub fn strain(self) -> Option<f64> {
        match self {
            Self::TestPiece(strain) | Self::FullSize(strain) => Some(strain),
            Self::Diameters(_) => None,
        }
    }

    /// The extension of a fastener of a nominal diameter, where the standard states an extension.
    #[must_use]
    pub fn extension(self, diameter: Length) -> Option<Length> {
        match self {
            Self::Diameters(multiple) => Some(diameter * multiple),
            Self::TestPiece(_) | Self::FullSize(_) => None,
        }
    }
}

/// The least strength of a class in a size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strength {
    /// Least tensile strength, `Rm,min`.
    pub tensile: Stress,
    /// Least yield strength; [`Strength::yield_kind`] says measured how.
    pub yield_: Stress,
    /// What the yield strength is measured as.
    pub yield_kind: YieldKind,
    /// Stress under proof load, `Sp`; stainless steel has none.
    pub proof: Option<Stress>,
    /// Least elongation, where the standard states one.
    pub elongation: Option<Elongation>,
    /// Shear strength ÷ tensile strength.
    pub shear_ratio: ShearRatio,
    /// The sizes that these values hold for.
    pub sizes: SizeRange,
    /// Where the strengths stand.
    pub source: Citation,
}

/// Why a class has no strength in a size.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NoStrength {
    /// No table here has the class.
    #[error("no standard known here has the property class {class}")]
    Unknown {
        /// The class.
        class: PropertyClass,
    },
    /// The standard has the class, but not in this size.
    #[error("{class} is not made in {diameter_mm} mm ({standard}: {})", list(made))]
    NotMadeInThisSize {
        /// The class.
        class: PropertyClass,
        /// The nominal diameter that was asked for, in millimetres.
        diameter_mm: f64,
        /// The sizes that the standard has, rising.
        made: Vec<SizeRange>,
        /// The standard and edition.
        standard: String,
        /// The values in the nearest size that the class is made in: what a maker and a buyer can agree on.
        as_if: Box<Strength>,
    },
    /// It is a class of nuts, which have a proof load but no yield strength.
    #[error("{class} is a property class of nuts ({standard})")]
    NutClass {
        /// The class.
        class: PropertyClass,
        /// The standard.
        standard: &'static str,
    },
    /// It is a class of set screws not under tension, which only have a hardness.
    #[error("{class} is a hardness class of set screws (ISO 898-5), which have no tensile strength")]
    HardnessOnly {
        /// The class.
        class: PropertyClass,
    },
}

impl NoStrength {
    /// The values in the nearest size, where only the size is outside the standard.
    #[must_use]
    pub fn as_if(&self) -> Option<&Strength> {
        if let Self::NotMadeInThisSize { as_if, .. } = self { Some(as_if) } else { None }
    }
}

fn list(ranges: &[SizeRange]) -> String {
    ranges.iter().map(SizeRange::to_string).collect::<Vec<_>>().join(", ")
}

/// A table of strengths in the form that all the standards share.
pub(super) struct StrengthTable {
    pub name: &'static str,
    pub title: &'static str,
    pub citation: Citation,
    pub unit: StressUnit,
    pub rows: &'static [StrengthRow],
}

/// One row of such a table, its stresses in the unit of the table.
pub(super) struct StrengthRow {
    pub class: &'static str,
    pub sizes: SizeRange,
    pub tensile: f64,
    pub yield_: f64,
    pub kind: YieldKind,
    pub proof: Option<f64>,
    pub elongation: Option<Elongation>,
    pub origin: Origin,
}

/// Every table, the edition in force before the older ones: the first that has the class is used.
const TABLES: [&StrengthTable; 13] = [
    &iso898_1::EDITION_2013,
    &iso898_1::EDITION_1999,
    &iso898_1::EDITION_1968,
    &iso3506_1::EDITION_2020,
    &iso3506_1::EDITION_2009,
    &sae_j429::EDITION_2014,
    &astm::A574,
    &astm::F3125,
    &astm::A325,
    &astm::A490,
    &astm::A449,
    &astm::A354,
    &astm::A193,
];

/// Hardness classes of set screws not under tension, ISO 898-5:2012, Table 1.
pub(super) const SET_SCREW_CLASSES: [&str; 4] = ["14H", "22H", "33H", "45H"];

/// Every class of bolts and set screws, in the order of the tables; some more than once.
pub(super) fn classes() -> impl Iterator<Item = &'static str> {
    TABLES.iter().flat_map(|table| table.rows).map(|row| row.class).chain(SET_SCREW_CLASSES)
}

/// The standard that has the class as one of bolts or set screws.
pub(super) fn standard_of(class: &PropertyClass) -> Option<&'static str> {
    let text = in_tables(class);
    let table = TABLES.iter().find(|table| table.rows.iter().any(|row| row.class == text));
    table.map(|table| table.citation.standard).or_else(|| SET_SCREW_CLASSES.contains(&&*text).then_some("ISO 898-5"))
}

/// The name that the tables use: the low-carbon steels (`A4L-80`) have the strengths of their group.
fn in_tables(class: &PropertyClass) -> Cow<'_, str> {
    let text = class.as_str();
    match text.as_bytes() {
        [b'A', b'0'..=b'9', b'L', b'-', ..] => Cow::Owned(text.replacen('L', "", 1)),
        _ => Cow::Borrowed(text),
    }
}

/// The least strength of a class in a nominal diameter, from the edition in force.
///
/// # Errors
/// [`NoStrength`] says whether the class is unknown, not made in this size, or not one of bolts at all.
pub fn strength(class: &PropertyClass, diameter: Length) -> Result<Strength, NoStrength> {
    let mut editions = strength_by_edition(class, diameter);
    if !editions.is_empty() {
        return Ok(editions.swap_remove(0));
    }
    let text = in_tables(class);
    if let Some(table) = TABLES.iter().find(|table| table.rows.iter().any(|row| row.class == text)) {
        return Err(not_in_size(class, &text, diameter, table));
    }
    Err(without_strength(class))
}

/// The strength of a class in a nominal diameter in every edition that has it, the one in force first.
/// Editions differ in values or in sizes; empty where [`strength`] gives an error.
#[must_use]
pub fn strength_by_edition(class: &PropertyClass, diameter: Length) -> Vec<Strength> {
    let text = in_tables(class);
    let in_table = |table: &&StrengthTable| {
        let row = table.rows.iter().find(|row| row.class == text && row.sizes.contains(diameter))?;
        Some(values(table, row))
    };
    TABLES.iter().filter_map(in_table).collect()
}

/// The strength of a class in every range of sizes that the edition in force distinguishes, in its order.
///
/// # Errors
/// As [`strength`], size aside.
pub fn strength_sizes(class: &PropertyClass) -> Result<Vec<Strength>, NoStrength> {
    let text = in_tables(class);
    match TABLES.iter().find(|table| table.rows.iter().any(|row| row.class == text)) {
        Some(table) => Ok(table.rows.iter().filter(|row| row.class == text).map(|row| values(table, row)).collect()),
        None => Err(without_strength(class)),
    }
}

/// Why a class that is in no table of strengths is not there.
fn without_strength(class: &PropertyClass) -> NoStrength {
    let class = class.clone();
    match nuts::standard_of(&class) {
        Some(standard) => NoStrength::NutClass { class, standard },
        None if SET_SCREW_CLASSES.contains(&class.as_str()) => NoStrength::HardnessOnly { class },
        None => NoStrength::Unknown { class },
    }
}

fn not_in_size(class: &PropertyClass, text: &str, diameter: Length, table: &StrengthTable) -> NoStrength {
    let rows: Vec<&StrengthRow> = table.rows.iter().filter(|row| row.class == text).collect();
    let nearest = rows.iter().min_by(|a, b| a.sizes.distance(diameter).total_cmp(&b.sizes.distance(diameter)));
    let nearest = nearest.unwrap_or_else(|| unreachable!("the table was chosen because it has the class {text}"));
    NoStrength::NotMadeInThisSize {
        class: class.clone(),
        diameter_mm: diameter.millimeters(),
        made: rows.iter().map(|row| row.sizes).collect(),
        standard: table.citation.document(),
        as_if: Box::new(values(table, nearest)),
    }
}

fn values(table: &StrengthTable, row: &StrengthRow) -> Strength {
    let stress = |value: f64| Stress::from_megapascals(value * table.unit.in_base());
    Strength {
        tensile: stress(row.tensile),
        yield_: stress(row.yield_),
        yield_kind: row.kind,
        proof: row.proof.map(stress),
        elongation: row.elongation,
        shear_ratio: shear_ratio(row.class, stress(row.tensile)),
        sizes: row.sizes,
        source: table.citation.with(row.origin),
    }
}

/// The tables as printed, in the order of the standards, with the hardness of ISO 898-1 after its classes.
pub(super) fn tables() -> Vec<Table> {
    let mut tables: Vec<Table> = TABLES.iter().map(|table| as_table(table)).collect();
    tables.insert(1, iso898_1::hardness_table());
    tables
}

fn as_table(strengths: &StrengthTable) -> Table {
    let columns = ["class", "sizes", "tensile", "yield", "yield_kind", "proof", "elongation", "elongation_kind"];
    let mut table = Table::new(strengths.name, strengths.title, strengths.citation, strengths.unit.symbol(), &columns);
    for row in strengths.rows {
        let (elongation, kind) = match row.elongation {
            Some(Elongation::TestPiece(strain)) => (Some(strain), "A"),
            Some(Elongation::FullSize(strain)) => (Some(strain), "Af"),
            Some(Elongation::Diameters(multiple)) => (Some(multiple), "× d"),
            None => (None, ""),
        };
        let words = [Cell::from(row.class), row.sizes.to_string().into()];
        let strengths = [row.tensile.into(), row.yield_.into(), row.kind.symbol().into(), Cell::from(row.proof)];
        table.push(row.origin, words.into_iter().chain(strengths).chain([elongation.into(), kind.into()]));
    }
    table
}

/// Metric sizes from one to another.
pub(super) const fn metric(from: f64, to: f64) -> SizeRange {
    SizeRange::new(Size::M(from), Size::M(to))
}

/// Inch sizes from one to another.
pub(super) const fn inch(from: f64, to: f64) -> SizeRange {
    SizeRange::new(Size::In(from), Size::In(to))
}

/// Inch sizes over one, up to another.
pub(super) const fn over_inch(from: f64, to: f64) -> SizeRange {
    SizeRange::over(Size::In(from), Size::In(to))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(class: &str, mm: f64) -> Result<Strength, NoStrength> {
        strength(&class.parse().expect(class), Length::from_millimeters(mm))
    }

    #[test]
    fn size_decides_where_the_standard_says_so() {
        assert_eq!(of("8.8", 16.0).map(|s| s.yield_.megapascals()), Ok(640.0));
        assert_eq!(of("8.8", 18.0).map(|s| s.yield_.megapascals()), Ok(660.0));
        let grade_5 = of("grade 5", 25.4 * 1.125).expect("grade 5 in 1 1/8");
        assert_eq!(grade_5.sizes.to_string(), "over 1 in to 1 1/2 in");
        assert!((grade_5.yield_.megapascals() - 558.475).abs() < 0.001);
    }

    #[test]
    fn says_why_there_is_none() {
        let error = of("9.8", 20.0).unwrap_err();
        assert_eq!(error.to_string(), "9.8 is not made in 20 mm (ISO 898-1:2013: M1.6 to M16)");
        assert_eq!(error.as_if().map(|s| s.tensile.megapascals()), Some(900.0));
        assert!(matches!(of("8.7", 10.0), Err(NoStrength::Unknown { .. })));
        assert!(matches!(of("04", 10.0), Err(NoStrength::NutClass { standard: "ISO 898-2", .. })));
        assert!(matches!(of("45H", 10.0), Err(NoStrength::HardnessOnly { .. })));
    }

    #[test]
    fn editions_stand_side_by_side() {
        let editions = strength_by_edition(&"A2-70".parse().expect("A2-70"), Length::from_millimeters(30.0));
        assert_eq!(editions.iter().map(|s| s.source.edition).collect::<Vec<_>>(), ["2020"]);
        let editions = strength_by_edition(&"A2-70".parse().expect("A2-70"), Length::from_millimeters(20.0));
        assert_eq!(editions.iter().map(|s| s.source.edition).collect::<Vec<_>>(), ["2020", "2009"]);
    }

    #[test]
    fn every_row_is_plausible() {
        for table in TABLES {
            for row in table.rows {
                let name = format!("{} {}", table.citation, row.class);
                assert!(row.yield_ < row.tensile, "{name}: yields before it breaks");
                assert!(row.proof.is_none_or(|proof| proof <= row.yield_), "{name}: proof up to yield");
                let s = values(table, row);
                assert!((0.5..=0.85).contains(&s.shear_ratio.low), "{name}: shear ratio");
            }
        }
    }
}
