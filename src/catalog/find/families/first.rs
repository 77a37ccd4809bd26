//! The first records in the order of a question.
//!
//! There are three ways. Each is the best one for some questions, and what each costs is known beforehand or bounded:
//! to *gather* the records of the smallest set that all must be in, to *walk* through all ids in their order, and to
//! *merge* the families, whose members are in the order of their ids.

use super::order::{Key, Order, Side};
use super::parts::Parts;
use super::{Admitted, All};
use crate::store::{Directory, Family, Members, Spot};
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

/// A question that is being answered.
pub struct Search<'s> {
    /// What is known of every record.
    pub directory: &'s Directory,
    /// The families that get through.
    pub families: Admitted<'s>,
    /// What is asked beside what families have.
    pub parts: &'s Parts,
}

/// A set of up to so many records is simply gathered, without finding out first whether another way is shorter (judgement).
const FEW: u64 = 1000;

impl<'s> Search<'s> {
    /// The first slots in the order of the question, at most as many as are wanted.
    pub fn first(&self, order: &Order<'_>, wanted: usize) -> Vec<u32> {
        let gathering = self.parts.must.first().map(|one_of| one_of.size);
        if gathering.is_some_and(|size| size <= FEW) {
            return self.gather(order, wanted);
        }
        let All { list, members } = self.families.all();
        if *members == 0 {
            return Vec::new();
        }
        // Gathering and merging come to an end whatever is asked; the other ways are given up when they cost more.
        let expected = self.steps_expected(wanted);
        match gathering {
            Some(size) if size <= expected => self.gather(order, wanted),
            Some(size) => {
                let tried =
                    if order.is_by_id() { self.walk(order, wanted, size) } else { self.merge(order, wanted, size) };
                tried.unwrap_or_else(|| self.gather(order, wanted))
            }
            None => {
                let merging = 4 * list.len() as u64;
                let walked =
                    if order.is_by_id() && expected <= merging { self.walk(order, wanted, 2 * merging) } else { None };
                walked.or_else(|| self.merge(order, wanted, u64::MAX)).unwrap_or_default()
            }
        }
    }

    /// After how many steps through all slots so many records are expected to be found, if what is asked has nothing to do
    /// with their order or with each other.
    fn steps_expected(&self, wanted: usize) -> u64 {
        let all = self.directory.slots().max(1) as f64;
        let share = |count: u64| (count as f64 / all).min(1.0);
        let shares = self.parts.must.iter().map(|one_of| share(one_of.size));
        let all_shares: f64 = shares.product::<f64>() * share(self.families.all().members);
        (wanted as f64 / all_shares.max(1e-9)) as u64
    }

    pub(super) fn gather(&self, order: &Order<'_>, wanted: usize) -> Vec<u32> {
        let Some((smallest, others)) = self.parts.must.split_first() else { return Vec::new() };
        let mut sides: HashMap<u32, Side> = HashMap::new();
        // The best ones so far, the last of them on top.
        let mut found: BinaryHeap<(Key, u64, u32)> = BinaryHeap::with_capacity(wanted + 1);
        for slot in smallest.together().iter() {
            let Some((label, number, family)) = self.admitted(slot) else { continue };
            let key = order.key(family);
            let side = match order.begins() {
                true => Side::Behind,
                false => *sides.entry(number).or_insert_with(|| order.side(family)),
            };
            let label = order.rising(label);
            let is_behind = match side {
                Side::Before => false,
                Side::At(end) => label > order.rising(end),
                Side::Behind => true,
            };
            let is_full = found.len() == wanted;
            let comes_too_late = || is_full && found.peek().is_some_and(|last| (key, label) > (last.0, last.1));
            if is_behind && !comes_too_late() && self.parts.has_beside(others, slot) {
                found.push((key, label, slot));
                if is_full {
                    found.pop();
                }
            }
        }
        found.into_sorted_vec().into_iter().map(|(.., slot)| slot).collect()
    }

    /// The label and the family of a slot, if that gets through.
    #[inline]
    fn admitted(&self, slot: u32) -> Option<(u64, u32, &Family)> {
        let entry = self.directory.entry(slot)?;
        let number = entry.family().filter(|family| self.families.has(*family))?;
        Some((entry.label, number, self.directory.family(number)?))
    }

    /// Walks through all ids; nothing if that takes too many steps.
    pub(super) fn walk(&self, order: &Order<'_>, wanted: usize, steps: u64) -> Option<Vec<u32>> {
        let slots = self.directory.order();
        let side = order.side(&Family::default());
        let mut run = Run::of(self.directory, order, slots, side);
        let mut found = Vec::with_capacity(wanted);
        for _ in 0..steps {
            let Some(slot) = run.next(slots) else { return Some(found) };
            if self.admitted(slot).is_some() && self.parts.has(slot) {
                found.push(slot);
                if found.len() == wanted {
                    return Some(found);
                }
            }
        }
        None
    }

