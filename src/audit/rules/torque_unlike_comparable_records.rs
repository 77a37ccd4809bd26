use crate::audit::doubt::{Ground, doubts};
use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// A torque unlike those of the same thread and class elsewhere in the book.
    ///
    /// # Why it matters
    /// Different joints have different torques, but not ten times as much: where the rest of the book agrees
    /// about a thread and class, a value far from it was mostly heard, read or typed wrong. Where a whole column was
    /// copied from another document, the one place that differs is wrong in one of them.
    ///
    /// # Flagged
    /// ```json
    /// [{ "thread": "M8", "property_class": "8.8", "stages": ["24 N·m"], "source": { "document": "first book" } },
    ///  { "thread": "M8", "property_class": "8.8", "stages": ["22 N·m"], "source": { "document": "second book" } },
    ///  { "thread": "M8", "property_class": "8.8", "stages": ["220 N·m"], "source": { "document": "third book" } }]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [{ "thread": "M8", "property_class": "8.8", "stages": ["24 N·m"], "source": { "document": "first book" } },
    ///  { "thread": "M8", "property_class": "8.8", "stages": ["22 N·m"], "source": { "document": "second book" } },
    ///  { "thread": "M8", "property_class": "8.8", "stages": ["16 N·m"], "source": { "document": "third book" } }]
    /// ```
    ///
    /// # Sources
    /// How far documents differ was learned from the general tables of government manuals. The values of the examples
    /// are invented.
    "torque-unlike-comparable-records", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    doubts(case, Ground::Comparable)
}
