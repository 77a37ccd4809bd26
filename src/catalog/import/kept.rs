//! What an import will store once it is decided: in memory while it is little, else in a file without a name.

use super::super::{Catalog, CatalogError, Expected, Write as StoreWrite};
use super::ahead::meanwhile;
use super::{ImportOptions, ImportReport};
use crate::query::State;
use crate::record::Record;
use crate::store::{pack, unpack};
use rayon::prelude::*;
use std::io::{self, BufReader, Read, Seek, Write};
use tempfile::SpooledTempFile;

/// How many bytes are kept in memory.
const IN_MEMORY: usize = 4 << 20;
/// The most records that are stored in one batch, all or none.
const ATOMIC_MAX: u64 = 5000;

/// Records that are to be stored, each with the revision that must stand there then.
#[derive(Debug)]
pub struct Kept {
    file: SpooledTempFile,
    records: u64,
    /// Whether some of them may have been stored before: then what stands there as it is kept is passed over.
    is_taken_up: bool,
}

impl Default for Kept {
    fn default() -> Self {
        Self { file: SpooledTempFile::new(IN_MEMORY), records: 0, is_taken_up: false }
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
        io::copy(&mut self.file, out).map(drop)
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

    /// Stores the records. While some are stored the next ones are made ready.
    pub(super) fn store(
        &mut self,
        catalog: &Catalog,
        options: &ImportOptions,
        report: &mut ImportReport,
        on_progress: &mut dyn FnMut(&ImportReport),
    ) -> Result<(), CatalogError> {
        self.file.rewind().map_err(CatalogError::keeping)?;
        let batch = if self.records <= ATOMIC_MAX { ATOMIC_MAX as usize } else { options.batch.max(1) };
        let (mut left, is_taken_up) = (self.records, self.is_taken_up);
        let mut file = BufReader::with_capacity(1 << 18, &mut self.file);
        // Batches end where blocks of the index end, so that each block is written once.
        let mut room = batch - catalog.store().slots() as usize % batch;
        if self.records <= ATOMIC_MAX {
            room = batch;
        }
        let mut some = || {
            let count = left.min(room as u64);
            (left, room) = (left - count, batch);
            (0..count).map(|_| Packed::read(&mut file)).collect::<Result<Vec<_>, _>>()
        };
        let mut writes = writes_of(some()?)?;
        while !writes.is_empty() {
            let next = some()?;
            let count = writes.len() as u64;
            let writes_now = if is_taken_up { not_there_yet(catalog, writes)? } else { writes };
            let (next, stored) = meanwhile(|| writes_of(next), || catalog.apply(writes_now, &options.author));
            stored?;
            report.stored += count;
            on_progress(report);
            writes = next?;
        }
        Ok(())
    }
}

/// A record as it lies in the file.
struct Packed {
    /// The revision that must stand there; 0 for none.
    there: u64,
    bytes: Vec<u8>,
}

impl Packed {
    fn read(file: &mut impl Read) -> Result<Self, CatalogError> {
        let (mut there, mut length) = ([0; 8], [0; 4]);
        file.read_exact(&mut there).and_then(|()| file.read_exact(&mut length)).map_err(CatalogError::keeping)?;
        let mut bytes = vec![0; u32::from_be_bytes(length) as usize];
        file.read_exact(&mut bytes).map_err(CatalogError::keeping)?;
        Ok(Self { there: u64::from_be_bytes(there), bytes })
    }

    fn write(&self) -> Result<StoreWrite, CatalogError> {
        let record = unpack(&self.bytes).map_err(|_| broken())?;
        let expected = if self.there == 0 { Expected::New } else { Expected::Revision(self.there) };
        Ok(StoreWrite::Put { record: Box::new(record), expected })
    }
}

fn writes_of(packed: Vec<Packed>) -> Result<Vec<StoreWrite>, CatalogError> {
    packed.par_iter().map(Packed::write).collect()
}

fn broken() -> CatalogError {
    CatalogError::keeping(std::io::Error::other("what was kept is not what was written"))
}

/// The writes whose records do not stand there as they are to be stored.
fn not_there_yet(catalog: &Catalog, mut writes: Vec<StoreWrite>) -> Result<Vec<StoreWrite>, CatalogError> {
    let mut failed = None;
    writes.retain(|write| {
        let StoreWrite::Put { record, .. } = write else { return true };
        match catalog.get(record.id()) {
            Ok(there) => !there.is_some_and(|there| there.state == State::Current && *there.record == **record),
            Err(error) => failed.replace(error).is_none(),
        }
    });
    failed.map_or(Ok(writes), Err)
}
