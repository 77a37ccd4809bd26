//! Writing: one batch, one transaction, behind the lock of one row.

use super::load::version;
use super::mirror::At;
use super::reporting;
use super::settle::{self, Settled};
use super::{Inner, refused};
use crate::store::engine::{Batch, EngineError};
use deadpool_postgres::Object;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::time::timeout;
use tokio_postgres::Error;
use tokio_postgres::types::ToSql;

/// How many entries one statement writes.
const AT_A_TIME: usize = 5_000;

const LOCK: &str = "select version, format from clampbook.book for update";
const REQUIRED: &str = "select value from clampbook.entry where key = $1";
const NEWER: &str = "select key, value from clampbook.entry where version > $1";
const ENTRIES: &str = "\
    insert into clampbook.entry as e (key, value, version) \
    select k, v, $3 from unnest($1::bytea[], $2::bytea[]) as t (k, v) \
    on conflict (key) do update set value = excluded.value, version = excluded.version";
const BATCH: &str = "\
    with b as (insert into clampbook.batch (version, token) values ($1, $2)), \
        k as (update clampbook.book set version = $1) \
    select pg_notify('clampbook', $1::bigint::text)";

/// Applies a batch and takes it into the mirror.
pub async fn apply(inner: &Inner, batch: Batch) -> Result<(), EngineError> {
    let entries = batch.changes().count();
    let patience = inner.sharing.patience * 3 + Duration::from_millis(entries as u64 / 2);
    let place = &inner.settings.place;
    let silent = |_| EngineError::Away(format!("{place}: no answer within {} s", patience.as_secs_f64()));
    let connection = match inner.turn.take() {
        Some(begun) => begun,
        None => {
            let connection = Unfinished(Some(inner.connection().await?));
            let begun = timeout(patience, connection.get()?.batch_execute("begin")).await.map_err(silent)?;
            begun.map_err(|error| inner.told(&error))?;
            connection
        }
    };
    let written = timeout(patience, fill(inner, connection.get()?, &batch)).await.map_err(silent)?;
    let Written { at, newer, locked } = match written {
        Err(EngineError::Overtaken) => {
            inner.turn.keep(connection);
            return Err(EngineError::Overtaken);
        }
        other => other?,
    };
    let committed = timeout(patience, connection.get()?.batch_execute("commit")).await;
    match committed {
        Ok(Ok(())) => connection.finished(),
        Ok(Err(error)) if error.as_db_error().is_some_and(is_a_plain_no) => return Err(inner.told(&error)),
        died => {
            drop(connection);
            let why = match died {
                Ok(Err(error)) => refused::told(&error, &inner.settings).to_string(),
                _ => format!("{place}: no answer to the commit within {} s", patience.as_secs_f64()),
            };
            match settle::settle(inner, &at).await {
                Settled::Stored => {}
                Settled::NotStored => return Err(EngineError::Away(why)),
                Settled::Untold => return Err(EngineError::Untold(why)),
            }
        }
    }
    inner.mirror.take_in(&newer_and(newer, &batch), at);
    inner.watch.confirm(Some(locked));
    Ok(())
}

/// A connection in a transaction: it is closed, which ends the transaction, unless that has ended by itself.
pub struct Unfinished(Option<Object>);

impl Unfinished {
    /// The connection.
    pub fn get(&self) -> Result<&Object, EngineError> {
        self.0.as_ref().ok_or_else(|| EngineError::Away("the connection is gone".to_owned()))
    }

    /// Gives the connection back for others.
    fn finished(mut self) {
        drop(self.0.take());
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        if let Some(connection) = self.0.take() {
            drop(Object::take(connection));
        }
    }
}

/// The turn of a writer who was overtaken: the transaction that found out stays open and keeps the lock, so that nobody
/// overtakes again while the news are taken in and the writing is decided anew. Without it a server whose others
/// write all the time would never come to its turn.
#[derive(Default)]
pub struct Turn(Arc<Mutex<(u64, Option<Unfinished>)>>);

impl Turn {
    /// How long others wait for somebody who was overtaken, at most.
    const HELD_MAX: Duration = Duration::from_secs(1);

    /// Takes the open transaction, if there is one.
    pub fn take(&self) -> Option<Unfinished> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).1.take()
    }

    /// Keeps a transaction that has the lock.
    pub fn keep(&self, begun: Unfinished) {
        let number = {
            let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
            *kept = (kept.0 + 1, Some(begun));
            kept.0
        };
        let kept = self.0.clone();
        tokio::spawn(async move {
            tokio::time::sleep(Self::HELD_MAX).await;
            let mut kept = kept.lock().unwrap_or_else(PoisonError::into_inner);
            if kept.0 == number {
                // Closing the connection ends the transaction.
                kept.1 = None;
            }
        });
    }
}

