use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::record::Text;

rule! {
    /// An entry that was checked by the one who entered it.
    ///
    /// # Why it matters
    /// Who misread a number once reads it the same way again. The check is worth something only if somebody else opens
    /// the source; an entry checked by the same hand counts as unchecked.
    ///
    /// # Flagged
    /// ```json
    /// { "source": { "document": "Skerry Yard workshop book", "page": "41", "entered_by": "mo", "checked_by": "Mo" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "source": { "document": "Skerry Yard workshop book", "page": "41", "entered_by": "mo", "checked_by": "ines" } }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source: two pairs of eyes.
    "checked-by-the-same-hand", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let Some(source) = &case.fastener.source else { return Vec::new() };
    let (Some(entered), Some(checked)) = (&source.entered_by, &source.checked_by) else { return Vec::new() };
    let folded = |name: &Text| name.to_lowercase();
    if folded(entered) != folded(checked) {
        return Vec::new();
    }
    let message = format!("{entered} entered this and checked it; that is one pair of eyes");
    vec![Finding::warning("source.checked_by", message).found(checked)]
}
