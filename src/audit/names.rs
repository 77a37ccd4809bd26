//! Ids in order, in little room: neighbours have most of their text in common.

use crate::record::Id;
use std::cmp::Ordering;

/// How many stand together: the first with its whole text, every other one with what sets it apart from the one before.
const TOGETHER: usize = 16;

/// Ids in order, by their places.
#[derive(Debug, Default)]
pub(super) struct Names {
    /// Of each id how many bytes it shares with the one before, how many it has of its own, and those.
    bytes: Vec<u8>,
    /// Where the ids that stand together begin.
    starts: Vec<usize>,
    count: usize,
    last: Option<Id>,
}

impl Names {
    /// How many there are.
    pub fn count(&self) -> usize {
        self.count
    }

    /// The last one.
    pub fn last(&self) -> Option<&Id> {
        self.last.as_ref()
    }

    /// Puts one behind the last, which comes before it.
    pub fn push(&mut self, id: &Id) {
        let text = id.as_str();
        let before = if self.count.is_multiple_of(TOGETHER) { None } else { self.last.as_ref() };
        let shared = match before {
            Some(before) => in_common(before.as_str().as_bytes(), text.as_bytes()),
            None => {
                self.starts.push(self.bytes.len());
                0
            }
        };
        // An id has at most 160 bytes.
        self.bytes.extend([shared as u8, (text.len() - shared) as u8]);
        self.bytes.extend_from_slice(&text.as_bytes()[shared..]);
        self.count += 1;
        self.last = Some(id.apart());
    }

    /// Gives back what room it has for more.
    pub fn shrink(&mut self) {
        self.bytes.shrink_to_fit();
        self.starts.shrink_to_fit();
    }

    /// The id at a place.
    pub fn get(&self, place: usize) -> Option<Id> {
        let mut rest = self.bytes.get(*self.starts.get(place / TOGETHER)?..)?;
        let mut text = Vec::with_capacity(64);
        for _ in 0..=place % TOGETHER {
            let (shared, own, after) = next(rest)?;
            text.truncate(shared);
            text.extend_from_slice(own);
            rest = after;
        }
        std::str::from_utf8(&text).ok()?.parse().ok()
    }

    /// The first place whose id does not come before a text, and whether the id there is that text.
    pub fn seek(&self, text: &str) -> (usize, bool) {
        let text = text.as_bytes();
        let begins_behind = |start: &usize| next(&self.bytes[*start..]).is_some_and(|(_, first, _)| first > text);
        let Some(group) = self.starts.partition_point(|start| !begins_behind(start)).checked_sub(1) else {
            return (0, false);
        };
        let places = group * TOGETHER..self.count.min((group + 1) * TOGETHER);
        // How many bytes the text has in common with the id before, which comes before it.
        let (mut matched, mut rest) = (0, &self.bytes[self.starts[group]..]);
        for place in places.clone() {
            let Some((shared, own, after)) = next(rest) else { break };
            rest = after;
            match shared.cmp(&matched) {
                Ordering::Less => return (place, false),
                Ordering::Equal => matched += in_common(own, &text[matched..]),
                // It has in common with the one before what that has behind the text's own end or other byte.
                Ordering::Greater => continue,
            }
            match own.get(matched - shared).cmp(&text.get(matched)) {
                Ordering::Less => {}
                order => return (place, order == Ordering::Equal),
            }
        }
        (places.end, false)
    }
}

/// How many bytes two texts have in common at their beginning.
fn in_common(a: &[u8], b: &[u8]) -> usize {
    a.iter().zip(b).take_while(|(a, b)| a == b).count()
}

/// The next id: how many bytes it shares with the one before, its own, and what is behind it.
fn next(bytes: &[u8]) -> Option<(usize, &[u8], &[u8])> {
    let [shared, length, rest @ ..] = bytes else { return None };
    let (own, after) = rest.split_at_checked((*length).into())?;
    Some(((*shared).into(), own, after))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    fn id() -> impl Strategy<Value = Id> {
        "[a-c]{1,2}(\\.[ab][ab-]{0,2}[ab]){1,3}".prop_map(|text: String| text.parse().expect("an id"))
    }

    proptest! {
        #[test]
        fn is_a_list_in_order(ids in prop::collection::btree_set(id(), 0..120), others in prop::collection::vec(id(), 40)) {
            let mut names = Names::default();
            ids.iter().for_each(|id| names.push(id));
            prop_assert!(ids.iter().enumerate().all(|(place, id)| names.get(place).as_ref() == Some(id)));
            prop_assert_eq!((names.count(), names.get(ids.len())), (ids.len(), None));
            let paths = others.iter().map(|id| format!("{id}."));
            let texts: BTreeSet<String> = ids.iter().chain(&others).map(Id::to_string).chain(paths).collect();
            for text in texts.iter().map(String::as_str).chain(["", "{"]) {
                let before = ids.iter().filter(|id| id.as_str() < text).count();
                prop_assert_eq!(names.seek(text), (before, ids.contains(text)), "{}", text);
            }
        }
    }
}
