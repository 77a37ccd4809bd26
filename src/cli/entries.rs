//! How records are shown: in two or three lines for people, as rows for programs.

use super::layout;
use super::said::Shown;
use super::table::Table;
use super::terminal;
use crate::record::{Fastener, Record};
use serde_json::Value;

/// A record in two or three lines for people: what it looks like first, then what is done to it.
#[must_use]
pub fn paragraph(entry: &Value, width: usize) -> String {
    let shown = Shown::of(entry);
    let head = heading(&shown, width);
    match &shown.record {
        Some(Record::Fastener(fastener)) => {
            let done = format!("{}; {}", fastener.stages, reuse(fastener));
            let lines = [looks(fastener), done].map(|line| layout::fill(&line, width, "  ", "    "));
            head + &lines.concat()
        }
        Some(Record::Joint(joint)) => match &joint.title {
            Some(title) => head + &layout::fill(title, width, "  ", "    "),
            None => head,
        },
        None => head + "  written by a newer program: ask for --as json\n",
    }
}

/// The id, and whether the record is in force, checked, and what the audit found; in two lines if one is too narrow.
fn heading(shown: &Shown<'_>, width: usize) -> String {
    let mut marks = vec![shown.checked().to_owned()];
    if !shown.audit().is_empty() {
        marks.push(format!("audit: {}", shown.audit()));
    }
    if shown.is_withdrawn() {
        marks.insert(0, "withdrawn".to_owned());
    }
    let marks = format!("[{}]", marks.join(", "));
    let fits = layout::length(shown.id()) + 2 + layout::length(&marks) <= width;
    let marks = match shown.audit() {
        "" => marks,
        word => marks.replace(word, &terminal::severity(word)),
    };
    format!("{}{}{marks}\n", terminal::heading(shown.id()), if fits { "  " } else { "\n  " })
}

fn looks(fastener: &Fastener) -> String {
    let looks = [
        fastener.head.map(|head| format!("{} head", head.words())),
        fastener.drive.as_ref().map(|drive| format!("drive {drive}")),
        Some(fastener.thread.to_string()),
        fastener.property_class.as_ref().map(ToString::to_string),
        fastener.length.map(|length| format!("{length} long")),
        fastener.positions.as_ref().map(|positions| format!("at {positions}")),
        fastener.fits.as_ref().map(|fits| format!("fits {fits}")),
    ];
    looks.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn reuse(fastener: &Fastener) -> String {
    fastener.reuse.as_ref().map_or_else(|| "reuse not stated".to_owned(), ToString::to_string)
}

/// The columns of records as rows.
const COLUMNS: [&str; 12] =
    ["id", "positions", "head", "drive", "thread", "class", "length", "stages", "reuse", "title", "checked", "audit"];

/// Records as rows: what tells them apart comes first.
#[must_use]
pub fn table_of(entries: &[Value]) -> Table {
    let mut table = Table::new(COLUMNS);
    for entry in entries {
        let shown = Shown::of(entry);
        let mut cells = match &shown.record {
            Some(Record::Fastener(fastener)) => cells_of(fastener),
            Some(Record::Joint(joint)) => {
                let mut cells = vec![String::new(); COLUMNS.len()];
                cells[9] = joint.title.as_ref().map(ToString::to_string).unwrap_or_default();
                cells
            }
            None => vec![String::new(); COLUMNS.len()],
        };
        shown.id().clone_into(&mut cells[0]);
        shown.checked().clone_into(&mut cells[10]);
        shown.audit().clone_into(&mut cells[11]);
        table.row(cells);
    }
    table
}

fn cells_of(fastener: &Fastener) -> Vec<String> {
    let text = |value: Option<String>| value.unwrap_or_default();
    let mut cells = vec![
        String::new(),
        text(fastener.positions.as_ref().map(ToString::to_string)),
        text(fastener.head.map(|head| head.words())),
        text(fastener.drive.as_ref().map(ToString::to_string)),
        fastener.thread.to_string(),
        text(fastener.property_class.as_ref().map(ToString::to_string)),
        text(fastener.length.map(|length| length.to_string())),
        fastener.stages.to_string(),
        text(fastener.reuse.as_ref().map(ToString::to_string)),
    ];
    cells.resize(COLUMNS.len(), String::new());
    cells
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn what_is_not_audited_yet_is_not_shown_as_if_nothing_was_found() {
        let entry = |audit: Value| {
            json!({ "kind": "fastener", "id": "a.b.c", "joint": "a.b", "thread": "M8", "stages": ["20 N·m"],
                "book": { "audit": audit } })
        };
        let pending = entry(json!({ "is_pending": true, "count": 0, "accepted": 0 }));
        let first_line = |entry: &Value| paragraph(entry, 80).lines().next().unwrap_or_default().to_owned();
        assert!(first_line(&pending).contains("audit: "), "{}", first_line(&pending));
        assert!(first_line(&pending).contains("pending"), "{}", first_line(&pending));
        assert!(!first_line(&entry(json!({ "count": 0, "accepted": 0 }))).contains("audit"));
        assert!(table_of(&[pending]).to_csv().contains("pending"));
    }
}
