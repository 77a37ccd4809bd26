//! `backup` and `restore`: the whole history as plain text, and back again.

use super::book::{BookArguments, Keeper};
use super::failure::Failure;
use super::output::{Answer, Output};
use super::progress::Progress;
use super::serve::follow;
use super::table::{self, Table};
use crate::catalog::{Catalog, OpenOptions};
use crate::view::BackupView;
use serde::Serialize;
use serde_json::Value;
use std::path::PathBuf;

/// Write the whole history into a folder as plain text.
///
/// Every revision of every record, one a line, in files of 10,000 changes, with a manifest that holds the digest of each
/// file. A backup that is there already is continued: finished files stay as they are. A book that a server holds is
/// fetched from it first, and the server goes on meanwhile.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The folder: new, empty, or an earlier backup of the same book.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

/// Make a book from a backup.
///
/// Only where no book is yet. Every file is compared with its digest first. The new book begins a new epoch, so that
/// whoever followed the changes of the old one notices.
#[derive(Debug, clap::Args)]
pub struct RestoreArguments {
    /// The folder of the backup.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
}

/// Writes the backup.
///
/// # Errors
/// If the book cannot be opened, or the folder holds something else or cannot be written.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let folder = &arguments.folder;
    let keeper = book.catalog_or_server()?;
    let mut progress = Progress::new(format!("writing {}", folder.display()));
    let manifest = match keeper {
        Keeper::Here(catalog) => catalog.backup_with(folder, &mut |at| progress.show(at.done, at.step))?,
        Keeper::Server(server) => {
            // The feed of changes has all that a backup has but the digest of the whole, so a copy is made of it first.
            let place = tempfile::tempdir().map_err(|error| {
                Failure::undone(format!("no folder can be made for a copy of the server's book: {error}"))
            })?;
            let copy = follow::fetched(&server, place.path(), &mut |count| progress.show(count, "changes fetched"))?;
            copy.backup_with(folder, &mut |at| progress.show(at.done, at.step))?
        }
    };
    progress.clear();
    output.show(&Written { view: BackupView::of(folder.display().to_string(), manifest), to: None })
}

/// Restores the backup.
///
/// # Errors
/// If the backup is damaged, unfinished or newer than this program, or if there is a book already.
pub fn restore(arguments: &RestoreArguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let (folder, place) = (&arguments.folder, book.place()?);
    let mut progress = Progress::new(format!("restoring {}", folder.display()));
    let options = OpenOptions { create: true, ..OpenOptions::default() };
    let manifest = Catalog::restore_with(folder, &place, &options, &mut |at| progress.show(at.done, at.step))?;
    progress.clear();
    let to = Some(place.to_string());
    output.show(&Written { view: BackupView::of(folder.display().to_string(), manifest), to })
}

/// A backup that was written, or restored into a store.
#[derive(Serialize)]
struct Written {
    #[serde(flatten)]
    view: BackupView,
    #[serde(rename = "store", skip_serializing_if = "Option::is_none")]
    to: Option<String>,
}

impl Answer for Written {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<Value> {
        vec![serde_json::to_value(self).unwrap_or_default()]
    }
    fn table(&self) -> Table {
        table::of_members(self)
    }
    fn for_people(&self, _width: usize) -> String {
        let BackupView { folder, changes, files, bytes, written_at, .. } = &self.view;
        let plural = if *files == 1 { "" } else { "s" };
        let what = format!("{changes} changes in {files} file{plural}, {bytes} bytes");
        match &self.to {
            None => format!("{folder}: {what}, each compared with its digest\n"),
            Some(store) => format!("{store}: restored from {folder} ({what}, written {written_at}); new epoch\n"),
        }
    }
}
