//! Records as they are sent, kept ready: the bytes and the tag of each.
//!
//! All that goes into what is sent of a record is its revision and what the audit says of it in short. So what was made
//! once serves wherever these two are the same again; and it need not even be asked whether they are as long as the book
//! has not changed at all. Nothing has to be thrown away after a write.

mod around;
mod places;

use super::tags;
use crate::answer::json_bytes;
use crate::catalog::{AuditSummary, Catalog, CatalogError, Lately, Mark, Page, Stored};
use crate::query::Query;
use crate::record::{Id, Kind};
use crate::view::{Entry, PageView};
use actix_web::http::header::HeaderValue;
use actix_web::web::Bytes;
use arc_swap::ArcSwap;
use around::Around;
use places::{PLACE, Place, Sitting};
use quick_cache::Weighter;
use quick_cache::sync::Cache;
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// How many bytes are kept of records; of positions half as many.
const BYTES_MAX: u64 = 24 << 20;
/// About how many bytes a record has, as it is sent.
const RECORD: u64 = 1200;
/// About how many bytes of memory a record costs besides what is sent of it.
const BESIDE: u64 = 240;

/// Records as they are sent.
#[derive(Clone)]
pub struct Ready {
    of_epoch: Arc<ArcSwap<OfEpoch>>,
    bytes_max: u64,
}

/// Those of one history: in another one the same numbers stand for other changes.
struct OfEpoch {
    epoch: String,
    records: Cache<Id, Arc<Shown>, Weighed>,
    places: Cache<Place, Arc<Sitting>, places::Weighed>,
}

/// A record as it is sent.
#[derive(Debug)]
pub struct Shown {
    /// Whether it is a joint or a fastener.
    pub kind: Kind,
    /// The bytes: its JSON and a line break.
    pub line: Bytes,
    /// The tag of these bytes.
    pub tag: HeaderValue,
    /// The change that made the revision, which no other revision has.
    change: u64,
    /// What the audit says of it in short.
    audit: AuditSummary,
    /// The last state of the book in which this was known to be what is sent, by its last change; 0 for none.
    known_at: AtomicU64,
}

/// A record as it is sent, and the change up to which the book had been audited where that is not the last one.
pub type AsAudited = (Arc<Shown>, Option<u64>);

#[derive(Clone)]
struct Weighed;

impl Weighter<Id, Arc<Shown>> for Weighed {
    fn weight(&self, id: &Id, shown: &Arc<Shown>) -> u64 {
        (id.as_str().len() + shown.line.len()) as u64 + BESIDE
    }
}

impl Default for Ready {
    fn default() -> Self {
        Self::with_room(BYTES_MAX)
    }
}

impl fmt::Debug for Ready {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let held = self.of_epoch.load();
        f.debug_struct("Ready").field("epoch", &held.epoch).field("records", &held.records.len()).finish()
    }
}

impl Ready {
    fn with_room(bytes_max: u64) -> Self {
        Self { of_epoch: Arc::new(ArcSwap::from_pointee(OfEpoch::of("", bytes_max))), bytes_max }
    }

    fn of(&self, epoch: &str) -> Arc<OfEpoch> {
        let held = self.of_epoch.load_full();
        if held.epoch == epoch {
            return held;
        }
        let new = Arc::new(OfEpoch::of(epoch, self.bytes_max));
        self.of_epoch.store(new.clone());
        new
    }

