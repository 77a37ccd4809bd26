//! Following: noticing that others have written, and knowing how old what is held may be.

use super::load::{AT, as_of, connect, version};
use super::{Inner, refused};
use crate::store::engine::EngineError;
use crate::store::shared::{Bell, Standing};
use std::future::poll_fn;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::Notify;
use tokio::time::{sleep, timeout};
use tokio_postgres::{AsyncMessage, Client};

/// What is known of the others.
pub struct Watch {
    state: Mutex<State>,
    bell: Arc<Bell>,
    /// Somebody wants to know now.
    nudge: Arc<Notify>,
    /// Whether standbys are to be told that time goes by.
    beats: bool,
}

/// How far behind is what may be behind by any time.
const NOBODY_KNOWS: Duration = Duration::from_secs(1_000_000_000);

struct State {
    /// What is held misses nothing that was written before this, as far as that can be told.
    confirmed: Option<Instant>,
    away: Option<String>,
    parted: Option<String>,
}

impl Watch {
    /// At the beginning everything written before `as_of` is held.
    pub fn begin(as_of: Option<Instant>, beats: bool) -> Self {
        let state = State { confirmed: as_of, away: None, parted: None };
        Self { state: Mutex::new(state), bell: Arc::default(), nudge: Arc::default(), beats }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What is held misses nothing that was written before `as_of`.
    pub fn confirm(&self, as_of: Option<Instant>) {
        let mut state = self.state();
        state.confirmed = state.confirmed.max(as_of);
    }

    pub fn standing(&self) -> Standing {
        let state = self.state();
        let behind = state.confirmed.map_or(NOBODY_KNOWS, |confirmed| confirmed.elapsed());
        Standing { behind, away: state.away.clone(), parted: state.parted.clone() }
    }

    pub fn bell(&self) -> Arc<Bell> {
        self.bell.clone()
    }

    pub fn hurry(&self) {
        self.nudge.notify_one();
    }

    /// Why nothing may be written any more, if so.
    pub fn parted(&self) -> Option<String> {
        self.state().parted.clone()
    }

    /// The database has lost batches that were seen here, or is another one.
    pub fn part(&self, place: &str, held: u64) -> EngineError {
        let why = format!(
            "{place}: the database does not hold batch {held} that this process has seen: it has gone back, is another one, or has forgotten what is older than 30 days. Find out what was lost, then start this process again; until then it only reads"
        );
        self.state().parted.get_or_insert_with(|| why.clone());
        EngineError::Refused(why)
    }

    fn reached(&self, away: Option<String>) {
        let mut state = self.state();
        match (&state.away, &away) {
            (None, Some(why)) => tracing::warn!(why, "the database is away"),
            (Some(_), None) => tracing::info!("the database is back"),
            _ => {}
        }
        state.away = away;
    }
}

/// Follows for as long as the engine lives.
pub async fn follow(inner: Arc<Inner>) {
    /// How long to wait before the next try to connect, at most.
    const PAUSE_MAX: Duration = Duration::from_secs(2);
    let mut pause = Duration::from_millis(50);
    loop {
        let began = Instant::now();
        let Err(error) = look_again_and_again(&inner).await;
        inner.watch.reached(Some(error.to_string()));
        if began.elapsed() > PAUSE_MAX {
            pause = Duration::from_millis(50);
        }
        sleep(pause).await;
        pause = (pause * 2).min(PAUSE_MAX);
    }
}

/// Looks whenever there was a notification, somebody asked, or time is up.
async fn look_again_and_again(inner: &Inner) -> Result<std::convert::Infallible, EngineError> {
    let told = |error: tokio_postgres::Error| refused::told(&error, &inner.reading);
    let patience = inner.sharing.patience;
    let nudge = inner.watch.nudge.clone();
    let client = if inner.sharing.listens && inner.sharing.read_from.is_none() {
        let client = listening(inner, nudge.clone()).await?;
        client.batch_execute("listen clampbook").await.map_err(told)?;
        client
    } else {
        connect(&inner.reading, patience).await?
    };
    loop {
        let silent =
            |_| EngineError::Away(format!("{}: no answer within {} s", inner.reading.place, patience.as_secs_f64()));
        timeout(patience, look(inner, &client)).await.map_err(silent)??;
        tokio::select! {
            () = nudge.notified() => {}
            () = sleep(inner.sharing.looks_every) => {}
        }
    }
}

/// A connection whose notifications are passed on.
async fn listening(inner: &Inner, nudge: Arc<Notify>) -> Result<Client, EngineError> {
    let settings = &inner.reading;
    let silent = |_| EngineError::Away(format!("{}: it does not answer", settings.place));
    let connected = timeout(inner.sharing.patience, settings.config.connect(settings.tls.clone())).await;
    let (client, mut connection) = connected.map_err(silent)?.map_err(|error| refused::told(&error, settings))?;
    tokio::spawn(async move {
        // At the end too: then the next look finds the connection closed.
        while let Some(Ok(message)) = poll_fn(|context| connection.poll_message(context)).await {
            if matches!(message, AsyncMessage::Notification(_)) {
                nudge.notify_one();
            }
        }
        nudge.notify_one();
    });
    Ok(client)
}

async fn look(inner: &Inner, client: &Client) -> Result<(), EngineError> {
    let (asked, held) = (Instant::now(), inner.mirror.at().version);
    let row = client.query_opt(AT, &[]).await.map_err(|error| refused::told(&error, &inner.reading))?;
    let row = row.ok_or_else(|| refused::unprepared(&inner.reading))?;
    let there = version(&row, 0)?;
    inner.watch.reached(None);
    if there == held {
        inner.watch.confirm(as_of(asked, &row, 2));
    } else if there > held || inner.sharing.read_from.is_none() {
        inner.watch.bell.ring();
    }
    Ok(())
}

/// Lets standbys see that time goes by even if nobody writes: what they show last tells how far behind they are.
pub async fn beat(inner: Arc<Inner>) {
    const BEAT: &str = "\
        update clampbook.pulse set at = clock_timestamp() where at < clock_timestamp() - interval '900 milliseconds'";
    if !inner.watch.beats {
        return;
    }
    loop {
        if let Ok(connection) = inner.connection().await {
            // Who may only read leaves it to others.
            let _ = timeout(inner.sharing.patience, connection.execute(BEAT, &[])).await;
        }
        sleep(Duration::from_secs(1)).await;
    }
}

/// Has the database forget, now and then, what tells batches apart that nobody asks for any more.
pub async fn tidy(inner: Arc<Inner>) {
    const PAUSE: Duration = Duration::from_secs(6 * 3600);
    /// What one call forgets at most; one that forgets less was the last.
    const AT_A_TIME: i64 = 10_000;
    loop {
        sleep(PAUSE).await;
        while let Ok(connection) = inner.connection().await {
            let asked = connection.query_one("select clampbook.forget_batches()", &[]);
            // Who may only read leaves it to others.
            match timeout(inner.sharing.patience * 6, asked).await {
                Ok(Ok(row)) if row.get::<_, i64>(0) >= AT_A_TIME => {}
                _ => break,
            }
        }
    }
}
