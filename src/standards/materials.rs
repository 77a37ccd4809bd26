//! Materials of clamped and tapped parts: limiting pressure under the head, shear strength, modulus. Unit: MPa, GPa for the
//! modulus. Rounding: as printed.
//!
//! Pressures: VDI 2230:2003, Table A9, and VDI 2230:1986, read from a reprint (which marks figures of 2003 that have not been
//! checked against newer findings); VDI 2230-1:2015, Table A9, from memory, to be trusted least. The editions differ much and
//! stand side by side. Shear strengths: VDI 2230-1, Table A9, from memory; for materials without one it is computed as
//! tensile strength times the ratio of the group. Moduli: usual values of the group, from memory.

use super::citation::{Citation, Origin};
use super::shear_ratio;
use super::table::{Cell, Table};
use crate::units::Stress;
use std::collections::HashMap;
use std::sync::LazyLock;

/// What a material belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum MaterialGroup {
    /// Carbon and alloy steel.
    Steel,
    /// Stainless steel.
    Stainless,
    /// Nickel alloy.
    Nickel,
    /// Grey cast iron.
    GreyIron,
    /// Ductile cast iron.
    DuctileIron,
    /// Wrought aluminium alloy.
    WroughtAluminium,
    /// Cast aluminium alloy.
    CastAluminium,
    /// Magnesium alloy.
    Magnesium,
    /// Titanium and its alloys.
    Titanium,
}

use MaterialGroup::{
    CastAluminium, DuctileIron, GreyIron, Magnesium, Nickel, Stainless, Steel, Titanium, WroughtAluminium,
};

impl MaterialGroup {
    /// Young's modulus in GPa: VDI 2230-1:2015, Table A9, from memory.
    #[must_use]
    pub fn modulus(self) -> (Stress, Citation) {
        let gpa = match self {
            Steel => 205.0,
            Stainless => 200.0,
            Nickel => 210.0,
            GreyIron => 110.0,
            DuctileIron => 169.0,
            WroughtAluminium | CastAluminium => 75.0,
            Magnesium => 45.0,
            Titanium => 110.0,
        };
        (Stress::from_megapascals(gpa * 1000.0), VDI_2015)
    }

    /// Shear strength ÷ tensile strength of the group, the lower end where the guideline gives a range.
    fn shear_ratio(self) -> f64 {
        let [steel, annealed, _, grey, aluminium, titanium] = &shear_ratio::GROUPS;
        match self {
            Steel | Nickel => steel.low,
            Stainless => annealed.low,
            GreyIron => grey.low,
            // Not in the table; 0.90 is what its listed shear strength of GJS-600 gives.
            DuctileIron => 0.90,
            WroughtAluminium | CastAluminium => aluminium.low,
            // Not in the table; its listed shear strength of AZ91 gives 0.63.
            Magnesium => 0.63,
            Titanium => titanium.low,
        }
    }
}

/// A limit of one edition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressureLimit {
    /// `pG`: the pressure under the head beyond which the part creeps.
    pub pressure: Stress,
    /// Whether the source itself marks it as unchecked.
    pub unchecked: bool,
    /// Where it stands.
    pub source: Citation,
}

/// A material of a clamped or tapped part.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// Its name in the table.
    pub name: &'static str,
    /// Its group.
    pub group: MaterialGroup,
    /// Least tensile strength.
    pub tensile: Stress,
    /// Limiting pressures, one for each edition that has the material, the one read most surely first (2003, 1986, 2015).
    pub pressures: Vec<PressureLimit>,
    /// Least shear strength of the tapped thread.
    pub shear: Stress,
    /// Where the shear strength stands.
    pub shear_source: Citation,
    /// Whether the words named this very material; otherwise it stands in for a material like it.
    pub exact: bool,
}

const VDI_2003: Citation = Citation::new("VDI 2230", "2003", "Table A9");
const VDI_1986: Citation = Citation::new("VDI 2230", "1986", "limiting pressures");
const VDI_2015: Citation = Citation::new("VDI 2230-1", "2015", "Table A9");

