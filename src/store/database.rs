//! Stores in a database, as far as this program was built with that.

use super::Store;
use super::error::StoreError;
use super::place::DatabaseUrl;
use super::reading::Glance;
use super::replay::Replay;
use super::shared::Sharing;

/// What is to be prepared in a database.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Preparation {
    /// Roles that may read afterwards.
    pub readers: Vec<String>,
    /// Roles that may read and write afterwards.
    pub writers: Vec<String>,
    /// The format at which to stop, for tests of what comes after it.
    pub format: Option<i32>,
}

/// What was prepared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Prepared {
    /// The format of the tables before; 0 if there were none.
    pub before: i32,
    /// Their format now.
    pub now: i32,
}

#[cfg(feature = "postgres")]
impl Store {
    /// Opens the store in a database that was prepared for it.
    ///
    /// # Errors
    /// What stands in the way, and what to do about it.
    pub fn open_database(url: &DatabaseUrl, sharing: &Sharing) -> Result<Self, StoreError> {
        Self::on_engine(Box::new(super::PostgresEngine::open(url, sharing)?))
    }

    /// What can be seen of the store in a database without opening it. Nothing is changed, and no book is begun.
    ///
    /// # Errors
    /// What would stand in the way of opening it.
    pub fn glance_database(url: &DatabaseUrl, sharing: &Sharing, for_writing: bool) -> Result<Glance, StoreError> {
        let bytes = super::PostgresEngine::glance(url, super::keys::HEAD.to_vec(), sharing.patience, for_writing)?;
        let head = bytes.map(|bytes| super::head::Head::decode(&bytes)).transpose()?;
        let (counts, last_change) = head.map_or_else(Default::default, |head| (head.counts, head.sequence));
        Ok(Glance { counts: Some(counts), last_change: Some(last_change) })
    }

    /// Makes or migrates the tables in a database.
    ///
    /// # Errors
    /// What stands in the way, and what to do about it.
    pub fn prepare_database(url: &DatabaseUrl, preparation: &Preparation) -> Result<Prepared, StoreError> {
        Ok(super::postgres::prepare(url, preparation)?)
    }

    /// Puts a history that is told to it into a database that was prepared and holds nothing: all of it or nothing.
    /// It begins a new epoch.
    ///
    /// # Errors
    /// If there is a book already, if it can't be written, or what `tell` fails with.
    pub fn build_in_database(
        url: &DatabaseUrl,
        sharing: &Sharing,
        tell: impl FnOnce(&mut Replay) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        let engine = super::PostgresEngine::open(url, sharing)?;
        Replay::through_memory(&engine, &url.to_string(), tell)
    }
}

#[cfg(not(feature = "postgres"))]
impl Store {
    /// Says that this program was built without databases.
    ///
    /// # Errors
    /// Always.
    pub fn open_database(url: &DatabaseUrl, _sharing: &Sharing) -> Result<Self, StoreError> {
        Err(StoreError::NotBuilt { place: url.to_string() })
    }

    /// Says that this program was built without databases.
    ///
    /// # Errors
    /// Always.
    pub fn glance_database(url: &DatabaseUrl, _sharing: &Sharing, _for_writing: bool) -> Result<Glance, StoreError> {
        Err(StoreError::NotBuilt { place: url.to_string() })
    }

    /// Says that this program was built without databases.
    ///
    /// # Errors
    /// Always.
    pub fn prepare_database(url: &DatabaseUrl, _preparation: &Preparation) -> Result<Prepared, StoreError> {
        Err(StoreError::NotBuilt { place: url.to_string() })
    }

    /// Says that this program was built without databases.
    ///
    /// # Errors
    /// Always.
    pub fn build_in_database(
        url: &DatabaseUrl,
        _sharing: &Sharing,
        _tell: impl FnOnce(&mut Replay) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        Err(StoreError::NotBuilt { place: url.to_string() })
    }
}
