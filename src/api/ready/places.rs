//! Who sits where at joints, kept without the fasteners themselves, which are ready anyway: what sits at any position is
//! put together from the two.
//!
//! A seating comes from the records of its joint alone. So it serves as long as the changes that made these are
//! the same, which the directory of the book tells without reading a record. Where nothing sits at a position, what comes
//! near is shown with what the audit says of it, and is made anew each time.

use super::around::{length_of, put_together};
use super::{AsAudited, Ready, earlier};
use crate::answer::json_bytes;
use crate::catalog::{Catalog, CatalogError, Mark, PositionAsked, Seated, Seating, StandingOfJoint};
use crate::record::Id;
use crate::view::{PositionView, before_the_seated};
use actix_web::web::Bytes;
use quick_cache::Weighter;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// About how many bytes are kept of a joint.
pub const PLACE: u64 = 600;
/// About how many bytes of memory a joint costs besides.
const BESIDE: usize = 220;

/// Who sits where at a joint.
#[derive(Debug)]
pub struct Sitting {
    seating: Seating,
    made_by: StandingOfJoint,
    /// The last state of the book in which this was known to be so, by its last change; 0 for none.
    known_at: AtomicU64,
}

/// What sits at a position, as it is sent.
#[derive(Debug, PartialEq, Eq)]
pub struct AtPosition {
    /// Whether the joint is in the book.
    pub has_joint: bool,
    /// The bytes: JSON and a line break.
    pub bytes: Bytes,
    /// The change up to which the book had been audited, where that is not the last one.
    pub up_to: Option<u64>,
}

#[derive(Clone)]
pub struct Weighed;

impl Weighter<Id, Arc<Sitting>> for Weighed {
    fn weight(&self, joint: &Id, sitting: &Arc<Sitting>) -> u64 {
        (joint.as_str().len() + sitting.seating.bytes() + BESIDE) as u64
    }
}

impl Ready {
    /// What sits at a position; nothing where neither the joint nor any fastener of it is in the book.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn position(
        &self,
        catalog: &Catalog,
        joint: &Id,
        asked: &PositionAsked<'_>,
    ) -> Result<Option<AtPosition>, CatalogError> {
        if asked.as_of.is_none() {
            if let Some(at) = self.position_at_hand(catalog, &catalog.mark(), joint.as_str(), asked)? {
                return Ok(Some(at));
            }
            if let Some(sitting) = self.seat(catalog, joint)?
                && let Some(at) = self.sitting_at(catalog, &catalog.mark(), joint.as_str(), &sitting, asked)?
            {
                return Ok(Some(at));
            }
        }
        self.position_anew(catalog, joint, asked)
    }

    /// The same, if it is ready in a state of the book: nothing comes back where records have to be read for it, or the audit
    /// to be waited for.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn position_at_hand(
        &self,
        catalog: &Catalog,
        mark: &Mark,
        joint: &str,
        asked: &PositionAsked<'_>,
    ) -> Result<Option<AtPosition>, CatalogError> {
        let Some(sitting) = self.of(mark.epoch()).places.get(joint) else { return Ok(None) };
        if sitting.known_at.load(Ordering::Relaxed) != mark.sequence() {
            if catalog.standing_of_joint(joint)? != Some(sitting.made_by) {
                return Ok(None);
            }
            if catalog.mark() == *mark {
                sitting.known_at.store(mark.sequence(), Ordering::Relaxed);
            }
        }
        self.sitting_at(catalog, mark, joint, &sitting, asked)
    }

    /// Who sits where at a joint, read anew and kept; nothing where it can't be told how long that is so.
    fn seat(&self, catalog: &Catalog, joint: &Id) -> Result<Option<Arc<Sitting>>, CatalogError> {
        let mark = catalog.mark();
        let Some(made_by) = catalog.standing_of_joint(joint.as_str())? else { return Ok(None) };
        let Some(seating) = catalog.seating(joint)? else { return Ok(None) };
        // Read while others wrote, it may be of neither state.
        if catalog.mark() != mark {
            return Ok(None);
        }
        let sitting = Arc::new(Sitting { seating, made_by, known_at: mark.sequence().into() });
        self.of(mark.epoch()).places.insert(joint.clone(), sitting.clone());
        Ok(Some(sitting))
    }

    /// What sits at a position of a joint whose seating was known in a state of the book; nothing where nobody does, or one of
    /// them is not ready or something else by now.
    fn sitting_at(
        &self,
        catalog: &Catalog,
        mark: &Mark,
        joint: &str,
        Sitting { seating, .. }: &Sitting,
        asked: &PositionAsked<'_>,
    ) -> Result<Option<AtPosition>, CatalogError> {
        let here = seating.here(asked);
        if here.is_empty() {
            return Ok(None);
        }
        let held = self.of(mark.epoch());
        let (mut records, mut up_to) = (Vec::with_capacity(here.len()), None::<u64>);
        for seated in here.iter().filter_map(|at| seating.seated(*at)) {
            records.push(match held.known(seated.slot, seated.change, mark) {
                Some(known) => known,
                None => {
                    let Some((one, audited)) = self.one_seated(catalog, &seated)? else { return Ok(None) };
                    up_to = earlier(up_to, audited);
                    one
                }
            });
        }
        // In another history the same number stands for another change.
        if catalog.mark().epoch() != mark.epoch() {
            return Ok(None);
        }
        let before = before_the_seated(joint, asked.position, seating, &here, length_of(&records));
        let bytes = put_together(before, &records, b"]}\n");
        Ok(Some(AtPosition { has_joint: seating.has_joint(), bytes, up_to }))
    }

    /// A fastener that is not ready.
    fn one_seated(&self, catalog: &Catalog, seated: &Seated) -> Result<Option<AsAudited>, CatalogError> {
        let Some(id) = catalog.id_in(seated.slot) else { return Ok(None) };
        Ok(self.one(catalog, &id)?.filter(|(one, _)| one.is_of(seated.change)))
    }

    fn position_anew(
        &self,
        catalog: &Catalog,
        joint: &Id,
        asked: &PositionAsked<'_>,
    ) -> Result<Option<AtPosition>, CatalogError> {
        let answer = catalog.at_position(joint, asked)?;
        let has_joint = answer.joint.is_some();
        if !has_joint && answer.fasteners.is_empty() && answer.nearest.is_empty() {
            return Ok(None);
        }
        let view = PositionView::of(catalog, joint, answer)?;
        Ok(Some(AtPosition { has_joint, bytes: json_bytes(&view).into(), up_to: view.audited_up_to() }))
    }
}
