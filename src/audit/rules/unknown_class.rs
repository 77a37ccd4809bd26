use crate::audit::finding::Finding;
use crate::audit::rule::{FastenerCase, rule};
use crate::standards::PropertyClass;

rule! {
    /// A property class that no standard has.
    ///
    /// # Why it matters
    /// Without a known class there is no strength, and no torque of the fastener can be judged by it. A class that has
    /// the form of a standard's but is not in it (`8.7`, `109`) was misread or misheard: that is a `warning`. A
    /// maker's grade, or one figure for several grades, cannot be judged and is never guessed: that is a `note`.
    ///
    /// # Flagged
    /// ```json
    /// { "property_class": "8.7" }
    /// ```
    /// ```json
    /// { "property_class": "109" }
    /// ```
    /// ```json
    /// { "property_class": "grade 6-7", "thread": "3/8-16 UNC" }
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// { "property_class": "8.8" }
    /// ```
    /// ```json
    /// { "property_class": "A4-80" }
    /// ```
    ///
    /// # Sources
    /// ISO 898-1:2013 and its older editions, ISO 898-2, ISO 898-5, ISO 3506-1 and -2, SAE J429, ASTM A193, A325, A354,
    /// A449, A490, A574, F3125.
    "unknown-class", Fastener(check)
}

fn check(case: &FastenerCase<'_>) -> Vec<Finding> {
    let fields = [
        ("property_class", case.fastener.property_class.as_ref()),
        ("nut_class", case.fastener.nut_class.as_ref()),
    ];
    fields.into_iter().filter_map(|(field, class)| judge(case, field, class?)).collect()
}

fn judge(case: &FastenerCase<'_>, field: &str, class: &PropertyClass) -> Option<Finding> {
    if class.is_known() {
        return None;
    }
    let nearest = case.book.near_classes(class);
    let message = format!("{class} is in no table of property classes");
    let finding = if looks_like_a_class(class.as_str()) || is_one_without_its_point(class, nearest) {
        Finding::warning(field, message)
    } else {
        Finding::note(field, format!("{message}, so its strength is not known"))
    };
    let finding = finding.found(class);
    Some(if nearest.is_empty() { finding } else { finding.one_of(nearest) })
}

/// `8.7`, `A2-75`: written as ISO 898-1 or ISO 3506-1 writes its classes.
fn looks_like_a_class(text: &str) -> bool {
    let metric = text.split_once('.').is_some_and(|(tensile, ratio)| {
        (1..=2).contains(&tensile.len()) && ratio.len() == 1 && digits(tensile) && digits(ratio)
    });
    let stainless = text.split_once('-').is_some_and(|(steel, strength)| {
        let mut steel = steel.chars();
        steel.next().is_some_and(|c| matches!(c, 'A' | 'C' | 'D' | 'F'))
            && steel.next().is_some_and(|c| c.is_ascii_digit())
            && steel.next().is_none()
            && digits(strength)
    });
    metric || stainless
}

fn digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

/// `88`, `10 9`: a known class but for its point.
fn is_one_without_its_point(class: &PropertyClass, nearest: &[PropertyClass]) -> bool {
    let plain = |class: &PropertyClass| class.as_str().replace(['.', ' '], "");
    digits(&plain(class)) && nearest.iter().any(|near| plain(near) == plain(class))
}