    /// The last revision of a record as it is sent. Nothing comes back where there is no such record, and where the audit
    /// would have to be waited for.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn one(&self, catalog: &Catalog, id: &str) -> Result<Option<AsAudited>, CatalogError> {
        let mark = catalog.mark();
        let held = self.of(mark.epoch());
        if let Some(shown) = held.records.get(id)
            && shown.is_known_at(&mark)
        {
            return Ok(Some((shown, None)));
        }
        let Ok(id) = id.parse::<Id>() else { return Ok(None) };
        let Some(stored) = catalog.get(&id)? else { return Ok(None) };
        let Some(Lately { summary, up_to }) = catalog.audited_lately(&stored)? else {
            let shown = catalog.is_audited().then(|| self.several(catalog, &mark, true, &[stored])).transpose()?;
            return Ok(shown.and_then(|mut shown| shown.pop()).map(|shown| (shown, None)));
        };
        let now = catalog.mark();
        // Where the history is another one by now, nobody knows which of the two this record is of.
        if now.epoch() != mark.epoch() {
            return Ok(None);
        }
        let shown = held.shown(&stored, summary);
        if up_to.is_none() && now == mark {
            shown.known_at.store(mark.sequence(), Ordering::Relaxed);
        }
        Ok(Some((shown, up_to)))
    }

    /// Records that were read after a mark, as they are sent, in their order. `are_last` says that nothing but the last
    /// revisions of records in force is among them.
    ///
    /// # Errors
    /// If the book can't be read.
    fn several(
        &self,
        catalog: &Catalog,
        before: &Mark,
        are_last: bool,
        stored: &[Stored],
    ) -> Result<Vec<Arc<Shown>>, CatalogError> {
        // Where the history is another one by now, nobody knows which of the two these records are of.
        let held = (catalog.mark().epoch() == before.epoch()).then(|| self.of(before.epoch()));
        let known: Vec<_> = stored.iter().map(|stored| held.as_ref()?.known(stored, before)).collect();
        let others: Vec<&Stored> =
            stored.iter().zip(&known).filter(|(_, known)| known.is_none()).map(|(stored, _)| stored).collect();
        let summaries = catalog.audit_summaries(&others)?;
        let shown = |(stored, audit): (&Stored, _)| match &held {
            Some(held) => held.shown(stored, audit),
            None => Arc::new(Shown::of(stored, audit)),
        };
        let others: Vec<_> = others.into_iter().zip(summaries).map(shown).collect();
        if are_last && catalog.mark() == *before {
            others.iter().for_each(|shown| shown.known_at.store(before.sequence(), Ordering::Relaxed));
        }
        let mut others = others.into_iter();
        Ok(known.into_iter().filter_map(|known| known.or_else(|| others.next())).collect())
    }

    /// The page that answers a question, its records read after a mark.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn page(&self, catalog: &Catalog, before: &Mark, query: &Query, page: Page) -> Result<Bytes, CatalogError> {
        if query.members.is_some() {
            return Ok(json_bytes(&PageView::of(catalog, query, page)?).into());
        }
        let shown = self.several(catalog, before, query.as_of.is_none(), &page.items)?;
        Ok(Around::of(&PageView::around(page)).with(&shown))
    }
}

impl OfEpoch {
    fn of(epoch: &str, bytes_max: u64) -> Self {
        let about = |each: u64| usize::try_from(bytes_max / each).unwrap_or(usize::MAX);
        Self {
            epoch: epoch.to_owned(),
            records: Cache::with_weighter(about(RECORD), bytes_max, Weighed),
            places: Cache::with_weighter(about(2 * PLACE), bytes_max / 2, places::Weighed),
        }
    }

    /// A revision as it is sent, if that was found out in this very state of the book.
    fn known(&self, stored: &Stored, mark: &Mark) -> Option<Arc<Shown>> {
        let shown = self.records.get(stored.record.id())?;
        (shown.change == stored.sequence && shown.is_known_at(mark)).then_some(shown)
    }

    fn shown(&self, stored: &Stored, audit: AuditSummary) -> Arc<Shown> {
        let id = stored.record.id();
        match self.records.get(id) {
            Some(shown) if shown.change == stored.sequence && shown.audit == audit => shown,
            _ => {
                let shown = Arc::new(Shown::of(stored, audit));
                self.records.insert(id.clone(), shown.clone());
                shown
            }
        }
    }
}

impl Shown {
    fn of(stored: &Stored, audit: AuditSummary) -> Self {
        let line = json_bytes(&Entry::with(stored.clone(), audit));
        let tag = tags::of_shown(stored.revision, &line);
        Self {
            kind: stored.record.kind(),
            tag: HeaderValue::from_str(&tag).unwrap_or(HeaderValue::from_static("")),
            // No more room than it needs.
            line: line.into_boxed_slice().into(),
            change: stored.sequence,
            audit,
            known_at: AtomicU64::new(0),
        }
    }

    fn is_known_at(&self, mark: &Mark) -> bool {
        mark.sequence() > 0 && self.known_at.load(Ordering::Relaxed) == mark.sequence()
    }

    /// The JSON alone.
    fn json(&self) -> &[u8] {
        self.line.strip_suffix(b"\n").unwrap_or(&self.line)
    }
}

#[cfg(test)]
mod tests;
