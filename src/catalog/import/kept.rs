//! What an import will store once it is decided: in memory while it is little, else in a file without a name.

use super::super::{Catalog, CatalogError, Expected};
use super::ahead::meanwhile;
use super::{ImportOptions, ImportReport};
use crate::query::State;
use crate::record::Record;
use crate::store::{Ready, ReadyRecord, pack};
use rayon::prelude::*;
use std::io::{self, BufReader, BufWriter, Read, Seek, Write};
use tempfile::SpooledTempFile;

/// How many bytes are kept in memory.
const IN_MEMORY: usize = 4 << 20;
/// How many bytes are read and written at a time.
const AT_A_TIME: usize = 1 << 18;
/// The most records that are stored in one batch, all or none.
const ATOMIC_MAX: u64 = 5000;

/// Records that are to be stored, each with the revision that must stand there then.
#[derive(Debug)]
pub struct Kept {
    file: BufWriter<SpooledTempFile>,
    records: u64,
    /// Whether some of them may have been stored before: then what stands there as it is kept is passed over.
    is_taken_up: bool,
}

impl Default for Kept {
    fn default() -> Self {
        let file = BufWriter::with_capacity(AT_A_TIME, SpooledTempFile::new(IN_MEMORY));
        Self { file, records: 0, is_taken_up: false }
    }
}

impl Kept {
    /// How many records there are.
    #[must_use]
    pub fn records(&self) -> u64 {
        self.records
    }

    /// Copies them out, to be taken up by [`Kept::taken_up`] later.
    ///
    /// # Errors
    /// If they can't be read or written.
    pub fn copy_to(&mut self, out: &mut impl Write) -> io::Result<()> {
        self.file.rewind()?;
        io::copy(self.file.get_mut(), out).map(drop)
    }

    /// What was copied out, by this process or by one before it. Nobody knows whether that one has stored some of it.
    ///
    /// # Errors
    /// If it can't be read.
    pub fn taken_up(mut from: impl Read, records: u64) -> io::Result<Self> {
        let mut kept = Self { records, is_taken_up: true, ..Self::default() };
        io::copy(&mut from, &mut kept.file)?;
        Ok(kept)
    }

    /// Keeps a record; `there` is the revision that stands there now.
    pub(super) fn keep(&mut self, record: &Record, there: Option<u64>) -> Result<(), CatalogError> {
        let packed = pack(record)?;
        let length = u32::try_from(packed.len()).map_err(|_| broken())?;
        let head = [&there.unwrap_or(0).to_be_bytes()[..], &length.to_be_bytes()].concat();
        self.records += 1;
        self.file.write_all(&head).and_then(|()| self.file.write_all(&packed)).map_err(CatalogError::keeping)
    }

    /// Stores the records. While some are stored the next ones are made ready on other threads.
    pub(super) fn store(
        &mut self,
        catalog: &Catalog,
        options: &ImportOptions,
        report: &mut ImportReport,
        on_progress: &mut dyn FnMut(&ImportReport),
    ) -> Result<(), CatalogError> {
        self.file.rewind().map_err(CatalogError::keeping)?;
        let batch = match self.records {
            ..=ATOMIC_MAX => ATOMIC_MAX as usize,
            records => records_of_a_batch(records, options, catalog),
        };
        let (mut left, is_taken_up) = (self.records, self.is_taken_up);
        let mut file = BufReader::with_capacity(AT_A_TIME, self.file.get_mut());
        // Batches end where blocks of the index end, so that each block is written once.
        let mut room = batch - catalog.store().slots() as usize % batch;
        if self.records <= ATOMIC_MAX {
            room = batch;
        }
        let mut some = || {
            let count = left.min(room as u64);
            (left, room) = (left - count, batch);
            (0..count).map(|_| read(&mut file)).collect::<Result<Vec<_>, _>>()
        };
        // What was taken up may have been stored by whoever kept it.
        let ready_of = |packed| ready_of(packed, |record| Ok(!is_taken_up || !stands_there(catalog, record)?));
        let packed = some()?;
        let (mut count, mut ready) = (packed.len(), ready_of(packed)?);
        while count > 0 {
            let next = some()?;
            let next_count = next.len();
            let store = || catalog.store().apply_ready(ready, &options.author);
            let (next_ready, stored) = meanwhile(|| ready_of(next), store);
            stored?;
            report.stored += count as u64;
            on_progress(report);
            (count, ready) = (next_count, next_ready?);
        }
        Ok(())
    }
}

/// How many of so many records go into one batch. With each batch most entries of the index are written again that lie beside
/// its terms, so of many records more go into one. Where others write to the same database they need not wait so long.
fn records_of_a_batch(records: u64, options: &ImportOptions, catalog: &Catalog) -> usize {
    /// Batches that are so large are still one of so many.
    const PARTS: u64 = 16;
    /// More would take too much memory.
    const TIMES_MOST: u64 = 2;
    let batch = options.batch.max(1);
    let times = (records / (PARTS * batch as u64)).clamp(1, TIMES_MOST);
    if catalog.store().standing().is_some() { batch } else { batch * times as usize }
}

/// Makes records as they lay in the file ready to be stored, those that are wanted.
fn ready_of(
    packed: Vec<(Vec<u8>, Expected)>,
    is_wanted: impl Fn(&Record) -> Result<bool, CatalogError> + Sync,
) -> Result<Ready, CatalogError> {
    let one = |(packed, expected)| {
        let read = ReadyRecord::of(packed, expected).map_err(|_| broken())?;
        Ok(is_wanted(read.record())?.then_some(read))
    };
    let records = packed.into_par_iter().map(one).collect::<Result<Vec<_>, CatalogError>>()?;
    Ok(Ready::of(records.into_iter().flatten().collect()))
}

/// Reads a record as it lies in the file, with what must stand there.
fn read(file: &mut impl Read) -> Result<(Vec<u8>, Expected), CatalogError> {
    let (mut there, mut length) = ([0; 8], [0; 4]);
    file.read_exact(&mut there).and_then(|()| file.read_exact(&mut length)).map_err(CatalogError::keeping)?;
    let mut packed = vec![0; u32::from_be_bytes(length) as usize];
    file.read_exact(&mut packed).map_err(CatalogError::keeping)?;
    let there = u64::from_be_bytes(there);
    Ok((packed, if there == 0 { Expected::New } else { Expected::Revision(there) }))
}

fn broken() -> CatalogError {
    CatalogError::keeping(std::io::Error::other("what was kept is not what was written"))
}

/// Whether a record stands there as it is to be stored.
fn stands_there(catalog: &Catalog, record: &Record) -> Result<bool, CatalogError> {
    let there = catalog.get(record.id())?;
    Ok(there.is_some_and(|there| there.state == State::Current && *there.record == *record))
}
