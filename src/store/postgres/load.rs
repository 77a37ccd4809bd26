//! Reading: everything at the beginning, news afterwards.

use super::mirror::{At, Mirror};
use super::settings::Settings;
use super::{FORMAT, Inner, refused};
use crate::store::engine::{Batch, Engine, EngineError};
use crate::store::memory::MemoryEngine;
use crate::store::shared::{News, Source};
use deadpool_postgres::ClientWrapper;
use futures_util::TryStreamExt;
use std::pin::pin;
use std::time::{Duration, Instant};
use tokio::time::timeout;
use tokio_postgres::{Client, GenericClient, IsolationLevel, Row};

/// How many pairs go into the mirror at a time.
const AT_A_TIME: usize = 10_000;

/// Connects, with somebody to keep the connection going.
pub async fn connect(settings: &Settings, patience: Duration) -> Result<Client, EngineError> {
    let connected = timeout(patience, settings.config.connect(settings.tls.clone())).await;
    let silent = |_| EngineError::Away(format!("{}: no answer within {} s", settings.place, patience.as_secs_f64()));
    let (client, connection) = connected.map_err(silent)?.map_err(|error| refused::told(&error, settings))?;
    tokio::spawn(connection);
    client.batch_execute(super::PLAIN).await.map_err(|error| refused::told(&error, settings))?;
    Ok(client)
}

/// One value as the database has it, if its tables are of the format of this program. Nothing is changed.
pub async fn value(settings: &Settings, patience: Duration, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
    let told = |error: tokio_postgres::Error| refused::told(&error, settings);
    let mut client = connect(settings, patience).await?;
    let look = client.build_transaction().read_only(true).start().await.map_err(told)?;
    check_format(&look, settings).await?;
    let ask = "select value from clampbook.entry where key = $1 and value is not null";
    let row = look.query_opt(ask, &[&key]).await.map_err(told)?;
    Ok(row.map(|row| row.get(0)))
}

/// Where the database is, and how many seconds ago what it shows was written if it is a standby.
pub const AT: &str = "\
    select version, (select token from clampbook.batch b where b.version = book.version), \
        case when pg_is_in_recovery() \
            then coalesce(extract(epoch from clock_timestamp() - pg_last_xact_replay_timestamp())::float8, 'infinity') \
            else 0 end \
    from clampbook.book";

/// A mirror of everything in the database, and from when it is.
pub async fn mirror(settings: &Settings, patience: Duration) -> Result<(Mirror, Option<Instant>), EngineError> {
    let told = |error: tokio_postgres::Error| refused::told(&error, settings);
    let mut client = connect(settings, patience).await?;
    let look = client.build_transaction().isolation_level(IsolationLevel::RepeatableRead).read_only(true);
    let look = look.start().await.map_err(told)?;
    check_format(&look, settings).await?;
    let asked = Instant::now();
    let row = look.query_one(AT, &[]).await.map_err(told)?;
    let as_of = as_of(asked, &row, 2);
    let at = At { version: version(&row, 0)?, token: row.get::<_, Option<Vec<u8>>>(1).unwrap_or_default() };
    let pairs = MemoryEngine::default();
    let rows = look.query_raw("select key, value from clampbook.entry where value is not null", no_parameters());
    let mut rows = pin!(rows.await.map_err(told)?);
    let (mut batch, mut waiting) = (Batch::default(), 0);
    while let Some(row) = rows.try_next().await.map_err(told)? {
        batch.put(row.get(0), row.get(1));
        waiting += 1;
        if waiting == AT_A_TIME {
            pairs.apply(&std::mem::take(&mut batch))?;
            waiting = 0;
        }
    }
    pairs.apply(&batch)?;
    Ok((Mirror::of(pairs, at), as_of))
}

fn no_parameters() -> impl ExactSizeIterator<Item = &'static (dyn tokio_postgres::types::ToSql + Sync)> {
    std::iter::empty()
}

/// From when an answer is that was asked for at a moment: on a standby from when it has replayed; nothing if it has
/// replayed nothing since it was started, so that nobody can tell.
pub fn as_of(asked: Instant, row: &Row, column: usize) -> Option<Instant> {
    let lag = Duration::try_from_secs_f64(row.get::<_, f64>(column).max(0.0)).ok()?;
    asked.checked_sub(lag)
}

/// A version from a row.
pub fn version(row: &Row, column: usize) -> Result<u64, EngineError> {
    let number: i64 = row.get(column);
    u64::try_from(number).map_err(|_| EngineError::Damaged(format!("a batch has the number {number}")))
}

