//! `demo`: the main job on a throw-away book of the fictional Skerry Yard.

use super::at::AtPosition;
use super::failure::Failure;
use super::findings::brief;
use super::output::{Answer, Output};
use super::said::Said;
use super::terminal;
use crate::audit::{Finding, Severity};
use crate::card::CardOptions;
use crate::card::bench_card::plain_text;
use crate::catalog::{AuditScope, Catalog, CatalogError, ImportOptions, PositionAsked};
use crate::record::Id;
use crate::view::{FindingList, PositionView};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::fmt::Write as _;

/// The records of the yard, a file an assembly.
const YARD: &[(&str, &str)] = &[
    ("skua.anchor-windlass.json", include_str!("../../seed/skua.anchor-windlass.json")),
    ("skua.bow-thruster.json", include_str!("../../seed/skua.bow-thruster.json")),
    ("skua.deck-winch.json", include_str!("../../seed/skua.deck-winch.json")),
    ("skua.diesel.intake-trunk.json", include_str!("../../seed/skua.diesel.intake-trunk.json")),
    ("skua.diesel.json", include_str!("../../seed/skua.diesel.json")),
    ("skua.diesel.raw-water-pump.json", include_str!("../../seed/skua.diesel.raw-water-pump.json")),
    ("skua.fuel-tank.json", include_str!("../../seed/skua.fuel-tank.json")),
    ("skua.gangway.json", include_str!("../../seed/skua.gangway.json")),
    ("skua.gearbox.json", include_str!("../../seed/skua.gearbox.json")),
    ("skua.railings.json", include_str!("../../seed/skua.railings.json")),
    ("skua.sea-strainer.json", include_str!("../../seed/skua.sea-strainer.json")),
    ("skua.shaft-coupling.json", include_str!("../../seed/skua.shaft-coupling.json")),
    ("skua.steering-gear.json", include_str!("../../seed/skua.steering-gear.json")),
];
/// A training sheet of the yard, on which slips were planted.
const SLIPS: (&str, &str) = ("slips.json", include_str!("../../seed/slips.json"));
/// Which slips were planted.
const PLANTED: &str = include_str!("../../seed/slips.answers.json");

/// The joint that the demonstration looks at.
const JOINT: &str = "skua.diesel.raw-water-pump.cover";

/// A throw-away book of the fictional Skerry Yard.
///
/// One look-up, one bench card, and one audit that finds every slip that was planted on a training sheet.
#[derive(Debug, clap::Args)]
pub struct Arguments {}

/// A slip that was planted, and what it should have been.
#[derive(Debug, Deserialize)]
struct Planted {
    record: String,
    field: String,
    kind: String,
    found: Value,
    meant: Value,
}

/// Makes the book, looks something up, shows a card, audits.
///
/// # Errors
/// If the book cannot be made, or the audit misses a planted slip.
pub fn run(_arguments: &Arguments, output: &Output) -> Result<(), Failure> {
    let folder = Folder::new()?;
    let catalog = Catalog::create(&folder.0.join("book"))?;
    for (name, text) in YARD.iter().chain([&SLIPS]) {
        let options = ImportOptions { name: (*name).to_owned(), ..ImportOptions::default() };
        let report = catalog.import(text.as_bytes(), &options)?;
        if !report.is_clean() {
            let faults: Vec<String> = report.lines().collect();
            return Err(Failure::undone(format!(
                "the records of the demonstration have faults:\n{}",
                faults.join("\n")
            )));
        }
    }
    let shown = Demonstration::of(&catalog)?;
    match output.asked() {
        // It is there to be read: a pipe gets the whole of it too, unless a form was asked for.
        None => output.text(&shown.for_people(terminal::width()))?,
        Some(_) => output.show(&shown)?,
    }
    match shown.slips.iter().filter(|slip| !slip.is_found).count() {
        0 => Ok(()),
        missed => Err(Failure::no(Some(format!("the audit missed {missed} of {} planted slips", shown.slips.len())))),
    }
}

/// A folder that goes away with the process.
struct Folder(std::path::PathBuf);

