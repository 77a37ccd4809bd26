//! Opening the book that a command works on.

mod either;
mod here;
mod http;
mod sheet;
mod sheet_there;
mod there;

pub use either::{Book, FindingReader};
pub use http::{Reply, Server};
pub use sheet::{Sheet, SheetForm};
pub use there::There;

use super::failure::Failure;
use super::said::text;
use crate::audit::{Finding, Severity};
use crate::catalog::{Author, Catalog, CatalogError, OpenOptions, Place, StoreError, Sync};
use crate::record::Id;
use here::Here;
use http::{ANSWER_TIME, authorities};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Which book a command works on.
#[derive(Debug, Clone, clap::Args)]
pub struct BookArguments {
    /// Where the book is kept: the folder of a store, http://… for a server, or postgres://… for a database that several
    /// servers share.
    #[arg(long, global = true, env = "CLAMPBOOK_STORE", value_name = "PLACE", hide_env_values = true, help_heading = super::EVERYWHERE)]
    store: Option<PathBuf>,
    /// Who writes, as it will stand in the history.
    #[arg(long = "by", global = true, env = "CLAMPBOOK_BY", value_name = "NAME", help_heading = super::EVERYWHERE)]
    by: Option<String>,
    /// A file that holds the token for a server; the variable CLAMPBOOK_TOKEN holds one itself.
    #[arg(long = "token", global = true, value_name = "FILE", help_heading = super::EVERYWHERE)]
    token: Option<PathBuf>,
    /// A file with the certificate of the authority (PEM) that an https:// server is believed for, instead of the public
    /// ones.
    #[arg(long = "ca", global = true, env = "CLAMPBOOK_CA", value_name = "FILE", hide_env_values = true, help_heading = super::EVERYWHERE)]
    authority: Option<PathBuf>,
}

/// Which state of a record is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Which {
    /// The last one.
    Last,
    /// The one of this revision.
    Revision(u64),
    /// The one at this moment.
    AsOf(jiff::Timestamp),
}

/// What findings are chosen by.
#[derive(Debug)]
pub struct Trait<'f> {
    /// How bad.
    pub severity: Severity,
    /// The rule.
    pub rule: &'f str,
    /// The probability that a number is wrong.
    pub sure: Option<f64>,
    /// Whether somebody has accepted it.
    pub is_accepted: bool,
}

impl<'f> Trait<'f> {
    /// Of a finding.
    #[must_use]
    pub fn of(finding: &'f Finding) -> Self {
        let Finding { severity, rule, sure, accepted, .. } = finding;
        Self { severity: *severity, rule, sure: *sure, is_accepted: accepted.is_some() }
    }

    /// Of a finding as a server says it.
    #[must_use]
    pub fn of_json(finding: &'f Value) -> Self {
        Self {
            severity: text(finding, "severity").parse().unwrap_or(Severity::Note),
            rule: text(finding, "rule"),
            sure: finding.get("sure").and_then(Value::as_f64),
            is_accepted: finding.get("accepted").is_some(),
        }
    }
}

/// Who has the history of a book.
#[derive(Debug)]
pub enum Keeper {
    /// This process.
    Here(Catalog),
    /// A server.
    Server(Server),
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
        let options = OpenOptions { reading: true, ..OpenOptions::default() };
        self.open_with(&options)
    }

    /// Opens the book to change records that it has.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open_to_write(&self) -> Result<Book, Failure> {
        self.open_with(&OpenOptions { sync: Sync::Always, ..OpenOptions::default() })
    }

    /// Opens the book where it is: behind a server that was named or that holds the store, or here.
    fn open_with(&self, options: &OpenOptions) -> Result<Book, Failure> {
        if let Some(there) = self.there()? {
            return Ok(Book::There(there));
        }
        match Catalog::open_at(&self.place()?, options) {
            Ok(catalog) => Ok(Book::Here(Here(catalog))),
            Err(error) => match address_of_holder(&error) {
                Some(address) => Ok(Book::There(self.behind(&address)?)),
                None => Err(error.into()),
            },
        }
    }

    /// The book behind a server: the one that was named, or the one that holds the store. Nothing if there is none.
    ///
    /// # Errors
    /// If the token can't be read.
    pub fn there(&self) -> Result<Option<There>, Failure> {
        match self.address() {
            Some(address) => self.behind(&address).map(Some),
            None => Ok(None),
        }
    }

    fn behind(&self, address: &str) -> Result<There, Failure> {
        Ok(There::behind(self.server(address, ANSWER_TIME)?))
    }

    /// The server at an address, asked with the token and the authority that were given; it may take so long to answer.
    ///
    /// # Errors
    /// If one of them can't be read.
    pub fn server(&self, address: &str, patience: Duration) -> Result<Server, Failure> {
        let roots = self.authority.as_deref().map(authorities).transpose()?;
        Ok(Server::at(address, self.token()?, roots, patience))
    }

    fn address(&self) -> Option<String> {
        let place = self.store.as_ref()?.to_str()?;
        let is_address = ["http://", "https://"].iter().any(|scheme| place.starts_with(scheme));
        is_address.then(|| place.to_owned())
    }

    fn token(&self) -> Result<Option<String>, Failure> {
        let Some(path) = &self.token else {
            return Ok(std::env::var("CLAMPBOOK_TOKEN").ok().filter(|token| !token.is_empty()));
        };
        let file = std::fs::read_to_string(path)
            .map_err(|error| Failure::undone(format!("the token in {} cannot be read: {error}", path.display())))?;
        Ok(file.split_whitespace().next().map(str::to_owned))
    }

    /// Opens the store itself to read it, or finds the server that it is behind: the one that was named, or the one that
    /// holds it.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn catalog_or_server(&self) -> Result<Keeper, Failure> {
        if let Some(address) = self.address() {
            return Ok(Keeper::Server(self.server(&address, ANSWER_TIME)?));
        }
        let options = OpenOptions { reading: true, ..OpenOptions::default() };
        match Catalog::open_at(&self.place()?, &options) {
            Ok(catalog) => Ok(Keeper::Here(catalog)),
            Err(error) => match address_of_holder(&error) {
                Some(address) => Ok(Keeper::Server(self.server(&address, ANSWER_TIME)?)),
                None => Err(error.into()),
            },
        }
    }

    /// Opens the book to read it, waiting as long as another command holds it.
    ///
    /// # Errors
    /// If there is none, or it cannot be opened.
    pub fn open_when_free(&self) -> Result<Book, Failure> {
        let wait = Duration::from_secs(24 * 60 * 60);
        let options = OpenOptions { wait, reading: true, ..OpenOptions::default() };
        self.open_with(&options)
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
        self.open_with(&options)
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
        if let Some(address) = self.address() {
            return Err(Failure::usage(format!(
                "this is done where the store is, and {address} is a server. Name the store in --store"
            )));
        }
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

/// Where the process answers that holds a store, if it does.
fn address_of_holder(error: &CatalogError) -> Option<String> {
    match error {
        CatalogError::Store(StoreError::Held { by, .. }) => by.address.clone(),
        _ => None,
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