/// Refuses a database that holds no book, or one that this program can't read.
pub async fn check_format(client: &impl GenericClient, settings: &Settings) -> Result<(), EngineError> {
    let row = client.query_opt("select format from clampbook.book", &[]).await;
    let row = row.map_err(|error| refused::told(&error, settings))?;
    check_number(row.ok_or_else(|| refused::unprepared(settings))?.get(0), settings)
}

/// Refuses tables of another format than this program's.
pub fn check_number(found: i32, settings: &Settings) -> Result<(), EngineError> {
    let place = &settings.place;
    match found.cmp(&FORMAT) {
        std::cmp::Ordering::Equal => Ok(()),
        std::cmp::Ordering::Less => Err(EngineError::Refused(format!(
            "{place}: the tables have format {found}, this clampbook needs {FORMAT}. Stop the servers, then its owner runs `clampbook store prepare`"
        ))),
        std::cmp::Ordering::Greater => Err(EngineError::Refused(format!(
            "{place}: the tables have format {found}, prepared by a newer clampbook; this one knows {FORMAT}. Use the newer one"
        ))),
    }
}

/// What was written since the mirror was made or went on.
pub async fn news(inner: &Inner, source: Source) -> Result<Option<News>, EngineError> {
    let patience = inner.sharing.patience * 6;
    let own = source == Source::Reading && inner.sharing.read_from.is_some();
    let settings = if own { &inner.reading } else { &inner.settings };
    let asked = async {
        let held = inner.mirror.at();
        if source == Source::Writable
            && let Some(begun) = inner.turn.take()
        {
            // Whoever asks now was overtaken and writes again next, or gives up its turn by asking twice.
            let answer = ask(begun.get()?, settings, &held).await?;
            if matches!(answer, Answer::News(_)) {
                inner.turn.keep(begun);
            }
            return Ok(answer);
        }
        let client = if own { inner.reading_connection().await? } else { inner.connection().await? };
        ask(&client, settings, &held).await
    };
    let place = &settings.place;
    let silent = |_| EngineError::Away(format!("{place}: no answer within {} s", patience.as_secs_f64()));
    let answer = timeout(patience, asked).await.map_err(silent)??;
    match answer {
        Answer::News(news) => Ok(Some(news)),
        Answer::Nothing(as_of) => {
            inner.watch.confirm(as_of);
            Ok(None)
        }
        // A standby that is behind what was written here.
        Answer::Older if own => Ok(None),
        Answer::Older | Answer::Other => Err(inner.watch.part(&inner.settings.place, inner.mirror.at().version)),
    }
}

/// What the database says to a mirror.
enum Answer {
    News(News),
    Nothing(Option<Instant>),
    /// Fewer batches than the mirror has.
    Older,
    /// Another batch under the number of the mirror's last one.
    Other,
}

/// One statement, so that all of it is from one moment.
const NEWS: &str = "\
    with k as materialized ( \
        select version, \
            (select token from clampbook.batch b where b.version = book.version) as token, \
            (select token from clampbook.batch b where b.version = $1) as held, \
            case when pg_is_in_recovery() \
                then coalesce(extract(epoch from clock_timestamp() - pg_last_xact_replay_timestamp())::float8, 'infinity') \
                else 0 end as lag \
        from clampbook.book \
    ) \
    select k.version, e.key, e.value, k.token, k.held, k.lag \
    from k left join clampbook.entry e on e.version > $1";

async fn ask(client: &ClientWrapper, settings: &Settings, held: &At) -> Result<Answer, EngineError> {
    let told = |error: tokio_postgres::Error| refused::told(&error, settings);
    let asked = Instant::now();
    let number = i64::try_from(held.version).unwrap_or(i64::MAX);
    let news = client.prepare_cached(NEWS).await.map_err(told)?;
    let rows = client.query(&news, &[&number]).await.map_err(told)?;
    let first = rows.first().ok_or_else(|| refused::unprepared(settings))?;
    let (there, token): (_, Option<Vec<u8>>) = (version(first, 0)?, first.get(3));
    let as_of = as_of(asked, first, 5);
    if there < held.version {
        return Ok(Answer::Older);
    }
    if held.version > 0 && first.get::<_, Option<Vec<u8>>>(4).as_ref() != Some(&held.token) {
        return Ok(Answer::Other);
    }
    if there == held.version {
        return Ok(Answer::Nothing(as_of));
    }
    let mut batch = Batch::default();
    for row in &rows {
        if let Some(key) = row.get(1) {
            match row.get(2) {
                Some(value) => batch.put(key, value),
                None => batch.remove(key),
            }
        }
    }
    Ok(Answer::News(News { batch, version: there, token: token.unwrap_or_default(), as_of }))
}
