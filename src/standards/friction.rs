//! Coefficients of friction for thread and head: VDI 2230-1:2015, Table A5. Unit: none. Rounding: as printed.
//!
//! Limits of the classes and the pairings of surface and lubricant were read from reprints of the table. It lists some
//! pairings in two classes; which one a record gets is decided here, as documented at [`friction_for`], and is ours.

use super::citation::{Citation, Origin};
use super::table::{Cell, Table};
use Class::{A, B, C, D, E};

/// The friction classes of VDI 2230.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, utoipa::ToSchema)]
pub enum FrictionClass {
    /// 0.04 to 0.10: dry-film lubricants and waxes as top coats.
    A,
    /// 0.08 to 0.16: the class to aim for; oil, grease, paste or an integrated lubricant.
    B,
    /// 0.14 to 0.24: as delivered or hardly lubricated; threadlocking coats.
    C,
    /// 0.20 to 0.35: hot-dip galvanised without lubricant, stainless with oil.
    D,
    /// 0.30 and more: stainless, aluminium and magnesium without lubricant.
    E,
}

use FrictionClass as Class;

/// Where the classes stand.
pub const FRICTION_SOURCE: Citation = Citation::new("VDI 2230-1", "2015", "Table A5").with(Origin::Read);
/// The upper end used for class E, for which the guideline gives none (common practice, no source).
const E_MAX: f64 = 0.50;

/// Class, lowest and greatest coefficient; the greatest of E is not stated.
const CLASSES: [(Class, f64, Option<f64>); 5] =
    [(A, 0.04, Some(0.10)), (B, 0.08, Some(0.16)), (C, 0.14, Some(0.24)), (D, 0.20, Some(0.35)), (E, 0.30, None)];

impl FrictionClass {
    /// Lowest and greatest coefficient of the class; 0.50 stands in for the greatest of class E, which is open.
    #[must_use]
    pub fn limits(self) -> (f64, f64) {
        let row = CLASSES.iter().find(|row| row.0 == self);
        let (_, low, high) = *row.unwrap_or_else(|| unreachable!("every class has a row, as a test says"));
        (low, high.unwrap_or(E_MAX))
    }

    /// The coefficient that torque tables for the class are usually made for (common practice, no source).
    #[must_use]
    pub fn usual(self) -> f64 {
        match self {
            A => 0.08,
            B => 0.12,
            C => 0.16,
            D => 0.26,
            E => 0.35,
        }
    }
}

/// The range of friction that a finish and a lubrication make probable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrictionEstimate {
    /// Lowest coefficient.
    pub low: f64,
    /// Greatest coefficient.
    pub high: f64,
    /// One coefficient for tables that need one.
    pub usual: f64,
    /// Whether something had to be assumed because the words were missing or not understood.
    pub assumed: bool,
    /// What the range is for, in words.
    pub because: &'static str,
    /// Where the limits stand.
    pub source: Citation,
}

/// Surfaces that the table tells apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Surface {
    Steel,
    Zinc,
    ZincFlake,
    HotDip,
    Cadmium,
    Stainless,
    LightMetal,
    DryFilm,
}

/// Lubrications that the table tells apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Lubricant {
    Dry,
    Oil,
    Grease,
    Paste,
    DryFilm,
    Wax,
    Adhesive,
}

