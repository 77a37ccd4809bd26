//! The audit of a book that changes: after a change only what it touched is audited again.
//!
//! What a rule looks at beside the record itself is its joint, the fasteners of its joint, the fasteners of its part
//! number, the joints that it is behind, and the torques of the book as the slip model sees them. So a record is audited
//! again when one of these has changed; which torques have, [`Torques::change`] says, and which ways, [`Ways::change`].
//! The findings after a change are those of an audit of the whole book, to the letter: `tests/it/audit_live.rs` holds them
//! against each other.
//!
//! No record and no finding is kept, only what findings come to ([`Kept`]): who asks for findings has them made of the
//! records, which are read again.

mod told;

use super::book::{Book, OfAll};
use super::finding::{Finding, Severity};
use super::kept::{Kept, PartKey, joint_of};
use super::run::Audit;
use super::slip::Index;
use super::torques::Torques;
use super::ways::Ways;
use crate::record::{Fastener, Id, Record};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What the audit of a book came to, kept up to date.
#[derive(Debug)]
pub struct LiveAudit {
    /// By their numbers; nothing stands where a record is gone.
    records: Vec<Option<Kept>>,
    count: usize,
    /// The numbers of the fasteners that state a part number, by it.
    parts: Index,
    torques: Torques,
    ways: Ways,
}

/// A record as it stands in the book.
#[derive(Debug, Clone)]
pub struct Standing {
    /// The record.
    pub record: Arc<Record>,
    /// Tells this state of the record from every other that it has had.
    pub version: u64,
}

/// A change of a book: what stands under an id now; nothing where it was taken out.
pub type BookChange = (Id, Option<Standing>);

/// Where the records of the book are read again, as they stand when the audit is asked or changed.
pub trait Pages: Sync {
    /// Why a record can't be read.
    type Error: Send;

    /// The record of this id.
    ///
    /// # Errors
    /// If it can't be read.
    fn record(&self, id: &Id) -> Result<Option<Arc<Record>>, Self::Error>;

    /// Every record.
    ///
    /// # Errors
    /// If they can't be read.
    fn all(&self) -> Result<Vec<Arc<Record>>, Self::Error>;
}

/// Which findings are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Wanted<'w> {
    /// Only findings at least this bad.
    pub at_least: Severity,
    /// Only findings of this rule.
    pub rule: Option<&'w str>,
}

impl Wanted<'_> {
    /// All of them.
    pub const ALL: Self = Self { at_least: Severity::Note, rule: None };

    fn wants(&self, finding: &Finding) -> bool {
        finding.severity >= self.at_least && self.rule.is_none_or(|rule| finding.rule == rule)
    }
}

/// Records that have been read.
type Read = BTreeMap<Id, Arc<Record>>;

impl LiveAudit {
    pub(super) fn new(records: Vec<Option<Kept>>, parts: Index, torques: Torques, ways: Ways) -> Self {
        Self { count: records.len(), records, parts, torques, ways }
    }

    /// Takes in changes of the book, and gives how many records had to be audited again. `pages` has the book after the
    /// changes.
    ///
    /// # Errors
    /// If a record can't be read; then the audit is of no use any more.
    pub fn change<P: Pages>(&mut self, changes: Vec<BookChange>, pages: &P) -> Result<usize, P::Error> {
        let begun = self.begin(changes, pages)?;
        let judged = self.judge(begun, pages)?;
        Ok(self.enter(judged))
    }

    /// The first of the three steps of taking in changes: what stands in the book now. Until the last one, what is told of a
    /// record that the changes have not written is what was found before them.
    ///
    /// # Errors
    /// As [`LiveAudit::change`].
    pub fn begin<P: Pages>(&mut self, changes: Vec<BookChange>, pages: &P) -> Result<Begun, P::Error> {
        let mut touched = Touched::default();
        let mut read = Read::new();
        for (id, now) in changes {
            self.replace(id, now, &mut touched, &mut read);
        }
        let fasteners = |joint: &str| -> Vec<Id> { self.ids(self.fasteners_of(joint)) };
        let joints: Vec<Vec<Id>> = touched.joints.iter().map(|joint| fasteners(joint)).collect();
        read_more(&mut read, joints.iter().flatten(), pages)?;
        let fasteners = |ids: &Vec<Id>| -> Vec<&Fastener> {
            ids.iter().filter_map(|id| read.get(id.as_str())?.as_fastener()).collect()
        };
        let joints: Vec<Vec<&Fastener>> = joints.iter().map(fasteners).collect();
        let gone: Vec<&Id> = touched.gone.iter().collect();
        let doubted = self.torques.change(&gone, &joints);
        let joint = |id: &Id| read.get(id).and_then(|record| record.as_joint());
        let led_otherwise = self.ways.change(touched.rewritten.iter().map(|id| (id, joint(id))));
        touched.joints.extend(led_otherwise.iter().map(|joint| joint.as_str().into()));
        Ok(Begun { again: self.to_audit(&touched, &doubted), read })
    }

