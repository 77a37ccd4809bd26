//! The reading copy: every pair of a closed store in one sorted file, so that a look-up need not open the engine.
//!
//! Opening the engine costs some milliseconds, writes its files and needs the lock. A command that only reads takes
//! the copy instead. It is derived: whoever opens the engine removes it first, so that it never outlives a write;
//! it names the change that it ends with, which the witness must confirm, and what the engine's files looked like.
//! Every block has a checksum, and every value in it its own. A copy that is not whole is made anew from the engine.
//!
//! ```text
//! blocks   pairs in order: [key length u16][value length u32][key][value]
//! table    for each block: [offset u64][length u32][crc32 u32][key length u16][first key]
//! foot     [mark][table offset u64][table length u32][table crc32 u32][sequence u64][digest u128][look u64][crc32 u32]
//! ```

use super::engine::{Batch, Engine, EngineError, Pair};
use super::seal::{self, Look};
use super::witness::Note;
use sha2::{Digest, Sha256};
use std::collections::HashMap;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::ops::Range;
use std::os::unix::fs::FileExt;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};

/// The name of its file.
pub const READING_COPY: &str = "reading-copy";
const MARK: &[u8; 8] = b"reading1";
const FOOT: usize = 8 + 8 + 4 + 4 + 8 + 16 + 8 + 4;
/// About how many bytes one block has.
const BLOCK: usize = 16 << 10;
/// How many blocks are kept in memory.
const BLOCKS_IN_MEMORY: usize = 512;
/// How many pairs are read from the engine at a time.
const AT_A_TIME: usize = 512;

/// Writes the blocks and the table; without a foot it is no reading copy yet.
pub fn write(path: &Path, engine: &dyn Engine) -> std::io::Result<Unfinished> {
    let mut file = BufWriter::with_capacity(1 << 18, File::create(path)?);
    let mut unfinished = Unfinished { table: Vec::new(), blocks_end: 0 };
    let mut block = Vec::new();
    let mut from = Vec::new();
    loop {
        let pairs = engine.scan(&from, &[0xff], AT_A_TIME).map_err(std::io::Error::other)?;
        for (key, value) in &pairs {
            push(&mut block, key, value)?;
            if block.len() >= BLOCK {
                unfinished.end_block(&mut file, &mut block)?;
            }
        }
        match pairs.last() {
            Some((key, _)) if pairs.len() == AT_A_TIME => from = [key.as_slice(), &[0]].concat(),
            _ => break,
        }
    }
    unfinished.end_block(&mut file, &mut block)?;
    file.write_all(&unfinished.table)?;
    file.flush()?;
    Ok(unfinished)
}

fn push(block: &mut Vec<u8>, key: &[u8], value: &[u8]) -> std::io::Result<()> {
    let too_long = |_| std::io::Error::other("a key or a value is too long");
    block.extend(u16::try_from(key.len()).map_err(too_long)?.to_be_bytes());
    block.extend(u32::try_from(value.len()).map_err(too_long)?.to_be_bytes());
    block.extend(key);
    block.extend(value);
    Ok(())
}

/// A copy whose foot is not written yet.
#[derive(Debug)]
pub struct Unfinished {
    table: Vec<u8>,
    blocks_end: u64,
}

impl Unfinished {
    fn end_block(&mut self, file: &mut impl Write, block: &mut Vec<u8>) -> std::io::Result<()> {
        let Some((key, _)) = pair_at(block, 0) else { return Ok(()) };
        let length = u32::try_from(block.len()).map_err(std::io::Error::other)?;
        self.table.extend(self.blocks_end.to_be_bytes());
        self.table.extend(length.to_be_bytes());
        self.table.extend(crc32fast::hash(block).to_be_bytes());
        self.table.extend(&block[..2]);
        self.table.extend(&block[key]);
        self.blocks_end += u64::from(length);
        file.write_all(block)?;
        block.clear();
        Ok(())
    }

