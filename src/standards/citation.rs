//! Where a value of a table comes from.

use std::fmt;

/// How a value got into the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Origin {
    /// Read from a page that prints the table of the standard.
    Read,
    /// Recalled from the standard, not seen while writing.
    FromMemory,
    /// Computed with the formula that the standard gives.
    Computed,
}

/// The place of a value: standard, edition, table, and how it got here.
///
/// Printed as `ISO 898-1:2013, Table 3`, with `(from memory)` or `(computed)` after it where that is so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, utoipa::ToSchema)]
pub struct Citation {
    /// The standard or document: `ISO 898-1`. For trade facts `common practice, no source`.
    pub standard: &'static str,
    /// Its edition, usually a year: `2013`. Empty where it is not known.
    pub edition: &'static str,
    /// The table or clause: `Table 3`. Empty where the document has one table or none.
    pub table: &'static str,
    /// How the value got here.
    pub origin: Origin,
}

impl Citation {
    /// A citation of a table, its values recalled from memory unless said otherwise with [`Citation::with`].
    #[must_use]
    pub const fn new(standard: &'static str, edition: &'static str, table: &'static str) -> Self {
        Self { standard, edition, table, origin: Origin::FromMemory }
    }

    /// A citation for what the trade does without a document that says so.
    #[must_use]
    pub const fn common_practice() -> Self {
        Self::new("common practice, no source", "", "")
    }

    /// The same place with another origin, as the rows of one table can differ.
    #[must_use]
    pub const fn with(self, origin: Origin) -> Self {
        Self { origin, ..self }
    }

    /// Standard and edition: `ISO 898-1:2013`.
    #[must_use]
    pub fn document(&self) -> String {
        if self.edition.is_empty() { self.standard.to_owned() } else { format!("{}:{}", self.standard, self.edition) }
    }
}

impl fmt::Display for Citation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.document())?;
        if !self.table.is_empty() {
            write!(f, ", {}", self.table)?;
        }
        match self.origin {
            Origin::FromMemory if *self == Self::common_practice() => Ok(()),
            Origin::Read => Ok(()),
            Origin::FromMemory => f.write_str(" (from memory)"),
            Origin::Computed => f.write_str(" (computed)"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_as_a_reference() {
        let citation = Citation::new("ISO 898-1", "2013", "Table 3");
        assert_eq!(citation.to_string(), "ISO 898-1:2013, Table 3 (from memory)");
        assert_eq!(citation.with(Origin::Read).to_string(), "ISO 898-1:2013, Table 3");
        assert_eq!(Citation::common_practice().to_string(), "common practice, no source");
    }
}
