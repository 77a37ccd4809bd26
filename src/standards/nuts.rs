//! Property classes of nuts: ISO 898-2 (carbon and alloy steel), ISO 3506-2 (stainless), SAE J995 (inch).

use super::property_class::PropertyClass;

/// Classes of ISO 898-2 (1992 and 2012), thin nuts first as in the standard.
const ISO_898_2: [&str; 9] = ["04", "05", "4", "5", "6", "8", "9", "10", "12"];
/// Thin nuts of stainless steel; full nuts share the names of their bolts.
const ISO_3506_2: [&str; 9] =
    ["A1-025", "A2-025", "A2-035", "A2-040", "A4-025", "A4-035", "A4-040", "C1-025", "C3-040"];

/// Every class that is one of nuts only.
pub(super) fn classes() -> impl Iterator<Item = &'static str> {
    ISO_898_2.into_iter().chain(ISO_3506_2)
}

/// The standard that has the class as one of nuts only.
pub(super) fn standard_of(class: &PropertyClass) -> Option<&'static str> {
    let text = class.as_str();
    let found = |classes: &[&str]| classes.contains(&text);
    if found(&ISO_898_2) { Some("ISO 898-2") } else { found(&ISO_3506_2).then_some("ISO 3506-2") }
}