/// Words for surfaces; the first that occurs decides, so the more special ones stand first.
const SURFACES: [(&str, Surface); 31] = [
    ("electro", Surface::Zinc),
    ("zinc-flake", Surface::ZincFlake),
    ("zinc flake", Surface::ZincFlake),
    ("flake", Surface::ZincFlake),
    ("zinc-lamell", Surface::ZincFlake),
    ("hot-dip", Surface::HotDip),
    ("hot dip", Surface::HotDip),
    ("galvanised", Surface::HotDip),
    ("galvanized", Surface::HotDip),
    ("cadmium", Surface::Cadmium),
    ("stainless", Surface::Stainless),
    ("austenit", Surface::Stainless),
    ("passivated steel a", Surface::Stainless),
    ("aluminium", Surface::LightMetal),
    ("aluminum", Surface::LightMetal),
    ("magnesium", Surface::LightMetal),
    ("titanium", Surface::LightMetal),
    ("ptfe", Surface::DryFilm),
    ("dry film", Surface::DryFilm),
    ("dry-film", Surface::DryFilm),
    ("zinc", Surface::Zinc),
    ("zn", Surface::Zinc),
    ("nickel", Surface::Zinc),
    ("plated", Surface::Zinc),
    ("phosphat", Surface::Steel),
    ("black", Surface::Steel),
    ("oxide", Surface::Steel),
    ("plain", Surface::Steel),
    ("bare", Surface::Steel),
    ("self-colour", Surface::Steel),
    ("bright", Surface::Steel),
];

/// Words for lubricants, in the same way.
const LUBRICANTS: [(&str, Lubricant); 33] = [
    ("oil free", Lubricant::Dry),
    ("oil-free", Lubricant::Dry),
    ("unlubricated", Lubricant::Dry),
    ("not lubricated", Lubricant::Dry),
    ("no lubric", Lubricant::Dry),
    ("without", Lubricant::Dry),
    ("dry film", Lubricant::DryFilm),
    ("dry-film", Lubricant::DryFilm),
    ("lacquer", Lubricant::DryFilm),
    ("paste", Lubricant::Paste),
    ("moly", Lubricant::Paste),
    ("mos2", Lubricant::Paste),
    ("graphite", Lubricant::Paste),
    ("copper", Lubricant::Paste),
    ("anti-seize", Lubricant::Paste),
    ("antiseize", Lubricant::Paste),
    ("ptfe", Lubricant::DryFilm),
    ("wax", Lubricant::Wax),
    ("grease", Lubricant::Grease),
    ("greasy", Lubricant::Grease),
    ("threadlock", Lubricant::Adhesive),
    ("thread lock", Lubricant::Adhesive),
    ("adhesive", Lubricant::Adhesive),
    ("sealant", Lubricant::Adhesive),
    ("as delivered", Lubricant::Oil),
    ("as-delivered", Lubricant::Oil),
    ("oil", Lubricant::Oil),
    ("lubricated", Lubricant::Oil),
    ("lubed", Lubricant::Oil),
    ("degreased", Lubricant::Dry),
    ("clean", Lubricant::Dry),
    ("dry", Lubricant::Dry),
    ("none", Lubricant::Dry),
];

/// The friction that a finish and a lubrication make probable, from their words in a record.
///
/// | finish | dry | oil, grease, as delivered | paste | wax, dry film | threadlocker | not stated |
/// |---|---|---|---|---|---|---|
/// | plain, black, phosphated | C | B | B | A | C | B and C, assumed |
/// | zinc, zinc alloy | C | B | B | A | C | B and C, assumed |
/// | zinc flake, cadmium | C | B | B | A | C | B, assumed (usually delivered with a lubricant) |
/// | hot-dip galvanised | D | B | B | B | D | B to D, assumed |
/// | stainless | E | D | B and C | B | C to D | B to E, assumed |
/// | aluminium, magnesium, titanium | E | B | B | B | C | B to E, assumed |
/// | dry film (PTFE, molybdenum disulphide) | A | A | A | A | A | A |
/// | not stated | as plain steel, assumed |
///
/// The table of the guideline lists pastes and dry films in A and in B: pastes are put in B, whose lower half covers them, top coats
/// in A. It lists stainless steel with paste in B and in C: both. Cadmium is not in it; it runs like lubricated zinc (common
/// practice). `and` is the range from the lowest of the one to the greatest of the other.
#[must_use]
pub fn friction_for(finish: Option<&str>, lubrication: Option<&str>) -> FrictionEstimate {
    let surface = finish.and_then(|text| find(text, &SURFACES));
    let lubricant = lubrication.and_then(|text| find(text, &LUBRICANTS)).or_else(|| finish.and_then(coat));
    let (lowest, highest, because) = classes(surface.unwrap_or(Surface::Steel), lubricant);
    let (low, high) = (lowest.limits().0, highest.limits().1);
    let usual = if lowest == highest { lowest.usual() } else { both_usual(lowest, highest) };
    let misread = finish.is_some_and(|text| find(text, &SURFACES).is_none() && coat(text).is_none());
    let assumed = surface.is_none() || lubricant.is_none() && surface != Some(Surface::DryFilm) || misread;
    FrictionEstimate { low, high, usual, assumed, because, source: FRICTION_SOURCE }
}

