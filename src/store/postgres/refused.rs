//! What the database says no with, in words: what, where, what to do.

use super::settings::Settings;
use crate::store::engine::EngineError;
use deadpool_postgres::{PoolError, TimeoutType};
use std::error::Error as _;
use tokio_postgres::Error;
use tokio_postgres::error::SqlState;

/// An error of the driver.
pub fn told(error: &Error, settings: &Settings) -> EngineError {
    let place = &settings.place;
    let user = settings.config.get_user().unwrap_or("the user of this process");
    let database = settings.config.get_dbname().unwrap_or(user);
    let Some(answer) = error.as_db_error() else {
        return without_answer(error, settings);
    };
    let said = answer.message();
    let code = answer.code();
    if [SqlState::INVALID_PASSWORD, SqlState::INVALID_AUTHORIZATION_SPECIFICATION].contains(code) {
        return EngineError::Refused(format!(
            "{place}: the database does not let \"{user}\" in ({said}). Correct user and password: in PGPASSWORD, the file PGPASSFILE, or the address"
        ));
    }
    if *code == SqlState::INVALID_CATALOG_NAME {
        return EngineError::Refused(format!(
            "{place}: there is no database \"{database}\" there. Make it with `createdb {database}`, then run `clampbook store prepare`"
        ));
    }
    if *code == SqlState::INSUFFICIENT_PRIVILEGE {
        return EngineError::Refused(format!(
            "{place}: \"{user}\" may not do this ({said}). Its owner grants it with `clampbook store prepare --reader {user}` or `--writer {user}`"
        ));
    }
    if [SqlState::UNDEFINED_TABLE, SqlState::INVALID_SCHEMA_NAME].contains(code) {
        return unprepared(settings);
    }
    if is_passing(code) {
        return EngineError::Away(format!("{place}: {said}"));
    }
    EngineError::Refused(format!("{place}: the database refused: {said} ({})", code.code()))
}

/// The database holds no book.
pub fn unprepared(settings: &Settings) -> EngineError {
    let place = &settings.place;
    EngineError::Refused(format!(
        "{place}: this database holds no book. Its owner makes one with `clampbook store prepare`"
    ))
}

/// Whether it may be otherwise in a while.
fn is_passing(code: &SqlState) -> bool {
    /// Connections, resources, interventions, and writes that a standby does not take.
    const CLASSES: &[&str] = &["08", "53", "57", "25", "40", "55"];
    CLASSES.contains(&&code.code()[..2])
}

fn without_answer(error: &Error, settings: &Settings) -> EngineError {
    let place = &settings.place;
    let mut said = error.to_string();
    let mut cause = error.source();
    let mut is_of_tls = said.contains("TLS");
    while let Some(deeper) = cause {
        said = format!("{said}: {deeper}");
        is_of_tls |= deeper.downcast_ref::<rustls::Error>().is_some();
        cause = deeper.source();
    }
    if said.contains("password missing") {
        return EngineError::Refused(format!(
            "{place}: the database wants a password and none is known. Give it in PGPASSWORD, the file PGPASSFILE, or the address"
        ));
    }
    if is_of_tls || said.contains("invalid peer certificate") {
        return EngineError::Refused(format!(
            "{place}: no encrypted connection ({said}). Name the certificate to trust with sslrootcert=FILE in the address, or rule encryption out with sslmode=disable"
        ));
    }
    EngineError::Away(format!("{place}: {said}"))
}

/// An error of the pool of connections.
pub fn of_pool(
    error: &PoolError,
    settings: &Settings,
    connections: usize,
    patience: std::time::Duration,
) -> EngineError {
    let place = &settings.place;
    let seconds = patience.as_secs_f64();
    match error {
        PoolError::Backend(error) => told(error, settings),
        PoolError::Timeout(TimeoutType::Wait) => EngineError::Away(format!(
            "{place}: all {connections} connections of this process are busy, and none came free within {seconds} s"
        )),
        PoolError::Timeout(_) => EngineError::Away(format!("{place}: no answer within {seconds} s")),
        other => EngineError::Away(format!("{place}: {other}")),
    }
}
