//! Making and migrating the tables, and letting roles at them. Only done when asked for, by the owner.

use super::load::{check_number, connect};
use super::settings::Settings;
use super::thread::Worker;
use super::{refused, reporting};
use crate::store::database::{Preparation, Prepared};
use crate::store::engine::EngineError;
use crate::store::keys;
use crate::store::place::DatabaseUrl;
use std::time::Duration;
use tokio_postgres::{Error, GenericClient, Transaction};

/// The format of the tables that this program writes and reads.
pub const FORMAT: i32 = 3;

/// What leads from each format to the next.
const STEPS: &[&str] = &[include_str!("schema/1.sql"), include_str!("schema/2.sql"), include_str!("schema/3.sql")];

/// Any number that nobody else is likely to take: held while one process prepares.
const TURN: i64 = 0x636c_616d_7062;

const READER: &str = "grant usage on schema clampbook to ROLE; grant select on all tables in schema clampbook to ROLE;";
const WRITER: &str = "\
    grant insert, update on clampbook.entry to ROLE; grant insert on clampbook.batch, clampbook.record to ROLE; \
    grant update (version) on clampbook.book to ROLE; grant update (at) on clampbook.pulse to ROLE; \
    grant execute on function clampbook.forget_batches() to ROLE;";

/// Makes the tables, or leads them to this program's format, and grants what was asked for: all of it or nothing.
///
/// # Errors
/// What stands in the way, and what to do about it.
pub fn prepare(url: &DatabaseUrl, preparation: &Preparation) -> Result<Prepared, EngineError> {
    let settings = Settings::of(url, Duration::from_secs(5), true)?;
    let preparation = preparation.clone();
    Worker::start()?.run(async move { run(&settings, &preparation).await })?
}

async fn run(settings: &Settings, preparation: &Preparation) -> Result<Prepared, EngineError> {
    let told = |error: Error| refused::told(&error, settings);
    let mut client = connect(settings, Duration::from_secs(5)).await?;
    client.batch_execute("set lock_timeout = '10s'").await.map_err(told)?;
    let work = client.transaction().await.map_err(told)?;
    work.execute("select pg_advisory_xact_lock($1)", &[&TURN]).await.map_err(told)?;
    let before = format_of(&work).await.map_err(told)?;
    check_number(before.max(FORMAT), settings)?;
    let goal = preparation.format.unwrap_or(FORMAT);
    for (format, step) in (1..=goal).zip(STEPS).skip(usize::try_from(before).unwrap_or(0)) {
        work.batch_execute(step).await.map_err(told)?;
        if format == 2 {
            fill_records(&work, settings).await?;
        }
        work.execute("update clampbook.book set format = $1", &[&format]).await.map_err(told)?;
    }
    for role in preparation.readers.iter().chain(&preparation.writers) {
        grant(&work, READER, role).await.map_err(told)?;
    }
    for role in &preparation.writers {
        grant(&work, WRITER, role).await.map_err(told)?;
    }
    work.commit().await.map_err(told)?;
    Ok(Prepared { before, now: before.max(goal) })
}

/// The format of the tables; 0 if there are none. Nobody writes from here on.
async fn format_of(work: &Transaction<'_>) -> Result<i32, Error> {
    let there = work.query_one("select to_regclass('clampbook.book') is not null", &[]).await?;
    if !there.get::<_, bool>(0) {
        return Ok(0);
    }
    Ok(work.query_opt("select format from clampbook.book for update", &[]).await?.map_or(0, |row| row.get(0)))
}

/// Enters every revision that is there in the table for reports.
async fn fill_records(work: &Transaction<'_>, settings: &Settings) -> Result<(), EngineError> {
    /// How many are entered at a time.
    const AT_A_TIME: i64 = 2_000;
    let told = |error: Error| refused::told(&error, settings);
    let range = keys::all_revisions();
    let mut from = range.start;
    loop {
        let some = "select key, value from clampbook.entry where key >= $1 and key < $2 and value is not null \
            order by key limit $3";
        let rows = work.query(some, &[&from, &range.end, &AT_A_TIME]).await.map_err(told)?;
        let pairs: Vec<(Vec<u8>, Vec<u8>)> = rows.iter().map(|row| (row.get(0), row.get(1))).collect();
        let Some((last, _)) = pairs.last() else { return Ok(()) };
        from = [last.as_slice(), &[0]].concat();
        reporting::fill(work, &pairs).await?.map_err(told)?;
    }
}

async fn grant(work: &impl GenericClient, what: &str, role: &str) -> Result<(), Error> {
    let name = format!("\"{}\"", role.replace('"', "\"\""));
    work.batch_execute(&what.replace("ROLE", &name)).await
}
