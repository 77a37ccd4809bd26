//! The engine on PostgreSQL: one database that any number of processes share.
//!
//! Every process holds a mirror of all pairs and answers from it, so that reading needs no database. Writes go through
//! the database, one batch a transaction, each behind the lock of one row; what others wrote is taken in afterwards.
//! The boundary is synchronous: the driver's work runs on a thread of the engine's own.

mod follow;
mod load;
mod mirror;
mod password;
mod prepare;
mod refused;
mod reporting;
mod settings;
mod settle;
mod thread;
mod tls;
mod write;

use prepare::FORMAT;
pub use prepare::prepare;

use super::engine::{Batch, Engine, EngineError, Pair};
use super::place::DatabaseUrl;
use super::shared::{Bell, News, Shared, Sharing, Source, Standing};
use deadpool_postgres::{Hook, HookError, Manager, ManagerConfig, Object, Pool, RecyclingMethod, Runtime};
use follow::Watch;
use mirror::{At, Mirror};
use settings::Settings;
use std::sync::Arc;
use std::time::Duration;
use thread::Worker;
use write::Turn;

/// The engine on PostgreSQL.
pub struct PostgresEngine {
    worker: Worker,
    inner: Arc<Inner>,
}

/// What the engine and its thread share.
struct Inner {
    settings: Settings,
    reading: Settings,
    pool: Pool,
    /// Connections to where the others' writes are read, if that is elsewhere.
    reading_pool: Option<Pool>,
    sharing: Sharing,
    mirror: Mirror,
    watch: Watch,
    /// Held by a writer who was overtaken, until it has written.
    turn: Turn,
}

impl std::fmt::Debug for PostgresEngine {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("PostgresEngine").field("place", &self.inner.settings.place).finish_non_exhaustive()
    }
}

impl PostgresEngine {
    /// Connects to a prepared database and reads everything in it.
    ///
    /// # Errors
    /// What stands in the way, and what to do about it.
    pub fn open(url: &DatabaseUrl, sharing: &Sharing) -> Result<Self, EngineError> {
        let settings = Settings::of(url, sharing.patience, true)?;
        let reading = match &sharing.read_from {
            Some(url) => Settings::of(url, sharing.patience, false)?,
            None => settings.clone(),
        };
        let worker = Worker::start()?;
        let patience = sharing.patience;
        let (mirror, as_of) = {
            let reading = reading.clone();
            worker.run(async move { load::mirror(&reading, patience).await })??
        };
        let reading_pool = sharing.read_from.as_ref().map(|_| pool(&reading, sharing)).transpose()?;
        let pool = pool(&settings, sharing)?;
        let watch = Watch::begin(as_of, sharing.read_from.is_some());
        let inner = Arc::new(Inner {
            settings,
            reading,
            pool,
            reading_pool,
            sharing: sharing.clone(),
            mirror,
            watch,
            turn: Turn::default(),
        });
        worker.spawn(follow::follow(inner.clone()));
        worker.spawn(follow::beat(inner.clone()));
        worker.spawn(follow::tidy(inner.clone()));
        Ok(Self { worker, inner })
    }

    /// One value as a prepared database has it, without opening it: nothing is begun, kept up or changed.
    ///
    /// # Errors
    /// What stands in the way, and what to do about it.
    pub fn glance(
        url: &DatabaseUrl,
        key: Vec<u8>,
        patience: Duration,
        for_writing: bool,
    ) -> Result<Option<Vec<u8>>, EngineError> {
        let settings = Settings::of(url, patience, for_writing)?;
        Worker::start()?.run(async move { load::value(&settings, patience, &key).await })?
    }
}

fn pool(settings: &Settings, sharing: &Sharing) -> Result<Pool, EngineError> {
    let recycling_method = RecyclingMethod::Fast;
    let manager =
        Manager::from_config(settings.config.clone(), settings.tls.clone(), ManagerConfig { recycling_method });
    let limits = limits(sharing);
    let greet = Hook::async_fn(move |client: &mut deadpool_postgres::ClientWrapper, _| {
        let limits = limits.clone();
        Box::pin(async move { client.batch_execute(&limits).await.map_err(HookError::Backend) })
    });
    Pool::builder(manager)
        .max_size(sharing.connections.max(1))
        .wait_timeout(Some(sharing.patience))
        .create_timeout(Some(sharing.patience))
        .recycle_timeout(Some(sharing.patience))
        .runtime(Runtime::Tokio1)
        .post_create(greet)
        .build()
        .map_err(|error| EngineError::Refused(error.to_string()))
}

/// What every connection is told: statements here are small and many, so that compiling them takes longer than they do.
const PLAIN: &str = "set jit = off";

/// What a connection of a pool is told too: how long anything may take, and that everything is found by an index, even
/// where the statistics of a table that has just been filled do not say so yet.
fn limits(sharing: &Sharing) -> String {
    let patience = sharing.patience.as_millis();
    format!(
        "{PLAIN}; set enable_seqscan = off; set lock_timeout = {}; set statement_timeout = {}; set idle_in_transaction_session_timeout = {}",
        patience * 2,
        patience * 6,
        patience * 3
    )
}

impl Inner {
    async fn connection(&self) -> Result<Object, EngineError> {
        let Sharing { connections, patience, .. } = self.sharing;
        self.pool.get().await.map_err(|error| refused::of_pool(&error, &self.settings, connections, patience))
    }

    /// A connection to where the others' writes are read.
    async fn reading_connection(&self) -> Result<Object, EngineError> {
        let Sharing { connections, patience, .. } = self.sharing;
        let pool = self.reading_pool.as_ref().unwrap_or(&self.pool);
        pool.get().await.map_err(|error| refused::of_pool(&error, &self.reading, connections, patience))
    }

    fn told(&self, error: &tokio_postgres::Error) -> EngineError {
        refused::told(error, &self.settings)
    }
}

impl Engine for PostgresEngine {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        self.inner.mirror.get(key)
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        self.inner.mirror.scan(from, below, limit)
    }

    fn apply(&self, batch: &Batch) -> Result<(), EngineError> {
        if let Some(why) = self.inner.watch.parted() {
            return Err(EngineError::Refused(why));
        }
        let (inner, batch) = (self.inner.clone(), batch.clone());
        self.worker.run(async move { write::apply(&inner, batch).await })?
    }

    /// A batch is durable when `apply` has returned, as durable as the database was set up to be.
    fn sync(&self) -> Result<(), EngineError> {
        Ok(())
    }

    fn shared(&self) -> Option<&dyn Shared> {
        Some(self)
    }
}

impl Shared for PostgresEngine {
    fn news(&self, source: Source) -> Result<Option<News>, EngineError> {
        let inner = self.inner.clone();
        self.worker.run(async move { load::news(&inner, source).await })?
    }

    fn take_in(&self, news: &News) {
        self.inner.mirror.take_in(&news.batch, At { version: news.version, token: news.token.clone() });
        self.inner.watch.confirm(news.as_of);
    }

    fn standing(&self) -> Standing {
        self.inner.watch.standing()
    }

    fn bell(&self) -> Arc<Bell> {
        self.inner.watch.bell()
    }

    fn hurry(&self) {
        self.inner.watch.hurry();
    }
}

impl Drop for PostgresEngine {
    fn drop(&mut self) {
        self.inner.watch.bell().close();
    }
}
