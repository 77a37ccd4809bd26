//! What people call the fields of a record.

/// The names of fields whose own name says too little.
const WORDS: &[(&str, &str)] = &[
    ("accepted", "accepted"),
    ("drive.size", "size of the drive"),
    ("drive.type", "drive"),
    ("finish", "surface"),
    ("fits.serials", "only serials"),
    ("fits.variants", "only variant"),
    ("friction", "friction, as stated"),
    ("grip", "clamped length"),
    ("into.engagement", "goes in"),
    ("into.material", "goes into"),
    ("lubrication", "on thread and head"),
    ("part_no", "part number"),
    ("property_class", "class"),
    ("reuse.limit", "longest that may go back"),
    ("reuse.rule", "may it go back"),
    ("reuse.times", "how often"),
    ("role", "kind of fastening"),
    ("source.checked_by", "checked by"),
    ("source.document", "read in"),
    ("source.edition", "edition"),
    ("source.entered_by", "entered by"),
    ("source.page", "page"),
    ("source.printed", "as printed"),
    ("stages", "stage"),
    ("thread_class", "thread class"),
];

/// A path such as `fits.variants[1]` in words: `only variant 2`.
pub fn of_field(path: &str) -> String {
    let (path, number) = match path.split_once('[') {
        Some((before, rest)) => match rest.split_once(']') {
            Some((number, after)) => (format!("{before}{after}"), number.parse::<usize>().ok()),
            None => (path.to_owned(), None),
        },
        None => (path.to_owned(), None),
    };
    let known = WORDS.iter().find(|(known, _)| *known == path).map(|(_, words)| (*words).to_owned());
    let words = known.unwrap_or_else(|| path.replace(['.', '_'], " "));
    match number {
        Some(number) => format!("{words} {}", number + 1),
        None => words,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_become_words() {
        let told = ["stages[1]", "fits.variants[0]", "source.printed", "thread", "accepted[0].rule"].map(of_field);
        assert_eq!(told, ["stage 2", "only variant 1", "as printed", "thread", "accepted rule 1"]);
    }

    #[test]
    fn every_name_is_that_of_a_field() {
        let schema = serde_json::to_value(<crate::record::Fastener as utoipa::PartialSchema>::schema()).unwrap();
        for (path, _) in WORDS {
            let first = path.split('.').next().unwrap();
            assert!(schema["properties"].get(first).is_some(), "{path}");
        }
    }
}
