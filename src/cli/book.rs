//! Opening the book that a command works on.

use super::failure::Failure;
use crate::catalog::{Author, Catalog, CatalogError, OpenOptions};
use std::path::{Path, PathBuf};

/// Which book a command works on.
#[derive(Debug, Clone, clap::Args)]
pub struct BookArguments {
    /// Where the book is kept: the folder of a store.
    #[arg(long, global = true, env = "CLAMPBOOK_STORE", value_name = "PATH")]
    store: Option<PathBuf>,
    /// Who writes, as it will stand in the history.
    #[arg(long = "by", global = true, env = "CLAMPBOOK_BY", value_name = "NAME")]
    by: Option<String>,
}

impl BookArguments {
    /// Opens the book to read it.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open(&self) -> Result<Catalog, Failure> {
        Catalog::open(&self.path()?, &OpenOptions::default()).map_err(Failure::from)
    }

    /// Opens the book to write, and makes it if there is none.
    ///
    /// # Errors
    /// If it cannot be opened or made.
    pub fn open_or_create(&self) -> Result<Catalog, Failure> {
        Catalog::create(&self.path()?).map_err(Failure::from)
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

    /// The folder of the store: as given, or below the data folder of the user.
    pub fn path(&self) -> Result<PathBuf, Failure> {
        if let Some(path) = &self.store {
            return Ok(path.clone());
        }
        let data = std::env::var_os("XDG_DATA_HOME").map(PathBuf::from);
        let home = || std::env::var_os("HOME").map(|home| Path::new(&home).join(".local/share"));
        let data = data.or_else(home).ok_or_else(|| {
            Failure::usage("it is not known where the book is kept. Give --store PATH or set CLAMPBOOK_STORE")
        })?;
        Ok(data.join("clampbook/book"))
    }
}

impl From<CatalogError> for Failure {
    fn from(error: CatalogError) -> Self {
        Self::of_error(&error)
    }
}
