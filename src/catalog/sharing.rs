//! Books that several processes share: opening them, following what others write, and how old what is held may be.

use super::{
    Catalog, CatalogError, Copied, DatabaseUrl, Examination, Glance, Inner, OpenOptions, Place, Preparation, Prepared,
    Progress, Sharing, Standing,
};
use crate::store::{Bell, Store};
use std::sync::{Arc, Weak};
use std::time::Duration;

impl Catalog {
    /// Opens the store in a folder or a database.
    ///
    /// # Errors
    /// What stands in the way, and what to do about it.
    pub fn open_at(place: &Place, options: &OpenOptions) -> Result<Self, CatalogError> {
        match place {
            Place::Folder(path) => Self::open(path, options),
            Place::Database(url) => {
                let store = Store::open_database(url, &options.sharing)?;
                let mut catalog = Self::on(store);
                if let Some(inner) = Arc::get_mut(&mut catalog.inner) {
                    inner.allowed = Some(options.allowed);
                }
                if let Some(bell) = catalog.store().bell() {
                    follow(bell, Arc::downgrade(&catalog.inner))?;
                }
                Ok(catalog)
            }
        }
    }

    /// What can be seen of a book without opening it, as [`Catalog::glance`] sees a folder. Nothing is changed.
    ///
    /// # Errors
    /// What would stand in the way of opening it.
    pub fn glance_at(place: &Place, sharing: &Sharing) -> Result<Glance, CatalogError> {
        match place {
            Place::Folder(path) => Self::glance(path),
            Place::Database(url) => Ok(Store::glance_database(url, sharing, true)?),
        }
    }

    /// The same of the standby that others' writes would be read from, if that was asked for.
    ///
    /// # Errors
    /// What would stand in the way of reading from it.
    pub fn glance_at_standby(sharing: &Sharing) -> Result<Option<Glance>, CatalogError> {
        let glance = |url| Store::glance_database(url, sharing, false);
        Ok(sharing.read_from.as_ref().map(glance).transpose()?)
    }

    /// Checks a book from end to end, in a folder as [`Catalog::examine`] does, in a database as it is read from there.
    ///
    /// # Errors
    /// If the check itself can't be done; damage is in what it gives.
    pub fn examine_at(
        place: &Place,
        options: &OpenOptions,
        on_progress: &mut dyn FnMut(Progress),
    ) -> Result<Examination, CatalogError> {
        match place {
            Place::Folder(path) => Self::examine(path, options, on_progress),
            Place::Database(_) => {
                let report = Self::open_at(place, options)?.verify(on_progress)?;
                Ok(Examination { report, was_closed: true, remedy: None })
            }
        }
    }

    /// Makes or migrates the tables of a book in a database, and lets roles at them.
    ///
    /// # Errors
    /// What stands in the way, and what to do about it.
    pub fn prepare(url: &DatabaseUrl, preparation: &Preparation) -> Result<Prepared, CatalogError> {
        Ok(Store::prepare_database(url, preparation)?)
    }

    /// Begins a new epoch of the feed, and names it: after a database has gone back, whoever has seen changes that are lost
    /// is told to read anew instead of being told nothing.
    ///
    /// # Errors
    /// If it can't be written.
    pub fn begin_epoch(&self) -> Result<String, CatalogError> {
        Ok(self.store().begin_epoch()?)
    }

    /// Takes in what others have written, and says whether there was anything. A thread of the book does so by itself.
    ///
    /// # Errors
    /// If they can't be asked.
    pub fn look_for_news(&self) -> Result<bool, CatalogError> {
        Ok(self.store().catch_up()?)
    }

    /// How old what this process answers from may be; nothing if nobody else writes to the book.
    #[must_use]
    pub fn standing(&self) -> Option<Standing> {
        self.store().standing().or_else(|| self.inner.copied.as_ref().map(Copied::standing))
    }

    /// How old what this process answers from may be, judged by what the operator allows.
    #[must_use]
    pub fn freshness(&self) -> Option<Freshness> {
        let Standing { behind, away, parted } = self.standing()?;
        let allowed = self.inner.allowed?;
        Some(Freshness {
            behind,
            is_late: behind > allowed.behind_at_most || parted.is_some(),
            is_too_old: behind > allowed.served_at_most,
            why: parted.or(away),
        })
    }

    /// Looks for what others have written now rather than in a while.
    pub fn hurry(&self) {
        self.store().hurry();
    }
}

/// How old answers from a shared book may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Allowed {
    /// Beyond this they are marked, and the server says that it is not ready.
    pub behind_at_most: Duration,
    /// Beyond this there are none.
    pub served_at_most: Duration,
}

impl Default for Allowed {
    fn default() -> Self {
        Self { behind_at_most: Duration::from_secs(5), served_at_most: Duration::from_secs(600) }
    }
}

/// How old answers are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Freshness {
    /// What was written longer ago than this is in them.
    pub behind: Duration,
    /// Whether that is more than is allowed without a mark.
    pub is_late: bool,
    /// Whether that is more than is served at all.
    pub is_too_old: bool,
    /// What is the matter, if something is.
    pub why: Option<String>,
}

/// Takes in what others write, on a thread that ends with the book.
fn follow(bell: Arc<Bell>, book: Weak<Inner>) -> Result<(), CatalogError> {
    let work = move || {
        while bell.wait() {
            let Some(book) = book.upgrade() else { return };
            if let Err(error) = book.store.catch_up() {
                tracing::warn!(%error, "what others wrote was not taken in");
            }
        }
    };
    let thread = std::thread::Builder::new().name("clampbook-follow".to_owned());
    thread.spawn(work).map_err(|source| CatalogError::Stream { what: "starting a thread failed", source })?;
    Ok(())
}
