//! What is told of an audit that is kept up to date: findings, which are made again of the records, and what they come to.

use super::{LiveAudit, Pages, Read, Wanted, read_more};
use crate::audit::book::Book;
use crate::audit::finding::Finding;
use crate::audit::kept::{Kept, joint_of, part_of};
use crate::audit::run::Audit;
use crate::audit::summary::AuditSummary;
use crate::record::{Id, Record};
use std::collections::BTreeSet;

impl LiveAudit {
    fn within(&self, path: Option<&str>) -> impl Iterator<Item = (u32, &Kept)> {
        let path = path.unwrap_or("");
        let itself = self.torques.roll().number(path).and_then(|number| self.get_at(number));
        itself.into_iter().chain(self.below(path))
    }

    /// The findings of the records that have some that are wanted, in the order of the ids.
    fn findings_of<'k, P: Pages>(
        &self,
        records: impl Iterator<Item = (u32, &'k Kept)>,
        wanted: Wanted<'_>,
        pages: &P,
    ) -> Result<Vec<Finding>, P::Error> {
        let with_findings = records.filter(|(_, kept)| kept.may_have(wanted.at_least, wanted.rule));
        let ids = self.ids(with_findings.map(|(number, _)| number));
        let told = self.each(&ids, Read::new(), pages, |_id, mut findings| {
            #[cfg(debug_assertions)]
            assert!(self.get(_id).is_some_and(|(_, kept)| kept.is_of(&findings)), "{_id} was not audited again");
            findings.retain(|finding| wanted.wants(finding));
            findings
        })?;
        Ok(told.into_iter().flatten().collect())
    }

    /// The findings of what is at a path or below it that are wanted, in the order of the ids; of everything without a
    /// path. `pages` has the book as it was audited.
    ///
    /// # Errors
    /// If a record can't be read.
    pub fn findings_within<P: Pages>(
        &self,
        path: Option<&str>,
        wanted: Wanted<'_>,
        pages: &P,
    ) -> Result<Vec<Finding>, P::Error> {
        self.findings_of(self.within(path), wanted, pages)
    }

    /// The findings of these records, in the order of the ids; of one that is not in the book there are none. `pages` has
    /// the book as it was audited.
    ///
    /// # Errors
    /// If a record can't be read.
    pub fn findings_of_ids<P: Pages>(&self, ids: &BTreeSet<&Id>, pages: &P) -> Result<Vec<Finding>, P::Error> {
        self.findings_of(ids.iter().filter_map(|id| self.get(id)), Wanted::ALL, pages)
    }

    /// The findings of these records as far as all evidence goes that has been taken in, whatever of them had to be audited
    /// again and has not been yet. `pages` has the book after the changes that it was taken in of.
    ///
    /// # Errors
    /// If a record can't be read.
    pub fn findings_ahead<P: Pages>(&self, ids: &BTreeSet<&Id>, pages: &P) -> Result<Vec<Finding>, P::Error> {
        let ids: Vec<Id> = ids.iter().copied().filter(|id| self.get(id).is_some()).cloned().collect();
        let mut read = Read::new();
        for id in self.beside(&ids) {
            if let Some(record) = pages.record(&id)? {
                read.insert(id, record);
            }
        }
        let book = Book::part(read.values().map(|record| &**record), self.of_all());
        let audit = Audit::of(&book);
        // On this thread alone: the others are at what has to be audited again.
        Ok(ids.iter().filter_map(|id| read.get(id)).flat_map(|record| audit.findings_of(record)).collect())
    }

    /// Whether the book has a record in this version.
    #[must_use]
    pub fn has(&self, id: &Id, version: u64) -> bool {
        self.get(id).is_some_and(|(_, kept)| kept.version == version)
    }

    /// What was found at a path and below it, in short.
    #[must_use]
    pub fn summary_within(&self, path: &str) -> AuditSummary {
        self.within(Some(path)).map(|(_, kept)| kept.summary()).sum()
    }

    /// Every record about which something was found, and what in short, in the order of the ids.
    pub fn summaries(&self) -> impl Iterator<Item = (Id, AuditSummary)> {
        let with_findings = self.within(None).filter(|(_, kept)| kept.findings() > 0);
        with_findings.filter_map(|(number, kept)| Some((self.torques.roll().id(number)?, kept.summary())))
    }

    /// What was found about the record of this id, if the book has it in this version.
    #[must_use]
    pub fn summary_in_force(&self, id: &Id, version: u64) -> Option<AuditSummary> {
        self.get(id).filter(|(_, kept)| kept.version == version).map(|(_, kept)| kept.summary())
    }

    /// Whether there are surely more than `most` findings that are wanted at a path and below it, as far as can be told
    /// without making them.
    #[must_use]
    pub fn findings_are_more(&self, path: Option<&str>, wanted: Wanted<'_>, most: usize) -> bool {
        let records = self.within(path).filter(|(_, kept)| kept.may_have(wanted.at_least, wanted.rule));
        // Of the findings of a record one at least is wanted; all of them if everything is.
        let count = |kept: &Kept| if wanted == Wanted::ALL { kept.findings() } else { 1 };
        records.map(|(_, kept)| count(kept)).sum::<usize>() > most
    }

    /// The findings of a record that does not stand in the book, or not any more, as it would be judged beside it.
    ///
    /// # Errors
    /// If a record can't be read.
    pub fn findings_beside<P: Pages>(&self, record: &Record, pages: &P) -> Result<Vec<Finding>, P::Error> {
        let behind = record.as_joint().map_or(&[][..], |joint| &joint.behind);
        let mut read = Read::new();
        let beside = self.ids(self.context(joint_of(record).as_str(), part_of(record), behind));
        read_more(&mut read, beside.iter(), pages)?;
        let book = Book::part(read.values().map(|record| &**record), self.of_all());
        Ok(Audit::of(&book).findings_of(record))
    }
}
