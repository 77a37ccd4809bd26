use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};

rule! {
    /// A number that nobody can look up again, because its document or page is not stated.
    ///
    /// # Why it matters
    /// When two numbers disagree, the only way out is to open the document that they came from. Without document and
    /// page, an entry can neither be checked nor corrected when a new edition comes out.
    ///
    /// # Flagged
    /// ```json
    /// { "stages": ["20 N·m"] }
    /// ```
    /// ```json
    /// { "source": { "document": "Skerry Yard workshop book" } }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "source": { "document": "Skerry Yard workshop book", "edition": "3", "page": "41" } }
    /// ```
    ///
    /// # Sources
    /// Common practice, no source.
    "missing-source", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let source = case.fastener.source.as_ref();
    let Some(document) = source.and_then(|source| source.document.as_ref()) else {
        return vec![Finding::note("source.document", "nothing says which document the numbers were read from")];
    };
    if source.is_some_and(|source| source.page.is_none()) {
        let message = format!("nothing says on which page of {document} the numbers stand");
        return vec![Finding::note("source.page", message)];
    }
    Vec::new()
}