/// What a transaction has written that is not committed yet.
struct Written {
    at: At,
    /// What others have written that the mirror does not hold.
    newer: Batch,
    /// When nobody else could write any more.
    locked: Instant,
}

/// Whether the database answered that it did not commit, as against breaking off while it did.
fn is_a_plain_no(error: &tokio_postgres::error::DbError) -> bool {
    !error.code().code().starts_with("57") && !error.code().code().starts_with("08")
}

fn newer_and(mut newer: Batch, batch: &Batch) -> Batch {
    for (key, value) in batch.changes() {
        match value {
            Some(value) => newer.put(key.to_vec(), value.to_vec()),
            None => newer.remove(key.to_vec()),
        }
    }
    newer
}

/// Writes everything in a transaction that has begun and leaves it open: only the commit is missing.
async fn fill(inner: &Inner, connection: &Object, batch: &Batch) -> Result<Written, EngineError> {
    let told = |error: Error| inner.told(&error);
    let lock = connection.prepare_cached(LOCK).await.map_err(told)?;
    let required = connection.prepare_cached(REQUIRED).await.map_err(told)?;
    let before = match batch.requirement() {
        None => connection.query_one(&lock, &[]).await.map_err(told)?,
        Some(requirement) => {
            // Sent together, done one after the other: the second sees what was there when the first had its lock.
            let parameters: [&(dyn ToSql + Sync); 1] = [&requirement.key];
            let asked = tokio::join!(connection.query_one(&lock, &[]), connection.query_opt(&required, &parameters));
            // If both failed, the first one says why.
            let (before, there) = (asked.0.map_err(told)?, asked.1.map_err(told)?);
            let there: Option<Vec<u8>> = there.and_then(|row| row.get(0));
            if there != requirement.value {
                return Err(EngineError::Overtaken);
            }
            before
        }
    };
    let locked = Instant::now();
    super::load::check_number(before.get(1), &inner.settings)?;
    let before = version(&before, 0)?;
    let held = inner.mirror.at().version;
    let newer = if before == held { Batch::default() } else { newer_than(inner, connection, held).await? };
    let at = At { version: before + 1, token: token()? };
    enter(inner, connection, batch, &at).await?;
    Ok(Written { at, newer, locked })
}

async fn newer_than(inner: &Inner, connection: &Object, held: u64) -> Result<Batch, EngineError> {
    let mut newer = Batch::default();
    let rows = connection.query(NEWER, &[&number(held)]).await.map_err(|error| inner.told(&error))?;
    for row in rows {
        match row.get(1) {
            Some(value) => newer.put(row.get(0), value),
            None => newer.remove(row.get(0)),
        }
    }
    Ok(newer)
}

async fn enter(inner: &Inner, connection: &Object, batch: &Batch, at: &At) -> Result<(), EngineError> {
    let told = |error: Error| inner.told(&error);
    let version = number(at.version);
    let entries = connection.prepare_cached(ENTRIES).await.map_err(told)?;
    let changes: Vec<_> = batch.changes().collect();
    for some in changes.chunks(AT_A_TIME) {
        let (keys, values): (Vec<&[u8]>, Vec<Option<&[u8]>>) = some.iter().copied().unzip();
        let parameters: [&(dyn ToSql + Sync); 3] = [&keys, &values, &version];
        let written = connection.execute(&entries, &parameters);
        let rows = reporting::rows(some)?;
        let (written, reported) = tokio::join!(written, reporting::write(connection, &rows));
        written.and(reported).map_err(told)?;
    }
    let entered = connection.prepare_cached(BATCH).await.map_err(told)?;
    connection.query(&entered, &[&version, &at.token]).await.map_err(told)?;
    Ok(())
}

/// A version as the database keeps it.
pub fn number(version: u64) -> i64 {
    i64::try_from(version).unwrap_or(i64::MAX)
}

/// Sixteen bytes that no other batch has.
fn token() -> Result<Vec<u8>, EngineError> {
    let mut bytes = vec![0; 16];
    getrandom::fill(&mut bytes).map_err(|error| EngineError::Io(std::io::Error::other(error.to_string())))?;
    Ok(bytes)
}
