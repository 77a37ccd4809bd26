//! Records as they are sent, kept ready: the bytes and the tag of each.
//!
//! All that goes into what is sent of a record is its revision and what the audit says of it in short. So what was made
//! once serves wherever these two are the same again; and it need not even be asked whether they are as long as the book
//! has not changed at all. Nothing has to be thrown away after a write.

mod ahead;
mod around;
mod pages;
mod places;
mod shown;

use crate::answer::json_bytes;
use crate::catalog::{AuditSummary, Catalog, CatalogError, Lately, Listed, Mark, Stored};
use crate::query::Query;
use crate::record::Id;
use crate::view::{Entry, PageView};
pub use ahead::Ahead;
use arc_swap::ArcSwap;
use around::Around;
use hashbrown::DefaultHashBuilder;
pub use pages::PageSent;
use pages::{AskedOnce, Leaf, PAGE, link_to};
pub use places::AtPosition;
use places::{PLACE, Sitting};
use quick_cache::Weighter;
use quick_cache::sync::{Cache, DefaultLifecycle};
pub use shown::Shown;
use std::fmt;
use std::sync::Arc;

/// How many bytes of memory what is kept of records may take: some 60,000 fasteners.
const BYTES_MAX: u64 = 64 << 20;
/// How many times less are kept of who sits where.
const OF_PLACES: u64 = 4;
/// How many times less of pages.
const OF_PAGES: u64 = 16;
/// About how many bytes of memory a record takes.
const RECORD: u64 = 1100;
/// About how many of these are not what is sent.
const BESIDE: u64 = 200;

/// Records as they are sent.
#[derive(Clone)]
pub struct Ready {
    of_epoch: Arc<ArcSwap<OfEpoch>>,
    bytes_max: u64,
}

/// Those of one history: in another one the same numbers stand for other changes, and other records have the slots.
struct OfEpoch {
    epoch: String,
    /// By slot, which nobody outside can choose: a hash that is quick is good enough.
    records: Cache<u32, Arc<Shown>, Weighed, DefaultHashBuilder>,
    places: Cache<Id, Arc<Sitting>, places::Weighed>,
    /// By address.
    pages: Cache<Box<str>, Arc<Leaf>, pages::Weighed>,
    asked_once: AskedOnce,
}

/// A record as it is sent, and the change up to which the book had been audited where that is not the last one.
pub type AsAudited = (Arc<Shown>, Option<u64>);

#[derive(Clone)]
struct Weighed;

