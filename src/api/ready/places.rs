//! What sits at positions, kept without the fasteners themselves, which are ready anyway.
//!
//! What is around them comes from the records of the joint alone. So it serves as long as the changes that made these are
//! the same, which the directory of the book tells without reading a record. Where nothing sits at a position, what comes
//! near is shown with what the audit says of it, and is made anew each time.

use super::around::Around;
use super::{Ready, Shown};
use crate::catalog::{Catalog, CatalogError, Mark, PositionAnswer, PositionAsked};
use crate::record::{Head, Id};
use crate::view::PositionView;
use actix_web::web::Bytes;
use quick_cache::Weighter;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// About how many bytes are kept of a position.
pub const PLACE: u64 = 900;
/// About how many bytes of memory a position costs besides.
const BESIDE: usize = 260;

/// What was asked: what sits here now.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Place {
    joint: Id,
    position: u32,
    head: Option<Head>,
    variant: Option<Box<str>>,
}

/// The answer to that.
#[derive(Debug)]
pub struct Sitting {
    /// Whether the joint is in the book.
    has_joint: bool,
    around: Around,
    /// The fasteners, with the changes that made their revisions.
    fasteners: Box<[(Id, u64)]>,
    /// The changes that made the records of the joint.
    made_by: Box<[u64]>,
    /// The last state of the book in which this was known to be the answer, by its last change; 0 for none.
    known_at: AtomicU64,
}

/// What sits at a position, as it is sent.
#[derive(Debug, PartialEq, Eq)]
pub struct AtPosition {
    /// Whether the joint is in the book.
    pub has_joint: bool,
    /// The bytes: JSON and a line break.
    pub bytes: Bytes,
}

#[derive(Clone)]
pub struct Weighed;

impl Weighter<Place, Arc<Sitting>> for Weighed {
    fn weight(&self, place: &Place, sitting: &Arc<Sitting>) -> u64 {
        let ids = sitting.fasteners.len() * size_of::<(Id, u64)>() + sitting.made_by.len() * size_of::<u64>();
        let asked = place.joint.as_str().len() + place.variant.as_ref().map_or(0, |variant| variant.len());
        (asked + ids + sitting.around.len() + BESIDE) as u64
    }
}

impl Place {
    /// Nothing where another moment is asked about.
    fn of(joint: &Id, asked: &PositionAsked<'_>) -> Option<Self> {
        let PositionAsked { position, head, variant, as_of: None } = *asked else { return None };
        Some(Self { joint: joint.clone(), position, head, variant: variant.map(Box::from) })
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
        let mark = catalog.mark();
        let Some(place) = Place::of(joint, asked) else {
            let answer = catalog.at_position(joint, asked)?;
            return self.made(catalog, &mark, joint, answer, false).map(|made| made.map(|(_, at)| at));
        };
        let held = self.of(mark.epoch());
        if let Some(sitting) = held.places.get(&place)
            && let Some(at) = self.still(catalog, &mark, joint, &sitting)?
        {
            return Ok(Some(at));
        }
        let made_by = catalog.changes_of_joint(joint)?;
        let answer = catalog.at_position(joint, asked)?;
        let fasteners = answer.fasteners.iter().map(|stored| (stored.record.id().clone(), stored.sequence)).collect();
        let has_near = !answer.nearest.is_empty();
        let Some((around, at)) = self.made(catalog, &mark, joint, answer, true)? else { return Ok(None) };
        if let Some(made_by) = made_by.filter(|_| !has_near && catalog.mark() == mark) {
            let known_at = mark.sequence().into();
            let sitting = Sitting { has_joint: at.has_joint, around, fasteners, made_by, known_at };
            held.places.insert(place, sitting.into());
        }
        Ok(Some(at))
    }

    /// What was found before, if it is still so.
    fn still(
        &self,
        catalog: &Catalog,
        mark: &Mark,
        joint: &Id,
        sitting: &Sitting,
    ) -> Result<Option<AtPosition>, CatalogError> {
        if sitting.known_at.load(Ordering::Relaxed) != mark.sequence() {
            if catalog.changes_of_joint(joint)?.is_none_or(|made_by| made_by != sitting.made_by) {
                return Ok(None);
            }
            if catalog.mark() == *mark {
                sitting.known_at.store(mark.sequence(), Ordering::Relaxed);
            }
        }
        let mut shown = Vec::with_capacity(sitting.fasteners.len());
        for (id, change) in &sitting.fasteners {
            match self.one(catalog, id.as_str())? {
                Some((one, None)) if one.about.change == *change => shown.push(one),
                _ => return Ok(None),
            }
        }
        Ok(Some(AtPosition { has_joint: sitting.has_joint, bytes: sitting.around.with(&shown) }))
    }

    fn made(
        &self,
        catalog: &Catalog,
        before: &Mark,
        joint: &Id,
        answer: PositionAnswer,
        are_last: bool,
    ) -> Result<Option<(Around, AtPosition)>, CatalogError> {
        let has_joint = answer.joint.is_some();
        if !has_joint && answer.fasteners.is_empty() && answer.nearest.is_empty() {
            return Ok(None);
        }
        let shown: Vec<Arc<Shown>> = self.several(catalog, before, are_last, &answer.fasteners)?;
        let around = Around::of(&PositionView::around(catalog, joint, answer)?);
        let bytes = around.with(&shown);
        Ok(Some((around, AtPosition { has_joint, bytes })))
    }
}
