//! `serve --check-config`: everything that a start would look at, and what it would come to. Nothing is changed.

use super::follow::{self, BookCopy};
use super::{Arguments, BookArguments};
use crate::api::{self, Options, Ready, Tokens};
use crate::catalog::{Catalog, CatalogError, Counts, Glance, Place, Sharing, StoreError};
use crate::cli::failure::Failure;
use crate::cli::output::{Items, Output};
use serde::Serialize;
use std::io::ErrorKind;

/// One thing that a start looks at.
#[derive(Debug, Serialize)]
struct Row {
    what: &'static str,
    is_good: bool,
    detail: String,
}

/// What an outcome comes to: what is well, or what stands in the way.
type Outcome = Result<String, String>;

/// Looks at everything and says what a start would come to.
///
/// # Errors
/// If something stands in its way.
pub fn run(arguments: &Arguments, options: &Options, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let place = book.place()?;
    let (store, held_at) = match &arguments.follow {
        Some(leader) => (copy(leader, &place, book), None),
        None => store(&place, &arguments.sharing.options().sharing),
    };
    let is_ours = |address: &str| held_at.as_deref() == Some(address);
    let mut rows = vec![row("store", store)];
    let only = Options { tls: None, metrics_listen: None, ..options.clone() };
    let listen = match Ready::get(&only) {
        Err(api::ServeError::Listen { source, address, .. })
            if source.kind() == ErrorKind::AddrInUse && is_ours(&address.to_string()) =>
        {
            Ok(format!("{address}, where a service on this store answers now; stop it first"))
        }
        other => other.map(|_| options.listen.to_string()).map_err(|error| api::chain(&error)),
    };
    rows.push(row("listen", listen));
    let free = ([127, 0, 0, 1], 0).into();
    if let Some(address) = options.metrics_listen {
        let only = Options { listen: free, open: false, tls: None, ..options.clone() };
        let metrics = Ready::get(&only).map(|_| address.to_string());
        rows.push(row("metrics", metrics.map_err(|error| api::chain(&error))));
    }
    if let Some(files) = &options.tls {
        let only = Options { listen: free, open: false, metrics_listen: None, ..options.clone() };
        let tls = Ready::get(&only).map(|_| format!("certificate {}", files.certificate.display()));
        rows.push(row("encryption", tls.map_err(|error| api::chain(&error))));
    }
    rows.push(row("tokens", tokens(options)));
    rows.push(row("access", Ok(access(options, arguments.follow.is_some()))));
    let rate = options.limits.rate.map_or("any number of".to_owned(), |rate| rate.to_string());
    rows.push(row("limits", Ok(format!("{rate} requests a minute each, {} connections", options.limits.connections))));
    let bad = rows.iter().filter(|row| !row.is_good).count();
    output.show(&Items(rows))?;
    if bad > 0 {
        return Err(Failure::undone(format!("{bad} of these would keep the service from starting")));
    }
    Ok(())
}

fn row(what: &'static str, outcome: Outcome) -> Row {
    match outcome {
        Ok(detail) => Row { what, is_good: true, detail },
        Err(detail) => Row { what, is_good: false, detail },
    }
}

/// The store as it can be seen, and the address of the service that has it open, if one does. It is not opened: that would
/// write the files of a folder, and begin a book in a database that has none.
fn store(place: &Place, sharing: &Sharing) -> (Outcome, Option<String>) {
    if matches!(place, Place::Folder(_)) && sharing.read_from.is_some() {
        return (Err("--read-from is for a book in a database, and --store names a folder".to_owned()), None);
    }
    let seen = Catalog::glance_at(place, sharing).and_then(|glance| {
        let standby = Catalog::glance_at_standby(sharing)?.and_then(|glance| glance.last_change);
        let standby = standby.map(|change| format!("; the standby to read from is at change {change}"));
        Ok(in_words(&glance) + &standby.unwrap_or_default())
    });
    let place = show(place);
    match seen {
        Ok(words) => (Ok(format!("{place}, {words}")), None),
        Err(CatalogError::Store(StoreError::Held { by, .. })) if by.address.is_some() => {
            let url = by.address.clone().unwrap_or_default();
            let address = url.split_once("://").map_or(url.clone(), |(_, address)| address.to_owned());
            (Ok(format!("{place}, open in the service at {url}")), Some(address))
        }
        Err(error) => (Err(Failure::of_error(&error).to_string()), None),
    }
}

fn in_words(Glance { counts, last_change }: &Glance) -> String {
    let change = last_change.unwrap_or(0);
    match counts {
        Some(Counts { joints, fasteners, .. }) => format!("{} records, change {change}", joints + fasteners),
        None => format!("change {change}; a start looks through its files first if it was not closed"),
    }
}

/// The copy of another book, and whether its leader answers.
fn copy(leader: &str, place: &Place, book: &BookArguments) -> Outcome {
    let Place::Folder(folder) = place else { return Err("a copy is kept in a folder".to_owned()) };
    BookCopy::at(folder.clone(), leader).check().map_err(|failure| failure.to_string())?;
    let said =
        book.server(leader, follow::PATIENCE).and_then(|server| server.get("/v1/changes", &[("take", "1")])?.said());
    let said = said.map_err(|failure| failure.to_string())?;
    Ok(format!("{}, a copy of the book at {leader}, which is at change {}", show(place), said.value()["last"]))
}

fn show(place: &Place) -> String {
    match place {
        Place::Folder(path) => path.display().to_string(),
        Place::Database(url) => url.to_string(),
    }
}

fn tokens(options: &Options) -> Outcome {
    let path = options.tokens.display();
    let all = Tokens::at(&options.tokens).all().map_err(|error| api::chain(&error))?;
    let in_force = all.iter().filter(|token| token.is_in_force(jiff::Timestamp::now())).count();
    #[cfg(unix)]
    if let Ok(metadata) = std::fs::metadata(&options.tokens) {
        use std::os::unix::fs::PermissionsExt;
        if metadata.permissions().mode() & 0o077 != 0 {
            return Err(format!("{path} can be read by others. Do chmod 600"));
        }
    }
    Ok(format!("{path}, {in_force} in force"))
}

fn access(options: &Options, only_follows: bool) -> String {
    let reading = match (options.is_read_by_anybody(), options.listen.ip().is_loopback()) {
        (true, true) => "anybody on this machine",
        (true, false) => "anybody who reaches it",
        (false, _) => "holders of a token",
    };
    let writing = match (only_follows, options.open) {
        (true, _) => "nobody, since it follows",
        (_, true) => "anybody on this machine",
        (_, false) => "holders of a token",
    };
    let origins = match options.origins.as_slice() {
        [] => String::new(),
        some => format!("; pages of {}", some.join(", ")),
    };
    format!("reading: {reading}{origins}; writing: {writing}")
}
