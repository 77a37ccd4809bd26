//! The records that are judged together, and who stands beside whom.

use super::kept::Kept;
use super::parts::{Parts, Taken};
use super::torques::Torques;
use super::ways::Ways;
use crate::record::{Fastener, Id, Joint, Record};
use crate::standards::PropertyClass;
use crate::thread::Thread;
use std::collections::HashMap;
use std::sync::OnceLock;

/// A book of records as the audit sees it: every record, with the ways from one to its neighbours.
///
/// A file that is audited without being stored is a book of its own.
#[derive(Debug, Default)]
pub struct Book<'r> {
    joints: HashMap<&'r str, &'r Joint>,
    fasteners: HashMap<&'r str, &'r Fastener>,
    by_joint: HashMap<&'r str, Vec<&'r Fastener>>,
    by_joint_and_thread: HashMap<(&'r str, &'r Thread), Vec<&'r Fastener>>,
    parts: Parts,
    in_order: Vec<&'r Record>,
    torques: OnceLock<Torques>,
    ways: OnceLock<Ways>,
    /// What is known of the larger book that this one is a part of.
    of_all: Option<OfAll<'r>>,
    near_threads: OnceLock<HashMap<Thread, Vec<Thread>>>,
    near_classes: OnceLock<HashMap<PropertyClass, Vec<PropertyClass>>>,
}

/// What is known of a book of which only a part is there.
#[derive(Debug, Clone, Copy)]
pub(super) struct OfAll<'r> {
    /// Its torques.
    pub torques: &'r Torques,
    /// Its ways.
    pub ways: &'r Ways,
    /// What stands beside a record elsewhere in it; nothing where all of that is in the part.
    pub elsewhere: Option<Elsewhere<'r>>,
}

/// What a record is judged beside, without the records themselves.
#[derive(Debug, Clone, Copy)]
pub(super) struct Elsewhere<'r> {
    /// What its parts take in different joints.
    pub parts: &'r Parts,
    /// Everything that is in it, by its number.
    pub records: &'r [Option<Kept>],
}

/// Of the fasteners of a joint so many are looked through beside one of them. A joint has no more drawn positions than this;
/// whatever has more fasteners is a table, and its rows are judged as columns.
pub(super) const JOINT_MAX: usize = 400;
/// How many threads are offered for one that no standard has.
const NEAR_THREADS: usize = 3;

impl<'r> Book<'r> {
    /// The book of these records, kept in their order.
    pub fn new(records: impl IntoIterator<Item = &'r Record>) -> Self {
        let mut book = Self::default();
        for (number, record) in (0..).zip(records) {
            book.in_order.push(record);
            match record {
                Record::Joint(joint) => {
                    book.joints.insert(joint.id.as_str(), joint);
                }
                Record::Fastener(fastener) => {
                    book.fasteners.insert(fastener.id.as_str(), fastener);
                    book.by_joint.entry(fastener.joint.as_str()).or_default().push(fastener);
                    let kind = (fastener.joint.as_str(), &fastener.thread);
                    book.by_joint_and_thread.entry(kind).or_default().push(fastener);
                    book.parts.enter(fastener, number);
                }
            }
        }
        book
    }

    /// A part of a larger book: whole joints, in the order of that book.
    pub(super) fn part(records: impl IntoIterator<Item = &'r Record>, of_all: OfAll<'r>) -> Self {
        Self { of_all: Some(of_all), ..Self::new(records) }
    }

    /// Every record in the order given.
    #[must_use]
    pub fn records(&self) -> &[&'r Record] {
        &self.in_order
    }

