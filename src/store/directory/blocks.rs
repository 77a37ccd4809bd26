//! A long list whose versions share what has not changed.

use std::sync::Arc;

/// How many places a block has.
const BLOCK: usize = 256;

/// A list in blocks. A copy of it costs a pointer a block, a change in the copy one block.
#[derive(Debug, Clone)]
pub struct Blocks<T> {
    blocks: Vec<Arc<[T]>>,
    length: usize,
}

impl<T> Default for Blocks<T> {
    fn default() -> Self {
        Self { blocks: Vec::new(), length: 0 }
    }
}

impl<T: Clone + Default> Blocks<T> {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.length
    }

    /// One of them.
    #[inline]
    pub fn get(&self, at: usize) -> Option<&T> {
        if at < self.length { self.blocks.get(at / BLOCK)?.get(at % BLOCK) } else { None }
    }

    /// One of them, to be changed in this version only.
    pub fn get_mut(&mut self, at: usize) -> Option<&mut T> {
        if at >= self.length {
            return None;
        }
        Arc::make_mut(self.blocks.get_mut(at / BLOCK)?).get_mut(at % BLOCK)
    }

    /// Puts one at the end.
    pub fn push(&mut self, value: T) {
        if self.length == self.blocks.len() * BLOCK {
            self.blocks.push(vec![T::default(); BLOCK].into());
        }
        self.length += 1;
        if let Some(place) = self.get_mut(self.length - 1) {
            *place = value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_keep_what_they_had() {
        let mut first = Blocks::default();
        (0..600).for_each(|number| first.push(number));
        let mut second = first.clone();
        *second.get_mut(300).expect("it is there") = 0;
        second.push(600);
        assert_eq!((first.get(300), second.get(300)), (Some(&300), Some(&0)));
        assert_eq!((first.len(), second.len(), first.get(600)), (600, 601, None));
        assert!((0..600).all(|at| first.get(at) == Some(&at)), "the first version is as it was");
        assert!(Arc::ptr_eq(&first.blocks[0], &second.blocks[0]), "what has not changed is there once");
    }
}
