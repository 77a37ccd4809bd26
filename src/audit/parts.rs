//! What the fasteners of one part number take in different joints: the least and the most of those that are screwed into
//! the same, in the same condition, for the same purpose.
//!
//! A part may sit in very many joints. What is farthest from a torque is one of the two ends, so the ends are all that is
//! kept of them.

use super::plan;
use crate::record::{Fastener, Id, TorqueSetting};
use crate::units::Torque;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::OnceLock;

/// The torques that parts are left with, in the order of the book. It holds no record, so that it can be gathered from a
/// book that is read in portions.
#[derive(Debug, Default)]
pub(super) struct Parts {
    taken: Vec<Taken>,
    /// By what is compared; worked out when first asked for.
    ends: OnceLock<HashMap<u64, Ends>>,
}

/// A fastener with the torque that it is left with.
#[derive(Debug)]
pub(super) struct Taken {
    /// The number of its record, as whoever entered it counts.
    pub number: u32,
    /// The torque.
    pub torque: TorqueSetting,
    /// A number of its part and its case: the same for what is compared.
    compared: u64,
    /// A number of its joint.
    joint: u64,
}

/// The least and the most, each with the next one that is of another joint: places in the list.
#[derive(Debug, Default, Clone, Copy)]
struct Ends {
    least: [Option<u32>; 2],
    most: [Option<u32>; 2],
}

impl Taken {
    /// The value to aim at.
    pub fn middle(&self) -> Torque {
        self.torque.middle()
    }
}

impl Parts {
    /// Enters a fastener, if it has a part number and is left with a torque.
    pub fn enter(&mut self, fastener: &Fastener, number: u32) {
        if let Some(compared) = compared(fastener)
            && let Some(last) = plan::last_without_turns(fastener)
        {
            self.taken.push(Taken { number, torque: last.torque, compared, joint: joint_number(&fastener.joint) });
        }
    }

    /// The least and the most that the same part takes in other joints, in the same case.
    pub fn elsewhere(&self, fastener: &Fastener) -> impl Iterator<Item = &Taken> {
        let ends = compared(fastener).and_then(|compared| self.ends().get(&compared)).copied().unwrap_or_default();
        let joint = joint_number(&fastener.joint);
        [ends.least, ends.most].into_iter().filter_map(move |two| {
            let taken = two.into_iter().flatten().filter_map(|place| self.taken(place));
            taken.into_iter().find(|taken| taken.joint != joint)
        })
    }

    fn taken(&self, place: u32) -> Option<&Taken> {
        self.taken.get(place as usize)
    }

    fn ends(&self) -> &HashMap<u64, Ends> {
        self.ends.get_or_init(|| {
            let mut places: Vec<(u64, u32)> = self.taken.iter().map(|taken| taken.compared).zip(0..).collect();
            places.sort_unstable();
            let alike = places.chunk_by(|a, b| a.0 == b.0).filter(|alike| alike.len() > 1);
            alike.map(|alike| (alike[0].0, self.ends_of(alike.iter().map(|(_, place)| *place)))).collect()
        })
    }

    fn ends_of(&self, places: impl Iterator<Item = u32>) -> Ends {
        let mut ends = Ends::default();
        for place in places {
            self.put(&mut ends.least, place, |new, known| new.middle() < known.middle());
            self.put(&mut ends.most, place, |new, known| new.middle() > known.middle());
        }
        ends
    }

    /// Puts what goes farther first; behind it stands what goes farthest in another joint.
    fn put(&self, two: &mut [Option<u32>; 2], place: u32, goes_farther: impl Fn(&Taken, &Taken) -> bool) {
        let Some(new) = self.taken(place) else { return };
        let known = two.map(|place| self.taken(place?));
        let is_elsewhere = known[0].is_some_and(|first| first.joint != new.joint);
        if known[0].is_none_or(|first| goes_farther(new, first)) {
            let second = if is_elsewhere { two[0] } else { two[1] };
            *two = [Some(place), second];
        } else if is_elsewhere && known[1].is_none_or(|second| goes_farther(new, second)) {
            two[1] = Some(place);
        }
    }
}

/// A number of a joint: the same for the same one.
fn joint_number(joint: &Id) -> u64 {
    let mut hasher = DefaultHasher::new();
    joint.hash(&mut hasher);
    hasher.finish()
}

/// A number of the part of a fastener and of its case; none where no part is stated.
fn compared(fastener: &Fastener) -> Option<u64> {
    let mut hasher = DefaultHasher::new();
    (fastener.part_no.as_ref()?.as_str(), case(fastener)).hash(&mut hasher);
    Some(hasher.finish())
}

/// What a fastener is screwed into, in which condition and for which purpose, as a number: the same for the same case.
fn case(fastener: &Fastener) -> u64 {
    let into = fastener.into.as_ref().and_then(|into| into.material.as_ref());
    let mut hasher = DefaultHasher::new();
    (
        &fastener.thread,
        fastener.role() as u64,
        &fastener.lubrication,
        fastener.locking.map(|locking| locking as u64),
        into,
    )
        .hash(&mut hasher);
    hasher.finish()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Record;
    use serde_json::json;

    /// Against looking through all of them, which is what the ends stand for.
    #[test]
    fn the_ends_are_those_of_all_others_in_other_joints() {
        let one = |i: usize| {
            let joint = format!("skua.deck.j{}", i * 7 % 5);
            Record::from_json(
                &json!({ "kind": "fastener", "id": format!("{joint}.f{i}"), "joint": joint, "thread": "M8",
                "part_no": "SY-1", "stages": [format!("{} N·m", 10 + i * 13 % 17)] }),
            )
            .expect("a record")
        };
        for count in 2..24 {
            let records: Vec<Record> = (0..count).map(one).collect();
            let fasteners: Vec<&Fastener> = records.iter().filter_map(Record::as_fastener).collect();
            let mut parts = Parts::default();
            (0..).zip(&fasteners).for_each(|(number, fastener)| parts.enter(fastener, number));
            let torque = |fastener: &Fastener| plan::last_without_turns(fastener).expect("a torque").middle();
            for own in &fasteners {
                let others = fasteners.iter().filter(|other| other.joint != own.joint).map(|other| torque(other));
                let (mut least, mut most) = (None, None);
                for other in others {
                    least = Some(least.map_or(other, |known| if other < known { other } else { known }));
                    most = Some(most.map_or(other, |known| if other > known { other } else { known }));
                }
                let found: Vec<_> = parts.elsewhere(own).map(Taken::middle).collect();
                assert_eq!(found, [least, most].into_iter().flatten().collect::<Vec<_>>(), "{count} {}", own.id);
            }
        }
    }
}
