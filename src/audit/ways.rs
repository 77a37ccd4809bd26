//! Which joints must be opened before which: rings among them, and who waits for whom.

use crate::record::{Id, Joint};
use petgraph::algo::kosaraju_scc;
use petgraph::graphmap::DiGraphMap;
use std::collections::{BTreeSet, HashMap, HashSet};
use std::sync::Arc;

/// The joints of a book that are behind others.
#[derive(Debug, Default)]
pub struct Ways {
    /// What must be opened before a joint; joints that stand free are left out.
    behind: HashMap<Id, Box<[Id]>>,
    /// The joints that name another one, by the one that they name.
    waiting: HashMap<Id, BTreeSet<Id>>,
    rings: Rings,
}

/// The ring that each joint is in, if it is in one: joints that all wait for each other, in the order of their ids.
type Rings = HashMap<Id, Arc<[Id]>>;

impl Ways {
    /// What these joints say.
    pub fn of<'j>(joints: impl Iterator<Item = &'j Joint>) -> Self {
        let mut ways = Self::default();
        joints.for_each(|joint| ways.enter(joint));
        ways.look_for_rings();
        ways
    }

    /// Looks for rings among all joints that were entered.
    pub fn look_for_rings(&mut self) {
        self.rings = rings(&self.behind);
    }

    /// The joints that a joint waits for while they wait for it, itself among them, if it must be opened after `first`.
    ///
    /// A joint that is not in the book as it stands here is followed as if it were.
    #[must_use]
    pub fn ring<'w>(&'w self, joint: &'w Joint, first: &'w Id) -> Option<Vec<&'w Id>> {
        if self.behind.get(&joint.id).is_some_and(|behind| **behind == *joint.behind) {
            let ring = self.rings.get(&joint.id)?;
            return ring.contains(first).then(|| ring.iter().collect());
        }
        let path = self.path(first, &joint.id)?;
        Some(BTreeSet::from_iter(path).into_iter().collect())
    }

    /// Takes in joints as they are now, nothing for one that is gone, and gives the joints that may be judged otherwise: those
    /// that name one of these, and those whose ring is another one.
    pub fn change<'j>(&mut self, joints: impl Iterator<Item = (&'j Id, Option<&'j Joint>)>) -> BTreeSet<Id> {
        let mut touched = BTreeSet::new();
        let mut is_other = false;
        for (id, now) in joints {
            touched.extend(self.waiting.get(id).into_iter().flatten().cloned());
            let before = self.behind.get(id).map_or(&[][..], |behind| behind);
            if *before == *now.map_or(&[][..], |joint| &joint.behind) {
                continue;
            }
            is_other = true;
            self.take_out(id);
            now.into_iter().for_each(|joint| self.enter(joint));
        }
        if is_other {
            let before = std::mem::replace(&mut self.rings, rings(&self.behind));
            let is_new = |(id, ring): &(&Id, &Arc<[Id]>), other: &Rings| other.get(*id) != Some(*ring);
            touched.extend(before.iter().filter(|entry| is_new(entry, &self.rings)).map(|(id, _)| id.clone()));
            touched.extend(self.rings.iter().filter(|entry| is_new(entry, &before)).map(|(id, _)| id.clone()));
        }
        touched
    }

    /// What must be opened before a joint of the book.
    #[must_use]
    pub fn behind(&self, joint: &Id) -> &[Id] {
        self.behind.get(joint).map_or(&[], |behind| behind)
    }

    /// Enters a joint.
    pub fn enter(&mut self, joint: &Joint) {
        if joint.behind.is_empty() {
            return;
        }
        for first in &joint.behind {
            self.waiting.entry(first.clone()).or_default().insert(joint.id.clone());
        }
        self.behind.insert(joint.id.clone(), joint.behind.clone().into_boxed_slice());
    }

    fn take_out(&mut self, id: &Id) {
        for first in self.behind.remove(id).iter().flatten() {
            if let Some(waiting) = self.waiting.get_mut(first) {
                waiting.remove(id);
                if waiting.is_empty() {
                    self.waiting.remove(first);
                }
            }
        }
    }

    /// The shortest way from a joint, by what must be opened before it, to another; both are in it.
    fn path<'w>(&'w self, from: &'w Id, to: &'w Id) -> Option<Vec<&'w Id>> {
        let mut paths = vec![(from, 0)];
        let mut seen = HashSet::from([from]);
        let mut next = 0;
        while let Some(&(id, came_from)) = paths.get(next) {
            if id == to {
                let mut path = vec![id];
                let (mut at, mut step) = (next, came_from);
                while at != 0 {
                    path.push(paths[step].0);
                    (at, step) = (step, paths[step].1);
                }
                return Some(path);
            }
            for first in self.behind.get(id).into_iter().flatten() {
                if seen.insert(first) {
                    paths.push((first, next));
                }
            }
            next += 1;
        }
        None
    }
}

