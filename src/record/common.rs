//! Parts that joints and fasteners share.

use super::field::fields;
use super::text::Text;

fields! {
    /// Where a number was read, by whom, and who read it over again.
    pub struct Source {
        /// The document.
        pub document: Option<Text>,
        /// Its edition.
        pub edition: Option<Text>,
        /// The page.
        pub page: Option<Text>,
        /// The text as printed there, second unit included.
        pub printed: Option<Text>,
        /// Who entered it.
        pub entered_by: Option<Text>,
        /// Who compared the entry with the source: somebody else.
        pub checked_by: Option<Text>,
    }
}

impl Source {
    /// Whether somebody other than the one who entered it has compared it with the source.
    #[must_use]
    pub fn is_checked(&self) -> bool {
        self.checked_by.is_some() && self.checked_by != self.entered_by
    }
}

fields! {
    /// Which machines a record is for; absent means all.
    pub struct Fits {
        /// The variants by name.
        #[schema(required = false, max_items = 400)]
        pub variants: Vec<Text>,
        /// The serial numbers, as the maker writes them.
        pub serials: Option<Text>,
    }
}

impl std::fmt::Display for Fits {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let variants = self.variants.iter().map(ToString::to_string);
        let serials = self.serials.iter().map(|serials| format!("serials {serials}"));
        f.write_str(&variants.chain(serials).collect::<Vec<_>>().join(", "))
    }
}

fields! {
    /// A finding that somebody has accepted, with the reason.
    pub struct Accepted {
        /// The rule that is silenced for this record.
        pub rule: Text,
        /// Why.
        pub reason: Text,
    }
}
