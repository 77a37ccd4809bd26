//! Which machines a record is for, in words, and whether it is for one of them.

use crate::record::Fits;

/// The machines in words: `bronze-housing, serials 0120-0480`.
#[must_use]
pub fn fits_words(fits: &Fits) -> String {
    let variants = fits.variants.iter().map(ToString::to_string);
    let serials = fits.serials.iter().map(|serials| format!("serials {serials}"));
    variants.chain(serials).collect::<Vec<_>>().join(", ")
}

/// Whether a record is for a variant: one that names no variant is for all of them.
#[must_use]
pub fn suits(fits: Option<&Fits>, variant: Option<&str>) -> bool {
    let (Some(fits), Some(variant)) = (fits, variant) else { return true };
    let wanted = variant.trim().to_lowercase();
    fits.variants.is_empty() || fits.variants.iter().any(|named| named.to_lowercase() == wanted)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_record_without_variants_is_for_all() {
        let named =
            Fits { variants: vec!["Bronze-housing".parse().unwrap()], serials: Some("0120-0480".parse().unwrap()) };
        assert!(suits(None, Some("x")) && suits(Some(&named), None) && suits(Some(&named), Some(" bronze-housing")));
        assert!(!suits(Some(&named), Some("alloy-housing")));
        assert!(suits(Some(&Fits { variants: Vec::new(), serials: None }), Some("x")));
        assert_eq!(fits_words(&named), "Bronze-housing, serials 0120-0480");
    }
}
