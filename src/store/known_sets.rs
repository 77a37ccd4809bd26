//! Sets of the index that were read before, kept in memory and kept up with what is written.
//!
//! What is held is always the state after the last finished write. Whoever has read a set from the engine may add it only
//! if no write was finished meanwhile; a write prepares the sets that it changes beside the held ones, which readers go on
//! using, and swaps them in when it is finished.

use super::bits::{Bits, Block};
use super::index::{Index, Term};
use crate::query::Vocabulary;
use std::collections::{BTreeMap, HashMap};
use std::sync::{Arc, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};

/// About how many bytes are held; beyond that all is read anew.
const BYTES_MAX: usize = 96 << 20;
/// How many lists are held: every write looks at each of them.
const LISTS_MAX: usize = 256;

/// A term and the records in force that have it.
#[derive(Debug, Clone)]
pub struct Valued {
    term: Arc<[u8]>,
    /// The records.
    pub set: Arc<Bits>,
}

impl Valued {
    /// A term with its set.
    pub fn new(term: &[u8], set: Bits) -> Self {
        Self { term: term.into(), set: Arc::new(set) }
    }

    /// The value that they have.
    #[must_use]
    pub fn value(&self) -> &[u8] {
        self.term.get(1..).unwrap_or_default()
    }

    fn bytes(&self) -> usize {
        self.term.len() + self.set.bytes() + 64
    }
}

/// Terms in order.
pub type List = Vec<Valued>;

/// The blocks that a batch writes, by term.
pub type Written = BTreeMap<Term, Vec<(u32, Box<Block>)>>;

/// The first and the last term of a list, both included.
type Range = (Term, Term);

#[derive(Default)]
struct Held {
    single: HashMap<Term, Arc<Bits>>,
    lists: HashMap<Range, Arc<List>>,
    words: Option<Arc<Vocabulary>>,
    bytes: usize,
}

/// The sets that are held.
#[derive(Default)]
pub struct KnownSets {
    held: RwLock<Held>,
}

/// What a write makes of the sets that are held.
#[derive(Default)]
pub struct Prepared {
    single: Vec<(Term, Arc<Bits>)>,
    lists: Vec<(Range, Arc<List>)>,
    /// Words that are in the index now, or are not any more; nothing if no words were held.
    words: Option<Vec<(String, bool)>>,
}