/// A finish may name its own lubricant: "zinc-plated, waxed".
fn coat(finish: &str) -> Option<Lubricant> {
    let own = find(finish, &LUBRICANTS)?;
    matches!(own, Lubricant::Wax | Lubricant::Oil | Lubricant::Grease | Lubricant::Adhesive | Lubricant::Paste)
        .then_some(own)
}

/// Where the range spans two classes that meet in B, tables are made for 0.14; else the middle of the range.
fn both_usual(lowest: Class, highest: Class) -> f64 {
    if (lowest, highest) == (B, C) { 0.14 } else { (lowest.limits().0 * highest.limits().1).sqrt() }
}

fn find<T: Copy>(text: &str, words: &[(&str, T)]) -> Option<T> {
    let text = text.to_lowercase();
    words.iter().find(|(word, _)| text.contains(word)).map(|(_, meaning)| *meaning)
}

/// The table above.
fn classes(surface: Surface, lubricant: Option<Lubricant>) -> (Class, Class, &'static str) {
    use Lubricant::{Adhesive, Dry, DryFilm, Grease, Oil, Paste, Wax};
    match (surface, lubricant) {
        (Surface::DryFilm, _) => (A, A, "dry-film lubricant as top coat"),
        (Surface::Steel | Surface::Zinc | Surface::ZincFlake | Surface::Cadmium, Some(lubricant)) => match lubricant {
            Dry => (C, C, "steel, plain or coated, without lubricant"),
            Oil | Grease => (B, B, "steel, plain or coated, with oil or grease"),
            Paste => (B, B, "steel, plain or coated, with a paste of solid lubricants"),
            Wax | DryFilm => (A, A, "wax or dry film as top coat"),
            Adhesive => (C, C, "threadlocker or sealant on the thread"),
        },
        (Surface::Steel | Surface::Zinc, None) => (B, C, "steel, plain or zinc-plated, lubrication not stated"),
        (Surface::ZincFlake | Surface::Cadmium, None) => (B, B, "coating usually delivered with a lubricant"),
        (Surface::HotDip, Some(Dry | Adhesive)) => (D, D, "hot-dip galvanised without lubricant"),
        (Surface::HotDip, Some(_)) => (B, B, "hot-dip galvanised with lubricant"),
        (Surface::HotDip, None) => (B, D, "hot-dip galvanised, lubrication not stated"),
        (Surface::Stainless, Some(lubricant)) => match lubricant {
            Dry => (E, E, "austenitic steel without lubricant: it may gall"),
            Oil | Grease => (D, D, "austenitic steel with oil"),
            Paste => (B, C, "austenitic steel with paste"),
            Wax | DryFilm => (B, B, "austenitic steel with solid lubricant or wax"),
            Adhesive => (C, D, "austenitic steel with threadlocker"),
        },
        (Surface::LightMetal, Some(Dry)) => (E, E, "aluminium, magnesium or titanium without lubricant"),
        (Surface::LightMetal, Some(Adhesive)) => (C, C, "threadlocker or sealant on the thread"),
        (Surface::LightMetal, Some(_)) => (B, B, "aluminium or magnesium with lubricant"),
        (Surface::Stainless | Surface::LightMetal, None) => (B, E, "stainless or light metal, lubrication not stated"),
    }
}