    /// The second step, and the longest: the findings of what has to be audited again. Others may ask meanwhile.
    ///
    /// # Errors
    /// As [`LiveAudit::change`].
    pub fn judge<P: Pages>(&self, Begun { again, read }: Begun, pages: &P) -> Result<Judged, P::Error> {
        Ok(Judged(self.each(&again, read, pages, |id, findings| (id.clone(), findings))?))
    }

    /// The last step; gives how many records had to be audited again.
    pub fn enter(&mut self, Judged(judged): Judged) -> usize {
        for (id, findings) in &judged {
            if let Some(number) = self.torques.roll().number(id.as_str())
                && let Some(kept) = &mut self.records[number as usize]
            {
                kept.enter(findings);
            }
        }
        judged.len()
    }

    fn replace(&mut self, id: Id, now: Option<Standing>, touched: &mut Touched, read: &mut Read) {
        let number = self.torques.number_for(&id);
        self.records.resize(self.torques.roll().count(), None);
        if let Some(before) = self.records[number as usize].take() {
            self.count -= 1;
            let joint = before.joint(id.as_str());
            touched.joints.insert(joint.unwrap_or(id.as_str()).into());
            if joint.is_none() {
                touched.rewritten.insert(id.clone());
            }
            touched.parts.extend(before.part);
            if let Some(part) = before.part {
                self.parts.remove(part.get(), number);
            }
        }
        if now.as_ref().is_none_or(|now| now.record.as_fastener().is_none()) {
            touched.gone.push(id.clone());
        }
        let Some(Standing { record, version }) = now else { return drop(read.remove(&id)) };
        let kept = Kept::of(&record, version);
        touched.joints.insert(joint_of(&record).as_str().into());
        if record.as_joint().is_some() {
            touched.rewritten.insert(id.clone());
        }
        if let Some(part) = kept.part {
            touched.parts.insert(part);
            self.parts.add(part.get(), number, |_| true);
        }
        self.records[number as usize] = Some(kept);
        self.count += 1;
        read.insert(id, record);
    }

    /// The records that have to be audited again: those of touched joints and parts, and those beside a torque about which
    /// something else is found now.
    fn to_audit(&self, touched: &Touched, doubted: &[Id]) -> Vec<Id> {
        let joint_of = |id: &Id| self.get(id).and_then(|(_, kept)| kept.joint(id.as_str()).map(Box::from));
        let doubted: Vec<Box<str>> = doubted.iter().filter_map(joint_of).collect();
        let joints: BTreeSet<&str> = touched.joints.iter().chain(&doubted).map(|joint| &**joint).collect();
        let in_joints = joints.into_iter().flat_map(|joint| self.joint_with_fasteners(joint));
        let of_parts = touched.parts.iter().flat_map(|part| self.of_part(*part));
        let mut again = self.ids(in_joints.chain(of_parts).collect::<BTreeSet<u32>>());
        again.sort_unstable();
        again
    }

    fn ids(&self, numbers: impl IntoIterator<Item = u32>) -> Vec<Id> {
        numbers.into_iter().filter_map(|number| self.torques.roll().id(number)).collect()
    }

    fn get(&self, id: &Id) -> Option<(u32, &Kept)> {
        self.get_at(self.torques.roll().number(id.as_str())?)
    }

    fn get_at(&self, number: u32) -> Option<(u32, &Kept)> {
        Some((number, self.records[number as usize].as_ref()?))
    }

    /// Everything that a record is judged beside, itself among it if it is in the book: by its joint, its part, and what it is
    /// behind.
    fn context(&self, joint: &str, part: Option<PartKey>, behind: &[Id]) -> BTreeSet<u32> {
        let of_part = part.into_iter().flat_map(|part| self.of_part(part));
        let behind = behind.iter().filter_map(|first| self.get(first)).map(|(number, _)| number);
        self.joint_with_fasteners(joint).chain(of_part).chain(behind).collect()
    }

    fn joint_with_fasteners(&self, joint: &str) -> impl Iterator<Item = u32> {
        let itself = self.torques.roll().number(joint).and_then(|number| self.get_at(number));
        itself.map(|(number, _)| number).into_iter().chain(self.fasteners_of(joint))
    }

