use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::standards::nut_fit;

rule! {
    /// A nut whose class is too weak for the bolt.
    ///
    /// # Why it matters
    /// The thread of a weak nut strips before the bolt reaches its load, unseen and often only under way. A bolt that is
    /// too strong for its nut breaks late and is seen; a nut that strips is not. The standards give each class of bolt
    /// the lowest class of nut that holds it.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "10.9", "nut_class": "8" }
    /// ```
    /// ```json
    /// { "property_class": "grade 8", "nut_class": "grade 5", "thread": "3/8-16 UNC" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "10.9", "nut_class": "10" }
    /// ```
    /// ```json
    /// { "property_class": "8.8", "nut_class": "10" }
    /// ```
    ///
    /// # Sources
    /// ISO 898-2:2012, table 2; ISO 3506-2; SAE J995.
    "nut-class-too-weak", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let (Some(bolt), Some(nut)) = (&case.fastener.property_class, &case.fastener.nut_class) else {
        return Vec::new();
    };
    let Some(fit) = nut_fit(nut, bolt).filter(|fit| !fit.fits) else { return Vec::new() };
    let message = format!("a nut of {nut} strips before a bolt of {bolt} reaches its load; it takes {}", fit.needed);
    vec![
        Finding::warning("nut_class", message)
            .found(nut)
            .one_of([&fit.needed])
            .because_of("property_class", bolt, fit.source),
    ]
}
