//! A server that follows another one: it keeps a copy of its book by the feed of changes, and takes no writes.
//!
//! Beside the copy stands a small file that says whose copy it is and when it was in step at last, so that after a start
//! the age of what is here is known although the leader may be away.

use crate::api::Stopping;
use crate::catalog::{Allowed, Catalog, CatalogError, OpenOptions, State, Stored, Sync};
use crate::cli::book::{Reply, Server};
use crate::cli::failure::Failure;
use crate::cli::said::text;
use crate::record::Record;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// How many changes are asked for at once.
const AT_A_TIME: &str = "500";
/// How many seconds the leader is asked to wait for a change: how far behind a copy of a quiet book is at most.
const WAIT: &str = "1";
/// How long to wait before asking a leader again that did not answer.
const PAUSE: Duration = Duration::from_millis(500);
/// How long the leader may take to answer.
pub const PATIENCE: Duration = Duration::from_secs(15);
/// How often the file beside the copy is written while all is well.
const NOTE_EVERY: Duration = Duration::from_secs(10);

/// Why following has ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// The service stops.
    Stopped,
    /// The leader has another history now: the copy has to begin anew.
    Afresh,
}

/// Whose copy a store is, in the file beside it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Note {
    leader: String,
    in_step_at: Option<Timestamp>,
}

/// The folder of a copy.
#[derive(Debug, Clone)]
pub struct BookCopy {
    folder: PathBuf,
    leader: String,
}

impl BookCopy {
    /// The copy in this folder, or the place for one.
    #[must_use]
    pub fn at(folder: PathBuf, leader: &str) -> Self {
        Self { folder, leader: leader.trim_end_matches('/').to_owned() }
    }

    fn beside(&self, ending: &str) -> PathBuf {
        let mut name = self.folder.clone().into_os_string();
        name.push(ending);
        name.into()
    }

    fn note(&self) -> Option<Note> {
        serde_json::from_slice(&std::fs::read(self.beside(".follows.json")).ok()?).ok()
    }

    fn write_note(&self, in_step_at: Option<Timestamp>) {
        let note = Note { leader: self.leader.clone(), in_step_at };
        let (path, half) = (self.beside(".follows.json"), self.beside(".follows.new"));
        let bytes = crate::answer::json_bytes(&note);
        if let Err(error) = std::fs::write(&half, bytes).and_then(|()| std::fs::rename(&half, &path)) {
            tracing::warn!(path = %path.display(), %error, "it cannot be noted when this copy was in step");
        }
    }

    /// Whether what lies there may be followed into: nothing, or a copy.
    ///
    /// # Errors
    /// If a book of its own lies there.
    pub fn check(&self) -> Result<(), Failure> {
        if self.folder.join("store.toml").exists() && self.note().is_none() {
            return Err(Failure::usage(format!(
                "{} is a book of its own, and --follow makes a copy of another one. Name an empty place in --store",
                self.folder.display()
            )));
        }
        Ok(())
    }

    /// Opens the copy, or begins one.
    ///
    /// # Errors
    /// If it is a book of its own, or cannot be opened.
    pub fn open(&self, options: &OpenOptions, allowed: Allowed) -> Result<Catalog, Failure> {
        self.check()?;
        let note = self.note().filter(|note| note.leader == self.leader);
        let in_step_at = note.and_then(|note| note.in_step_at);
        self.write_note(in_step_at);
        Ok(Catalog::open_copy(&self.folder, options, allowed, in_step_at)?)
    }

    /// Puts the copy aside, so that the next one begins anew. Only this one is kept: earlier ones go.
    ///
    /// # Errors
    /// If it cannot be moved.
    pub fn put_aside(&self, epoch: &str) -> Result<(), Failure> {
        let aside = self.beside(&format!(".was-{epoch}"));
        let _ = std::fs::remove_dir_all(&aside);
        std::fs::rename(&self.folder, &aside).map_err(|error| {
            Failure::undone(format!("the old copy {} cannot be put aside: {error}", self.folder.display()))
        })?;
        self.write_note(None);
        tracing::warn!(aside = %aside.display(), "the leader has another history now: the copy begins anew");
        self.forget_all_but(&aside);
        Ok(())
    }

