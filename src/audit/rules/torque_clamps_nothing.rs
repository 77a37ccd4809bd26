use crate::audit::assessment::SOURCE;
use crate::audit::doubt::{is_in_line, perhaps_meant};
use crate::audit::finding::{Allowed, Finding};
use crate::audit::plan;
use crate::audit::rule::{FastenerCase, rule};
use crate::mechanics::{LEAST_SHARE, TABLE_UTILISATION};

rule! {
    /// A torque so low that it clamps next to nothing.
    ///
    /// # Why it matters
    /// A bolt holds by its preload. With a fraction of it the joint slips, opens or works loose, and the number is often
    /// a lost digit, a decimal point too many, or pound-inches read as pound-feet. Still, the torque of a particular
    /// joint may be right far below what the bolt could bear: a gasket, a plastic cover, a thread in light metal. There
    /// it is a `note`, given below a fifth of the usual preload. In a general table of torques, which is made to use
    /// the bolts, it is a `warning`, given below half of it, both at the friction that clamps most; unless the whole
    /// series is as low.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["2 N·m"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["10 N·m"] }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "friction": "0.10-0.16", "stages": ["2 N·m + 90°"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1:2015, 5.4.3 and 5.5.1; tables are made for 90 % of the yield strength. Half of that as the least that
    /// clamps enough is common practice, no source.
    "torque-clamps-nothing", Fastener(check)
}

/// In a particular joint even half of the least share may be meant; below a fifth it is worth a look.
const LEAST_SHARE_OF_A_JOINT: f64 = 0.2;
/// So many sizes under one heading, with nothing said about any place, are a table.
const TABLE_ROWS_MIN: usize = 4;

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Ok(assessment) = case.assessment() else { return Vec::new() };
    let Some(stage) = plan::last_without_turns(case.fastener) else { return Vec::new() };
    let share = assessment.utilisation(stage.middle()).lowest / TABLE_UTILISATION;
    let in_table = is_row_of_a_table(case);
    let least = if in_table { LEAST_SHARE } else { LEAST_SHARE_OF_A_JOINT };
    if share >= least {
        return Vec::new();
    }
    let message = format!(
        "{} gives {} at most {:.0} % of the preload that it is made for",
        stage.torque,
        plan::bolt(case.fastener),
        share * 100.0
    );
    let finding = if in_table && !is_in_line(case, stage.index) {
        Finding::warning(stage.field(), message)
    } else {
        Finding::note(stage.field(), message)
    };
    let min = assessment.yields_from().middle * (LEAST_SHARE * TABLE_UTILISATION);
    let min = plan::in_unit(min, stage.torque.unit());
    let mut finding = finding
        .found(stage.torque)
        .allowed(Allowed::Range { min: Some(min), max: None })
        .because("preload_share", share, SOURCE)
        .because_of("friction", assessment.friction_words(), assessment.friction_source());
    finding.perhaps = perhaps_meant(case, stage.index);
    vec![finding]
}

/// Whether the record is one size among several under one heading, with nothing said about where it sits.
fn is_row_of_a_table(case: &FastenerCase<'_>) -> bool {
    let fastener = case.fastener;
    let has_a_place = fastener.positions.is_some()
        || fastener.count.is_some()
        || fastener.grip.is_some()
        || fastener.length.is_some()
        || fastener.head.is_some()
        || case.joint.is_some_and(|joint| !joint.positions.is_empty());
    !has_a_place && case.book.fasteners_of(&fastener.joint).len() >= TABLE_ROWS_MIN
}
