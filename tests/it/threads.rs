//! Threads against published dimensions, areas and limits of size.
//!
//! The tables in `published/` keep the source of every row; `thread_limits.csv` was read from the pages it
//! names (rows "from memory" say so).

use clampbook::thread::{Designation, Geometry, Limits, Span, System, Thread, ThreadClass};
use clampbook::units::Length;
use std::collections::HashMap;

type Row = HashMap<String, String>;

fn rows(table: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(table.as_bytes());
    reader.deserialize().collect::<Result<_, _>>().expect("the published tables are well formed")
}

#[track_caller]
fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text:?} is no number"))
}

/// The size of one in the last digit that is printed.
fn last_place(text: &str) -> f64 {
    text.split_once('.').map_or(1.0, |(_, decimals)| 0.1_f64.powi(decimals.len() as i32))
}

/// `value` is what `printed` rounds, give or take `places` of its last digit. Empty cells pass.
#[track_caller]
fn meets(value: f64, printed: &str, places: f64, what: &str) {
    if !printed.is_empty() {
        let off = (value - number(printed)).abs() / last_place(printed);
        assert!(off <= places, "{what}: {value} against {printed} as published");
    }
}

#[track_caller]
fn geometry(thread: &Thread) -> Geometry {
    thread.geometry().unwrap_or_else(|| panic!("{thread} has no geometry"))
}

/// Half of the last digit, and a little for the publisher's own rounding of intermediate results.
const ROUNDED: f64 = 0.6;

#[test]
fn metric_dimensions_and_areas() {
    let rows = rows(include_str!("published/thread_metric.csv"));
    assert!(rows.len() > 90, "the table was cut: {} rows", rows.len());
    for row in rows {
        let name = row["designation"].as_str();
        let thread: Thread = name.parse().unwrap();
        assert!(thread.is_standard(), "{name}");
        assert_eq!(thread.is_coarse(), row["series"] == "coarse", "{name}");
        let geometry = geometry(&thread);
        meets(geometry.major().millimeters(), &row["d_mm"], 1e-6, name);
        meets(geometry.pitch().millimeters(), &row["pitch_mm"], 1e-6, name);
        meets(geometry.pitch_diameter().millimeters(), &row["d2_mm"], ROUNDED, name);
        meets(geometry.minor_diameter().millimeters(), &row["d3_mm"], ROUNDED, name);
        meets(geometry.minor_diameter_internal().millimeters(), &row["D1_mm"], ROUNDED, name);
        let area = geometry.stress_area().square_millimeters();
        meets(area, &row["As_calc_mm2"], ROUNDED, name);
        // ISO 898-1 prints three figures, so 1470 is 1465 to 1475.
        let printed = row["As_published_mm2"].as_str();
        let three_figures = if printed.len() > 3 && printed.ends_with('0') { 10.0 } else { 1.0 };
        meets(area, printed, ROUNDED * three_figures, name);
    }
}

#[test]
fn unified_areas() {
    let rows = rows(include_str!("published/asme_b1_1.csv"));
    assert!(rows.len() > 30, "the table was cut: {} rows", rows.len());
    for row in rows {
        let name = row["designation"].as_str();
        let thread: Thread = name.parse().unwrap();
        assert!(thread.is_standard() && thread.to_string().ends_with(&row["series"]), "{name} read as {thread}");
        let geometry = geometry(&thread);
        meets(geometry.major().inches(), &row["D_in"], 1e-6, name);
        assert_eq!(thread.threads_per_inch(), Some(number(&row["tpi"])), "{name}");
        let square_inches = |area: clampbook::units::Area| area.square_millimeters() / 25.4 / 25.4;
        for (area, column) in [(geometry.stress_area(), "At_use_in2"), (geometry.minor_area(), "Ar_published_in2")] {
            // The standard computes areas from diameters rounded to four decimals: up to 0.1 % for small sizes.
            let printed = row[column].as_str();
            let places = (0.001 * number(printed) / last_place(printed)).max(0.9);
            meets(square_inches(area), printed, places, name);
        }
        meets(square_inches(geometry.stress_area()), &row["At_calc_in2"], ROUNDED, name);
        meets(square_inches(geometry.minor_area()), &row["Ar_basic_calc_in2"], ROUNDED, name);
    }
}

fn limits(thread: &str, class: &str) -> Limits {
    let Designation { thread, class, .. } = format!("{thread}-{class}").parse().unwrap();
    let class = class.unwrap_or_else(|| panic!("{thread}: no class"));
    thread.limits(&class).unwrap_or_else(|| panic!("{thread}-{class} has no limits"))
}

