//! The index: for every value of every field that is asked about, the set of records that have it.
//!
//! A set is kept in blocks of 4096 slots, so that a value takes few entries however many records have it. The
//! blocks are written in the same batch as the records. The index is derived: it can be rebuilt from the records.

use super::bits::{self, BLOCK_SLOTS, Bits, Block};
use super::bytes;
use super::engine::{Batch, Engine, Pair};
use super::error::StoreError;
use super::keys;
use super::known_sets::Written;
use super::layout::v1;
use crate::query::{Field, each_word_of, final_torque, torque_bytes};
use crate::record::Record;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};
use std::ops::Range;
use std::sync::Arc;

/// The version of the terms below. A store whose index has another one is answered without it until it is rebuilt.
pub const VERSION: u32 = 1;

/// What records can have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Index {
    /// A value of a field; the empty one where a record has none.
    Field(Field),
    /// A word.
    Word,
    /// The lower end of the final torque, in newton-metres.
    TorqueLow,
    /// The higher end of the final torque, in newton-metres.
    TorqueHigh,
}

impl Index {
    /// The byte that stands for it in a key. These numbers never change their meaning.
    pub fn code(self) -> u8 {
        match self {
            Self::Word => 1,
            Self::TorqueLow => 2,
            Self::TorqueHigh => 3,
            Self::Field(field) => match field {
                Field::Kind => 10,
                Field::Head => 11,
                Field::Drive => 12,
                Field::Thread => 13,
                Field::PropertyClass => 14,
                Field::Role => 15,
                Field::Reuse => 16,
                Field::Locking => 17,
                Field::Hand => 18,
                Field::Within => 19,
                Field::Joint => 20,
                Field::Position => 21,
                Field::Variant => 22,
                Field::Checked => 23,
                Field::PartNo => 24,
                Field::Angle => 25,
                Field::Document => 26,
            },
        }
    }

    /// Whether the store keeps this index. The joint of a fastener is found by its path instead.
    #[must_use]
    pub fn is_kept(self) -> bool {
        self != Self::Field(Field::Joint)
    }
}

/// A value in an index.
pub type Term = Vec<u8>;

/// A term of an index.
pub fn term(index: Index, value: &[u8]) -> Term {
    [&[index.code()], value].concat()
}

/// A term in words, for messages.
pub fn in_words(term: &[u8]) -> String {
    let value = String::from_utf8_lossy(term.get(1..).unwrap_or_default());
    match term.first() {
        Some(1) => format!("the word \"{value}\""),
        Some(2 | 3) => "the torque".to_owned(),
        Some(code) => {
            let field = Field::ALL.iter().find(|field| Index::Field(**field).code() == *code);
            format!("{} \"{value}\"", field.map_or("a field", |field| field.name()))
        }
        None => "an empty term".to_owned(),
    }
}

/// The value of a torque in an index: bytes that compare like it, and never begin like a text or with zero.
pub fn torque_value(newton_meters: f64) -> [u8; 9] {
    let bytes = torque_bytes(newton_meters);
    std::array::from_fn(|i| if i == 0 { 1 } else { bytes[i - 1] })
}

/// The terms of a record, in order, each once.
pub fn terms_of(record: &Record) -> Vec<Term> {
    let mut terms = Vec::with_capacity(48);
    for field in Field::ALL.iter().copied().filter(|field| Index::Field(*field).is_kept()) {
        let mut values = field.values(record);
        if field == Field::Within && record.as_fastener().is_some() {
            // The fastener itself is found by its id.
            values.pop();
        }
        if values.is_empty() {
            values.push(String::new());
        }
        terms.extend(values.iter().map(|value| term(Index::Field(field), value.as_bytes())));
    }
    each_word_of(record, &mut |word| terms.push(term(Index::Word, word.as_bytes())));
    let torque = record.as_fastener().and_then(final_torque);
    let ends = torque.map(|(low, high)| (torque_value(low.newton_meters()), torque_value(high.newton_meters())));
    terms.push(term(Index::TorqueLow, ends.as_ref().map_or(&[], |(low, _)| low)));
    terms.push(term(Index::TorqueHigh, ends.as_ref().map_or(&[], |(_, high)| high)));
    terms.sort_unstable();
    terms.dedup();
    terms
}

