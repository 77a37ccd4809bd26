use crate::audit::finding::Finding;
use crate::audit::rule::{JointCase, rule};
use crate::record::{Fastener, RenewItem, ReuseRule};

rule! {
    /// An item to renew whose count is not that of the fasteners it is.
    ///
    /// # Why it matters
    /// Renewed parts are laid out before the joint is opened. One bolt or nut too few stops the work, and the old one is
    /// tempting; one too many left over makes everybody look for a place that does not exist. The item is compared with
    /// the fasteners of its part number, or with the one whose thread it names.
    ///
    /// # Flagged
    /// ```json
    /// [ { "kind": "joint", "renew": [ { "item": "Cover bolt", "count": 6, "part_no": "SY-1" } ] },
    ///   { "count": 8, "part_no": "SY-1" } ]
    /// ```
    /// ```json
    /// [ { "kind": "joint", "renew": [ { "item": "Self-locking nut M8", "count": 3 } ] },
    ///   { "positions": "1-4", "locking": "polymer-ring-nut" } ]
    /// ```
    /// ```json
    /// [ { "kind": "joint", "renew": [ { "item": "Cover bolt", "count": 8, "part_no": "SY-1" } ] },
    ///   { "count": 8, "part_no": "SY-1", "reuse": { "rule": "reuse" } } ]
    /// ```
    ///
    /// # Accepted
    /// ```json
    /// [ { "kind": "joint", "renew": [ { "item": "Cover bolt", "count": 8, "part_no": "SY-1" } ] },
    ///   { "count": 8, "part_no": "SY-1", "reuse": { "rule": "renew" } } ]
    /// ```
    /// ```json
    /// [ { "kind": "joint", "renew": [ { "item": "O-ring 48 × 2", "count": 1 } ] }, { "count": 8 } ]
    /// ```
    ///
    /// # Sources
    /// Follows from what a count is.
    "renew-count-disagrees", Joint(check)
}

fn check(case: &JointCase<'_>) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (i, item) in case.joint.renew.iter().enumerate() {
        let by_part: Vec<&Fastener> = case.fasteners.iter().copied().filter(|own| is_part(own, item)).collect();
        if by_part.is_empty() {
            findings.extend(by_thread(case.fasteners, item).and_then(|own| compare(i, item, &[own], false)));
            continue;
        }
        findings.extend(compare(i, item, &by_part, true));
        if by_part.iter().all(|own| own.reuse_rule() == Some(ReuseRule::Reuse)) {
            let message = format!("{} is to be renewed here, but the fastener is marked as reusable", item.item);
            findings.push(Finding::warning(format!("renew[{i}]"), message).found(&item.item));
        }
    }
    findings
}

fn is_part(fastener: &Fastener, item: &RenewItem) -> bool {
    item.part_no.is_some() && fastener.part_no == item.part_no
}

/// The one fastener whose thread a bolt, nut or stud to renew names; `None` if several have it.
fn by_thread<'f>(fasteners: &[&'f Fastener], item: &RenewItem) -> Option<&'f Fastener> {
    let words = item.item.to_lowercase();
    if !["bolt", "nut", "screw", "stud"].iter().any(|kind| words.split(|c: char| !c.is_alphabetic()).any(|w| w == *kind)) {
        return None;
    }
    let mut named = fasteners.iter().filter(|fastener| names_thread(&words, &fastener.thread.to_string().to_lowercase()));
    let only = named.next()?;
    named.next().is_none().then_some(*only)
}

/// Whether the words name the thread, with or without its pitch, and not as the beginning of another.
fn names_thread(words: &str, thread: &str) -> bool {
    let size = thread.split('×').next().unwrap_or(thread);
    [thread, size].iter().any(|name| {
        words.match_indices(name).any(|(at, _)| {
            let after = words[at + name.len()..].chars().next();
            let before = words[..at].chars().next_back();
            !after.is_some_and(|c| c.is_ascii_digit() || matches!(c, '.' | '×' | 'x' | '/'))
                && !before.is_some_and(|c| c.is_alphanumeric() || matches!(c, '/' | '.'))
        })
    })
}

fn compare(i: usize, item: &RenewItem, own: &[&Fastener], is_certain: bool) -> Option<Finding> {
    let count = item.count?;
    let places: u32 = own.iter().map(|fastener| count_of(fastener)).sum::<Option<u32>>()?;
    if count == places {
        return None;
    }
    let message = format!("{count} of {} are to be renewed, but the joint has {places} of them", item.item);
    let field = format!("renew[{i}].count");
    let finding = if is_certain { Finding::warning(field, message) } else { Finding::note(field, message) };
    Some(finding.found(count).one_of([places]))
}

fn count_of(fastener: &Fastener) -> Option<u32> {
    fastener.count.or_else(|| u32::try_from(fastener.positions.as_ref()?.count()).ok())
}
