use crate::audit::doubt::{Ground, doubts};
use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// A torque that is improbable for its thread and class, with nothing else to compare it with.
    ///
    /// # Why it matters
    /// General tables load a bolt to 0.6 to 1.4 of the torque at 90 % of its yield strength, particular joints to 0.3
    /// to 1.8. What lies far outside is mostly a lost decimal point, a wrong unit or a misheard number. A low value
    /// inside that range is right for gaskets, covers and soft parts. Fastenings that the bolt's strength does
    /// not limit (plugs, pipe nuts, shaft nuts, stud setting) and classes of unknown strength are not judged.
    ///
    /// # Flagged
    /// ```json
    /// { "thread": "M8", "property_class": "8.8", "stages": ["250 N·m"] }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC", "property_class": "grade 5", "stages": ["31 lbf·in"] }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "thread": "M8", "property_class": "8.8", "stages": ["12 N·m"] }
    /// ```
    /// ```json
    /// { "thread": "M8", "property_class": "maker's own", "stages": ["250 N·m"] }
    /// ```
    /// ```json
    /// { "thread": "M24", "property_class": "8.8", "role": "plug", "stages": ["30 N·m"] }
    /// ```
    ///
    /// # Sources
    /// VDI 2230-1, 5.4.3 for the torque at 90 % of yield; published tables and manuals for the ranges. The values of
    /// the examples are invented.
    "torque-improbable", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    doubts(case, Ground::Class)
}