    /// Writes the foot: which state of the store it is, and what the engine's files look like now.
    pub fn finish(self, path: &Path, note: Note, look: &Look) -> std::io::Result<()> {
        let mut foot = Vec::with_capacity(FOOT);
        foot.extend(MARK);
        foot.extend(self.blocks_end.to_be_bytes());
        foot.extend(u32::try_from(self.table.len()).map_err(std::io::Error::other)?.to_be_bytes());
        foot.extend(crc32fast::hash(&self.table).to_be_bytes());
        foot.extend(note.sequence.to_be_bytes());
        foot.extend(note.digest.to_be_bytes());
        foot.extend(number_of(look).to_be_bytes());
        foot.extend(crc32fast::hash(&foot).to_be_bytes());
        File::options().append(true).open(path)?.write_all(&foot)
    }
}

/// A number that stands for a look.
fn number_of(look: &Look) -> u64 {
    let mut hash = Sha256::new();
    for (path, bytes, changed) in look {
        let since = changed.and_then(|changed| changed.duration_since(std::time::UNIX_EPOCH).ok());
        // Names below the folder, so that a store that was moved is the same.
        let name = path.file_name().unwrap_or_default().as_encoded_bytes();
        hash.update(name.len().to_be_bytes());
        hash.update(name);
        hash.update(bytes.to_be_bytes());
        hash.update(since.map_or(0, |since| since.as_nanos()).to_be_bytes());
    }
    hash.finalize().iter().take(8).fold(0, |number, byte| number << 8 | u64::from(*byte))
}

/// A reading copy that is open.
pub struct ReadingCopy {
    file: File,
    table: Vec<u8>,
    blocks: Vec<Block>,
    note: Note,
    read: Mutex<HashMap<usize, Arc<Pairs>>>,
}

struct Block {
    offset: u64,
    length: usize,
    crc: u32,
    /// Where its first key lies in the table.
    first: Range<usize>,
}

/// The pairs of a block: its bytes, and where each pair begins.
struct Pairs {
    bytes: Vec<u8>,
    starts: Vec<usize>,
}

/// Where the key and the value of the pair that begins here lie.
fn pair_at(bytes: &[u8], at: usize) -> Option<(Range<usize>, Range<usize>)> {
    let key_length = u16::from_be_bytes(bytes.get(at..at + 2)?.try_into().ok()?);
    let value_length = u32::from_be_bytes(bytes.get(at + 2..at + 6)?.try_into().ok()?);
    let key = at + 6..at + 6 + usize::from(key_length);
    let value = key.end..key.end.checked_add(usize::try_from(value_length).ok()?)?;
    (value.end <= bytes.len()).then_some((key, value))
}

impl Pairs {
    fn of(bytes: Vec<u8>) -> Option<Self> {
        let (mut starts, mut at) = (Vec::new(), 0);
        while at < bytes.len() {
            starts.push(at);
            at = pair_at(&bytes, at)?.1.end;
        }
        Some(Self { bytes, starts })
    }

    /// The key and the value of the pair that begins at one of the starts.
    fn pair(&self, start: usize) -> (&[u8], &[u8]) {
        pair_at(&self.bytes, start).map_or((&[], &[]), |(key, value)| (&self.bytes[key], &self.bytes[value]))
    }

    /// The number of the first pair whose key is not before this one.
    fn first_from(&self, key: &[u8]) -> usize {
        self.starts.partition_point(|start| self.pair(*start).0 < key)
    }
}

impl ReadingCopy {
    /// Opens the reading copy of a store, if there is one and it is of the state that the witness knows last.
    #[must_use]
    pub fn open(store: &Path, data: &Path, known: Option<Note>) -> Option<Self> {
        let file = File::open(store.join(READING_COPY)).ok()?;
        let foot_at = file.metadata().ok()?.len().checked_sub(FOOT as u64)?;
        let mut foot = [0; FOOT];
        file.read_exact_at(&mut foot, foot_at).ok()?;
        let (body, crc) = foot.split_last_chunk::<4>()?;
        if crc32fast::hash(body) != u32::from_be_bytes(*crc) || !foot.starts_with(MARK) {
            return None;
        }
        let number = |at: usize| Some(u64::from_be_bytes(foot.get(at..at + 8)?.try_into().ok()?));
        let (table_at, lengths) = (number(8)?, number(16)?);
        let (table_length, table_crc) = (lengths >> 32, u32::try_from(lengths & 0xffff_ffff).ok()?);
        let digest = u128::from(number(32)?) << 64 | u128::from(number(40)?);
        let note = Note { sequence: number(24)?, digest };
        if known != Some(note) || number(48)? != number_of(&seal::look(data)) || table_at + table_length != foot_at {
            return None;
        }
        let mut table = vec![0; usize::try_from(table_length).ok()?];
        file.read_exact_at(&mut table, table_at).ok()?;
        if crc32fast::hash(&table) != table_crc {
            return None;
        }
        let blocks = blocks_of(&table)?;
        Some(Self { file, table, blocks, note, read: Mutex::default() })
    }