    /// The joint of this id.
    #[must_use]
    pub fn joint(&self, id: &Id) -> Option<&'r Joint> {
        self.joints.get(id.as_str()).copied()
    }

    /// Whether the book has this joint.
    #[must_use]
    pub fn has_joint(&self, id: &Id) -> bool {
        let elsewhere = || {
            let all = self.of_all?;
            let number = all.torques.roll().number(id.as_str())?;
            all.elsewhere?.records.get(number as usize)?.as_ref()
        };
        self.joints.contains_key(id.as_str()) || elsewhere().is_some_and(Kept::is_joint)
    }

    /// The fastener of this id.
    #[must_use]
    pub fn fastener(&self, id: &Id) -> Option<&'r Fastener> {
        self.fasteners.get(id.as_str()).copied()
    }

    /// The fasteners that close this joint, in the order given.
    #[must_use]
    pub fn fasteners_of(&self, joint: &Id) -> &[&'r Fastener] {
        self.by_joint.get(joint.as_str()).map_or(&[], Vec::as_slice)
    }

    /// The fasteners of this fastener's joint that have its thread, itself among them.
    #[must_use]
    pub fn with_thread_in_joint(&self, fastener: &'r Fastener) -> &[&'r Fastener] {
        let kind = (fastener.joint.as_str(), &fastener.thread);
        self.by_joint_and_thread.get(&kind).map_or(&[], Vec::as_slice)
    }

    /// What the parts of this book take in different joints.
    pub(super) fn parts(&self) -> &Parts {
        self.of_all.and_then(|all| all.elsewhere).map_or(&self.parts, |elsewhere| elsewhere.parts)
    }

    /// The id of the fastener that takes a torque of [`Book::parts`].
    pub(super) fn id_of_taken(&self, taken: &Taken) -> Option<Id> {
        match self.of_all.filter(|all| all.elsewhere.is_some()) {
            Some(all) => all.torques.roll().id(taken.number),
            None => self.in_order.get(taken.number as usize).map(|record| record.id().clone()),
        }
    }

    /// The threads of the standards that are nearest to one of this book that is in none of them.
    #[must_use]
    pub fn near_threads(&self, thread: &Thread) -> &[Thread] {
        let unknown = || self.fasteners().map(|fastener| &fastener.thread).filter(|thread| !thread.is_standard());
        let near = || once_each(unknown(), |thread| thread.nearest(NEAR_THREADS));
        self.near_threads.get_or_init(near).get(thread).map_or(&[], Vec::as_slice)
    }

    /// The classes of the standards that are nearest to one of this book that is in none of them.
    #[must_use]
    pub fn near_classes(&self, class: &PropertyClass) -> &[PropertyClass] {
        let both = |fastener: &'r Fastener| fastener.property_class.iter().chain(&fastener.nut_class);
        let near = || once_each(self.fasteners().flat_map(both), |class| class.nearest());
        self.near_classes.get_or_init(near).get(class).map_or(&[], Vec::as_slice)
    }

    /// Every fastener in the order given.
    pub fn fasteners(&self) -> impl Iterator<Item = &'r Fastener> + '_ {
        self.in_order.iter().filter_map(|record| record.as_fastener())
    }

    /// Every torque of the book with the verdict of the slip model, worked out when first asked for.
    pub fn torques(&self) -> &Torques {
        match self.of_all {
            Some(all) => all.torques,
            None => self.torques.get_or_init(|| Torques::of(self.fasteners())),
        }
    }

    /// Which joints of the book must be opened before which, worked out when first asked for.
    pub(super) fn ways(&self) -> &Ways {
        match self.of_all {
            Some(all) => all.ways,
            None => self.ways.get_or_init(|| Ways::of(self.in_order.iter().filter_map(|record| record.as_joint()))),
        }
    }

    /// Weighs the torques for an audit that goes through the book once: all evidence is gathered, each torque is judged when
    /// its record is.
    pub fn weigh_when_asked(&self) {
        self.torques.get_or_init(|| Torques::judged_when_asked(self.fasteners()));
    }
}

/// Works something out for each distinct item. What is nearest costs a comparison with every row of the tables, and the
/// rows of a table mostly share their few threads and classes.
fn once_each<'k, K: Clone + Eq + std::hash::Hash + 'k, V>(
    keys: impl Iterator<Item = &'k K>,
    work_out: impl Fn(&K) -> V,
) -> HashMap<K, V> {
    let mut found = HashMap::new();
    for key in keys {
        if !found.contains_key(key) {
            found.insert(key.clone(), work_out(key));
        }
    }
    found
}
