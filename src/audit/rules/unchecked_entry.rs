use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// An entry that nobody has compared with its source a second time.
    ///
    /// # Why it matters
    /// Most wrong numbers in a book came in while they were read, heard or typed. A second pair of eyes on the source
    /// finds them; no calculation finds all of them.
    ///
    /// # Flagged
    /// ```json
    /// { "source": { "document": "Skerry Yard workshop book", "page": "41", "entered_by": "mo" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "source": { "document": "Skerry Yard workshop book", "page": "41", "entered_by": "mo", "checked_by": "ines" } }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source.
    "unchecked-entry", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let checked_by = case.fastener.source.as_ref().and_then(|source| source.checked_by.as_ref());
    if checked_by.is_some() {
        return Vec::new();
    }
    vec![Finding::note("source.checked_by", "nobody has compared this entry with its source a second time")]
}
