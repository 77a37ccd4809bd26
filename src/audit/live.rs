//! The audit of a book that changes: after a change only what it touched is audited again.
//!
//! What a rule looks at beside the record itself is its joint, the fasteners of its joint, the fasteners of its part
//! number, the joints that it is behind, and the torques of the book as the slip model sees them. So a record is audited
//! again when one of these has changed; which torques have, [`Torques::change`] says, and which ways, [`Ways::change`]. The findings after a change are those of an audit of the
//! whole book, to the letter: `tests/it/audit_live.rs` holds them against each other.

use super::book::Book;
use super::finding::Finding;
use super::run::Audit;
use super::torques::Torques;
use super::ways::Ways;
use crate::record::{Fastener, Id, Record};
use rayon::prelude::*;
use std::borrow::Borrow;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Bound;
use std::sync::Arc;

/// The findings of a book, kept up to date.
#[derive(Debug)]
pub struct LiveAudit {
    records: Records,
    /// The fasteners that state a part number, by it.
    parts: HashMap<Box<str>, BTreeSet<ById>>,
    torques: Torques,
    ways: Ways,
}

/// Every record by its id, with its findings.
type Records = BTreeMap<ById, Box<[Finding]>>;

/// A record that is looked up and ordered by its id.
#[derive(Debug, Clone)]
struct ById(Arc<Record>);

impl ById {
    fn id(&self) -> &str {
        self.0.id().as_str()
    }
}

impl Borrow<str> for ById {
    fn borrow(&self) -> &str {
        self.id()
    }
}

impl Ord for ById {
    fn cmp(&self, other: &Self) -> Ordering {
        self.id().cmp(other.id())
    }
}

impl PartialOrd for ById {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for ById {
    fn eq(&self, other: &Self) -> bool {
        self.id() == other.id()
    }
}

impl Eq for ById {}

/// A change of a book: what stands under an id now; nothing where it was taken out.
pub type BookChange = (Id, Option<Arc<Record>>);

impl LiveAudit {
    /// The audit of these records.
    #[must_use]
    pub fn of(mut records: Vec<Arc<Record>>) -> Self {
        records.sort_by(|a, b| a.id().cmp(b.id()));
        let book = Book::new(records.iter().map(|record| &**record));
        let audit = Audit::of(&book);
        let findings: Vec<Box<[Finding]>> =
            records.par_iter().map(|record| audit.findings_of(record).into_boxed_slice()).collect();
        let (torques, ways) = book.into_torques_and_ways();
        let mut parts: HashMap<Box<str>, BTreeSet<ById>> = HashMap::new();
        for record in &records {
            if let Some(part) = part_of(record) {
                parts.entry(part.into()).or_default().insert(ById(record.clone()));
            }
        }
        let records = records.into_iter().map(ById).zip(findings).collect();
        Self { records, parts, torques, ways }
    }

    /// Takes in changes of the book, and gives how many records had to be audited again.
    pub fn change(&mut self, changes: Vec<BookChange>) -> usize {
        let mut touched = Touched::default();
        for (id, now) in changes {
            self.replace(id, now, &mut touched);
        }
        let joints: Vec<Vec<&Fastener>> =
            touched.joints.iter().map(|joint| fasteners_of(&self.records, joint).collect()).collect();
        let gone: Vec<&Id> = touched.gone.iter().collect();
        let doubted = self.torques.change(&gone, &joints);
        let led_otherwise = self.change_ways(&touched.rewritten);
        touched.joints.extend(led_otherwise);
        let again = self.to_audit(&touched, &doubted);
        let context: BTreeSet<&ById> = again.iter().flat_map(|record| self.context(record)).collect();
        let book = Book::part(context.into_iter().map(|record| &*record.0), &self.torques, &self.ways);
        let audit = Audit::of(&book);
        let audited: Vec<(ById, Box<[Finding]>)> = again
            .into_par_iter()
            .map(|record| (record.clone(), audit.findings_of(&record.0).into_boxed_slice()))
            .collect();
        let count = audited.len();
        self.records.extend(audited);
        count
    }

    fn replace(&mut self, id: Id, now: Option<Arc<Record>>, touched: &mut Touched) {
        let before = self.records.remove_entry(id.as_str()).map(|(before, _)| before);
        if let Some(before) = &before {
            touched.note(&before.0);
            if let Some(members) = part_of(&before.0).and_then(|part| self.parts.get_mut(part)) {
                members.remove(before);
            }
        }
        if now.as_ref().is_none_or(|now| now.as_fastener().is_none()) {
            touched.gone.push(id);
        }
        if let Some(now) = now {
            touched.note(&now);
            if let Some(part) = part_of(&now) {
                self.parts.entry(part.into()).or_default().insert(ById(now.clone()));
            }
            self.records.insert(ById(now), Box::default());
        }
    }

    /// The records that have to be audited again: those of touched joints and parts, and those beside a torque about which
    /// something else is found now.
    fn to_audit(&self, touched: &Touched, doubted: &[Id]) -> BTreeSet<&ById> {
        let joint_of = |id: &Id| Some(&self.records.get_key_value(id.as_str())?.0.0.as_fastener()?.joint);
        let joints: BTreeSet<&Id> = touched.joints.iter().chain(doubted.iter().filter_map(joint_of)).collect();
        let in_joints = joints.into_iter().flat_map(|joint| self.joint_with_fasteners(joint));
        let of_parts = touched.parts.iter().filter_map(|part| self.parts.get(part)).flatten();
        in_joints.chain(of_parts).collect()
    }

