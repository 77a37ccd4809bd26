//! Least breaking torques. Unit: N·m. Rounding: as printed.
//!
//! ISO 898-7:1992, Table 2 (M1 to M10, classes 8.8 to 12.9), from memory; the formula of its clause 5 reproduces every value:
//! `MB = τB · Wp`, `Wp = π/16 · d3min³`, `τB = X · Rm`. ISO 3506-1:2009, Table 6 (M1.6 to M16, austenitic), from memory; no
//! formula is stated there. Both are torsion tests of the bare thread: a tightened bolt also carries tension.

use super::citation::{Citation, Origin};
use super::property_class::PropertyClass;
use super::strength::strength;
use super::table::{Cell, Table};
use crate::thread::Geometry;
use crate::units::{Length, Torque};
use std::f64::consts::PI;

/// The least torque that breaks a bolt in a torsion test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BreakingTorque {
    /// As the standard prints it.
    pub published: Option<(Torque, Citation)>,
    /// By the formula of ISO 898-7, for its classes and up to M10.
    pub computed: Option<Torque>,
}

/// Where the carbon steel torques stand.
const ISO_898_7: Citation = Citation::new("ISO 898-7", "1992", "Table 2");
/// Where the stainless torques stand.
const ISO_3506_1: Citation = Citation::new("ISO 3506-1", "2009", "Table 6");
/// The greatest diameter that ISO 898-7 is for.
const DIAMETER_MAX_MM: f64 = 10.0;

/// The classes of ISO 898-7 and `X`, shear strength ÷ tensile strength (clause 5).
const CLASSES: [(&str, f64); 4] = [("8.8", 0.84), ("9.8", 0.815), ("10.9", 0.79), ("12.9", 0.75)];
/// The class numbers of ISO 3506-1.
const STAINLESS: [&str; 3] = ["50", "70", "80"];

/// Diameter, pitch, torques for 8.8, 9.8, 10.9 and 12.9.
type CarbonRow = (f64, f64, [f64; 4]);

/// ISO 898-7, Table 2; tolerance class 6h up to M1.4, 6g above.
const CARBON: [CarbonRow; 17] = [
    (1.0, 0.25, [0.033, 0.036, 0.040, 0.045]),
    (1.2, 0.25, [0.075, 0.082, 0.092, 0.10]),
    (1.4, 0.3, [0.12, 0.13, 0.14, 0.16]),
    (1.6, 0.35, [0.16, 0.18, 0.20, 0.22]),
    (2.0, 0.4, [0.37, 0.40, 0.45, 0.50]),
    (2.5, 0.45, [0.82, 0.90, 1.0, 1.1]),
    (3.0, 0.5, [1.5, 1.7, 1.9, 2.1]),
    (3.5, 0.6, [2.4, 2.7, 3.0, 3.3]),
    (4.0, 0.7, [3.6, 3.9, 4.4, 4.9]),
    (5.0, 0.8, [7.6, 8.3, 9.3, 10.0]),
    (6.0, 1.0, [13.0, 14.0, 16.0, 17.0]),
    (7.0, 1.0, [23.0, 25.0, 28.0, 31.0]),
    (8.0, 1.25, [33.0, 36.0, 40.0, 44.0]),
    (8.0, 1.0, [38.0, 42.0, 46.0, 52.0]),
    (10.0, 1.5, [66.0, 72.0, 81.0, 90.0]),
    (10.0, 1.0, [84.0, 92.0, 102.0, 114.0]),
    (10.0, 1.25, [75.0, 82.0, 91.0, 102.0]),
];

/// Diameter, torques for classes 50, 70 and 80; coarse pitch.
type StainlessRow = (f64, f64, [f64; 3]);

/// ISO 3506-1, Table 6.
const AUSTENITIC: [StainlessRow; 11] = [
    (1.6, 0.35, [0.15, 0.20, 0.24]),
    (2.0, 0.4, [0.30, 0.40, 0.48]),
    (2.5, 0.45, [0.60, 0.90, 0.96]),
    (3.0, 0.5, [1.1, 1.6, 1.8]),
    (4.0, 0.7, [2.7, 3.8, 4.3]),
    (5.0, 0.8, [5.5, 7.8, 8.8]),
    (6.0, 1.0, [9.3, 13.0, 15.0]),
    (8.0, 1.25, [23.0, 32.0, 37.0]),
    (10.0, 1.5, [46.0, 65.0, 74.0]),
    (12.0, 1.75, [80.0, 110.0, 130.0]),
    (16.0, 2.0, [210.0, 290.0, 330.0]),
];

