//! What the tables must fill: every size of their range, with the values that were held back from the published files.

use super::{class, geometry, mm, thread};
use clampbook::standards::{
    HeadForm, NoStrength, breaking_torque, head, holes, loads, nut_for, nut_strength, strength, tables,
    workshop_angles, workshop_wrenches,
};

/// ISO 262 coarse sizes M1.6 to M64.
const COARSE: [f64; 29] = [
    1.6, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0, 27.0, 30.0, 33.0,
    36.0, 39.0, 42.0, 45.0, 48.0, 52.0, 56.0, 60.0, 64.0,
];
const CLASSES: [&str; 9] = ["4.6", "4.8", "5.6", "5.8", "6.8", "8.8", "9.8", "10.9", "12.9"];

#[test]
fn hexagons_and_holes_for_every_coarse_size() {
    for d in COARSE {
        assert!(head(HeadForm::Hexagon, mm(d)).is_some(), "bolt M{d}");
        assert!(head(HeadForm::HexagonNut, mm(d)).is_some(), "nut M{d}");
        assert!(holes(mm(d)).is_some(), "hole M{d}");
    }
}

/// ISO 898-1: every class in every size of its range has strength and, from M3, published loads of both kinds.
#[test]
fn loads_for_every_class_and_size() {
    let fine = [
        "M8×1",
        "M10×1.25",
        "M10×1",
        "M12×1.5",
        "M12×1.25",
        "M14×1.5",
        "M16×1.5",
        "M18×1.5",
        "M20×1.5",
        "M22×1.5",
        "M24×2",
        "M27×2",
        "M30×2",
        "M33×2",
        "M36×3",
        "M39×3",
    ];
    let coarse = COARSE.iter().filter(|d| (3.0..=39.0).contains(*d)).map(|d| format!("M{d}"));
    for designation in coarse.chain(["M7".to_owned()]).chain(fine.map(str::to_owned)) {
        let thread = geometry(&designation);
        for name in CLASSES {
            let found = loads(&class(name), &thread);
            if name == "9.8" && thread.major() > mm(16.0) {
                assert!(matches!(found, Err(NoStrength::NotMadeInThisSize { .. })), "{designation} 9.8");
                continue;
            }
            let found = found.unwrap_or_else(|error| panic!("{error}"));
            assert!(found.ultimate.published.is_some(), "{designation} {name}");
            assert!(found.proof.is_some_and(|proof| proof.published.is_some()), "{designation} {name}");
        }
    }
}

/// Values that were held back from the files, from the standards: ISO 898-1 Table 3 and 4 (read), SAE J429 (read),
/// ISO 3506-1 (from memory), ISO 898-2 (read).
#[test]
fn held_back_values() {
    let of = |name: &str, d: f64| strength(&class(name), mm(d)).unwrap_or_else(|error| panic!("{error}"));
    let strengths = [
        ("5.8", 10.0, 520.0, 420.0),
        ("9.8", 10.0, 900.0, 720.0),
        ("A3-70", 10.0, 700.0, 450.0),
        ("D8-100", 10.0, 1000.0, 800.0),
    ];
    for (name, d, tensile, yield_) in strengths {
        let found = of(name, d);
        assert_eq!((found.tensile.megapascals(), found.yield_.megapascals()), (tensile, yield_), "{name}");
    }
    let published = |name: &str, designation: &str| {
        loads(&class(name), &geometry(designation)).map(|found| found.ultimate.value().newtons())
    };
    assert_eq!(published("8.8", "M10"), Ok(46_400.0));
    assert_eq!(published("10.9", "M16"), Ok(163_000.0));
    assert_eq!(published("12.9", "M24"), Ok(431_000.0));
    let ksi = 6.894_757;
    assert!((of("grade 7", 12.7).tensile.megapascals() / ksi - 133.0).abs() < 1e-4);
    assert!((of("grade 4", 12.7).yield_.megapascals() / ksi - 100.0).abs() < 1e-4);
    assert!((of("A574", 12.7).tensile.megapascals() / ksi - 180.0).abs() < 1e-4);
    let nut = nut_strength(&class("8"), None, &thread("M24")).and_then(|nut| nut.proof.published);
    assert_eq!(nut.map(|(load, _)| load.newtons()), Some(324_800.0));
}

/// Every bolt class of the tables says which nut it needs, if ISO or SAE; every small bolt its breaking torque.
#[test]
fn nuts_and_breaking_torques() {
    for name in CLASSES.into_iter().chain(["grade 2", "grade 5", "grade 8", "A2-70", "A4-80"]) {
        let (nut, _) = nut_for(&class(name)).unwrap_or_else(|| panic!("a nut for {name}"));
        let on = if name.starts_with("grade") { "3/8-16 UNC" } else { "M10" };
        assert!(nut_strength(&nut, None, &thread(on)).is_some() || nut.as_str() == "9", "{nut}");
    }
    for d in [1.6, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0] {
        for name in ["8.8", "9.8", "10.9", "12.9"] {
            let found =
                breaking_torque(&class(name), &geometry(&format!("M{d}"))).unwrap_or_else(|| panic!("M{d} {name}"));
            assert!(found.published.is_some() && found.computed.is_some(), "M{d} {name}");
        }
    }
}

/// The catalogue: what is there, in the order of the subjects, and how much of it was read.
#[test]
fn the_catalogue() {
    let listed: Vec<String> = tables()
        .iter()
        .map(|table| {
            let origins = table.origins();
            let edition = if table.edition.is_empty() { String::new() } else { format!(":{}", table.edition) };
            format!(
                "{}: {}{edition}, {} read, {} from memory, {} computed",
                table.name, table.standard, origins.read, origins.from_memory, origins.computed
            )
        })
        .collect();
    insta::assert_snapshot!(listed.join("\n"));
    assert!(workshop_wrenches().all(|(from, to)| from < to) && workshop_angles().count() > 10);
}