impl Folder {
    fn new() -> Result<Self, Failure> {
        let path = std::env::temp_dir().join(format!("clampbook-demo-{}", std::process::id()));
        std::fs::create_dir_all(&path)
            .map_err(|error| Failure::undone(format!("{} cannot be made: {error}", path.display())))?;
        Ok(Self(path))
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // Nothing of worth is in it; what cannot be removed stays in the system's temporary folder.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// What the demonstration shows.
#[derive(Debug, Serialize)]
struct Demonstration {
    joints: u64,
    fasteners: u64,
    look_up: PositionView,
    card: String,
    yard_errors: usize,
    yard_warnings: usize,
    yard_notes: usize,
    slips: Vec<SlipShown>,
}

/// A planted slip and what the audit said about it.
#[derive(Debug, Serialize)]
struct SlipShown {
    record: String,
    kind: String,
    found: String,
    meant: String,
    is_found: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    finding: Option<Finding>,
}

impl Demonstration {
    fn of(catalog: &Catalog) -> Result<Self, CatalogError> {
        let joint: Id = JOINT.parse().unwrap_or_else(|error| unreachable!("{error}"));
        let look_up = PositionView::of(
            catalog,
            &joint,
            catalog.at_position(&joint, &PositionAsked { position: 2, ..PositionAsked::default() })?,
        )?;
        let findings = catalog.audit(&AuditScope::Whole)?;
        let slips: Vec<Planted> = serde_json::from_str(PLANTED).unwrap_or_else(|error| unreachable!("{error}"));
        let (sheet, yard): (Vec<Finding>, Vec<Finding>) =
            findings.into_iter().partition(|finding| finding.record.starts_with("skua.training."));
        let yard = FindingList::of(yard);
        let counts = catalog.counts();
        let card = catalog.card(&joint, &CardOptions::default(), &crate::view::printed_at())?;
        Ok(Self {
            joints: counts.joints,
            fasteners: counts.fasteners,
            look_up,
            card: card.map(|card| plain_text(&card)).unwrap_or_default(),
            yard_errors: yard.errors,
            yard_warnings: yard.warnings,
            yard_notes: yard.notes,
            slips: slips.into_iter().map(|planted| SlipShown::of(planted, &sheet)).collect(),
        })
    }
}

impl SlipShown {
    /// A slip counts as found if something was found about its record: a warning, an error, or a note about the very
    /// field. The finding that knows what was meant comes first, then the worst.
    fn of(planted: Planted, findings: &[Finding]) -> Self {
        let about = |finding: &&Finding| {
            finding.record == planted.record
                && (finding.severity >= Severity::Warning || finding.field == planted.field)
        };
        let about: Vec<&Finding> = findings.iter().filter(about).collect();
        let Planted { record, kind, found, meant, .. } = planted;
        let (found, meant) = (super::table::cell(&found), super::table::cell(&meant));
        let knows = |finding: &&Finding| finding.perhaps.iter().any(|perhaps| perhaps.value == meant);
        let worst = || about.iter().copied().max_by_key(|finding| finding.severity);
        let finding = about.iter().copied().find(knows).or_else(worst).cloned();
        Self { record, kind, found, meant, is_found: finding.is_some(), finding }
    }
}

impl Answer for Demonstration {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.slips.iter().filter_map(|slip| serde_json::to_value(slip).ok()).collect()
    }
    fn table(&self) -> super::table::Table {
        let mut table = super::table::Table::new(["record", "kind", "found", "meant", "is_found", "rule"]);
        for slip in &self.slips {
            let rule = slip.finding.as_ref().map_or("", |finding| finding.rule);
            let is_found = if slip.is_found { "found" } else { "missed" };
            table.row([slip.record.as_str(), &slip.kind, &slip.found, &slip.meant, is_found, rule]);
        }
        table
    }
    fn for_people(&self, width: usize) -> String {
        let mut text = format!(
            "A book of the fictional Skerry Yard: {} joints, {} fasteners. All names and numbers are invented.\n\n",
            self.joints, self.fasteners
        );
        let _ = writeln!(
            text,
            "LOOK-UP: what sits at position 2 of {JOINT}?\n\n{}",
            AtPosition(Said::of(&self.look_up)).for_people(width)
        );
        let _ = writeln!(text, "BENCH CARD of that joint\n\n{}", self.card);
        let _ = writeln!(
            text,
            "AUDIT of the yard's own records: {} errors, {} warnings, {} notes.\n",
            self.yard_errors, self.yard_warnings, self.yard_notes
        );
        let found = self.slips.iter().filter(|slip| slip.is_found).count();
        let is_note = |slip: &&SlipShown| slip.finding.as_ref().is_some_and(|found| found.severity == Severity::Note);
        let _ = writeln!(
            text,
            "AUDIT of a training sheet with {} planted slips: {found} found, {} of them only noted.\n",
            self.slips.len(),
            self.slips.iter().filter(is_note).count()
        );
        for slip in &self.slips {
            let _ = writeln!(text, "{}: {} was meant to be {}", slip.record, slip.found, slip.meant);
            match &slip.finding {
                Some(finding) => text.push_str(&brief(&serde_json::to_value(finding).unwrap_or_default(), width)),
                None => text.push_str("  MISSED\n"),
            }
        }
        let _ = write!(text, "\n{}", super::layout::paragraph(super::CAUTION, width));
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_of_the_seed_is_in_the_demonstration() {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("seed");
        let mut files: Vec<String> = std::fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name != SLIPS.0 && name != "slips.answers.json")
            .collect();
        files.sort();
        assert_eq!(YARD.iter().map(|(name, _)| (*name).to_owned()).collect::<Vec<_>>(), files);
    }
}