#[derive(Serialize, Deserialize)]
enum BlockV1 {
    Few(Vec<u16>),
    Many(Vec<u64>),
}

/// From how many slots on a block is written as bits.
const MANY: usize = 200;

fn encode(key: &[u8], block: &Block) -> Result<Vec<u8>, StoreError> {
    let few: Vec<u16> = bits::slots_within(block).take(MANY).collect();
    let form = if few.len() < MANY { BlockV1::Few(few) } else { BlockV1::Many(block.to_vec()) };
    bytes::encode(key, v1::SCHEMA, &form)
}

/// Reads a block.
pub fn decode(key: &[u8], value: &[u8]) -> Result<Box<Block>, StoreError> {
    let mut block: Box<Block> = Box::new([0; BLOCK_SLOTS as usize / 64]);
    match bytes::decode(key, v1::SCHEMA, value)? {
        BlockV1::Few(slots) if slots.iter().all(|slot| u32::from(*slot) < BLOCK_SLOTS) => {
            slots.iter().for_each(|slot| bits::set(&mut block, u32::from(*slot), true));
        }
        BlockV1::Many(words) if words.len() == block.len() => block.copy_from_slice(&words),
        _ => return Err(StoreError::damaged_value(key, "it is no set of records")),
    }
    Ok(block)
}

/// What the index held under some keys before the batch that is being written.
#[derive(Debug, Default)]
pub struct Before(BTreeMap<Vec<u8>, Option<Vec<u8>>>);

impl Before {
    /// Makes pairs of a range what they were before the batch, whether or not they were read after it.
    fn undo(&self, range: &Range<Vec<u8>>, pairs: &mut Vec<Pair>) {
        for (key, value) in self.0.range::<Vec<u8>, _>(&range.start..&range.end) {
            match (pairs.binary_search_by(|(there, _)| there.cmp(key)), value) {
                (Ok(at), Some(value)) => pairs[at].1.clone_from(value),
                (Ok(at), None) => drop(pairs.remove(at)),
                (Err(at), Some(value)) => pairs.insert(at, (key.clone(), value.clone())),
                (Err(_), None) => {}
            }
        }
    }

    /// The terms of a range that the batch touches.
    pub fn terms<'b>(&'b self, range: &Range<Vec<u8>>) -> impl Iterator<Item = &'b [u8]> {
        let keys = self.0.range::<Vec<u8>, _>(&range.start..&range.end);
        keys.filter_map(|(key, _)| keys::term_and_block(key).ok().map(|(term, _)| term))
    }
}

/// The sets of all terms from one to another, both included, in order. `before` is asked when all was read: what the
/// index held before a batch that may have been written meanwhile.
pub fn load(
    engine: &dyn Engine,
    before: impl FnOnce() -> Option<Arc<Before>>,
    first: &[u8],
    last: &[u8],
) -> Result<Vec<(Term, Bits)>, StoreError> {
    /// How many pairs are read at a time.
    const AT_A_TIME: usize = 256;
    let range = keys::blocks(first, last);
    let mut from = range.start.clone();
    let mut pairs = Vec::new();
    loop {
        let mut more = engine.scan(&from, &range.end, AT_A_TIME)?;
        let is_all = more.len() < AT_A_TIME;
        pairs.append(&mut more);
        match pairs.last() {
            Some((key, _)) if !is_all => from = [key.as_slice(), &[0]].concat(),
            _ => break,
        }
    }
    if let Some(before) = before() {
        before.undo(&range, &mut pairs);
    }
    let mut sets: Vec<(Term, Bits)> = Vec::new();
    for (key, value) in &pairs {
        let (term, number) = keys::term_and_block(key)?;
        if sets.last().is_none_or(|(last, _)| last != term) {
            sets.push((term.to_vec(), Bits::default()));
        }
        if let Some((_, set)) = sets.last_mut() {
            set.push(number, &*decode(key, value)?);
        }
    }
    Ok(sets)
}

