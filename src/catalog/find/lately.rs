//! What the last finished audit says, for those who don't wait until the next one has taken in what was written since.
//!
//! It is told only where it is true of the record that is shown, and only as long as the next audit is under way, promised, or
//! wanted for no more than a moment; until the first audit since the start is finished, what was kept of the one before is
//! told so, however old. A record that was written since, or whose joint or a fastener of it was, has to wait: what is found
//! about it may be something else now. What is found about others may be too, since all torques of the book are evidence and
//! records can share a part number; so whoever is told this is told up to which change the book had been audited.

use super::super::{Catalog, CatalogError, Deadline};
use super::live_audit::AsOf;
use crate::audit::AuditSummary;
use crate::query::{State, Stored};
use crate::record::{Id, Record};
use crate::store::Head;
use imbl::OrdSet;
use std::ops::Bound;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// How long the next audit may be wanted, from the first who asked, before somebody who asks makes it.
const MOMENT: Duration = Duration::from_secs(1);
/// More changes than this are waited for: about 10 MB of ids.
const MANY: usize = 100_000;

/// What was found about a record that stands in the book, in short.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lately {
    /// What was found.
    pub summary: AuditSummary,
    /// The last change that had surely been audited, where the book has had more since.
    pub up_to: Option<u64>,
}

/// What was written since an audit.
#[derive(Debug)]
pub struct NotYet {
    epoch: String,
    /// After this change.
    since: u64,
    /// Up to this change.
    until: u64,
    ids: OrdSet<Id>,
    /// When somebody asked for the first time while that audit was the last.
    first_asked: Instant,
}

impl NotYet {
    /// Whether what closes a joint, or the joint itself, is among it.
    fn has_some_of(&self, record: &Record) -> bool {
        let joint = record.as_fastener().map_or(record.id(), |fastener| &fastener.joint).as_str();
        // What is below a joint comes behind it, with nothing but hyphenated neighbours of its between.
        let from_here = self
            .ids
            .range::<_, str>((Bound::Included(joint), Bound::Unbounded))
            .take_while(|id| id.as_str().starts_with(joint));
        from_here.map(|id| &id.as_str()[joint.len()..]).any(|rest| rest.is_empty() || rest.starts_with('.'))
    }
}

impl Catalog {
    /// What the last finished audit says about a record in force that was just read. Nothing comes back where that would have
    /// to be waited for.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn audited_lately(&self, stored: &Stored) -> Result<Option<Lately>, CatalogError> {
        self.audited_lately_by(Deadline::at(Instant::now()), stored)
    }

    /// The same for one who waits so long for the first step of the next audit, which has what the last one says to itself.
    pub(super) fn audited_lately_by(
        &self,
        deadline: Deadline,
        stored: &Stored,
    ) -> Result<Option<Lately>, CatalogError> {
        let head = self.store().head();
        let Some(known) = self.inner.audit.known.load_full() else { return self.kept_lately(stored, &head) };
        let is_of_now = known.is_of(&head);
        if stored.state != State::Current || !(is_of_now || self.is_still_true(&known, &head, &stored.record)?) {
            return Ok(None);
        }
        let Some(audit) = known.audit_by(deadline) else { return Ok(None) };
        let summary = audit.summary_in_force(stored.record.id(), stored.sequence);
        Ok(summary.map(|summary| Lately { summary, up_to: (!is_of_now).then_some(known.sequence) }))
    }

    /// The change up to which the last finished audit of this history has looked, if there have been others since and what it
    /// said about a record in force is still to be told: for one who knows what it said. Nobody waits for this, not even while an
    /// audit takes in changes.
    ///
    /// # Errors
    /// As [`Catalog::audited_lately`].
    pub fn last_audit_still_told(&self, stored: &Stored, epoch: &str) -> Result<Option<u64>, CatalogError> {
        let head = self.store().head();
        let known = self.inner.audit.known.load_full().filter(|known| known.epoch == epoch && !known.is_of(&head));
        let Some(known) = known.filter(|_| stored.state == State::Current) else { return Ok(None) };
        Ok(self.is_still_true(&known, &head, &stored.record)?.then_some(known.sequence))
    }

    /// What [`Catalog::audited_lately`] says, from what was kept of the audit when the book was opened: it is all that there is
    /// until the first audit is finished, so it may be older.
    fn kept_lately(&self, stored: &Stored, head: &Head) -> Result<Option<Lately>, CatalogError> {
        let Some(kept) = self.kept_before().filter(|kept| kept.is_of_history(head)) else { return Ok(None) };
        let is_of_now = kept.is_of(head);
        if stored.state != State::Current || !(is_of_now || self.is_untouched(kept.sequence, head, &stored.record)?) {
            return Ok(None);
        }
        let up_to = (!is_of_now).then_some(kept.sequence);
        Ok(self.kept_summary(&kept, stored)?.map(|summary| Lately { summary, up_to }))
    }

    fn is_still_true(&self, known: &AsOf, head: &Head, record: &Record) -> Result<bool, CatalogError> {
        if known.epoch != head.epoch {
            return Ok(false);
        }
        let not_yet = self.not_yet_audited(known.sequence, head)?;
        let is_soon = |not_yet: &NotYet| not_yet.first_asked.elapsed() < MOMENT || self.is_audit_coming();
        Ok(not_yet.is_some_and(|not_yet| is_soon(&not_yet) && !not_yet.has_some_of(record)))
    }

    /// Whether neither a record nor its joint nor what closes that was written after a change.
    fn is_untouched(&self, since: u64, head: &Head, record: &Record) -> Result<bool, CatalogError> {
        Ok(self.not_yet_audited(since, head)?.is_some_and(|not_yet| !not_yet.has_some_of(record)))
    }

    /// What was written after a change up to a state of the book, or a little beyond; nothing if that is much.
    fn not_yet_audited(&self, since: u64, head: &Head) -> Result<Option<Arc<NotYet>>, CatalogError> {
        let until = head.sequence;
        let held = &self.inner.audit.not_yet;
        let before = held.load_full().filter(|held| held.epoch == head.epoch && held.since == since);
        if let Some(before) = before.as_ref().filter(|before| before.until >= until) {
            return Ok(Some(before.clone()));
        }
        if until - since > MANY as u64 {
            return Ok(None);
        }
        let nothing = || (since, OrdSet::new(), Instant::now());
        let (seen, mut ids, first_asked) =
            before.map_or_else(nothing, |before| (before.until, before.ids.clone(), before.first_asked));
        ids.extend(self.store().changes(seen, MANY)?.into_iter().map(|change| change.id));
        let now = Arc::new(NotYet { epoch: head.epoch.clone(), since, until, ids, first_asked });
        held.store(Some(now.clone()));
        Ok(Some(now))
    }
}