impl Weighter<u32, Arc<Shown>> for Weighed {
    fn weight(&self, _: &u32, shown: &Arc<Shown>) -> u64 {
        shown.line.len() as u64 + BESIDE
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

/// The change up to which both of two had been audited; nothing stands for the last one.
fn earlier(one: Option<u64>, other: Option<u64>) -> Option<u64> {
    one.into_iter().chain(other).min()
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
        let Some(slot) = catalog.slot_of(id)? else { return Ok(None) };
        if let Some(known) = held.records.get(&slot).filter(|shown| shown.is_known_at(&mark)) {
            return Ok(Some((known, None)));
        }
        let Ok(id) = id.parse::<Id>() else { return Ok(None) };
        let Some(stored) = catalog.get(&id)? else { return Ok(None) };
        if let Some((shown, up_to)) = held.told_still(catalog, slot, &stored)? {
            return Ok(Some((shown, Some(up_to))));
        }
        let Some(Lately { summary, up_to }) = catalog.audited_lately(&stored)? else {
            if !catalog.is_audited() {
                return Ok(None);
            }
            let (mut shown, up_to) = self.several(&catalog.without_waiting(), &mark, true, &[stored])?;
            return Ok(shown.pop().filter(|_| up_to.is_none()).map(|shown| (shown, None)));
        };
        let now = catalog.mark();
        // Where the history is another one by now, nobody knows which of the two this record is of.
        if now.epoch() != mark.epoch() {
            return Ok(None);
        }
        let shown = held.shown(slot, &stored, summary);
        if up_to.is_none() && now == mark {
            shown.know_at(&mark);
        }
        Ok(Some((shown, up_to)))
    }

    /// Records that were read after a mark, as they are sent, in their order, and the change up to which the book had been audited
    /// where that is not the last one. `are_last` says that nothing but the last revisions of records in force is among them.
    ///
    /// # Errors
    /// If the book can't be read.
    fn several(
        &self,
        catalog: &Catalog,
        before: &Mark,
        are_last: bool,
        stored: &[Stored],
    ) -> Result<(Vec<Arc<Shown>>, Option<u64>), CatalogError> {
        let held = self.of_same(catalog, before);
        let (mut all, mut told_up_to) = (Vec::with_capacity(stored.len()), None::<u64>);
        for stored in stored {
            let slot = held.as_ref().map(|_| catalog.slot_of(stored.record.id().as_str())).transpose()?.flatten();
            let beside = held.as_ref().zip(slot);
            let known = beside.and_then(|(held, slot)| held.known(slot, stored.sequence, before));
            let shown = match (known, beside) {
                (None, Some((held, slot))) => held.told_still(catalog, slot, stored)?.map(|(shown, up_to)| {
                    told_up_to = earlier(told_up_to, Some(up_to));
                    shown
                }),
                (known, _) => known,
            };
            all.push((stored, beside, shown));
        }
        let others: Vec<&Stored> =
            all.iter().filter(|(.., shown)| shown.is_none()).map(|(stored, ..)| *stored).collect();
        let so_far = catalog.all_audited_lately(&others)?;
        let up_to = earlier(told_up_to, so_far.up_to);
        let mut summaries = so_far.summaries.into_iter();
        let is_known = are_last && up_to.is_none() && catalog.mark() == *before;
        let shown = |(stored, beside, shown): (&Stored, Option<(&Arc<OfEpoch>, u32)>, Option<_>)| {
            shown.or_else(|| {
                let audit = summaries.next()?;
                let (Some((held, slot)), Some(audit)) = (beside, audit) else {
                    return Some(Arc::new(Shown::of(stored, audit)));
                };
                let shown = held.shown(slot, stored, audit);
                if is_known {
                    shown.know_at(before);
                }
                Some(shown)
            })
        };
        Ok((all.into_iter().filter_map(shown).collect(), up_to))
    }

    /// The page that answers a question, which has this address. `is_kept` says that the address alone tells what is asked.
    ///
    /// # Errors
    /// As [`Catalog::find`].
    pub fn page(
        &self,
        catalog: &Catalog,
        query: &Query,
        address: &str,
        is_kept: bool,
    ) -> Result<PageSent, CatalogError> {
        let mark = catalog.mark();
        if query.members.is_none()
            && let Some(listed) = catalog.list(query)?
            && let Some(page) = self.listed(catalog, &mark, listed, address, is_kept)?
        {
            return Ok(page);
        }
        let page = catalog.find(query)?;
        let link = page.next.as_deref().and_then(|next| link_to(address, next));
        if query.members.is_some() {
            let view = PageView::of(catalog, query, page)?;
            return Ok(PageSent {
                bytes: json_bytes(&view).into(),
                link,
                up_to: Entry::all_audited_up_to(&view.items),
            });
        }
        let (records, up_to) = self.several(catalog, &mark, query.as_of.is_none(), &page.items)?;
        Ok(PageSent { bytes: Around::of(&PageView::around(page)).with(&records), link, up_to })
    }

    /// A page, of which only those records are read that are not ready.
    fn listed(
        &self,
        catalog: &Catalog,
        before: &Mark,
        listed: Listed,
        address: &str,
        is_kept: bool,
    ) -> Result<Option<PageSent>, CatalogError> {
        let Some(held) = self.of_same(catalog, before) else { return Ok(None) };
        let records: Box<[_]> = listed.records().collect();
        let known: Vec<_> = records.iter().map(|(slot, change)| held.known(*slot, *change, before)).collect();
        let others = records.iter().zip(&known).filter(|(_, known)| known.is_none()).map(|((slot, _), _)| *slot);
        let others = catalog.read_listed(&listed, others)?;
        let (others, up_to) = self.several(catalog, before, true, &others)?;
        let mut others = others.into_iter();
        let shown = |known: Option<_>| known.or_else(|| others.next());
        let Some(shown) = known.into_iter().map(shown).collect::<Option<Vec<_>>>() else { return Ok(None) };
        let link = listed.page.next.as_deref().and_then(|next| link_to(address, next));
        let around = Around::of(&PageView::around(listed.page));
        let bytes = around.with(&shown);
        if is_kept && up_to.is_none() && catalog.mark() == *before {
            let known_at = before.sequence();
            held.keep_page(address, known_at, || Leaf { around, records, link: link.clone(), known_at });
        }
        Ok(Some(PageSent { bytes, link, up_to }))
    }

    /// What is kept of this history. Where that is another one by now, nobody knows which of the two a record is of that
    /// was read after the mark.
    fn of_same(&self, catalog: &Catalog, before: &Mark) -> Option<Arc<OfEpoch>> {
        (catalog.mark().epoch() == before.epoch()).then(|| self.of(before.epoch()))
    }
}

impl OfEpoch {
    fn of(epoch: &str, bytes_max: u64) -> Self {
        let about = |each: u64| usize::try_from(bytes_max / each).unwrap_or(usize::MAX);
        Self {
            epoch: epoch.to_owned(),
            records: Cache::with(
                about(RECORD),
                bytes_max,
                Weighed,
                DefaultHashBuilder::default(),
                DefaultLifecycle::default(),
            ),
            places: Cache::with_weighter(about(OF_PLACES * PLACE), bytes_max / OF_PLACES, places::Weighed),
            pages: Cache::with_weighter(about(OF_PAGES * PAGE), bytes_max / OF_PAGES, pages::Weighed),
            asked_once: AskedOnce::default(),
        }
    }

    /// A revision as it is kept, if it was found out in this very state of the book that this is sent.
    fn known(&self, slot: u32, change: u64, mark: &Mark) -> Option<Arc<Shown>> {
        self.records.get(&slot).filter(|shown| shown.is_of(change) && shown.is_known_at(mark))
    }

    /// A revision as it was sent when the last audit was finished, and the change up to which that had looked, where it is
    /// still to be told.
    fn told_still(
        &self,
        catalog: &Catalog,
        slot: u32,
        stored: &Stored,
    ) -> Result<Option<(Arc<Shown>, u64)>, CatalogError> {
        let Some(shown) = self.records.get(&slot).filter(|shown| shown.is_of(stored.sequence)) else { return Ok(None) };
        let up_to = catalog.last_audit_still_told(stored, &self.epoch)?.filter(|up_to| shown.was_known_at(*up_to));
        Ok(up_to.map(|up_to| (shown, up_to)))
    }

    /// A revision with what the audit says of it, kept from now on.
    fn shown(&self, slot: u32, stored: &Stored, audit: AuditSummary) -> Arc<Shown> {
        let held = self.records.get(&slot).filter(|shown| shown.is_of(stored.sequence) && shown.is_audited_as(audit));
        held.unwrap_or_else(|| {
            let shown = Arc::new(Shown::of(stored, Some(audit)));
            self.records.insert(slot, shown.clone());
            shown
        })
    }

    /// Whether there is hardly any room that nothing has.
    fn is_almost_full(&self) -> bool {
        self.records.weight() >= self.records.capacity() / 8 * 7
    }
}

#[cfg(test)]
mod tests;