/// A block as it becomes, and the value that it had.
type Change = (Box<Block>, Option<Vec<u8>>);

/// Blocks that are being changed, until they go into a batch, each with the value that it had.
pub struct Touched {
    blocks: HashMap<Vec<u8>, Change>,
    /// From this block on the index holds nothing yet.
    empty_from: u32,
}

impl Touched {
    /// Nothing touched, in an index of so many slots.
    pub fn new(slots: u32) -> Self {
        Self { blocks: HashMap::new(), empty_from: slots.div_ceil(BLOCK_SLOTS) }
    }

    /// Enters that new records have a term, by their slots.
    pub fn add(
        &mut self,
        engine: &dyn Engine,
        term: &[u8],
        slots: impl Iterator<Item = u32>,
    ) -> Result<(), StoreError> {
        let mut slots = slots.peekable();
        while let Some(first) = slots.peek().copied() {
            let block = self.block(engine, term, first)?;
            while let Some(slot) = slots.next_if(|slot| slot / BLOCK_SLOTS == first / BLOCK_SLOTS) {
                bits::set(block, slot, true);
            }
        }
        Ok(())
    }

    /// Enters what a record has become: the terms it has left and those it has joined, of lists that are in order.
    pub fn change(&mut self, engine: &dyn Engine, slot: u32, before: &[Term], now: &[Term]) -> Result<(), StoreError> {
        for (terms, others, there) in [(before, now, false), (now, before, true)] {
            for term in terms.iter().filter(|term| others.binary_search(term).is_err()) {
                bits::set(self.block(engine, term, slot)?, slot, there);
            }
        }
        Ok(())
    }

    fn block(&mut self, engine: &dyn Engine, term: &[u8], slot: u32) -> Result<&mut Block, StoreError> {
        use std::collections::hash_map::Entry;
        let number = slot / BLOCK_SLOTS;
        match self.blocks.entry(keys::block(term, number)) {
            Entry::Occupied(block) => Ok(&mut block.into_mut().0),
            Entry::Vacant(place) => {
                let value = if number < self.empty_from { engine.get(place.key())? } else { None };
                let block = match &value {
                    Some(value) => decode(place.key(), value)?,
                    None => Box::new([0; BLOCK_SLOTS as usize / 64]),
                };
                Ok(&mut place.insert((block, value)).0)
            }
        }
    }

    /// Puts the changed blocks into a batch; empty ones are removed. Gives what they were and what they become.
    pub fn into_batch(self, batch: &mut Batch) -> Result<(Before, Written), StoreError> {
        let (mut before, mut written) = (Vec::with_capacity(self.blocks.len()), Written::new());
        let mut changes = Vec::with_capacity(self.blocks.len());
        let mut blocks: Vec<_> = self.blocks.into_iter().collect();
        blocks.sort_unstable_by(|(one, _), (other, _)| one.cmp(other));
        for (key, (block, value)) in blocks {
            let (term, number) = keys::term_and_block(&key)?;
            let is_empty = block.iter().all(|word| *word == 0);
            let new = if is_empty { None } else { Some(encode(&key, &block)?) };
            match written.last_entry() {
                Some(mut last) if last.key() == term => last.get_mut().push((number, block)),
                _ => drop(written.insert(term.to_vec(), vec![(number, block)])),
            }
            changes.push((key.clone(), new));
            before.push((key, value));
        }
        batch.change_all(changes);
        Ok((Before(before.into_iter().collect()), written))
    }
}
