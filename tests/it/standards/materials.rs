//! Friction classes, tightening factors, limiting pressures and shear ratios.

use super::{rows, same};
use clampbook::standards::{FrictionClass, TIGHTENING_FACTORS, material, strength, table};

/// VDI 2230-1, Table A5: the limits of the classes.
#[test]
fn friction_classes() {
    for row in rows(include_str!("../published/friction_classes.csv"), 4) {
        let class = match row.text("class") {
            "A" => FrictionClass::A,
            "B" => FrictionClass::B,
            "C" => FrictionClass::C,
            "D" => FrictionClass::D,
            _ => FrictionClass::E,
        };
        same(row.text("class"), class.limits().0, row.number("mu_min"));
        if let Some(greatest) = row.maybe("mu_max") {
            same(row.text("class"), class.limits().1, greatest);
        }
    }
}

/// Every row of the file stands in the table under the same document and method, with the same scatter and factor.
#[test]
fn tightening_factors() {
    for row in rows(include_str!("../published/tightening_factor.csv"), 23) {
        let name = format!("{}: {}", row.text("edition"), row.text("method_own_words"));
        let found = TIGHTENING_FACTORS
            .iter()
            .find(|listed| {
                listed.source.document() == row.text("edition") && listed.words == row.text("method_own_words")
            })
            .unwrap_or_else(|| panic!("{name} is missing"));
        same(&name, found.scatter.0 * 100.0, row.number("scatter_pct_low"));
        same(&name, found.scatter.1 * 100.0, row.number("scatter_pct_high"));
        assert_eq!(found.published.map(|factor| factor.0), row.maybe("alphaA_low_published"), "{name}");
        assert_eq!(found.published.map(|factor| factor.1), row.maybe("alphaA_high_published"), "{name}");
        // The file prints two decimals.
        assert!((found.computed().0 - row.number("alphaA_low_calc")).abs() < 0.006, "{name}");
        assert!((found.computed().1 - row.number("alphaA_high_calc")).abs() < 0.006, "{name}");
    }
}

/// VDI 2230: limiting pressures of three editions, whether marked as unchecked, tensile and shear strength, by name and by number.
#[test]
fn limiting_pressures() {
    for row in rows(include_str!("../published/bearing_pressure.csv"), 30) {
        let name = row.text("material");
        let found = material(name).unwrap_or_else(|| panic!("{name} is unknown"));
        assert!(found.exact, "{name}");
        let tensile = row.text("Rm_min_MPa").split('-').next().and_then(|text| text.parse().ok()).expect(name);
        same(name, found.tensile.megapascals(), tensile);
        let editions = [
            ("2003", row.maybe("pG_VDI2230_2003_MPa")),
            ("1986", row.maybe("pG_VDI2230_1986_MPa")),
            ("2015", row.maybe("pG_VDI2230_2015_MPa_memory")),
        ];
        for (edition, published) in editions {
            let limit = found.pressures.iter().find(|limit| limit.source.edition == edition);
            if let Some(published) = published {
                let limit = limit.unwrap_or_else(|| panic!("{name} has no limit of {edition}"));
                same(name, limit.pressure.megapascals(), published);
                assert_eq!(
                    limit.unchecked,
                    edition == "2003" && row.text("unverified_mark_in_source") == "*",
                    "{name} {edition}"
                );
            }
        }
        if let Some(shear) = row.maybe("tau_B_min_MPa_memory") {
            same(name, found.shear.megapascals(), shear);
        }
        let number = row.text("material_no");
        if number.starts_with(|c: char| c.is_ascii_digit()) {
            assert_eq!(material(number).map(|by_number| by_number.name), Some(found.name), "{name} by its number");
        }
    }
}

/// VDI 2230-1: shear ÷ tensile strength by group of material.
#[test]
fn shear_ratios() {
    let printed = table("shear-ratios").expect("the table of ratios");
    for row in rows(include_str!("../published/shear_strength_ratio.csv"), 6) {
        let name = row.text("material_group");
        let cells = &printed.rows.iter().find(|printed| printed.cells[0].to_string() == name).expect(name).cells;
        for (cell, column) in cells[1..].iter().zip(["tauB_over_Rm_low", "tauB_over_Rm_high"]) {
            same(name, cell.to_string().parse().expect("a number"), row.number(column));
        }
    }
    let a2_70 = strength(&super::class("A2-70"), super::mm(10.0)).expect("A2-70");
    assert_eq!((a2_70.shear_ratio.low, a2_70.shear_ratio.high), (0.65, 0.75));
}
