//! Findings by record: what is wrong with one fastener stands together, and what was probably meant stands once.

use crate::audit::{Finding, Perhaps, Severity};

/// What the audit says about one record.
pub struct Group {
    /// The id of the record.
    pub record: String,
    /// The worst that is said about it.
    pub severity: Severity,
    /// Everything that is said, the worst first.
    pub findings: Vec<Finding>,
    /// What was perhaps meant, the most probable first, each value once.
    pub perhaps: Vec<Perhaps>,
}

/// Findings by record, the worst record first; records that are equally bad stand as they come.
pub fn groups(findings: Vec<Finding>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut at = std::collections::HashMap::new();
    for finding in findings {
        let i = *at.entry(finding.record.clone()).or_insert_with(|| {
            let record = finding.record.clone();
            groups.push(Group { record, severity: finding.severity, findings: Vec::new(), perhaps: Vec::new() });
            groups.len() - 1
        });
        groups[i].take(finding);
    }
    for group in &mut groups {
        group.findings.sort_by_key(|finding| std::cmp::Reverse(finding.severity));
        group.perhaps.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    }
    groups.sort_by_key(|group| std::cmp::Reverse(group.severity));
    groups
}

impl Group {
    fn take(&mut self, finding: Finding) {
        self.severity = self.severity.max(finding.severity);
        for perhaps in &finding.perhaps {
            match self.perhaps.iter_mut().find(|known| known.value == perhaps.value) {
                Some(known) if known.probability < perhaps.probability => *known = perhaps.clone(),
                Some(_) => {}
                None => self.perhaps.push(perhaps.clone()),
            }
        }
        self.findings.push(finding);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finding(record: &str, severity: Severity, meant: &[(&str, f64)]) -> Finding {
        let perhaps = meant.iter().map(|(value, probability)| Perhaps {
            value: (*value).to_owned(),
            slip: "point-lost".to_owned(),
            probability: *probability,
        });
        let finding = Finding::new(severity, "stages[0]", "x");
        Finding { record: record.to_owned(), perhaps: perhaps.collect(), ..finding }
    }

    #[test]
    fn the_worst_record_stands_first_and_what_was_meant_once() {
        let groups = groups(vec![
            finding("a", Severity::Note, &[]),
            finding("b", Severity::Warning, &[("8 N·m", 0.6), ("10 N·m", 0.1)]),
            finding("a", Severity::Warning, &[]),
            finding("c", Severity::Error, &[]),
            finding("b", Severity::Error, &[("10 N·m", 0.2), ("8 N·m", 0.7)]),
        ]);
        let told: Vec<_> = groups.iter().map(|group| (group.record.as_str(), group.findings.len())).collect();
        assert_eq!(told, [("b", 2), ("c", 1), ("a", 2)]);
        assert_eq!(groups[0].findings[0].severity, Severity::Error);
        let meant: Vec<_> = groups[0].perhaps.iter().map(|one| (one.value.as_str(), one.probability)).collect();
        assert_eq!(meant, [("8 N·m", 0.7), ("10 N·m", 0.2)]);
    }
}
