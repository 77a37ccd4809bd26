use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::Role;
use crate::standards::PropertyClass;
use crate::thread::System;

rule! {
    /// A property class of another kind of part, or of the other system of threads.
    ///
    /// # Why it matters
    /// `8` is a class of nuts and `45H` one of set screws; on a bolt they are a misread 8.8, or the class of the part
    /// beside it. Grades of SAE J429 are made for inch threads and classes of ISO 898-1 for metric ones. Bolts of the
    /// other system exist, so that is a `note`, but more often thread or class comes from another line.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8" }
    /// ```
    /// ```json
    /// { "property_class": "45H", "role": "bolt" }
    /// ```
    /// ```json
    /// { "thread": "M10", "property_class": "grade 5" }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC", "property_class": "8.8" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8", "role": "nut" }
    /// ```
    /// ```json
    /// { "property_class": "45H", "role": "set-screw" }
    /// ```
    /// ```json
    /// { "thread": "3/8-16 UNC", "property_class": "grade 5" }
    /// ```
    ///
    /// # Sources
    /// ISO 898-1, ISO 898-2, ISO 898-5; SAE J429.
    "class-of-another-kind", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fastener = case.fastener;
    let Some(class) = &fastener.property_class else { return Vec::new() };
    let field = "property_class";
    match (class.standard(), fastener.role(), fastener.thread.system()) {
        (Some(standard @ ("ISO 898-2" | "ISO 3506-2")), Role::Bolt | Role::StudSetting, _) => {
            let message = format!("{class} is a class of nuts ({standard}), and this is a bolt");
            vec![Finding::warning(field, message).found(class).one_of(begin_with(class))]
        }
        (Some(standard @ "ISO 898-5"), Role::Bolt | Role::StudSetting, _) => {
            let message = format!("{class} is a class of set screws ({standard}), and this is a bolt");
            vec![Finding::warning(field, message).found(class)]
        }
        (Some(standard @ "SAE J429"), _, Some(System::Metric)) => {
            let message = format!("{standard} has {class} for inch threads, and {} is metric", fastener.thread);
            vec![Finding::note(field, message).found(class)]
        }
        (Some(standard @ "ISO 898-1"), _, Some(System::Unified)) => {
            let message = format!("{standard} has {class} for metric threads, and {} is not", fastener.thread);
            vec![Finding::note(field, message).found(class)]
        }
        _ => Vec::new(),
    }
}

/// The usual bolt classes that begin with the number of the nut class.
fn begin_with(class: &PropertyClass) -> Vec<&'static str> {
    let usual = ["4.8", "5.8", "6.8", "8.8", "9.8", "10.9", "12.9"];
    usual.into_iter().filter(|usual| usual.split_once('.').is_some_and(|(whole, _)| whole == class.as_str())).collect()
}