/// The least breaking torque of a class on a thread; `None` where neither standard has the class in that size.
#[must_use]
pub fn breaking_torque(class: &PropertyClass, thread: &Geometry) -> Option<BreakingTorque> {
    let is_row = |diameter: f64, pitch: f64| super::loads::same_thread(diameter, pitch, thread);
    if let Some(column) = CLASSES.iter().position(|(listed, _)| *listed == class.as_str()) {
        let row = CARBON.iter().find(|row| is_row(row.0, row.1));
        let published = row.map(|row| (Torque::from_newton_meters(row.2[column]), ISO_898_7));
        let computed = computed(class, CLASSES[column].1, thread);
        return (published.is_some() || computed.is_some()).then_some(BreakingTorque { published, computed });
    }
    let number = class.as_str().strip_prefix('A').and_then(|rest| rest.split_once('-'))?.1;
    let column = STAINLESS.iter().position(|listed| *listed == number)?;
    let row = AUSTENITIC.iter().find(|row| is_row(row.0, row.1))?;
    Some(BreakingTorque { published: Some((Torque::from_newton_meters(row.2[column]), ISO_3506_1)), computed: None })
}

fn computed(class: &PropertyClass, shear_ratio: f64, thread: &Geometry) -> Option<Torque> {
    if thread.major().millimeters() > DIAMETER_MAX_MM + 0.001 {
        return None;
    }
    // The class holds from M1.6 in ISO 898-1, from M1 here: the smallest sizes take its values.
    let tensile = match strength(class, thread.major()) {
        Ok(strength) => strength.tensile,
        Err(no) => no.as_if()?.tensile,
    };
    let minor = least_minor_diameter(thread)?.millimeters();
    let section = PI / 16.0 * minor.powi(3);
    Some(Torque::from_newton_meters(shear_ratio * tensile.megapascals() * section / 1000.0))
}

/// `d3min` of ISO 898-7: least pitch diameter of tolerance class 6g (6h up to M1.4) less the depth to a root rounded with
/// 0.125 P (`H − 0.25 P`), by the formulas of ISO 965-1, clause 13, not rounded to its tables.
fn least_minor_diameter(thread: &Geometry) -> Option<Length> {
    let (diameter, pitch) = (thread.major().millimeters(), thread.pitch().millimeters());
    const STEPS_MM: [f64; 5] = [0.99, 1.4, 2.8, 5.6, 11.2];
    let step = STEPS_MM.windows(2).find(|step| diameter > step[0] && diameter < step[1] + 0.001)?;
    let mean = (step[0] * step[1]).sqrt();
    let tolerance = 0.090 * pitch.powf(0.4) * mean.powf(0.1);
    let deviation = if diameter < 1.4 + 0.001 { 0.0 } else { 0.015 + 0.011 * pitch };
    let height = 3.0_f64.sqrt() / 2.0 * pitch;
    Some(Length::from_millimeters(
        thread.pitch_diameter().millimeters() - deviation - tolerance - (height - 0.25 * pitch),
    ))
}

/// The two tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let columns = ["thread", "8.8", "9.8", "10.9", "12.9"];
    let mut carbon = Table::new("iso-898-7", "Least breaking torques", ISO_898_7, "N·m", &columns);
    for (diameter, pitch, torques) in CARBON {
        let thread = Cell::from(format!("M{diameter}×{pitch}"));
        carbon.push(Origin::FromMemory, [thread].into_iter().chain(torques.map(Cell::from)));
    }
    let columns = ["thread", "50", "70", "80"];
    let mut stainless =
        Table::new("iso-3506-1-breaking", "Least breaking torques, austenitic steel", ISO_3506_1, "N·m", &columns);
    for (diameter, pitch, torques) in AUSTENITIC {
        let thread = Cell::from(format!("M{diameter}×{pitch}"));
        stainless.push(Origin::FromMemory, [thread].into_iter().chain(torques.map(Cell::from)));
    }
    vec![carbon, stainless]
}