/// One row: pressures in MPa by edition, negative where the source marks them as unchecked, 0 where it has none;
/// shear strength in MPa, 0 where none is known. `names` are other spellings, folded; `like` are materials it stands in for.
pub(super) struct MaterialRow {
    pub name: &'static str,
    pub number: &'static str,
    pub group: MaterialGroup,
    pub tensile: f64,
    pub pressure_2003: f64,
    pub pressure_1986: f64,
    pub pressure_2015: f64,
    pub shear: f64,
    pub names: &'static [&'static str],
    pub like: &'static [&'static str],
}

type Pressures = (f64, f64, f64);

/// Other spellings, and materials that a row stands in for.
type Names = (&'static [&'static str], &'static [&'static str]);

const fn row(
    name: &'static str,
    number: &'static str,
    group: MaterialGroup,
    tensile: f64,
    (pressure_2003, pressure_1986, pressure_2015): Pressures,
    shear: f64,
    (names, like): Names,
) -> MaterialRow {
    MaterialRow { name, number, group, tensile, pressure_2003, pressure_1986, pressure_2015, shear, names, like }
}

/// VDI 2230:2003 with the columns of the other editions, then the materials that only the edition of 1986 has.
#[rustfmt::skip]
pub(super) const MATERIALS: [MaterialRow; 39] = [
    row("S235JRG1 (USt 37-2)", "1.0036", Steel, 340.0, (490.0, 0.0, 490.0), 200.0, (&["s235", "s235jr", "ust372", "st372", "10037", "10038"], &["steel", "mildsteel", "q235", "a36"])),
    row("E295 (St 50-2)", "1.0050", Steel, 470.0, (710.0, 0.0, 710.0), 280.0, (&["st502"], &[])),
    row("S355J0 (St 52-3)", "1.0553", Steel, 510.0, (760.0, 0.0, 760.0), 310.0, (&["s355", "s355jr", "s355j2", "st523", "st52"], &["a572"])),
    row("C45E (Cq 45)", "1.1192", Steel, 700.0, (-630.0, 0.0, 630.0), 460.0, (&["c45e", "cq45", "c45v"], &["c45qt", "ck45"])),
    row("34CrMo4", "1.7220", Steel, 1000.0, (-870.0, 0.0, 870.0), 600.0, (&[], &[])),
    row("34CrNiMo6", "1.6582", Steel, 1200.0, (-1080.0, 0.0, 1080.0), 720.0, (&[], &[])),
    row("38MnSiVS5", "1.5231", Steel, 900.0, (-810.0, 0.0, 810.0), 580.0, (&["38mnsivs5by"], &[])),
    row("16MnCr5", "1.7131", Steel, 1000.0, (-900.0, 0.0, 900.0), 650.0, (&[], &[])),
    row("X5CrNi18-12", "1.4303", Stainless, 500.0, (630.0, 0.0, 630.0), 400.0, (&["x4crni1812"], &["14301", "x5crni1810", "304", "a2", "14307", "304l", "stainless", "stainlesssteel"])),
    row("X5CrNiMo17-12-2", "1.4401", Stainless, 510.0, (-460.0, 0.0, 460.0), 410.0, (&["316"], &["14404", "316l", "14571", "316ti", "a4", "x2crnimo17122"])),
    row("X5NiCrTi26-15", "1.4980", Stainless, 960.0, (-860.0, 0.0, 860.0), 670.0, (&[], &[])),
    row("NiCr20TiAl", "2.4952", Nickel, 1000.0, (700.0, 0.0, 0.0), 700.0, (&[], &[])),
    row("GJL-250 (GG-25)", "0.6020", GreyIron, 250.0, (900.0, 800.0, 850.0), 290.0, (&["engjl250", "gjl250", "gg25", "5.1301", "51301"], &["castiron", "greycastiron", "grayiron", "grauguss", "engjl", "greyiron"])),
    row("GJS-400-15 (GGG-40)", "0.7040", DuctileIron, 400.0, (-700.0, 0.0, 600.0), 360.0, (&["engjs40015", "gjs400", "ggg40", "engjs400"], &["ductileiron", "nodulariron", "sgiron"])),
    row("GJS-500-7 (GGG-50)", "0.7050", DuctileIron, 500.0, (-900.0, 0.0, 750.0), 450.0, (&["engjs5007", "gjs500", "ggg50", "engjs500"], &[])),
    row("GJS-600-3", "0.7060", DuctileIron, 600.0, (-1000.0, 0.0, 900.0), 540.0, (&["engjs6003", "gjs600", "ggg60", "engjs600"], &[])),
    row("AlMgSi1 F31 / EN AW-6082", "3.2315.62", WroughtAluminium, 290.0, (-260.0, 0.0, 360.0), 200.0, (&["almgsi1", "almgsi1f31", "enaw6082", "aw6082", "6082", "6082t6"], &["enaw6061", "6061", "aluminium", "aluminum"])),
    row("AlMgSi1 F28", "3.2315.61", WroughtAluminium, 260.0, (-230.0, 0.0, 0.0), 180.0, (&["almgsi1f28"], &["enaw6060", "6060", "6063"])),
    row("AlMg4.5Mn F27 / EN AW-5083", "3.3547.08", WroughtAluminium, 260.0, (-230.0, 0.0, 0.0), 180.0, (&["almg45mn", "almg45mnf27", "enaw5083", "aw5083", "5083"], &["enaw5754", "5754", "5086"])),
    row("AlZnMgCu1.5 / EN AW-7075", "3.4365.71", WroughtAluminium, 540.0, (-410.0, 0.0, 0.0), 330.0, (&["alznmgcu15", "enaw7075", "aw7075", "7075", "7075t6"], &[])),
    row("GK-AlSi9Cu3 (226, permanent mould)", "3.2163.02", CastAluminium, 180.0, (-220.0, 0.0, 220.0), 110.0, (&["gkalsi9cu3", "alsi9cu3gk", "acalsi9cu3k"], &["enac46200", "46200", "castaluminium", "castaluminum", "aluminiumcasting"])),
    row("GD-AlSi9Cu3 (226, die cast)", "3.2163.05", CastAluminium, 240.0, (-290.0, 0.0, 290.0), 140.0, (&["gdalsi9cu3", "alsi9cu3", "alsi9cu3fe", "enac46000", "ac46000", "46000", "acalsi9cu3fe"], &["adc12", "a380", "enac46100", "diecastaluminium"])),
    row("GK-AlSi7Mg wa", "3.2371.62", CastAluminium, 250.0, (-380.0, 0.0, 380.0), 150.0, (&["gkalsi7mgwa", "gkalsi7mg", "alsi7mg", "alsi7mg03", "enac42100", "42100"], &["enac42000", "42000", "a356", "enac43000", "alsi10mg"])),
    row("AZ91", "3.5812", Magnesium, 310.0, (-280.0, 0.0, 280.0), 195.0, (&["az91d", "gdaz91", "enmcmgal9zn1"], &["magnesium"])),
    row("TiAl6V4", "3.7165.10", Titanium, 890.0, (-890.0, 0.0, 890.0), 600.0, (&["ti6al4v", "grade5titanium"], &["titanium"])),
    row("St 37", "", Steel, 370.0, (0.0, 260.0, 0.0), 0.0, (&["st37"], &[])),
    row("St 50", "", Steel, 500.0, (0.0, 420.0, 0.0), 0.0, (&["st50"], &[])),
    row("C 45", "", Steel, 800.0, (0.0, 700.0, 0.0), 0.0, (&["c45"], &[])),
    row("42CrMo4", "1.7225", Steel, 1000.0, (0.0, 850.0, 0.0), 0.0, (&["4140"], &[])),
    row("30CrNiMo8", "1.6580", Steel, 1200.0, (0.0, 750.0, 0.0), 0.0, (&[], &[])),
    row("X5CrNiMo18-10", "", Stainless, 500.0, (0.0, 210.0, 0.0), 0.0, (&[], &[])),
    row("X10CrNiMo18-9", "", Stainless, 500.0, (0.0, 220.0, 0.0), 0.0, (&[], &[])),
    row("titanium, unalloyed", "", Titanium, 390.0, (0.0, 300.0, 0.0), 0.0, (&["puretitanium", "titaniumgrade2"], &[])),
    row("GG 15", "", GreyIron, 150.0, (0.0, 600.0, 0.0), 0.0, (&["gg15", "gjl150", "engjl150"], &[])),
    row("GG 35", "", GreyIron, 350.0, (0.0, 900.0, 0.0), 0.0, (&["gg35", "gjl350", "engjl350"], &[])),
    row("GG 40", "", GreyIron, 400.0, (0.0, 1100.0, 0.0), 0.0, (&["gg40"], &[])),
    row("GGG 35.3", "", DuctileIron, 350.0, (0.0, 480.0, 0.0), 0.0, (&["ggg353", "engjs35022", "gjs35022"], &[])),
    row("DG MgAl9", "", Magnesium, 300.0, (0.0, 220.0, 0.0), 0.0, (&["gdmgal9"], &[])),
    row("GK MgAl9", "", Magnesium, 200.0, (0.0, 140.0, 0.0), 0.0, (&["gkmgal9"], &[])),
];

