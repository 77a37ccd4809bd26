//! The load that a bolt of a class bears at least: as published where a table prints it, and as computed.
//!
//! This module knows no preload: what a tightened bolt carries is in `mechanics`.

use super::citation::{Citation, Origin};
use super::iso898_1_loads::{CLASSES, COARSE_PROOF, COARSE_ULTIMATE, FINE_PROOF, FINE_ULTIMATE, LoadRow};
use super::property_class::PropertyClass;
use super::strength::{NoStrength, strength};
use super::table::{Cell, Table};
use crate::thread::Geometry;
use crate::units::{Area, Force, Stress};

/// One load, as published and as computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Load {
    /// As the standard prints it, in its rounding; `None` for threads and classes that its tables leave out.
    pub published: Option<(Force, Citation)>,
    /// Stress area times stress, not rounded.
    pub computed: Force,
}

impl Load {
    /// The published load, or else the computed one.
    #[must_use]
    pub fn value(&self) -> Force {
        self.published.map_or(self.computed, |(force, _)| force)
    }
}

/// The least loads of a class on a thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loads {
    /// The stress area that the loads are computed with: the thread's own, not rounded.
    pub stress_area: Area,
    /// `Fm,min`: the least load that breaks the bolt.
    pub ultimate: Load,
    /// `Fp`: the load that must leave no permanent stretch; stainless steel has none.
    pub proof: Option<Load>,
}

/// The least ultimate tensile load and the proof load of a class on a thread (ISO 898-1, 9.1 and 9.6: `F = As · stress`).
///
/// # Errors
/// [`NoStrength`] where the class has no strength in this size.
pub fn loads(class: &PropertyClass, thread: &Geometry) -> Result<Loads, NoStrength> {
    let strength = strength(class, thread.major())?;
    let stress_area = thread.stress_area();
    let load = |tables: [(&[LoadRow], &'static str); 2], stress: Stress| Load {
        published: published(tables, class, thread),
        computed: Force::from_newtons(stress_area.square_millimeters() * stress.megapascals()),
    };
    Ok(Loads {
        stress_area,
        ultimate: load([(&COARSE_ULTIMATE, "Table 4"), (&FINE_ULTIMATE, "Table 6")], strength.tensile),
        proof: strength.proof.map(|stress| load([(&COARSE_PROOF, "Table 5"), (&FINE_PROOF, "Table 7")], stress)),
    })
}

fn published(
    tables: [(&[LoadRow], &'static str); 2],
    class: &PropertyClass,
    thread: &Geometry,
) -> Option<(Force, Citation)> {
    let column = CLASSES.iter().position(|listed| *listed == class.as_str())?;
    tables.into_iter().find_map(|(rows, table)| {
        let row = rows.iter().find(|row| same_thread(row.diameter_mm, row.pitch_mm, thread))?;
        let origin = if row.computed.contains(&class.as_str()) { Origin::Computed } else { row.origin };
        let load = row.loads[column];
        (load > 0)
            .then(|| (Force::from_newtons(f64::from(load)), Citation::new("ISO 898-1", "2013", table).with(origin)))
    })
}

/// Whether a thread has the diameter and pitch of a row; a micrometre is below any step between threads.
pub(super) fn same_thread(diameter_mm: f64, pitch_mm: f64, thread: &Geometry) -> bool {
    let same = |printed: f64, value: f64| (printed - value).abs() < 0.001;
    same(diameter_mm, thread.major().millimeters()) && same(pitch_mm, thread.pitch().millimeters())
}

/// The four tables as printed.
pub(super) fn tables() -> Vec<Table> {
    let table = |name, title, number, rows: &[LoadRow]| {
        let mut columns = vec!["thread", "stress_area_mm2"];
        columns.extend(CLASSES);
        let mut table = Table::new(name, title, Citation::new("ISO 898-1", "2013", number), "N", &columns);
        for row in rows {
            let thread = format!("M{}×{}", row.diameter_mm, row.pitch_mm);
            let loads = row.loads.iter().map(|load| Cell::from((*load > 0).then_some(*load)));
            let origin = if row.computed.is_empty() { row.origin } else { Origin::Computed };
            table.push(origin, [Cell::from(thread), Cell::from(row.area_mm2)].into_iter().chain(loads));
        }
        table
    };
    vec![
        table("iso-898-1-ultimate-coarse", "Least ultimate tensile loads, coarse pitch", "Table 4", &COARSE_ULTIMATE),
        table("iso-898-1-proof-coarse", "Proof loads, coarse pitch", "Table 5", &COARSE_PROOF),
        table("iso-898-1-ultimate-fine", "Least ultimate tensile loads, fine pitch", "Table 6", &FINE_ULTIMATE)
            .note("Rows marked computed hold some loads computed as stress area × stress, three digits."),
        table("iso-898-1-proof-fine", "Proof loads, fine pitch", "Table 7", &FINE_PROOF)
            .note("Rows marked computed hold some loads computed as stress area × stress, three digits."),
    ]
}