/// The pairings of the table: class, surface, lubricant.
const PAIRINGS: [(Class, &str, &str); 14] = [
    (
        A,
        "bare, black, phosphated, zinc, zinc alloys, zinc flake",
        "solid lubricants in lacquers, top coats or pastes; wax melts; wax dispersions",
    ),
    (
        B,
        "bare, black, phosphated, zinc, zinc alloys, zinc flake, aluminium and magnesium alloys",
        "solid lubricants, wax, grease, oil, as delivered",
    ),
    (B, "hot-dip galvanised", "molybdenum disulphide, graphite, wax dispersions"),
    (B, "organic coatings", "integrated solid lubricant or wax"),
    (B, "austenitic steel", "solid lubricants, waxes, pastes"),
    (C, "austenitic steel", "wax dispersions, pastes"),
    (C, "bare, phosphated", "as delivered, lightly oiled"),
    (C, "zinc, zinc alloys, zinc flake", "none"),
    (C, "any", "adhesive"),
    (D, "austenitic steel", "oil"),
    (D, "zinc, zinc-iron", "none"),
    (D, "hot-dip galvanised", "none"),
    (E, "zinc-iron, zinc-nickel", "none"),
    (E, "austenitic steel, aluminium and magnesium alloys", "none"),
];

/// The table in short words.
pub(super) fn tables() -> Vec<Table> {
    let columns = ["class", "low", "high", "surface", "lubricant"];
    let mut table =
        Table::new("friction-classes", "Friction classes with typical pairings", FRICTION_SOURCE, "", &columns)
            .note("The upper end of class E is open.");
    for (class, surface, lubricant) in PAIRINGS {
        for (_, low, high) in CLASSES.iter().filter(|row| row.0 == class) {
            let name = format!("{class:?}");
            table.push(
                Origin::Read,
                [Cell::from(name), (*low).into(), Cell::from(*high), surface.into(), lubricant.into()],
            );
        }
    }
    vec![table]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn range(finish: &str, lubrication: &str, low: f64, high: f64, assumed: bool) {
        let stated = |text| Some(text).filter(|text: &&str| !text.is_empty());
        let estimate = friction_for(stated(finish), stated(lubrication));
        assert_eq!((estimate.low, estimate.high, estimate.assumed), (low, high, assumed), "{finish} + {lubrication}");
        assert!(estimate.low < estimate.usual && estimate.usual < estimate.high);
    }

    #[test]
    fn words_of_the_trade_are_understood() {
        range("zinc-plated", "oiled", 0.08, 0.16, false);
        range("zinc-plated", "dry", 0.14, 0.24, false);
        range("Phosphated", "lightly oiled", 0.08, 0.16, false);
        range("black", "moly-paste", 0.08, 0.16, false);
        range("zinc-flake", "", 0.08, 0.16, true);
        range("cadmium", "dry", 0.14, 0.24, false);
        range("zinc-plated", "oil free", 0.14, 0.24, false);
        range("stainless", "", 0.08, 0.50, true);
        range("stainless", "copper paste", 0.08, 0.24, false);
        range("stainless", "dry", 0.30, 0.50, false);
        range("plain", "threadlocker", 0.14, 0.24, false);
        range("zinc-plated and waxed", "", 0.04, 0.10, false);
        range("hot-dip galvanised", "dry", 0.20, 0.35, false);
        range("plain", "unlubricated", 0.14, 0.24, false);
    }

    #[test]
    fn what_is_not_said_is_assumed() {
        range("", "", 0.08, 0.24, true);
        range("", "oiled", 0.08, 0.16, true);
        range("painted with stardust", "", 0.08, 0.24, true);
    }

    #[test]
    fn every_class_has_limits() {
        for class in [A, B, C, D, E] {
            let (low, high) = class.limits();
            assert!(low < class.usual() && class.usual() < high);
        }
    }
}
