use crate::audit::doubt::{Ground, doubts};
use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// A torque out of line with the other values of its series: the same document, class and condition.
    ///
    /// # Why it matters
    /// A table changes smoothly from size to size, and between its columns. A value that steps out of line was
    /// mostly read from the row above or below, transposed, misheard or taken from the other unit's column. How far
    /// is too far follows from how smooth the rest of the series is.
    ///
    /// # Flagged
    /// ```json
    /// [{ "thread": "M6", "property_class": "8.8", "stages": ["9 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M8", "property_class": "8.8", "stages": ["22 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M10", "property_class": "8.8", "stages": ["44 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M12", "property_class": "8.8", "stages": ["44 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M14", "property_class": "8.8", "stages": ["120 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M16", "property_class": "8.8", "stages": ["190 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M20", "property_class": "8.8", "stages": ["370 N·m"], "source": { "document": "a table" } }]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [{ "thread": "M6", "property_class": "8.8", "stages": ["9 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M8", "property_class": "8.8", "stages": ["22 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M10", "property_class": "8.8", "stages": ["44 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M12", "property_class": "8.8", "stages": ["76 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M14", "property_class": "8.8", "stages": ["120 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M16", "property_class": "8.8", "stages": ["190 N·m"], "source": { "document": "a table" } },
    ///  { "thread": "M20", "property_class": "8.8", "stages": ["370 N·m"], "source": { "document": "a table" } }]
    /// ```
    ///
    /// # Sources
    /// How smooth published columns are was learned from government manuals; see the constants of the slip model.
    /// The values of the examples are invented.
    "torque-out-of-series", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    doubts(case, Ground::Series)
}
