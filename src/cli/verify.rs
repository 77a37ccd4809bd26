//! `verify` and `compact`: the care of a store's files.

use super::book::BookArguments;
use super::failure::Failure;
use super::output::{Answer, Output};
use super::progress::Progress;
use super::table::{self, Table};
use crate::catalog::{Catalog, OpenOptions};
use crate::view::{CheckView, LostShown, RemedyShown};
use serde::Serialize;
use serde_json::{Value, json};

/// Check the files of the book from end to end.
///
/// Every checksum, every chain of revisions, the list of changes, and the index both ways. Looking changes nothing. The
/// exit code is 1 where something is damaged, and after a repair that lost something.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Make damaged files anew from everything that is whole, and put the old ones aside.
    #[arg(long)]
    repair: bool,
}

/// Write the files of the book anew without what is no longer needed.
///
/// Nothing of the history goes; only room that the engine does not give back.
#[derive(Debug, clap::Args)]
pub struct CompactArguments {}

/// Checks the book, and repairs it if that is wanted and needed.
///
/// # Errors
/// If it cannot be checked; damage is a no.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let (place, options) = (book.place()?, OpenOptions::default());
    let mut progress = Progress::new(format!("checking {place}"));
    let check = Catalog::examine_at(&place, &options, &mut |at| progress.show(at.done, at.step))?;
    progress.clear();
    let check = CheckView::of(check);
    if check.is_whole || !arguments.repair {
        let is_whole = check.is_whole;
        output.show(&Checked(check))?;
        return if is_whole { Ok(()) } else { Err(Failure::no(None)) };
    }
    let mut progress = Progress::new(format!("repairing {place}"));
    let done = Catalog::repair(&book.path()?, &options, &mut |at| progress.show(at.done, at.step))?;
    progress.clear();
    let done = RemedyShown::of(done);
    let is_complete = done.lost.is_empty();
    output.show(&Repaired { check, done })?;
    if is_complete { Ok(()) } else { Err(Failure::no(None)) }
}

/// Compacts the book.
///
/// # Errors
/// If it cannot be opened or written.
pub fn compact(_: &CompactArguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let path = book.path()?;
    let mut progress = Progress::new(format!("compacting {}", path.display()));
    let options = OpenOptions::default();
    let (before, after) = Catalog::compact(&path, &options, &mut |at| progress.show(at.done, at.step))?;
    progress.clear();
    output.show(&Compacted { before, after })
}

/// What a check has found.
struct Checked(CheckView);

impl Answer for Checked {
    fn json(&self) -> impl Serialize {
        &self.0
    }
    fn lines(&self) -> Vec<Value> {
        vec![serde_json::to_value(&self.0).unwrap_or_default()]
    }
    fn table(&self) -> Table {
        table::of_paths(&self.0)
    }
    fn for_people(&self, _width: usize) -> String {
        let mut text = found(&self.0);
        if let Some(remedy) = &self.0.remedy {
            text += &match (remedy.lost.len(), remedy.is_complete) {
                (_, true) => "\"clampbook verify --repair\" brings back everything.\n".to_owned(),
                (lost, _) => format!(
                    "\"clampbook verify --repair\" keeps the {} revisions that are whole and loses {lost}:\n{}\
                     A backup may have more: \"clampbook restore\".\n",
                    remedy.revisions,
                    lines_of(&remedy.lost)
                ),
            };
        }
        text
    }
}

/// What was damaged, and what a repair has done about it.
struct Repaired {
    check: CheckView,
    done: RemedyShown,
}

impl Answer for Repaired {
    fn json(&self) -> impl Serialize {
        let CheckView { damages_total, damages, .. } = &self.check;
        json!({ "damages_total": damages_total, "damages": damages, "repair": self.done })
    }
    fn lines(&self) -> Vec<Value> {
        vec![serde_json::to_value(self.json()).unwrap_or_default()]
    }
    fn table(&self) -> Table {
        table::of_paths(&self.json())
    }
    fn for_people(&self, _width: usize) -> String {
        let RemedyShown { revisions, lost, is_complete, set_aside } = &self.done;
        let outcome = match (lost.as_slice(), is_complete) {
            (_, true) => "nothing was lost".to_owned(),
            ([], false) => "nothing is known to be lost, but that could not be proved".to_owned(),
            (lost, false) => format!("lost {}, also listed in lost.ndjson there:\n{}", lost.len(), lines_of(lost)),
        };
        let aside = set_aside.as_deref().unwrap_or_default();
        let text = found(&self.check);
        format!(
            "{text}Repaired: {revisions} revisions are whole. The old files are in {aside}; {}\n",
            outcome.trim_end()
        )
    }
}

/// What was read, and what of it is damaged.
fn found(check: &CheckView) -> String {
    let CheckView { records, revisions, changes, index_blocks, damages_total, .. } = check;
    let mut text = String::new();
    for damage in &check.damages {
        let rebuilt = if damage.is_derived { " (can be made again)" } else { "" };
        text += &format!("{}: {}{rebuilt}\n", damage.what, damage.how);
    }
    if *damages_total > check.damages.len() as u64 {
        text += &format!("{} more are not listed\n", damages_total - check.damages.len() as u64);
    }
    let verdict = match damages_total {
        0 => "nothing is damaged".to_owned(),
        1 => "1 damage".to_owned(),
        more => format!("{more} damages"),
    };
    text +=
        &format!("{records} records, {revisions} revisions, {changes} changes, {index_blocks} blocks of the index: ");
    text + &verdict + "\n"
}

/// Lost changes, one a line.
fn lines_of(lost: &[LostShown]) -> String {
    let line = |lost: &LostShown| match (&lost.id, lost.revision) {
        (Some(id), Some(revision)) => format!("  revision {revision} of {id} (change {})\n", lost.sequence),
        _ => format!("  change {}\n", lost.sequence),
    };
    lost.iter().map(line).collect()
}

/// What compaction has given back.
#[derive(Serialize)]
struct Compacted {
    before: u64,
    after: u64,
}

impl Answer for Compacted {
    fn json(&self) -> impl Serialize {
        json!({ "bytes_before": self.before, "bytes_after": self.after })
    }
    fn lines(&self) -> Vec<Value> {
        vec![serde_json::to_value(self.json()).unwrap_or_default()]
    }
    fn table(&self) -> Table {
        table::of_members(&self.json())
    }
    fn for_people(&self, _width: usize) -> String {
        format!("{} bytes before, {} now\n", self.before, self.after)
    }
}
