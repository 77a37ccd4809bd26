//! What the fasteners of one part number take in different joints: the least and the most of those that are screwed into
//! the same, in the same condition, for the same purpose.
//!
//! A part may sit in very many joints. What is farthest from a torque is one of the two ends, so the ends are all that is
//! kept of them.

use super::plan::{self, TorqueStage};
use crate::record::Fastener;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::OnceLock;

/// The fasteners of every part number, in the order of the book.
#[derive(Debug, Default)]
pub(super) struct Parts<'r>(HashMap<&'r str, Part<'r>>);

#[derive(Debug, Default)]
struct Part<'r> {
    fasteners: Vec<&'r Fastener>,
    /// By the number of the case; worked out when first asked for.
    ends: OnceLock<HashMap<u64, Ends>>,
}

/// A fastener with the torque that it is left with.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken<'r> {
    /// The fastener.
    pub fastener: &'r Fastener,
    /// The stage that states the torque.
    pub stage: TorqueStage,
}

/// The least and the most, each with the next one that is of another joint: places in the list of fasteners.
#[derive(Debug, Default, Clone, Copy)]
struct Ends {
    least: [Option<u32>; 2],
    most: [Option<u32>; 2],
}

impl<'r> Parts<'r> {
    /// Enters a fastener under its part number, if it has one.
    pub fn enter(&mut self, fastener: &'r Fastener) {
        if let Some(part) = &fastener.part_no {
            self.0.entry(part.as_str()).or_default().fasteners.push(fastener);
        }
    }

    /// The least and the most that the same part takes in other joints, in the same case.
    pub fn elsewhere(&self, fastener: &Fastener) -> impl Iterator<Item = Taken<'r>> {
        let part = fastener.part_no.as_ref().and_then(|part| self.0.get(part.as_str()));
        let part = part.filter(|part| part.fasteners.len() > 1);
        let ends = part.and_then(|part| part.ends().get(&case(fastener))).copied().unwrap_or_default();
        [ends.least, ends.most].into_iter().filter_map(move |two| {
            let taken = two.into_iter().flatten().filter_map(|place| part?.taken(place));
            taken.into_iter().find(|taken| taken.fastener.joint != fastener.joint)
        })
    }
}

impl<'r> Part<'r> {
    fn taken(&self, place: u32) -> Option<Taken<'r>> {
        let fastener = *self.fasteners.get(place as usize)?;
        Some(Taken { fastener, stage: plan::last_without_turns(fastener)? })
    }

    fn ends(&self) -> &HashMap<u64, Ends> {
        self.ends.get_or_init(|| {
            let mut all: HashMap<u64, Ends> = HashMap::new();
            for place in 0..u32::try_from(self.fasteners.len()).unwrap_or(u32::MAX) {
                let Some(new) = self.taken(place) else { continue };
                let ends = all.entry(case(new.fastener)).or_default();
                self.put(&mut ends.least, (place, new), |new, known| new.stage.middle() < known.stage.middle());
                self.put(&mut ends.most, (place, new), |new, known| new.stage.middle() > known.stage.middle());
            }
            all
        })
    }

    /// Puts what goes farther first; behind it stands what goes farthest in another joint.
    fn put(
        &self,
        two: &mut [Option<u32>; 2],
        (place, new): (u32, Taken<'r>),
        goes_farther: impl Fn(&Taken<'r>, &Taken<'r>) -> bool,
    ) {
        let known = two.map(|place| self.taken(place?));
        let is_elsewhere = known[0].is_some_and(|first| first.fastener.joint != new.fastener.joint);
        if known[0].is_none_or(|first| goes_farther(&new, &first)) {
            let second = if is_elsewhere { two[0] } else { two[1] };
            *two = [Some(place), second];
        } else if is_elsewhere && known[1].is_none_or(|second| goes_farther(&new, &second)) {
            two[1] = Some(place);
        }
    }
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
            fasteners.iter().for_each(|fastener| parts.enter(fastener));
            let torque = |fastener: &Fastener| plan::last_without_turns(fastener).expect("a torque").middle();
            for own in &fasteners {
                let others = fasteners.iter().filter(|other| other.joint != own.joint).map(|other| torque(other));
                let (mut least, mut most) = (None, None);
                for other in others {
                    least = Some(least.map_or(other, |known| if other < known { other } else { known }));
                    most = Some(most.map_or(other, |known| if other > known { other } else { known }));
                }
                let found: Vec<_> = parts.elsewhere(own).map(|taken| torque(taken.fastener)).collect();
                assert_eq!(found, [least, most].into_iter().flatten().collect::<Vec<_>>(), "{count} {}", own.id);
            }
        }
    }
}