    /// Removes the copies that were put aside before this one. What can't be removed stays, and is told.
    fn forget_all_but(&self, aside: &Path) {
        let Some(name) = self.folder.file_name().and_then(OsStr::to_str) else { return };
        let was = format!("{name}.was-");
        let beside = self.folder.parent().and_then(|parent| std::fs::read_dir(parent).ok());
        for entry in beside.into_iter().flatten().flatten() {
            let is_epoch = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_alphanumeric());
            let is_older = entry.file_name().to_str().and_then(|name| name.strip_prefix(&was)).is_some_and(is_epoch);
            if !is_older || entry.path() == aside {
                continue;
            }
            match std::fs::remove_dir_all(entry.path()) {
                Ok(()) => tracing::info!(copy = %entry.path().display(), "an older copy was removed"),
                Err(error) => tracing::warn!(copy = %entry.path().display(), %error, "an older copy cannot be removed"),
            }
        }
    }

    /// Keeps the copy in step until the service stops or the leader has another history.
    pub fn follow(&self, copy: &Catalog, leader: &Server, stopping: &Stopping) -> Ended {
        let mut noted = Instant::now();
        let mut in_step_at = None;
        let mut is_known = copy.sequence() == 0;
        let mut first_audit = None;
        let ended = loop {
            if stopping.has_begun() {
                break Ended::Stopped;
            }
            let asked_at = Timestamp::now();
            let step = if is_known { step(copy, leader) } else { same_history(copy, leader) };
            match step {
                Ok(Step::Same) => is_known = true,
                Ok(Step::More) => {}
                Ok(Step::Whole) => {
                    copy.is_in_step(asked_at);
                    if in_step_at.is_none() || noted.elapsed() > NOTE_EVERY {
                        self.write_note(Some(asked_at));
                        noted = Instant::now();
                    }
                    if in_step_at.is_none() {
                        tracing::info!(leader = self.leader, last_change = copy.sequence(), "in step");
                    }
                    // Before that it would be of a part of the book, and made again for every piece that comes.
                    if first_audit.is_none() {
                        let begun = copy.audit_in_background();
                        first_audit = Some(begun.inspect_err(|error| tracing::warn!(%error, "no first audit")).ok());
                    }
                    in_step_at = Some(asked_at);
                }
                Ok(Step::Another) => break Ended::Afresh,
                Err(why) => {
                    if copy.is_cut_off(&why) {
                        tracing::warn!(leader = self.leader, why, "cut off from the leader");
                    }
                    in_step_at = None;
                    sleep(PAUSE);
                }
            }
        };
        if in_step_at.is_some() {
            self.write_note(in_step_at);
        }
        ended
    }
}

/// A copy of the book of a server in a folder, as it was at some moment after this was asked.
///
/// # Errors
/// If the server can't be asked, or the copy can't be written.
pub fn fetched(server: &Server, folder: &Path, on_progress: &mut dyn FnMut(u64)) -> Result<Catalog, Failure> {
    let options = OpenOptions { create: true, sync: Sync::Batch, ..OpenOptions::default() };
    let copy = Catalog::open(&folder.join("copy"), &options)?;
    loop {
        match step(&copy, server).map_err(Failure::undone)? {
            Step::Same | Step::More => on_progress(copy.sequence()),
            Step::Whole => return Ok(copy),
            Step::Another => {
                return Err(Failure::undone("the server has another history since this began; do it again"));
            }
        }
    }
}

/// What one look at the leader came to.
enum Step {
    /// The leader knows the last change of the copy as it is here.
    Same,
    /// Changes were taken in, and there are more.
    More,
    /// Everything is here.
    Whole,
    /// The leader has another history.
    Another,
}

