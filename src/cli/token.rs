//! `token`: who may ask the service for what.

use super::book::{BookArguments, data_folder};
use super::failure::Failure;
use super::output::{Items, Output};
use crate::api::{Scope, Token, TokenError, Tokens};
use crate::catalog::Place;
use crate::record::Text;
use serde::Serialize;
use std::path::PathBuf;

/// Tokens that let people write to a service.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// The file of tokens; beside the store if not given.
    #[arg(long, value_name = "FILE", global = true)]
    tokens: Option<PathBuf>,
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, clap::Subcommand)]
enum Verb {
    /// Make a token. It is shown once and kept nowhere.
    New {
        /// Who holds it; what they write is entered under this name.
        #[arg(value_name = "NAME")]
        label: Text,
        /// What it allows: read, write, check, admin, joined by commas.
        #[arg(long, value_name = "SCOPES", value_delimiter = ',', default_value = "read")]
        scopes: Vec<Scope>,
        /// When it ends, such as 2027-01-01T00:00:00Z.
        #[arg(long, value_name = "TIME")]
        until: Option<jiff::Timestamp>,
    },
    /// List the tokens, without what they are.
    List,
    /// End a token.
    Revoke {
        /// Its number in the list.
        #[arg(value_name = "N")]
        id: u64,
    },
}

/// The file of tokens: as given, or beside the store.
///
/// # Errors
/// If it is not known where the store is.
pub fn file(given: Option<&PathBuf>, book: &BookArguments) -> Result<PathBuf, Failure> {
    if let Some(path) = given {
        return Ok(path.clone());
    }
    match book.place()? {
        Place::Folder(path) => {
            let mut name = path.into_os_string();
            name.push(".tokens.json");
            Ok(name.into())
        }
        // Beside a database there is nothing; servers that share one are given the same file.
        Place::Database(_) => {
            let folder = data_folder()?;
            std::fs::create_dir_all(&folder)
                .map_err(|error| Failure::undone(format!("{} cannot be made: {error}", folder.display())))?;
            Ok(folder.join("database.tokens.json"))
        }
    }
}

/// Makes, lists or revokes tokens.
///
/// # Errors
/// If the file of tokens cannot be used, or there is no such token.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let tokens = Tokens::at(file(arguments.tokens.as_ref(), book)?);
    match &arguments.verb {
        Verb::New { label, scopes, until } => {
            let (token, text) = tokens.make(label, scopes, *until).map_err(|error| failed(&error))?;
            output.show(&Items(vec![Row { token: Some(text), ..Row::of(&token) }]))
        }
        Verb::List => {
            let all = tokens.all().map_err(|error| failed(&error))?;
            let used = tokens.last_used();
            let row = |token: &Token| Row { used_at: used.get(&token.id).map(ToString::to_string), ..Row::of(token) };
            output.show(&Items(all.iter().map(row).collect()))
        }
        Verb::Revoke { id } => {
            let token = tokens.revoke(*id).map_err(|error| failed(&error))?;
            output.show(&Items(vec![Row::of(&token)]))
        }
    }
}

fn failed(error: &TokenError) -> Failure {
    match (error, std::error::Error::source(error)) {
        (TokenError::Unknown(_), _) => Failure::no(Some(error.to_string())),
        (_, Some(cause)) => Failure::undone(format!("{error}: {cause}")),
        (_, None) => Failure::undone(error),
    }
}

/// A token as it is listed.
#[derive(Debug, Serialize)]
struct Row {
    id: u64,
    label: String,
    scopes: String,
    created_at: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    expires_at: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    revoked_at: Option<String>,
    /// When it was used last, to the minute.
    #[serde(skip_serializing_if = "Option::is_none")]
    used_at: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    token: Option<String>,
}

impl Row {
    fn of(token: &Token) -> Self {
        Self {
            id: token.id,
            label: token.label.clone(),
            scopes: token.scopes.iter().map(|scope| scope.word()).collect::<Vec<_>>().join(","),
            created_at: token.created_at.to_string(),
            expires_at: token.expires_at.map(|at| at.to_string()),
            revoked_at: token.revoked_at.map(|at| at.to_string()),
            used_at: None,
            token: None,
        }
    }
}
