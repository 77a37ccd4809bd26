//! Opening the book that a command works on.

mod here;

pub use here::Book;

use super::failure::Failure;
use crate::catalog::{Author, Catalog, CatalogError, OpenOptions, Place, Sync};
use crate::record::Id;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Which book a command works on.
#[derive(Debug, Clone, clap::Args)]
pub struct BookArguments {
    /// Where the book is kept: the folder of a store, or postgres://… for a database that several servers share.
    #[arg(long, global = true, env = "CLAMPBOOK_STORE", value_name = "PLACE", hide_env_values = true, help_heading = super::EVERYWHERE)]
    store: Option<PathBuf>,
    /// Who writes, as it will stand in the history.
    #[arg(long = "by", global = true, env = "CLAMPBOOK_BY", value_name = "NAME", help_heading = super::EVERYWHERE)]
    by: Option<String>,
}

/// When a write counts as stored.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum When {
    /// Once it survives a loss of power.
    #[default]
    Always,
    /// Once it survives a kill of the program; what survives a loss of power is settled at the end.
    Batch,
}

impl From<When> for Sync {
    fn from(when: When) -> Self {
        match when {
            When::Always => Self::Always,
            When::Batch => Self::Batch,
        }
    }
}

impl BookArguments {
    /// Opens the book to read it.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open(&self) -> Result<Book, Failure> {
        Ok(Book(self.catalog_to_read()?))
    }

    /// Opens the book to change records that it has.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open_to_write(&self) -> Result<Book, Failure> {
        Ok(Book(self.open_catalog(When::Always)?))
    }

    /// Opens the store itself to read it.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn catalog_to_read(&self) -> Result<Catalog, Failure> {
        let options = OpenOptions { reading: true, ..OpenOptions::default() };
        Ok(Catalog::open_at(&self.place()?, &options)?)
    }

    /// Opens the book to read it, waiting as long as another command holds it.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open_when_free(&self) -> Result<Book, Failure> {
        let wait = Duration::from_secs(24 * 60 * 60);
        let options = OpenOptions { wait, reading: true, ..OpenOptions::default() };
        Ok(Book(Catalog::open_at(&self.place()?, &options)?))
    }

    /// Opens the store itself to write, for a command that only makes sense where the store is.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open_catalog(&self, sync: When) -> Result<Catalog, Failure> {
        let options = OpenOptions { sync: sync.into(), ..OpenOptions::default() };
        Ok(Catalog::open_at(&self.place()?, &options)?)
    }

    /// Opens the book to write, and makes it if there is none.
    ///
    /// # Errors
    /// If it cannot be opened or made.
    pub fn open_or_create(&self) -> Result<Book, Failure> {
        self.open_or_create_to(When::Always)
    }

    /// Opens the book to write with writes stored when it is said, and makes it if there is none.
    ///
    /// # Errors
    /// If it cannot be opened or made.
    pub fn open_or_create_to(&self, sync: When) -> Result<Book, Failure> {
        let options = OpenOptions { create: true, sync: sync.into(), ..OpenOptions::default() };
        Ok(Book(Catalog::open_at(&self.place()?, &options)?))
    }

    /// Opens the book to serve it, sharing it with others in this way if it is in a database.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open_to_serve(&self, sync: When, sharing: OpenOptions) -> Result<Catalog, Failure> {
        let place = self.place()?;
        if matches!(place, Place::Folder(_)) && sharing.sharing.read_from.is_some() {
            return Err(Failure::usage("--read-from is for a book in a database, and --store names a folder"));
        }
        Ok(Catalog::open_at(&place, &OpenOptions { sync: sync.into(), ..sharing })?)
    }

    /// Who writes.
    ///
    /// # Errors
    /// If the name is no line of text.
    pub fn author(&self) -> Result<Author, Failure> {
        match &self.by {
            Some(name) => Ok(Author::named(name.parse().map_err(|reason| Failure::usage(format!("--by: {reason}")))?)),
            None => Ok(Author::unknown()),
        }
    }

    /// Where the book is kept: as given, or below the data folder of the user.
    ///
    /// # Errors
    /// If neither is known.
    pub fn place(&self) -> Result<Place, Failure> {
        match &self.store {
            Some(place) => Ok(Place::from(place.as_path())),
            None => Ok(Place::Folder(data_folder()?.join("book"))),
        }
    }

    /// The folder of the store, for what only makes sense in a folder.
    ///
    /// # Errors
    /// If the book is in a database.
    pub fn path(&self) -> Result<PathBuf, Failure> {
        match self.place()? {
            Place::Folder(path) => Ok(path),
            Place::Database(url) => Err(Failure::usage(format!(
                "this is done to the files of a store in a folder, and {url} is a database. Its own tools do that"
            ))),
        }
    }
}

/// Where this program keeps things of the user.
///
/// # Errors
/// If that is not known.
pub fn data_folder() -> Result<PathBuf, Failure> {
    let data = std::env::var_os("XDG_DATA_HOME").map(PathBuf::from);
    let home = || std::env::var_os("HOME").map(|home| Path::new(&home).join(".local/share"));
    let data = data.or_else(home).ok_or_else(|| {
        Failure::usage("it is not known where the book is kept. Give --store PATH or set CLAMPBOOK_STORE")
    })?;
    Ok(data.join("clampbook"))
}

/// Reads an id that was given on the command line.
///
/// # Errors
/// If it is none; what to do instead is said too.
pub fn read_id(text: &str) -> Result<Id, Failure> {
    text.parse().map_err(|reason| {
        let words = text.replace(['.', '-', '_'], " ").to_lowercase();
        Failure::usage(format!("{reason}. \"clampbook find {}\" looks for words", words.trim()))
    })
}

impl From<CatalogError> for Failure {
    fn from(error: CatalogError) -> Self {
        Self::of_error(&error)
    }
}
