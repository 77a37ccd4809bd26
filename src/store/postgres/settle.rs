//! Finding out whether a batch was stored when the connection died over its commit.

use super::Inner;
use super::mirror::At;
use super::write::number;
use crate::store::engine::EngineError;
use std::time::{Duration, Instant};
use tokio::time::{sleep, timeout};

/// What was found out.
pub enum Settled {
    Stored,
    NotStored,
    /// The database did not come back in time.
    Untold,
}

/// Looks for the token of a batch until the database answers or patience ends.
pub async fn settle(inner: &Inner, at: &At) -> Settled {
    let until = Instant::now() + inner.sharing.settling;
    while Instant::now() < until {
        match timeout(inner.sharing.patience * 3, look(inner, at)).await {
            Ok(Ok(true)) => return Settled::Stored,
            Ok(Ok(false)) => return Settled::NotStored,
            _ => sleep(Duration::from_millis(100)).await,
        }
    }
    Settled::Untold
}

/// The lock comes first: it is had only when the transaction that may still be under way over there has ended. The
/// update makes the commit wait for the standbys that commits wait for, and so for everything written before it.
async fn look(inner: &Inner, at: &At) -> Result<bool, EngineError> {
    let told = |error: tokio_postgres::Error| inner.told(&error);
    let mut connection = inner.connection().await?;
    let look = connection.transaction().await.map_err(told)?;
    look.query_one("select version from clampbook.book for update", &[]).await.map_err(told)?;
    let found = look
        .query_opt("select 1 from clampbook.batch where version = $1 and token = $2", &[&number(at.version), &at.token])
        .await
        .map_err(told)?;
    look.execute("update clampbook.pulse set at = clock_timestamp()", &[]).await.map_err(told)?;
    look.commit().await.map_err(told)?;
    Ok(found.is_some())
}
