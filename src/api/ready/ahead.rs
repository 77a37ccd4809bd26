//! Making fasteners ready before somebody asks for them, as many as there is room for. They are what a workshop asks for
//! most; joints are made ready as they are asked for.

use super::Ready;
use crate::catalog::{Catalog, CatalogError};

/// Slots that are looked at before others get their turn: a millisecond, so that nobody is kept waiting for long.
const AT_A_TIME: u32 = 24;

/// How far it has come.
#[derive(Debug, Default)]
pub struct Ahead {
    epoch: String,
    next: u32,
    is_done: bool,
}

impl Ahead {
    /// Whether some more fasteners can be made ready now: the book has to be audited, and its directory made.
    pub fn has_more(&self, catalog: &Catalog) -> bool {
        let is_done = self.is_done && self.epoch == catalog.mark().epoch();
        !is_done && catalog.is_audited() && catalog.has_directory()
    }
}

impl Ready {
    /// Makes some more fasteners ready.
    ///
    /// # Errors
    /// If the book can't be read.
    pub fn go_ahead(&self, catalog: &Catalog, mut ahead: Ahead) -> Result<Ahead, CatalogError> {
        let mark = catalog.mark();
        if ahead.epoch != mark.epoch() {
            ahead = Ahead { epoch: mark.epoch().to_owned(), ..Ahead::default() };
        }
        let slots = catalog.slots().unwrap_or_default();
        let held = self.of(mark.epoch());
        let end = ahead.next.saturating_add(AT_A_TIME).min(slots);
        let stored = catalog.fasteners_in(ahead.next..end)?;
        self.several(catalog, &mark, true, &stored)?;
        Ok(Ahead { next: end, is_done: end == slots || held.is_almost_full(), ..ahead })
    }
}
