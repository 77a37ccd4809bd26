//! What is said about the care of a store: backups, checks, repairs.

use crate::catalog::{BackupManifest, Damage, Examination, RepairReport};
use crate::record::Id;
use serde::Serialize;

/// A backup, as written or as restored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BackupView {
    /// The folder of the backup.
    pub folder: String,
    /// The history that it holds.
    pub epoch: String,
    /// How many changes it holds.
    pub changes: u64,
    /// How many files they are in.
    pub files: usize,
    /// The size of these files.
    pub bytes: u64,
    /// When it was written.
    pub written_at: String,
    /// The digest of all revisions.
    pub digest: String,
}

impl BackupView {
    /// The backup in a folder.
    #[must_use]
    pub fn of(folder: String, manifest: BackupManifest) -> Self {
        let BackupManifest { epoch, sequence, files, written_at, digest, .. } = manifest;
        let bytes = files.iter().map(|file| file.bytes).sum();
        Self { folder, epoch, changes: sequence, files: files.len(), bytes, written_at, digest }
    }
}

/// What a check of a store has found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CheckView {
    /// Whether nothing is damaged.
    pub is_whole: bool,
    /// Whether the store was closed the last time it was open.
    pub was_closed: bool,
    /// How many records there are, withdrawn ones too.
    pub records: u64,
    /// How many revisions were read.
    pub revisions: u64,
    /// How many changes were read.
    pub changes: u64,
    /// How many blocks of the index were read.
    pub index_blocks: u64,
    /// How many damages there are.
    pub damages_total: u64,
    /// The first of them.
    pub damages: Vec<DamageShown>,
    /// What a repair could do; absent where nothing is damaged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub remedy: Option<RemedyShown>,
}

/// Something that is not as it was stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DamageShown {
    /// What is hit.
    pub what: String,
    /// How it shows.
    pub how: String,
    /// Whether it can be made again from what is whole.
    pub is_derived: bool,
}

/// What a repair could do, or has done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct RemedyShown {
    /// How many revisions are whole.
    pub revisions: u64,
    /// Whether it is proved that nothing is lost.
    pub is_complete: bool,
    /// The changes whose revision is whole nowhere.
    pub lost: Vec<LostShown>,
    /// Where a repair has put the damaged files.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub set_aside: Option<String>,
}

/// A change whose revision is lost.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LostShown {
    /// The change.
    pub sequence: u64,
    /// The record, where it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub id: Option<String>,
    /// Its revision, where it is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub revision: Option<u64>,
}

impl CheckView {
    /// What an examination has found.
    #[must_use]
    pub fn of(examination: Examination) -> Self {
        let Examination { report, was_closed, remedy } = examination;
        let shown = |Damage { what, how, derived }| DamageShown { what, how, is_derived: derived };
        Self {
            is_whole: report.is_whole(),
            was_closed,
            records: report.records,
            revisions: report.revisions,
            changes: report.changes,
            index_blocks: report.index_blocks,
            damages_total: report.damages_total,
            damages: report.damages.into_iter().map(shown).collect(),
            remedy: remedy.map(|remedy| RemedyShown {
                revisions: remedy.revisions,
                is_complete: remedy.is_complete,
                lost: lost(remedy.lost),
                set_aside: None,
            }),
        }
    }
}

impl RemedyShown {
    /// What a repair has done.
    #[must_use]
    pub fn of(report: RepairReport) -> Self {
        let RepairReport { revisions, lost: losses, is_complete, set_aside } = report;
        Self { revisions, is_complete, lost: lost(losses), set_aside: Some(set_aside.display().to_string()) }
    }
}

fn lost(losses: Vec<(u64, Option<(Id, u64)>)>) -> Vec<LostShown> {
    let shown = |(sequence, known): (u64, Option<(Id, u64)>)| {
        let (id, revision) = known.map(|(id, revision)| (id.to_string(), revision)).unzip();
        LostShown { sequence, id, revision }
    };
    losses.into_iter().map(shown).collect()
}
