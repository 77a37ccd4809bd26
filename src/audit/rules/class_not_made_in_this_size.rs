use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::standards::{self, NoStrength, Strength};
use crate::units::Length;

rule! {
    /// A property class that its standard does not have in this size.
    ///
    /// # Why it matters
    /// If a class is not made in a size, one of the two was misread. Sizes beyond the end of the whole standard are
    /// another matter: above M39, or above 1 1/2 in, bolts are made by agreement, and the strengths of the class are
    /// commonly kept. That is a `note`, and the torque is judged as if the standard went on.
    ///
    /// # Flagged
    /// ```json
    /// { "thread": "M20", "property_class": "9.8" }
    /// ```
    /// ```json
    /// { "thread": "M48", "property_class": "10.9" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "thread": "M20", "property_class": "10.9" }
    /// ```
    /// ```json
    /// { "thread": "M20" }
    /// ```
    ///
    /// # Sources
    /// ISO 898-1:2013, table 3; ISO 3506-1; SAE J429; the ASTM specifications named with the strength.
    "class-not-made-in-this-size", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(class) = &case.fastener.property_class else { return Vec::new() };
    let Some(geometry) = case.fastener.thread.geometry() else { return Vec::new() };
    let Err(reason) = standards::strength(class, geometry.major()) else { return Vec::new() };
    let NoStrength::NotMadeInThisSize { made, standard, as_if, .. } = &reason else { return Vec::new() };
    let thread = &case.fastener.thread;
    let finding = if is_beyond_standard(as_if, geometry.major()) {
        let message = format!("{standard} ends before {thread}; {class} is judged as if it went on");
        Finding::note("property_class", message)
    } else {
        Finding::warning("property_class", format!("{standard} has no {class} in {thread}"))
    };
    vec![finding.found(format!("{class} in {thread}")).one_of(made).because_of("sizes", list(made), standard)]
}

fn list(made: &[standards::SizeRange]) -> String {
    made.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}

/// Whether no class of the standard is made in the size.
fn is_beyond_standard(strength: &Strength, diameter: Length) -> bool {
    let (least, greatest) = match strength.source.standard {
        "ISO 898-1" | "ISO/R 898-1" | "ISO 3506-1" => (1.6, 39.0),
        // SAE J429 and the ASTM specifications: #0 (0.060 in) to 1 1/2 in
        _ => (Length::from_inches(0.06).millimeters(), Length::from_inches(1.5).millimeters()),
    };
    let mm = diameter.millimeters();
    mm < least - 0.001 || mm > greatest + 0.001
}
