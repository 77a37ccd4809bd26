//! When each token was used last, to the minute: kept in memory and written now and then, never for a request.
//!
//! It stands in a file of its own beside that of the tokens, so that a running service and somebody who makes a token
//! never write over each other.

use jiff::{Timestamp, Unit};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// When each token, by its number, was used last.
#[derive(Debug)]
pub struct LastUse {
    path: PathBuf,
    known: Mutex<Known>,
}

#[derive(Debug, Default)]
struct Known {
    used: BTreeMap<u64, Timestamp>,
    is_new: bool,
}

impl LastUse {
    /// Beside this file of tokens.
    #[must_use]
    pub fn beside(tokens: &Path) -> Self {
        Self { path: tokens.with_extension("used.json"), known: Mutex::default() }
    }

    /// Notes that a token is used now.
    pub fn note(&self, id: u64) {
        let minute = Timestamp::now().round(Unit::Minute).unwrap_or_default();
        let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if known.used.insert(id, minute) != Some(minute) {
            known.is_new = true;
        }
    }

    /// What is in the file.
    #[must_use]
    pub fn read(&self) -> BTreeMap<u64, Timestamp> {
        let read = std::fs::read(&self.path).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok());
        read.unwrap_or_default()
    }

    /// Writes what is new; another service on the same tokens may have written later moments.
    ///
    /// # Errors
    /// If the file can't be written.
    pub fn keep(&self) -> std::io::Result<()> {
        let used = {
            let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
            if !std::mem::take(&mut known.is_new) {
                return Ok(());
            }
            known.used.clone()
        };
        let mut all = self.read();
        for (id, at) in used {
            let later = all.get(&id).map_or(at, |before| at.max(*before));
            all.insert(id, later);
        }
        let half = self.path.with_extension("new");
        std::fs::write(&half, crate::answer::json_bytes(&all))?;
        std::fs::rename(half, &self.path)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_use_is_written_now_and_then_and_never_set_back() {
        let folder = tempfile::tempdir().unwrap();
        let tokens = folder.path().join("book.tokens.json");
        let used = LastUse::beside(&tokens);
        used.note(3);
        assert_eq!(used.read(), BTreeMap::new(), "a request writes nothing");
        used.keep().unwrap();
        let at = used.read()[&3];
        assert!(Timestamp::now().duration_since(at).as_secs().abs() <= 60);
        let path = folder.path().join("book.tokens.used.json");
        std::fs::write(&path, r#"{"3":"2999-01-01T00:00:00Z","4":"2020-01-01T00:00:00Z"}"#).unwrap();
        used.note(4);
        used.keep().unwrap();
        assert_eq!(used.read()[&3], "2999-01-01T00:00:00Z".parse().unwrap());
        assert!(used.read()[&4] > "2026-01-01T00:00:00Z".parse().unwrap());
        std::fs::remove_file(&path).unwrap();
        used.keep().unwrap();
        assert!(!path.exists(), "what is not new is not written");
    }
}
