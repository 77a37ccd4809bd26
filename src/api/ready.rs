//! Records as they are sent, kept ready: the bytes and the tag of each.
//!
//! All that goes into what is sent of a record is its revision and what the audit says of it in short. So what was made
//! once serves wherever these two are the same again; and it need not even be asked whether they are as long as the book
//! has not changed at all. Nothing has to be thrown away after a write.

use super::tags;
use crate::answer::json_bytes;
use crate::catalog::{AuditSummary, Catalog, CatalogError, Mark, Page, PositionAnswer, Stored};
use crate::query::Query;
use crate::record::{Id, Kind};
use crate::view::{Entry, PageView, PositionView};
use actix_web::http::header::HeaderValue;
use actix_web::web::Bytes;
use arc_swap::ArcSwap;
use quick_cache::Weighter;
use quick_cache::sync::Cache;
use serde::Serialize;
use std::fmt;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// How many bytes are kept.
const BYTES_MAX: u64 = 12 << 20;
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
    pub fn one(&self, catalog: &Catalog, id: &str) -> Result<Option<Arc<Shown>>, CatalogError> {
        let mark = catalog.mark();
        if let Some(shown) = self.of(mark.epoch()).records.get(id)
            && shown.is_known_at(&mark)
        {
            return Ok(Some(shown));
        }
        let Ok(id) = id.parse::<Id>() else { return Ok(None) };
        if !catalog.is_audited() {
            return Ok(None);
        }
        let Some(stored) = catalog.get(&id)? else { return Ok(None) };
        Ok(self.several(catalog, &mark, true, &[stored])?.pop())
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
        Ok(with_items(&PageView::around(page), &shown))
    }

    /// What sits at a position, read after a mark: now (`are_last`) or at another moment.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn position(
        &self,
        catalog: &Catalog,
        before: &Mark,
        are_last: bool,
        joint: &Id,
        answer: PositionAnswer,
    ) -> Result<Bytes, CatalogError> {
        let shown = self.several(catalog, before, are_last, &answer.fasteners)?;
        Ok(with_items(&PositionView::around(catalog, joint, answer)?, &shown))
    }
}

impl OfEpoch {
    fn of(epoch: &str, bytes_max: u64) -> Self {
        let about = usize::try_from(bytes_max / RECORD).unwrap_or(usize::MAX);
        Self { epoch: epoch.to_owned(), records: Cache::with_weighter(about, bytes_max, Weighed) }
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

/// A view that was made without its records, with the records put in: the bytes that the whole view has.
fn with_items(view: &impl Serialize, items: &[Arc<Shown>]) -> Bytes {
    const NONE: &[u8] = br#""items":[]"#;
    let around = json_bytes(view);
    // Within a text a quotation mark has a backslash before it: only the member itself looks like this.
    let place = around.windows(NONE.len()).position(|bytes| bytes == NONE);
    let (before, after) = around.split_at(place.map_or(around.len(), |at| at + NONE.len() - 1));
    let length: usize = items.iter().map(|item| item.line.len()).sum();
    let mut whole = Vec::with_capacity(around.len() + length);
    whole.extend_from_slice(before);
    for (number, item) in items.iter().enumerate() {
        if number > 0 {
            whole.push(b',');
        }
        whole.extend_from_slice(item.json());
    }
    whole.extend_from_slice(after);
    whole.into()
}

#[cfg(test)]
mod tests;