fn rings(behind: &HashMap<Id, Box<[Id]>>) -> Rings {
    let mut graph: DiGraphMap<&Id, ()> = DiGraphMap::new();
    for (joint, firsts) in behind {
        for first in firsts {
            graph.add_edge(joint, first, ());
        }
    }
    let mut rings = Rings::new();
    for mut members in kosaraju_scc(&graph) {
        // A joint by itself is in a ring only if it is behind itself.
        if members.len() == 1 && !graph.contains_edge(members[0], members[0]) {
            continue;
        }
        members.sort_unstable();
        let ring: Arc<[Id]> = members.iter().map(|id| (*id).clone()).collect();
        rings.extend(ring.iter().map(|id| (id.clone(), ring.clone())));
    }
    rings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn joint(id: &str, behind: &[&str]) -> Joint {
        let value = serde_json::json!({ "kind": "joint", "id": id, "behind": behind });
        let record = crate::record::Record::from_json(&value).unwrap();
        record.as_joint().unwrap().clone()
    }

    fn ring(ways: &Ways, joint: &Joint) -> Vec<String> {
        let found = ways.ring(joint, &joint.behind[0]).unwrap_or_default();
        found.into_iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_ring_is_told_of_each_joint_in_it_and_of_no_other() {
        let (a, b, c, d) = (
            joint("skua.a", &["skua.b"]),
            joint("skua.b", &["skua.c"]),
            joint("skua.c", &["skua.a"]),
            joint("skua.d", &["skua.a"]),
        );
        let ways = Ways::of([&a, &b, &c, &d].into_iter());
        for member in [&a, &b, &c] {
            assert_eq!(ring(&ways, member), ["skua.a", "skua.b", "skua.c"]);
        }
        assert!(ring(&ways, &d).is_empty(), "it waits for a ring and is not in it");
        let itself = joint("skua.e", &["skua.e"]);
        assert_eq!(ring(&Ways::of(std::iter::once(&itself)), &itself), ["skua.e"]);
    }

    #[test]
    fn a_joint_that_is_not_stored_is_followed_through_those_that_are() {
        let (a, b) = (joint("skua.a", &["skua.b"]), joint("skua.b", &["skua.c"]));
        let ways = Ways::of([&a, &b].into_iter());
        let draft = joint("skua.c", &["skua.a"]);
        assert_eq!(ring(&ways, &draft), ["skua.a", "skua.b", "skua.c"]);
        assert!(ring(&ways, &joint("skua.d", &["skua.a"])).is_empty());
    }

    #[test]
    fn a_change_touches_those_who_wait_and_those_whose_ring_is_another() {
        let (a, b, d) = (joint("skua.a", &["skua.b"]), joint("skua.b", &[]), joint("skua.d", &["skua.b"]));
        let mut ways = Ways::of([&a, &b, &d].into_iter());
        let turned = joint("skua.b", &["skua.a"]);
        let ids = |ids: BTreeSet<Id>| ids.iter().map(ToString::to_string).collect::<Vec<_>>();
        assert_eq!(ids(ways.change([(&turned.id, Some(&turned))].into_iter())), ["skua.a", "skua.b", "skua.d"]);
        assert_eq!(ring(&ways, &a), ["skua.a", "skua.b"]);
        assert_eq!(ids(ways.change([(&a.id, None)].into_iter())), ["skua.a", "skua.b"]);
        assert!(ring(&ways, &turned).is_empty());
    }

    #[test]
    fn a_chain_of_very_many_joints_is_followed_to_its_end() {
        let name = |i: usize| format!("skua.j{i}");
        let count = 100_000;
        let joints: Vec<Joint> = (0..count).map(|i| joint(&name(i), &[&name((i + 1) % count)])).collect();
        let ways = Ways::of(joints.iter());
        assert_eq!(ring(&ways, &joints[7]).len(), count);
        assert_eq!(ring(&ways, &joint(&name(3), &[&name(4), "skua.other"])).len(), count);
    }
}