/// A limit may differ by one in its last place (1 µm, 0.0001 in, 0.001 in for inch minor diameters), because
/// sources round other intermediate results; few may.
#[test]
fn limits_of_size() {
    let rows = rows(include_str!("published/thread_limits.csv"));
    let (mut cells, mut exact) = (0, 0);
    for row in rows {
        let what = format!("{}-{}", row["thread"], row["class"]);
        let limits = limits(&row["thread"], &row["class"]);
        let inch = row["unit"] == "in";
        let columns = [("major", limits.major()), ("pitch", limits.pitch()), ("minor", limits.minor())];
        for (column, Span { min, max }) in columns {
            for (end, limit) in [("min", min), ("max", max)] {
                let printed = row[&format!("{column}_{end}")].as_str();
                let Some(limit) = limit.filter(|_| !printed.is_empty()) else { continue };
                let value = if inch { limit.inches() } else { limit.millimeters() };
                meets(value, printed, 1.001, &format!("{what} {column} {end}"));
                cells += 1;
                exact += usize::from((value - number(printed)).abs() < 0.01 * last_place(printed));
            }
        }
    }
    assert!(cells > 800, "{cells} cells");
    assert!(exact * 100 >= cells * 93, "only {exact} of {cells} cells agree to the last place");
}

/// FED-STD-H28/2B, shear areas for one inch of engagement (table values from memory), from the limits of
/// classes 2A and 2B as the Machinery's Handbook formulas take them.
#[test]
fn shear_areas_from_limits() {
    for (thread, count, external, internal) in
        [("1/4-20", 20.0, 0.368, 0.539), ("3/8-16", 16.0, 0.576, 0.828), ("1/2-13", 13.0, 0.779, 1.12)]
    {
        let (bolt, nut) = (limits(thread, "2A"), limits(thread, "2B"));
        let inches = |limit: Option<Length>| limit.unwrap().inches();
        let area =
            |diameter: f64, depth: f64| std::f64::consts::PI * count * diameter * (0.5 / count + 0.57735 * depth);
        let minor = inches(nut.minor().max);
        let major = inches(bolt.major().min);
        let shear_external = area(minor, inches(bolt.pitch().min) - minor);
        let shear_internal = area(major, major - inches(nut.pitch().max));
        assert!((shear_external - external).abs() < 0.0006, "{thread}: {shear_external}");
        assert!((shear_internal - internal).abs() < 0.006, "{thread}: {shear_internal}");
    }
}

/// ISO 898-7:1992, table 2: MB = X · Rm · π/16 · d3min³ from our smallest root meets every published
/// torque within 0.8 of its last place.
#[test]
fn smallest_roots_bear_the_published_breaking_torques() {
    let rows = rows(include_str!("published/iso898_7_breaking_torque.csv"));
    assert!(rows.len() > 50);
    for row in rows {
        let limits = limits(&row["designation"], &row["tolerance_assumed"]);
        let root = limits.minor().min.unwrap().millimeters();
        let strength = number(&row["strength_ratio_X"]) * number(&row["Rm_min_MPa"]);
        let torque = strength * std::f64::consts::PI / 16.0 * root.powi(3) / 1000.0;
        let what = format!("{} {}", row["designation"], row["class"]);
        meets(torque, &row["MB_min_published_Nm"], 0.8, &what);
    }
}

#[test]
fn every_standard_thread_has_limits_and_goes_together() {
    for thread in Thread::standards() {
        let limits = |external| {
            let class = thread.usual_class(external).unwrap_or_else(|| panic!("{thread}"));
            thread.limits(&class).unwrap()
        };
        let (bolt, nut) = (limits(true), limits(false));
        assert!(bolt.is_external() && !nut.is_external());
        let rises = |span: Span| span.min < span.max || span.max.is_none();
        for span in [bolt.major(), bolt.pitch(), bolt.minor(), nut.major(), nut.pitch(), nut.minor()] {
            assert!(rises(span), "{thread}: {span:?}");
        }
        assert!(bolt.major().max <= nut.major().min, "{thread}");
        assert!(bolt.pitch().max <= nut.pitch().min, "{thread}");
        assert!(bolt.minor().max <= nut.minor().min, "{thread}");
        let engagement = thread.normal_engagement();
        assert_eq!(engagement.is_some(), thread.system() == Some(System::Metric), "{thread}");
    }
}

#[test]
fn classes_without_limits() {
    let none = |thread: &str, class: &str| {
        let class: ThreadClass = class.parse().unwrap();
        assert_eq!(thread.parse::<Thread>().unwrap().limits(&class), None, "{thread} {class}");
    };
    none("M10", "2A");
    none("3/8-16", "6g");
    none("M10", "6q");
    none("M8×1.3", "6g");
    none("M9.5", "6g");
    none("G 1/2", "6g");
    // ISO 965-1, table 3: no grade 6 below a pitch of 0.3 mm.
    none("M2×0.25", "6H");
}
