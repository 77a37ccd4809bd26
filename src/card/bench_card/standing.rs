//! Whether the records of a card were checked, and what the audit found about them.

use super::build::Lettered;
use super::{CardInput, Standing};
use crate::audit::{Finding, Severity};
use crate::record::Source;

/// Whether the records were checked, and what the audit found.
pub(super) fn standing(input: &CardInput<'_>, lettered: &[Lettered<'_>]) -> Standing {
    let joint = input.joint.record;
    let is_checked = |source: Option<&Source>| source.is_some_and(Source::is_checked);
    let mut unchecked = Vec::new();
    if !is_checked(joint.source.as_ref()) {
        unchecked.push(joint.id.clone());
    }
    unchecked.extend(lettered.iter().filter(|one| !one.record().is_checked()).map(|one| one.record().id.clone()));
    let count = |severity| open_findings(input, lettered).filter(|finding| finding.severity == severity).count();
    let [errors, warnings, notes] = [Severity::Error, Severity::Warning, Severity::Note].map(count);
    let checked = match unchecked.len() {
        0 => "Checked by a second person".to_owned(),
        count if count > lettered.len() => "UNCHECKED".to_owned(),
        _ => "PARTLY UNCHECKED".to_owned(),
    };
    let words = format!("{checked}. {}", found_words(errors, warnings, notes));
    Standing { is_checked: unchecked.is_empty(), unchecked, errors, warnings, notes, words }
}

/// What the audit found, in words; that it found nothing says nothing about what it does not look at.
fn found_words(errors: usize, warnings: usize, notes: usize) -> String {
    let counted = |count, one: &str, many: &str| match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        count => Some(format!("{count} {many}")),
    };
    let found: Vec<String> =
        [counted(errors, "error", "errors"), counted(warnings, "warning", "warnings"), counted(notes, "note", "notes")]
            .into_iter()
            .flatten()
            .collect();
    if found.is_empty() { "Audit: no finding".to_owned() } else { format!("Audit: {}", found.join(", ")) }
}

/// The findings about the records of the card that nobody has accepted.
pub(super) fn open_findings<'c>(
    input: &'c CardInput<'_>,
    lettered: &'c [Lettered<'_>],
) -> impl Iterator<Item = &'c Finding> {
    let joint = input.joint.record.id.as_str();
    input.findings.iter().filter(move |finding| {
        let about = finding.record == joint || lettered.iter().any(|one| one.record().id.as_str() == finding.record);
        about && finding.accepted.is_none()
    })
}
