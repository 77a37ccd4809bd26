//! Tokens: who may do what. The file holds their digests only; a token itself is shown once, when it is made.
//!
//! A token has 256 bits of chance, so a plain digest keeps it: there is nothing to guess.

use super::last_use::LastUse;
use crate::record::Text;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::time::SystemTime;

/// What a token allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Scope {
    /// To read the book.
    Read,
    /// To write records.
    Write,
    /// To say that an entry was compared with its source.
    Check,
    /// Everything.
    Admin,
}

impl Scope {
    /// All of them.
    pub const ALL: &'static [Self] = &[Self::Read, Self::Write, Self::Check, Self::Admin];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Write => "write",
            Self::Check => "check",
            Self::Admin => "admin",
        }
    }
}

impl std::str::FromStr for Scope {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let found = Self::ALL.iter().copied().find(|scope| scope.word() == text.trim());
        found.ok_or_else(|| format!("\"{text}\" is not a scope; write read, write, check or admin"))
    }
}

/// A token as it is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Token {
    /// The number to revoke it by.
    pub id: u64,
    /// Who holds it; what they write is entered under this name.
    pub label: String,
    /// What it allows.
    pub scopes: Vec<Scope>,
    /// When it was made.
    pub created_at: Timestamp,
    /// When it ends, if it does.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_at: Option<Timestamp>,
    /// When it was revoked, if it was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub revoked_at: Option<Timestamp>,
    sha256: String,
}

impl Token {
    /// Whether it allows this, were it in force.
    #[must_use]
    pub fn allows(&self, scope: Scope) -> bool {
        self.scopes.contains(&scope) || self.scopes.contains(&Scope::Admin)
    }

    /// Whether it is in force at a moment.
    #[must_use]
    pub fn is_in_force(&self, at: Timestamp) -> bool {
        self.revoked_at.is_none() && self.expires_at.is_none_or(|end| at < end)
    }
}

/// What can stand in the way of the file of tokens.
#[derive(Debug, thiserror::Error)]
pub enum TokenError {
    /// It can't be read or written.
    #[error("the file of tokens {} cannot be used", path.display())]
    File {
        /// Where it is.
        path: PathBuf,
        /// What the operating system said.
        source: std::io::Error,
    },
    /// It does not hold tokens.
    #[error("{} is not a file of tokens", path.display())]
    Unreadable {
        /// Where it is.
        path: PathBuf,
        /// Why.
        source: serde_json::Error,
    },
    /// The operating system gives no random bytes.
    #[error("no random bytes can be had: {0}")]
    NoChance(String),
    /// There is no such token.
    #[error("there is no token {0} in force")]
    Unknown(u64),
}

/// The file of tokens. A running service sees what another process changes in it.
#[derive(Debug)]
pub struct Tokens {
    path: PathBuf,
    known: Mutex<(Option<SystemTime>, Vec<Token>)>,
    used: LastUse,
}

impl Tokens {
    /// The tokens in a file, which need not be there yet.
    #[must_use]
    pub fn at(path: impl Into<PathBuf>) -> Self {
        let path = path.into();
        Self { used: LastUse::beside(&path), path, known: Mutex::new((None, Vec::new())) }
    }

    /// When each token was used last, as far as that is written down.
    #[must_use]
    pub fn last_used(&self) -> BTreeMap<u64, Timestamp> {
        self.used.read()
    }

    /// Writes down when tokens were used last, if that is news.
    ///
    /// # Errors
    /// If the file beside that of the tokens can't be written.
    pub fn keep_last_use(&self) -> std::io::Result<()> {
        self.used.keep()
    }

    /// Every token, revoked ones too.
    ///
    /// # Errors
    /// If the file can't be read.
    pub fn all(&self) -> Result<Vec<Token>, TokenError> {
        read(&self.path)
    }

    /// The token that this text is, if it is in force.
    ///
    /// # Errors
    /// If the file can't be read.
    pub fn find(&self, text: &str) -> Result<Option<Token>, TokenError> {
        let changed = fs::metadata(&self.path).and_then(|metadata| metadata.modified()).ok();
        let mut known = self.known.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        if known.0 != changed || changed.is_none() {
            *known = (changed, read(&self.path)?);
        }
        let digest = digest(text);
        let found = known.1.iter().find(|token| token.sha256 == digest && token.is_in_force(Timestamp::now()));
        if let Some(token) = found {
            self.used.note(token.id);
        }
        Ok(found.cloned())
    }

