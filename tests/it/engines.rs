//! The one list of engines: every test of what an engine or a store must do runs on each of them.
//!
//! PostgreSQL is among them if it was built in and `tests/postgres.sh` has started a server.

use clampbook::catalog::{Catalog, OpenOptions, Place};
use clampbook::store::{Bundles, Engine, MemoryEngine, Opening, Store, Sync};
use std::path::PathBuf;

/// A kind of engine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// In memory: gone when it is closed.
    Memory,
    /// In a folder.
    Folder,
    /// In a database, which this test has for itself.
    #[cfg(feature = "postgres")]
    Postgres,
}

/// Every kind of engine.
pub fn all() -> Vec<Kind> {
    #[cfg(feature = "postgres")]
    if std::env::var_os(crate::postgres::URL).is_some() {
        return vec![Kind::Memory, Kind::Folder, Kind::Postgres];
    }
    vec![Kind::Memory, Kind::Folder]
}

/// Every kind of engine whose books are there again when they are opened again.
pub fn lasting() -> Vec<Kind> {
    all().into_iter().filter(|kind| *kind != Kind::Memory).collect()
}

/// A place for one book, which goes away with it.
#[derive(Debug)]
pub struct Bed {
    kind: Kind,
    folder: tempfile::TempDir,
    #[cfg(feature = "postgres")]
    database: Option<crate::postgres::Database>,
}

impl Kind {
    /// A place for one book.
    pub fn bed(self) -> Bed {
        let folder = tempfile::tempdir().unwrap();
        Bed {
            kind: self,
            folder,
            #[cfg(feature = "postgres")]
            database: (self == Self::Postgres).then(crate::postgres::Database::take),
        }
    }
}

impl Bed {
    /// Where the book is, for those that have a place.
    pub fn place(&self) -> Place {
        #[cfg(feature = "postgres")]
        if let Some(database) = &self.database {
            return Place::Database(database.url());
        }
        Place::Folder(self.path())
    }

    /// Ends it without giving its database to another test: a service that nobody ends still follows it.
    pub fn abandon(self) {
        #[cfg(feature = "postgres")]
        std::mem::forget(self.database);
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("book")
    }

    /// The bare engine; opened again it holds what was written, if it lasts.
    pub fn engine(&self) -> Box<dyn Engine> {
        match self.kind {
            Kind::Memory => Box::new(MemoryEngine::default()),
            Kind::Folder => Box::new(Bundles::in_files(self.folder.path(), Sync::Always).unwrap()),
            #[cfg(feature = "postgres")]
            Kind::Postgres => {
                let url = self.database.as_ref().unwrap().url();
                Box::new(clampbook::store::PostgresEngine::open(&url, &Default::default()).unwrap())
            }
        }
    }

    /// A store on the engine.
    pub fn store(&self) -> Store {
        match (self.kind, self.place()) {
            (Kind::Memory, _) => Store::in_memory().unwrap(),
            (_, Place::Folder(path)) => Store::open(&path, &Opening { create: true, ..Opening::default() }).unwrap(),
            (_, Place::Database(url)) => Store::open_database(&url, &Default::default()).unwrap(),
        }
    }

    /// A catalog on the engine.
    pub fn catalog(&self) -> Catalog {
        match self.kind {
            Kind::Memory => Catalog::in_memory().unwrap(),
            _ => Catalog::open_at(&self.place(), &OpenOptions { create: true, ..OpenOptions::default() }).unwrap(),
        }
    }
}