    /// Merges the families, those first that come first; nothing if that takes too many steps.
    pub(super) fn merge(&self, order: &Order<'_>, wanted: usize, steps: u64) -> Option<Vec<u32>> {
        /// So many groups are looked for one by one: mostly the first ones are enough, and sorting costs more.
        const LOOKED_FOR: usize = 4;
        let mut keyed: Vec<(Key, &'s Family)> =
            self.families.all().list.iter().map(|(_, family)| (order.key(family), *family)).collect();
        let mut rest = keyed.as_mut_slice();
        let mut found = Vec::with_capacity(wanted);
        let mut steps_left = steps;
        for group in 0.. {
            if group == LOOKED_FOR {
                rest.sort_unstable_by_key(|(key, _)| *key);
            }
            let is_sorted = group >= LOOKED_FOR;
            let next = if is_sorted { rest.first() } else { rest.iter().min_by_key(|(key, _)| *key) };
            let Some((next, _)) = next.copied() else { break };
            let end = if is_sorted { rest.partition_point(|(key, _)| *key == next) } else { to_the_front(rest, next) };
            let (alike, others) = rest.split_at_mut(end);
            rest = others;
            let side = alike.first().map_or(Side::Before, |(_, family)| order.side(family));
            if side == Side::Before {
                continue;
            }
            if self.merge_alike(order, alike, side, wanted, &mut found, &mut steps_left) {
                return Some(found);
            }
            if steps_left == 0 {
                return None;
            }
        }
        Some(found)
    }

    /// Merges families between which only ids decide. Says whether enough is found.
    fn merge_alike(
        &self,
        order: &Order<'_>,
        families: &[(Key, &'s Family)],
        side: Side,
        wanted: usize,
        found: &mut Vec<u32>,
        steps_left: &mut u64,
    ) -> bool {
        let begin = |(_, family): &(Key, &'s Family)| {
            let mut run = Run::of(self.directory, order, &family.members, side);
            Some((run.next(&family.members)?, run, Unordered(*family)))
        };
        // Where the labels lie is known before the first of them is compared, so memory is waited for once and not for each.
        let begun: Vec<_> = families.iter().filter_map(begin).collect();
        let head = |(slot, run, family)| Reverse((order.rising(self.directory.label(slot)), slot, run, family));
        let mut heads: BinaryHeap<_> = begun.into_iter().map(head).collect::<Vec<_>>().into();
        while let Some(mut head) = heads.peek_mut() {
            if found.len() == wanted || *steps_left == 0 {
                return found.len() == wanted;
            }
            *steps_left -= 1;
            let Reverse((label, slot, run, Unordered(family))) = &mut *head;
            if self.parts.has(*slot) {
                found.push(*slot);
            }
            match run.next(&family.members) {
                Some(next) => (*label, *slot) = (order.rising(self.directory.label(next)), next),
                None => drop(std::collections::binary_heap::PeekMut::pop(head)),
            }
        }
        found.len() == wanted
    }
}

/// Brings the families with a key to the front, and says how many they are.
fn to_the_front(families: &mut [(Key, &Family)], key: Key) -> usize {
    let mut end = 0;
    for at in 0..families.len() {
        if families[at].0 == key {
            families.swap(at, end);
            end += 1;
        }
    }
    end
}

/// Something that goes along in a heap without being compared.
struct Unordered<T>(T);

impl<T> PartialEq for Unordered<T> {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl<T> Eq for Unordered<T> {}

impl<T> PartialOrd for Unordered<T> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl<T> Ord for Unordered<T> {
    fn cmp(&self, _: &Self) -> std::cmp::Ordering {
        std::cmp::Ordering::Equal
    }
}

/// A way through a list of slots, forwards or backwards.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Run {
    next: Option<Spot>,
    is_downwards: bool,
}

impl Run {
    /// The way from the end of the page before on.
    fn of(directory: &Directory, order: &Order<'_>, members: &Members, side: Side) -> Self {
        let is_downwards = order.is_downwards;
        let next = match (side, is_downwards) {
            (Side::Before, _) => None,
            (Side::Behind, false) => Some(Members::start()),
            (Side::Behind, true) => members.last(),
            (Side::At(label), false) => Some(members.seek(|slot| directory.label(slot) <= label)),
            (Side::At(label), true) => members.previous(members.seek(|slot| directory.label(slot) < label)),
        };
        Self { next, is_downwards }
    }

    #[inline]
    fn next(&mut self, members: &Members) -> Option<u32> {
        let spot = self.next?;
        let slot = members.at(spot)?;
        self.next = if self.is_downwards { members.previous(spot) } else { Some(members.next(spot)) };
        Some(slot)
    }
}
