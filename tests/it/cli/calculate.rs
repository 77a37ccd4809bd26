//! `thread`, `class`, `convert` and `tables`: no store.

use super::run;

#[test]
fn a_thread_has_the_promised_keys() {
    let sheet = run(&["thread", "M10x1.25", "--as", "json"]).json();
    for key in ["designation", "diameter_mm", "pitch_mm", "pitch_diameter_mm", "minor_diameter_mm", "stress_area_mm2"] {
        assert!(sheet.get(key).is_some(), "{key}");
    }
    assert_eq!(sheet["designation"], "M10×1.25");
    // ISO 898-1:2013, table 6: stress area of M10×1.25 is 61.2 mm².
    assert!((sheet["stress_area_mm2"].as_f64().unwrap() - 61.2).abs() < 0.05);
}

#[test]
fn a_thread_that_no_standard_has_is_a_no_with_the_nearest() {
    run(&["thread", "7/17-14"])
        .says(1, "clampbook: no standard known here has 7/17-14. Nearest: 7/16-14 UNC, 7/16-16 UN, 7/16-18 UNS.\n");
    run(&["thread", "M9.5"])
        .says(1, "clampbook: no standard known here has M9.5. Nearest: M9×1.25, M10×1.5, M11×1.5.\n");
}

#[test]
fn a_class_has_the_promised_keys() {
    let sheet = run(&["class", "10.9", "--thread", "M10", "--as", "json"]).json();
    for key in ["tensile_mpa", "yield_mpa", "proof_mpa", "proof_load_n", "ultimate_load_n"] {
        assert!(sheet.get(key).is_some(), "{key}");
    }
    // ISO 898-1:2013, tables 4 and 5.
    assert_eq!((&sheet["proof_load_n"], &sheet["ultimate_load_n"]), (&48100.0.into(), &60300.0.into()));
}

#[test]
fn a_class_is_one_table_that_fits_80_columns() {
    assert_eq!(
        run(&["class", "8.8", "--as", "table"]).fine(),
        "8.8, ISO 898-1:2013, Table 3\n\
         \n\
         sizes            tensile MPa  yield MPa  yield kind  proof MPa  elongation %\n\
         ---------------  -----------  ---------  ----------  ---------  ------------\n\
         M1.6 to M16              800        640  Rp0.2             580            12\n\
         over M16 to M39          830        660  Rp0.2             600            12\n"
    );
    run(&["class", "9.7"]).says(1, "clampbook: no standard known here has the property class 9.7. Nearest: 9.8\n");
}

#[test]
fn quantities_are_converted() {
    assert_eq!(run(&["convert", "20 N·m", "lbf.ft", "--as", "table"]).fine(), "20 N·m = 14.75 lbf·ft\n");
    run(&["convert", "20", "lbf.ft"])
        .says(2, "clampbook: \"20\" is no torque, length, force or stress with its unit. Write it like 20 N·m\n");
    assert_eq!(run(&["convert", "20 N·m", "mm"]).code, 2);
}

#[test]
fn tables_fit_80_columns_and_misspelt_ones_have_near_names() {
    let list = run(&["tables", "--as", "table"]).fine();
    assert!(list.lines().all(|line| line.chars().count() <= 80), "{list}");
    assert!(list.starts_with("name "), "{list}");
    run(&["tables", "iso-898"]).says(
        2,
        "clampbook: no table is called \"iso-898\". Did you mean iso-898-1, iso-898-7 or iso-6789? \"clampbook tables\" \
         lists them\n",
    );
    assert_eq!(run(&["tables", "iso-898-1", "--as", "ndjson"]).fine().lines().count(), 10);
}
