//! The revisions of a batch as rows of JSON, for those who report on the book.

use crate::query::{State, Stored};
use crate::store::engine::EngineError;
use crate::store::revision;
use deadpool_postgres::Object;
use tokio_postgres::GenericClient;
use tokio_postgres::types::ToSql;

/// Columns of rows.
#[derive(Debug, Default)]
pub struct Rows {
    ids: Vec<String>,
    revisions: Vec<i64>,
    kinds: Vec<String>,
    states: Vec<String>,
    sequences: Vec<i64>,
    changed_at: Vec<i64>,
    changed_by: Vec<Option<String>>,
    why: Vec<Option<String>>,
    bodies: Vec<String>,
}

const INSERT: &str = "\
    insert into clampbook.record (id, revision, kind, state, sequence, changed_at, changed_by, why, body) \
    select i, r, k, s, q, timestamptz 'epoch' + c * interval '1 microsecond', b, w, j::jsonb \
    from unnest($1::text[], $2::bigint[], $3::text[], $4::text[], $5::bigint[], $6::bigint[], $7::text[], $8::text[], \
        $9::text[]) as t (i, r, k, s, q, c, b, w, j)";

/// The rows of the revisions among some changes.
///
/// # Errors
/// If one of them is no revision.
pub fn rows(changes: &[(&[u8], Option<&[u8]>)]) -> Result<Rows, EngineError> {
    let mut rows = Rows::default();
    for (key, value) in changes {
        if let Some(value) = value
            && crate::store::keys::is_revision(key)
        {
            rows.add(revision::decode(key, value).map_err(|error| EngineError::Damaged(error.to_string()))?)?;
        }
    }
    Ok(rows)
}

impl Rows {
    fn add(&mut self, stored: Stored) -> Result<(), EngineError> {
        let body = serde_json::to_string(&*stored.record).map_err(|error| EngineError::Damaged(error.to_string()))?;
        self.ids.push(stored.record.id().to_string());
        self.revisions.push(super::write::number(stored.revision));
        self.kinds.push(stored.record.kind().to_string());
        self.states.push(if stored.state == State::Current { "current" } else { "withdrawn" }.to_owned());
        self.sequences.push(super::write::number(stored.sequence));
        self.changed_at.push(stored.changed_at.as_microsecond());
        self.changed_by.push(stored.changed_by.map(|by| by.to_string()));
        self.why.push(stored.why.map(|why| why.to_string()));
        self.bodies.push(body);
        Ok(())
    }

    fn parameters(&self) -> [&(dyn ToSql + Sync); 9] {
        [
            &self.ids,
            &self.revisions,
            &self.kinds,
            &self.states,
            &self.sequences,
            &self.changed_at,
            &self.changed_by,
            &self.why,
            &self.bodies,
        ]
    }
}

/// Writes rows.
///
/// # Errors
/// What the database says.
pub async fn write(connection: &Object, rows: &Rows) -> Result<(), tokio_postgres::Error> {
    if !rows.ids.is_empty() {
        let insert = connection.prepare_cached(INSERT).await?;
        connection.execute(&insert, &rows.parameters()).await?;
    }
    Ok(())
}

/// Writes the rows of some pairs over a plain connection.
///
/// # Errors
/// If a pair is no revision; what the database says.
pub async fn fill(
    client: &impl GenericClient,
    pairs: &[(Vec<u8>, Vec<u8>)],
) -> Result<Result<u64, tokio_postgres::Error>, EngineError> {
    let changes: Vec<_> = pairs.iter().map(|(key, value)| (key.as_slice(), Some(value.as_slice()))).collect();
    let rows = rows(&changes)?;
    Ok(client.execute(INSERT, &rows.parameters()).await)
}