    /// Makes a token and gives its text, which is kept nowhere.
    ///
    /// # Errors
    /// If the file can't be written, or there is no chance to be had from the operating system.
    pub fn make(
        &self,
        label: &Text,
        scopes: &[Scope],
        expires_at: Option<Timestamp>,
    ) -> Result<(Token, String), TokenError> {
        let text = fresh_text()?;
        let mut tokens = read(&self.path)?;
        let token = Token {
            id: tokens.iter().map(|token| token.id).max().unwrap_or(0) + 1,
            label: label.to_string(),
            scopes: scopes.to_vec(),
            created_at: Timestamp::now(),
            expires_at,
            revoked_at: None,
            sha256: digest(&text),
        };
        tokens.push(token.clone());
        self.write(&tokens)?;
        Ok((token, text))
    }

    /// Ends a token.
    ///
    /// # Errors
    /// If there is none with this number, or the file can't be written.
    pub fn revoke(&self, id: u64) -> Result<Token, TokenError> {
        let mut tokens = read(&self.path)?;
        let token = tokens.iter_mut().find(|token| token.id == id && token.revoked_at.is_none());
        let token = token.ok_or(TokenError::Unknown(id))?;
        token.revoked_at = Some(Timestamp::now());
        let revoked = token.clone();
        self.write(&tokens)?;
        Ok(revoked)
    }

    /// Writes the whole file anew and puts it in place of the old one, readable by its owner only.
    fn write(&self, tokens: &[Token]) -> Result<(), TokenError> {
        let failed = |source| TokenError::File { path: self.path.clone(), source };
        let beside = self.path.with_extension("new");
        let mut options = File::options();
        options.write(true).create(true).truncate(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        let mut file = options.open(&beside).map_err(failed)?;
        let text = crate::answer::json_bytes(&tokens);
        file.write_all(&text).and_then(|()| file.sync_all()).map_err(failed)?;
        fs::rename(&beside, &self.path).map_err(failed)
    }
}

fn fresh_text() -> Result<String, TokenError> {
    let mut chance = [0; 32];
    getrandom::fill(&mut chance).map_err(|error| TokenError::NoChance(error.to_string()))?;
    Ok(format!("cb_{}", hexadecimal(&chance)))
}

fn read(path: &Path) -> Result<Vec<Token>, TokenError> {
    match fs::read(path) {
        Ok(bytes) => {
            serde_json::from_slice(&bytes).map_err(|source| TokenError::Unreadable { path: path.to_owned(), source })
        }
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(source) => Err(TokenError::File { path: path.to_owned(), source }),
    }
}

fn digest(text: &str) -> String {
    hexadecimal(&Sha256::digest(text))
}

fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_found_by_its_text_until_it_ends() {
        let folder = tempfile::tempdir().unwrap();
        let tokens = Tokens::at(folder.path().join("tokens.json"));
        assert_eq!(tokens.find("cb_nothing").unwrap(), None);
        let label: Text = "mo".parse().unwrap();
        let (token, text) = tokens.make(&label, &[Scope::Read], None).unwrap();
        assert_eq!(tokens.find(&text).unwrap(), Some(token.clone()));
        assert!(token.allows(Scope::Read) && !token.allows(Scope::Write));
        let kept = fs::read_to_string(folder.path().join("tokens.json")).unwrap();
        assert!(!kept.contains(&text) && !kept.contains(&text[3..]));
        Tokens::at(folder.path().join("tokens.json")).revoke(token.id).unwrap();
        assert!(matches!(tokens.revoke(token.id), Err(TokenError::Unknown(1))));
        assert!(tokens.all().unwrap()[0].revoked_at.is_some());
        let past = Some("2020-01-01T00:00:00Z".parse().unwrap());
        let (_, ended) = tokens.make(&label, &[Scope::Admin], past).unwrap();
        assert_eq!(tokens.find(&ended).unwrap(), None);
        assert_eq!(tokens.find(&text).unwrap(), None);
    }
}
