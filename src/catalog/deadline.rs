//! How long somebody waits for an answer: what looks at many records looks at the clock now and then, too.

use super::{Catalog, CatalogError};
use std::time::{Duration, Instant};

/// After how many records the clock is looked at.
const RECORDS_BETWEEN: usize = 64;
/// How long to sleep before something is tried again that somebody is at.
pub(super) const PAUSE: Duration = Duration::from_millis(2);

/// Until when an answer is waited for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Deadline(Option<Instant>);

impl Deadline {
    /// At a moment.
    #[must_use]
    pub fn at(moment: Instant) -> Self {
        Self(Some(moment))
    }

    fn is_over(self) -> bool {
        self.0.is_some_and(|moment| Instant::now() >= moment)
    }

    /// Goes on as long as there is time.
    ///
    /// # Errors
    /// [`CatalogError::OutOfTime`] if there is none left.
    pub(super) fn check(self) -> Result<(), CatalogError> {
        if self.is_over() { Err(CatalogError::OutOfTime) } else { Ok(()) }
    }

    /// Whether there is time for one more record; the clock is looked at now and then only.
    pub(super) fn has_time_for(self, number: usize) -> bool {
        !number.is_multiple_of(RECORDS_BETWEEN) || !self.is_over()
    }

    /// These things, as long as there is time for them. Whether that was long enough [`Deadline::check`] says afterwards.
    pub(super) fn while_there_is_time<T>(self, things: impl Iterator<Item = T>) -> impl Iterator<Item = T> {
        things.enumerate().take_while(move |(number, _)| self.has_time_for(*number)).map(|(_, thing)| thing)
    }

    /// Tries something until it is done or there is no time left; nothing where nobody minds how long it takes.
    pub(super) fn tried<T>(self, mut something: impl FnMut() -> Option<T>) -> Result<Option<T>, CatalogError> {
        if self.0.is_none() {
            return Ok(None);
        }
        loop {
            if let Some(done) = something() {
                return Ok(Some(done));
            }
            self.check()?;
            std::thread::sleep(PAUSE);
        }
    }
}

impl Catalog {
    /// The same book, for somebody who waits until then: what would take longer is an error.
    #[must_use]
    pub fn until(&self, deadline: Deadline) -> Self {
        Self { inner: self.inner.clone(), deadline, waits: self.waits }
    }

    /// The same book, for somebody who keeps others from their answers as long as they wait: what the audit has not come to is told
    /// to be pending at once.
    #[must_use]
    pub fn without_waiting(&self) -> Self {
        Self { waits: false, ..self.clone() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::query::Query;

    fn book() -> Catalog {
        let book = Catalog::in_memory().unwrap();
        let line = |n| {
            format!(
                "{{\"kind\":\"fastener\",\"id\":\"a.b.c{n}\",\"joint\":\"a.b\",\"thread\":\"M8\",\"stages\":[\"20 N·m\"]}}\n"
            )
        };
        let lines: String = (0..200).map(line).collect();
        assert_eq!(book.import(lines.as_bytes(), &super::super::ImportOptions::default()).unwrap().stored, 200);
        book
    }

    #[test]
    fn what_looks_at_every_record_ends_when_nobody_waits_any_more() {
        let book = book();
        let late = book.until(Deadline::at(Instant::now()));
        let early = book.until(Deadline::at(Instant::now() + Duration::from_secs(600)));
        for question in [[("facets", "within")], [("as_of", "2100-01-01")]] {
            let question = Query::parse(question).unwrap();
            assert!(matches!(late.find(&question), Err(CatalogError::OutOfTime)), "{question:?}");
            assert_eq!(early.find(&question).unwrap(), book.find(&question).unwrap());
        }
        // What the index answers, and one record, are there at once.
        let by_index = Query::parse([("thread", "M8"), ("take", "5")]).unwrap();
        assert_eq!(late.find(&by_index).unwrap().items.len(), 5);
    }

    #[test]
    fn the_clock_is_looked_at_between_pieces() {
        let slow = std::iter::repeat_with(|| std::thread::sleep(Duration::from_micros(200)));
        let deadline = Deadline::at(Instant::now() + Duration::from_millis(30));
        let count = deadline.while_there_is_time(slow).count();
        assert!(count > 0 && count.is_multiple_of(RECORDS_BETWEEN), "{count}");
        assert!(deadline.check().is_err() && Deadline::default().check().is_ok());
    }
}