    /// Everything that a record is judged beside, itself among it.
    fn context<'a>(&'a self, record: &ById) -> impl Iterator<Item = &'a ById> + use<'a> {
        let joint = record.0.as_fastener().map_or(record.0.id(), |fastener| &fastener.joint);
        let part = part_of(&record.0).and_then(|part| self.parts.get(part));
        let behind = record.0.as_joint().map_or(&[][..], |joint| &joint.behind);
        let behind: Vec<&ById> = behind.iter().filter_map(|first| self.entry(first)).collect();
        self.joint_with_fasteners(joint).chain(part.into_iter().flatten()).chain(behind)
    }

    fn entry(&self, id: &Id) -> Option<&ById> {
        self.records.get_key_value(id.as_str()).map(|(record, _)| record)
    }

    /// Takes in the ways to joints that are other ones now, and gives the joints that may be judged otherwise by that.
    fn change_ways(&mut self, rewritten: &BTreeSet<Id>) -> BTreeSet<Id> {
        let Self { records, ways, .. } = self;
        let now = |id| records.get_key_value(Id::as_str(id)).and_then(|(record, _)| record.0.as_joint());
        ways.change(rewritten.iter().map(|id| (id, now(id))))
    }

    fn joint_with_fasteners<'a>(&'a self, joint: &Id) -> impl Iterator<Item = &'a ById> + use<'a> {
        let joint = joint.clone();
        let itself = self.entry(&joint);
        let below = below(&self.records, joint.as_str()).map(|(record, _)| record);
        itself.into_iter().chain(below.filter(move |record| closes(&record.0, &joint)))
    }

    /// Every finding, in the order of the ids.
    pub fn findings(&self) -> impl Iterator<Item = &Finding> {
        self.records.values().flatten()
    }

    /// The findings of what is at a path or below it, in the order of the ids.
    pub fn findings_within(&self, path: &str) -> impl Iterator<Item = &Finding> {
        let itself = self.records.get(path);
        itself.into_iter().chain(below(&self.records, path).map(|(_, findings)| findings)).flatten()
    }

    /// The findings of the record of this id; none if it is not in the book.
    #[must_use]
    pub fn findings_of(&self, id: &str) -> &[Finding] {
        self.records.get(id).map_or(&[], |findings| findings)
    }

    /// The findings of a record if it stands in the book as it is.
    #[must_use]
    pub fn findings_in_force(&self, record: &Record) -> Option<&[Finding]> {
        let (known, findings) = self.records.get_key_value(record.id().as_str())?;
        (*known.0 == *record).then_some(findings)
    }

    /// The findings of a record that does not stand in the book, or not any more, as it would be judged beside it.
    #[must_use]
    pub fn findings_beside(&self, record: Arc<Record>) -> Vec<Finding> {
        let record = ById(record);
        let context: BTreeSet<&ById> = self.context(&record).collect();
        let book = Book::part(context.into_iter().map(|record| &*record.0), &self.torques, &self.ways);
        Audit::of(&book).findings_of(&record.0)
    }

    /// The record of this id.
    #[must_use]
    pub fn record(&self, id: &str) -> Option<&Arc<Record>> {
        self.records.get_key_value(id).map(|(record, _)| &record.0)
    }

    /// The torques of the book with the verdict on each.
    #[must_use]
    pub fn torques(&self) -> &Torques {
        &self.torques
    }

    /// How many records there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.records.len()
    }

    /// Whether so much has changed that it is better made anew.
    #[must_use]
    pub fn is_worn(&self) -> bool {
        self.torques.is_worn()
    }
}

/// What changes have touched.
#[derive(Debug, Default)]
struct Touched {
    /// Joints that are other ones now, or have other fasteners.
    joints: BTreeSet<Id>,
    /// Those of them whose own record is another one.
    rewritten: BTreeSet<Id>,
    parts: BTreeSet<Box<str>>,
    /// What is no fastener of the book now.
    gone: Vec<Id>,
}

impl Touched {
    fn note(&mut self, record: &Record) {
        let joint = record.as_fastener().map_or(record.id(), |fastener| &fastener.joint);
        self.joints.insert(joint.clone());
        if record.as_joint().is_some() {
            self.rewritten.insert(joint.clone());
        }
        self.parts.extend(part_of(record).map(Box::from));
    }
}

fn part_of(record: &Record) -> Option<&str> {
    record.as_fastener()?.part_no.as_ref().map(|part| part.as_str())
}

fn closes(record: &Record, joint: &Id) -> bool {
    record.as_fastener().is_some_and(|fastener| fastener.joint == *joint)
}

/// The fasteners of a joint, which lie below it.
fn fasteners_of<'r>(records: &'r Records, joint: &'r Id) -> impl Iterator<Item = &'r Fastener> {
    let below = below(records, joint.as_str()).filter_map(|(record, _)| record.0.as_fastener());
    below.filter(move |fastener| fastener.joint == *joint)
}

/// What lies below a path.
fn below<'r>(records: &'r Records, path: &str) -> impl Iterator<Item = (&'r ById, &'r Box<[Finding]>)> + use<'r> {
    // Behind the point comes the slash.
    let (first, last) = (format!("{path}."), format!("{path}/"));
    records.range::<str, _>((Bound::Included(first.as_str()), Bound::Excluded(last.as_str())))
}