impl KnownSets {
    fn read(&self) -> RwLockReadGuard<'_, Held> {
        self.held.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn write(&self) -> RwLockWriteGuard<'_, Held> {
        self.held.write().unwrap_or_else(PoisonError::into_inner)
    }

    /// The set of a term, if it is held.
    pub fn set(&self, term: &[u8]) -> Option<Arc<Bits>> {
        self.read().single.get(term).cloned()
    }

    /// The terms from one to another, if they are held.
    pub fn list(&self, range: &Range) -> Option<Arc<List>> {
        self.read().lists.get(range).cloned()
    }

    /// The words, if they are held.
    pub fn words(&self) -> Option<Arc<Vocabulary>> {
        self.read().words.clone()
    }

    fn add(&self, bytes: usize, is_of_now: impl FnOnce() -> bool, add: impl FnOnce(&mut Held)) {
        let mut held = self.write();
        // Asked with the lock in hand: whoever finishes a write after this finds what is added here.
        if is_of_now() {
            if held.bytes + bytes > BYTES_MAX {
                *held = Held::default();
            }
            held.bytes += bytes;
            add(&mut held);
        }
    }

    /// Holds the set of a term, if what it was read from is still the state of now.
    pub fn add_set(&self, term: Term, set: Arc<Bits>, is_of_now: impl FnOnce() -> bool) {
        self.add(term.len() + set.bytes() + 64, is_of_now, |held| drop(held.single.insert(term, set)));
    }

    /// Holds a list, if what it was read from is still the state of now.
    pub fn add_list(&self, range: Range, list: Arc<List>, is_of_now: impl FnOnce() -> bool) {
        let bytes = range.0.len() + range.1.len() + 128 + list.iter().map(Valued::bytes).sum::<usize>();
        self.add(bytes, is_of_now, |held| {
            if held.lists.len() >= LISTS_MAX {
                held.lists.clear();
            }
            held.lists.insert(range, list);
        });
    }

    /// Holds the words, if what they were read from is still the state of now.
    pub fn add_words(&self, words: Arc<Vocabulary>, is_of_now: impl FnOnce() -> bool) {
        let bytes = words.iter().map(|word| word.len() + 48).sum();
        self.add(bytes, is_of_now, |held| held.words = Some(words));
    }

    /// What a write makes of what is held. `is_left` says whether a term still has a record anywhere.
    pub fn prepare(&self, written: &Written, is_left: impl Fn(&[u8]) -> bool) -> Prepared {
        let held = self.read();
        let mut prepared = Prepared { words: held.words.is_some().then(Vec::new), ..Prepared::default() };
        for (term, blocks) in written {
            if let Some(set) = held.single.get(term) {
                prepared.single.push((term.clone(), Arc::new(changed(set, blocks))));
            }
            if let Some(words) = &mut prepared.words
                && term.first() == Some(&Index::Word.code())
            {
                let is_there = blocks.iter().any(|(_, block)| block.iter().any(|word| *word != 0)) || is_left(term);
                words.push((String::from_utf8_lossy(&term[1..]).into_owned(), is_there));
            }
        }
        for ((first, last), list) in &held.lists {
            let mut new: Option<List> = None;
            for (term, blocks) in written.range(first.clone()..=last.clone()) {
                change_in(new.get_or_insert_with(|| list.to_vec()), term, blocks);
            }
            prepared.lists.extend(new.map(|new| ((first.clone(), last.clone()), Arc::new(new))));
        }
        prepared
    }

    /// Swaps in what a write has made. What was added since it was prepared and is changed by it too is let go.
    pub fn swap(&self, written: &Written, prepared: Prepared) {
        let mut held = self.write();
        for term in written.keys() {
            held.single.remove(term);
        }
        held.lists.retain(|(first, last), _| written.range(first.clone()..=last.clone()).next().is_none());
        held.single.extend(prepared.single);
        held.lists.extend(prepared.lists);
        let Some(changes) = prepared.words else {
            held.words = None;
            return;
        };
        if let Some(words) = &mut held.words {
            for (word, is_there) in changes {
                if is_there != words.contains(&word) {
                    let words = Arc::make_mut(words);
                    if is_there {
                        words.insert(word)
                    } else {
                        words.remove(&word)
                    };
                }
            }
        }
    }

    /// Lets everything go.
    pub fn clear(&self) {
        *self.write() = Held::default();
    }
}

fn changed(set: &Bits, blocks: &[(u32, Box<Block>)]) -> Bits {
    let mut set = set.clone();
    blocks.iter().for_each(|(number, block)| set.replace(*number, block));
    set
}

fn change_in(list: &mut List, term: &[u8], blocks: &[(u32, Box<Block>)]) {
    match list.binary_search_by(|valued| (*valued.term).cmp(term)) {
        Ok(at) => {
            let set = changed(&list[at].set, blocks);
            if set.is_empty() {
                list.remove(at);
            } else {
                list[at].set = Arc::new(set);
            }
        }
        Err(at) => {
            let set = changed(&Bits::default(), blocks);
            if !set.is_empty() {
                list.insert(at, Valued::new(term, set));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(word: &str) -> Written {
        let mut block: Block = [0; _];
        block[0] = 1;
        Written::from([([&[Index::Word.code()], word.as_bytes()].concat(), vec![(0, Box::new(block))])])
    }

    fn words(of: &[&str]) -> Arc<Vocabulary> {
        Arc::new(of.iter().map(|word| (*word).to_owned()).collect())
    }

    #[test]
    fn words_follow_a_write_and_those_read_while_it_is_prepared_are_let_go() {
        let known = KnownSets::default();
        known.add_words(words(&["pump"]), || true);
        let batch = written("cover");
        known.swap(&batch, known.prepare(&batch, |_| false));
        assert_eq!(known.words(), Some(words(&["cover", "pump"])));
        known.clear();
        let prepared = known.prepare(&batch, |_| false);
        // Read by somebody who still sees the state before the batch.
        known.add_words(words(&["pump"]), || true);
        known.swap(&batch, prepared);
        assert_eq!(known.words(), None, "they would lack the word of the batch for ever");
    }
}