/// Whether the last change of the copy is one of the leader's: else it is a copy of something else.
fn same_history(copy: &Catalog, leader: &Server) -> Result<Step, String> {
    let last = copy.sequence();
    let Some(list) = ask(leader, &format!("{}.{}", copy.epoch(), last - 1), "1", "0")? else {
        return Ok(Step::Another);
    };
    let there = list["items"].get(0).cloned().unwrap_or_default();
    let here = copy.changes(last - 1, 1).map_err(|error| crate::api::chain(&error))?;
    let is_same = here.first().is_some_and(|here| {
        let told = (text(&there, "id"), there["revision"].as_u64(), text(&there, "at"));
        told == (here.id.as_str(), Some(here.revision), &here.at.to_string())
    });
    Ok(if is_same { Step::Same } else { Step::Another })
}

/// Asks for what has changed and takes it in.
fn step(copy: &Catalog, leader: &Server) -> Result<Step, String> {
    let (sequence, mut epoch) = (copy.sequence(), copy.epoch());
    let since = if sequence == 0 { "0".to_owned() } else { format!("{epoch}.{sequence}") };
    let Some(list) = ask(leader, &since, AT_A_TIME, WAIT)? else { return Ok(Step::Another) };
    let there = text(&list, "epoch");
    if sequence == 0 {
        there.clone_into(&mut epoch);
    } else if there != epoch {
        return Ok(Step::Another);
    }
    let items = list["items"].as_array().map(Vec::as_slice).unwrap_or_default();
    let revisions: Vec<Stored> =
        items.iter().filter_map(|item| revision(item).transpose()).collect::<Result<_, _>>()?;
    if !revisions.is_empty() {
        match copy.take_in(&epoch, revisions) {
            Ok(()) => {}
            Err(error @ CatalogError::Store(_)) => return Err(crate::api::chain(&error)),
            Err(error) => return Err(error.to_string()),
        }
    }
    // What was lost in the leader's book leaves a gap at the end at most until the next change.
    let is_all = list["since"].as_u64() == list["last"].as_u64();
    Ok(if is_all { Step::Whole } else { Step::More })
}

/// The changes after a place, with records; nothing if the leader's history has no such place.
fn ask(leader: &Server, since: &str, take: &str, wait: &str) -> Result<Option<Value>, String> {
    let pairs = [("since", since), ("take", take), ("wait", wait), ("records", "true")];
    let reply: Reply = leader.get("/v1/changes", &pairs).map_err(|failure| failure.to_string())?;
    if reply.status == 410 {
        return Ok(None);
    }
    Ok(Some(reply.said().map_err(|failure| failure.to_string())?.value().clone()))
}

/// The revision that a change made; nothing if the leader has lost it.
fn revision(item: &Value) -> Result<Option<Stored>, String> {
    let Some(record) = item.get("record") else { return Ok(None) };
    let sequence = item["sequence"].as_u64().unwrap_or_default();
    let unreadable = |what: &dyn std::fmt::Display| format!("change {sequence} of the leader cannot be read: {what}");
    let record = Record::from_json(record).map_err(|refused| unreadable(&refused))?;
    let words = |name: &str| item.get(name).and_then(Value::as_str).map(str::parse).transpose();
    Ok(Some(Stored {
        record: Arc::new(record),
        revision: item["revision"].as_u64().unwrap_or_default(),
        state: if text(item, "state") == "withdrawn" { State::Withdrawn } else { State::Current },
        changed_at: text(item, "at").parse().map_err(|error| unreadable(&error))?,
        changed_by: words("by").map_err(|error| unreadable(&error))?,
        why: words("why").map_err(|error| unreadable(&error))?,
        sequence,
    }))
}

/// The folder that a copy is kept in.
///
/// # Errors
/// If the place is no folder.
pub fn folder(path: &Path) -> Result<PathBuf, Failure> {
    std::path::absolute(path).map_err(|error| Failure::undone(format!("{} cannot be found: {error}", path.display())))
}