    /// The state of the store that it is a copy of.
    #[must_use]
    pub fn note(&self) -> Note {
        self.note
    }

    fn block(&self, number: usize) -> Result<Arc<Pairs>, EngineError> {
        let mut read = self.read.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(pairs) = read.get(&number) {
            return Ok(pairs.clone());
        }
        let block = &self.blocks[number];
        let mut bytes = vec![0; block.length];
        self.file.read_exact_at(&mut bytes, block.offset).map_err(EngineError::Io)?;
        let damaged = || EngineError::Damaged("a block of the reading copy is not what was written".to_owned());
        if crc32fast::hash(&bytes) != block.crc {
            return Err(damaged());
        }
        let pairs = Arc::new(Pairs::of(bytes).ok_or_else(damaged)?);
        if read.len() >= BLOCKS_IN_MEMORY {
            read.clear();
        }
        read.insert(number, pairs.clone());
        Ok(pairs)
    }

    /// The number of the block in which a key must be, if it is there.
    fn block_of(&self, key: &[u8]) -> usize {
        self.blocks.partition_point(|block| &self.table[block.first.clone()] <= key).saturating_sub(1)
    }
}

fn blocks_of(mut table: &[u8]) -> Option<Vec<Block>> {
    let mut blocks = Vec::new();
    let mut at = 0;
    while !table.is_empty() {
        let (offset, rest) = table.split_first_chunk::<8>()?;
        let (length, rest) = rest.split_first_chunk::<4>()?;
        let (crc, rest) = rest.split_first_chunk::<4>()?;
        let (key_length, rest) = rest.split_first_chunk::<2>()?;
        let key_length = usize::from(u16::from_be_bytes(*key_length));
        let first = at + 18..at + 18 + key_length;
        at = first.end;
        table = rest.get(key_length..)?;
        let length = usize::try_from(u32::from_be_bytes(*length)).ok()?;
        blocks.push(Block { offset: u64::from_be_bytes(*offset), length, crc: u32::from_be_bytes(*crc), first });
    }
    Some(blocks)
}

impl std::fmt::Debug for ReadingCopy {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("ReadingCopy").field("note", &self.note).finish_non_exhaustive()
    }
}

impl Engine for ReadingCopy {
    fn get(&self, key: &[u8]) -> Result<Option<Vec<u8>>, EngineError> {
        if self.blocks.is_empty() {
            return Ok(None);
        }
        let pairs = self.block(self.block_of(key))?;
        let Some(start) = pairs.starts.get(pairs.first_from(key)) else { return Ok(None) };
        let (found, value) = pairs.pair(*start);
        Ok((found == key).then(|| value.to_vec()))
    }

    fn scan(&self, from: &[u8], below: &[u8], limit: usize) -> Result<Vec<Pair>, EngineError> {
        let mut found = Vec::new();
        if from >= below {
            return Ok(found);
        }
        for number in self.block_of(from)..self.blocks.len() {
            let pairs = self.block(number)?;
            for start in &pairs.starts[pairs.first_from(from)..] {
                let (key, value) = pairs.pair(*start);
                if found.len() >= limit || key >= below {
                    return Ok(found);
                }
                found.push((key.to_vec(), value.to_vec()));
            }
        }
        Ok(found)
    }

    fn apply(&self, _: &Batch) -> Result<(), EngineError> {
        Err(EngineError::Io(std::io::Error::other("a reading copy takes no writes")))
    }

    fn sync(&self) -> Result<(), EngineError> {
        Ok(())
    }
}