/// Letters and digits in lower case.
fn folded(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// Whether a folded half of a name is a name itself and not a remark such as "die cast" or "226".
fn is_designation(half: &str) -> bool {
    half.contains(char::is_alphabetic) && half.contains(char::is_numeric)
}

impl MaterialRow {
    fn pressures(&self) -> Vec<PressureLimit> {
        let limit = |value: f64, source: Citation| {
            let pressure = Stress::from_megapascals(value.abs());
            (value != 0.0).then_some(PressureLimit { pressure, unchecked: value < 0.0, source })
        };
        let editions = [
            limit(self.pressure_2003, VDI_2003.with(Origin::Read)),
            limit(self.pressure_1986, VDI_1986.with(Origin::Read)),
            limit(self.pressure_2015, VDI_2015),
        ];
        editions.into_iter().flatten().collect()
    }

    fn material(&self, exact: bool) -> Material {
        let (shear, shear_source) = if self.shear > 0.0 {
            (self.shear, VDI_2015)
        } else {
            (self.tensile * self.group.shear_ratio(), shear_ratio::BY_GROUP.with(Origin::Computed))
        };
        Material {
            name: self.name,
            group: self.group,
            tensile: Stress::from_megapascals(self.tensile),
            pressures: self.pressures(),
            shear: Stress::from_megapascals(shear),
            shear_source,
            exact,
        }
    }

    /// The table's own name, each half of it where it has two, its number, and the other spellings, all folded.
    fn spellings(&self) -> Vec<String> {
        let halves = self.name.split(['(', ')', '/', ',']).map(folded).filter(|half| is_designation(half));
        let whole = [folded(self.name), folded(self.number)].into_iter().filter(|name| !name.is_empty());
        whole.chain(halves).chain(self.names.iter().map(|name| (*name).to_owned())).collect()
    }
}

/// The material that the words name, or one that stands in for it ([`Material::exact`] says which); `None` if unknown.
///
/// Read leniently: `EN AC-46000`, `AlSi9Cu3`, `GJL-250`, `EN-GJL-250`, `GG25`, `S355J2+N`, `1.4301`, `en aw 6082 t6`. Longer words
/// are tried from the left, so that a temper or a treatment behind the name does not hide it.
#[must_use]
pub fn material(words: &str) -> Option<Material> {
    let all = folded(words);
    if all.len() < 2 {
        return None;
    }
    let without_en = all.strip_prefix("en").unwrap_or(&all);
    for wanted in [all.as_str(), without_en] {
        if let Some(found) = exactly(wanted) {
            return Some(found);
        }
    }
    // A temper or treatment may follow: drop what stands after the name, but never so much that only a word is left of it.
    let pieces: Vec<String> =
        words.split(|c: char| c.is_whitespace() || matches!(c, '+' | ',' | '(' | ')')).map(folded).collect();
    (1..pieces.len()).rev().find_map(|count| exactly(&pieces[..count].concat()))
}

/// The row of each spelling and whether it names that very material, made once. Names win over materials that a row stands
/// in for, earlier rows over later.
static SPELLINGS: LazyLock<HashMap<String, (usize, bool)>> = LazyLock::new(|| {
    let mut spellings = HashMap::new();
    for exact in [true, false] {
        for (index, row) in MATERIALS.iter().enumerate() {
            let own = if exact { row.spellings() } else { row.like.iter().map(|name| (*name).to_owned()).collect() };
            for spelling in own {
                spellings.entry(spelling).or_insert((index, exact));
            }
        }
    }
    spellings
});

fn exactly(wanted: &str) -> Option<Material> {
    SPELLINGS.get(wanted).map(|(index, exact)| MATERIALS[*index].material(*exact))
}

/// The tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let columns =
        ["material", "number", "tensile", "pressure_2003", "unchecked", "pressure_1986", "pressure_2015", "shear"];
    let mut materials =
        Table::new("materials", "Limiting pressure under the head and shear strength", VDI_2003, "MPa", &columns).note(
            "Columns of VDI 2230:1986 and VDI 2230-1:2015 beside that of 2003; 2015 and shear strengths from memory.",
        );
    for row in &MATERIALS {
        let number = |value: f64| Cell::from((value != 0.0).then_some(value.abs()));
        let unchecked = if row.pressure_2003 < 0.0 { "yes" } else { "" };
        let pressures = [row.pressure_2003, row.pressure_1986, row.pressure_2015].map(number);
        let [in_2003, in_1986, in_2015] = pressures;
        let texts = [Cell::from(row.name), row.number.into(), row.tensile.into()];
        let rest = [in_2003, unchecked.into(), in_1986, in_2015, number(row.shear)];
        materials.push(Origin::Read, texts.into_iter().chain(rest));
    }
    let mut ratios = Table::new(
        "shear-ratios",
        "Shear strength ÷ tensile strength",
        shear_ratio::BY_GROUP,
        "",
        &["what", "low", "high"],
    )
    .note("Property classes: Table 5.5/2; materials: the table of ratios by group.");
    for row in shear_ratio::CLASSES.iter().chain(&shear_ratio::GROUPS) {
        ratios.push(Origin::FromMemory, [Cell::from(row.what), row.low.into(), row.high.into()]);
    }
    vec![materials, ratios]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(words: &str, name: &str, exact: bool) {
        let found = material(words).unwrap_or_else(|| panic!("{words}"));
        assert!(found.name.starts_with(name), "{words}: {}", found.name);
        assert_eq!(found.exact, exact, "{words}");
    }

    #[test]
    fn names_of_the_trade_are_understood() {
        for words in ["EN AC-46000", "AlSi9Cu3", "GD-AlSi9Cu3", "en ac 46000"] {
            reads(words, "GD-AlSi9Cu3", true);
        }
        for words in ["GJL-250", "EN-GJL-250", "GG25", "GG-25"] {
            reads(words, "GJL-250", true);
        }
        for words in ["S355", "S355J2+N", "S355J0", "1.0553", "St 52-3"] {
            reads(words, "S355", true);
        }
        reads("EN AW-6082 T6", "AlMgSi1 F31", true);
        reads("1.4301", "X5CrNi18-12", false);
        reads("cast iron", "GJL-250", false);
        reads("42CrMo4", "42CrMo4", true);
        for words in ["bronze", "oak", "226", "die cast", "", "e"] {
            assert_eq!(material(words), None, "{words}");
        }
    }

    #[test]
    fn every_row_is_plausible() {
        for (i, row) in MATERIALS.iter().enumerate() {
            let material = row.material(true);
            assert!(!material.pressures.is_empty(), "{}", row.name);
            let ratio = material.shear / material.tensile;
            assert!((0.5..=1.2).contains(&ratio), "{}: {ratio}", row.name);
            for other in &MATERIALS[..i] {
                assert!(
                    !row.names.iter().any(|name| other.names.contains(name)),
                    "{} and {} share a name",
                    row.name,
                    other.name
                );
            }
        }
    }
}
