use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// A fastener whose joint has no record.
    ///
    /// # Why it matters
    /// Positions, order, preparation and what is to be renewed belong to the joint. Without its record there is no card
    /// for the bench, and what the fastener says of its positions and its count is compared with nothing. Either the
    /// joint is still to be entered, or its id was mistyped here. It is a `note`, since a row of a table closes no joint
    /// and is worth having all the same.
    ///
    /// # Flagged
    /// ```json
    /// { "id": "skua.winch.drum.hex", "joint": "skua.winch.drum" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "kind": "joint", "id": "skua.winch.drum" }, { "id": "skua.winch.drum.hex", "joint": "skua.winch.drum" } ]
    /// ```
    ///
    /// # Sources
    /// Follows from what a joint is.
    "joint-not-in-the-book", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    if case.joint.is_some() {
        return Vec::new();
    }
    let joint = &case.fastener.joint;
    let message = format!("there is no record of the joint {joint}: its positions, its order and what to renew are not known");
    vec![Finding::note("joint", message).found(joint)]
}