    /// The fasteners of a joint, which lie below it.
    fn fasteners_of(&self, joint: &str) -> impl Iterator<Item = u32> {
        let length = joint.len();
        let closes = move |(_, kept): &(u32, &Kept)| kept.joint_length() == Some(length);
        self.below(joint).filter(closes).map(|(number, _)| number)
    }

    fn of_part(&self, part: PartKey) -> impl Iterator<Item = u32> {
        self.parts.group(part.get()).map(|number| number as u32)
    }

    /// What lies below a path; everything below the empty one.
    fn below(&self, path: &str) -> impl Iterator<Item = (u32, &Kept)> + use<'_> {
        // Behind the point comes the slash, and behind every id the brace.
        let (first, last) =
            if path.is_empty() { (String::new(), "{".to_owned()) } else { (format!("{path}."), format!("{path}/")) };
        self.torques.roll().range(&first, &last).filter_map(|number| self.get_at(number))
    }

    /// Everything that these records are judged beside, they themselves among it.
    fn beside(&self, ids: &[Id]) -> BTreeSet<Id> {
        let context = |id: &Id| {
            let kept = self.get(id).map(|(_, kept)| kept);
            let joint = kept.and_then(|kept| kept.joint(id.as_str())).unwrap_or(id.as_str());
            let part = kept.and_then(|kept| kept.part);
            self.context(joint, part, self.ways.behind(id))
        };
        let beside: BTreeSet<u32> = ids.iter().flat_map(context).collect();
        self.ids(beside).into_iter().collect()
    }

    /// Audits records of the book, in the order of their ids, and tells the findings of each. `read` are records that
    /// have been read already.
    fn each<P: Pages, T: Send>(
        &self,
        ids: &[Id],
        mut read: Read,
        pages: &P,
        tell: impl Fn(&Id, Vec<Finding>) -> T + Sync,
    ) -> Result<Vec<T>, P::Error> {
        // To read all that stand beside each of them is dearer than to read the whole book from here on.
        const FEW: usize = 200;
        const PART: usize = 8;
        if ids.len() > FEW.max(self.count / PART) {
            read.extend(pages.all()?.into_iter().map(|record| (record.id().clone(), record)));
        } else {
            let beside = self.beside(ids);
            read.retain(|id, _| beside.contains(id));
            read_more(&mut read, beside.iter(), pages)?;
        }
        let book = Book::part(read.values().map(|record| &**record), self.of_all());
        let audit = Audit::of(&book);
        let told = ids.par_iter().filter_map(|id| Some((id, read.get(id)?)));
        Ok(told.map(|(id, record)| tell(id, audit.findings_of(record))).collect())
    }

    /// What is known of the book beside the records that are read, among which is everything that they are judged beside.
    fn of_all(&self) -> OfAll<'_> {
        OfAll { torques: &self.torques, ways: &self.ways, elsewhere: None }
    }

    /// The torques of the book with the verdict on each.
    #[must_use]
    pub fn torques(&self) -> &Torques {
        &self.torques
    }

    /// How many records there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// Whether so much has changed that it is better made anew.
    #[must_use]
    pub fn is_worn(&self) -> bool {
        self.torques.is_worn()
    }
}

/// Changes that an audit has begun to take in: what has to be audited again, and what was read for it.
#[derive(Debug)]
pub struct Begun {
    again: Vec<Id>,
    read: Read,
}

/// What was found about the records that had to be audited again.
#[derive(Debug)]
pub struct Judged(Vec<(Id, Vec<Finding>)>);

/// What changes have touched.
#[derive(Debug, Default)]
struct Touched {
    /// Joints that are other ones now, or have other fasteners.
    joints: BTreeSet<Box<str>>,
    /// Those of them whose own record is another one.
    rewritten: BTreeSet<Id>,
    parts: BTreeSet<PartKey>,
    /// What is no fastener of the book now.
    gone: Vec<Id>,
}

/// Reads records that have not been read yet.
fn read_more<'i, P: Pages>(read: &mut Read, ids: impl Iterator<Item = &'i Id>, pages: &P) -> Result<(), P::Error> {
    let missing: Vec<&Id> = ids.filter(|id| !read.contains_key(id.as_str())).collect();
    let one = |id: &&Id| pages.record(id).map(|record| record.map(|record| ((*id).clone(), record)));
    let found: Vec<Option<(Id, Arc<Record>)>> =
        missing.par_iter().with_min_len(32).map(one).collect::<Result<_, _>>()?;
    read.extend(found.into_iter().flatten());
    Ok(())
}
