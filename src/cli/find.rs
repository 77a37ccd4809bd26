//! `find`: look up fasteners and joints.

use super::book::BookArguments;
use super::failure::Failure;
use super::output::{Answer, Output};
use super::table::Table;
use crate::query::Query;
use crate::record::{Fault, Refused};
use crate::view::{Entry, PageView};
use regex::Regex;
use serde::Serialize;
use std::sync::LazyLock;

/// Look up fasteners: by words, head, thread, class, assembly, position, reuse rule, torque, in any mix.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Words that the record holds; one wrong letter is forgiven.
    #[arg(value_name = "WORDS")]
    words: Vec<String>,
    /// The kind of head: hexagon, socket-cap …; several joined by commas.
    #[arg(long, value_name = "HEAD")]
    head: Option<String>,
    /// The thread: M8, "3/8-16 UNC" …
    #[arg(long, value_name = "DESIGNATION")]
    thread: Option<String>,
    /// The property class: 8.8, A2-70, "grade 5" …
    #[arg(long = "class", value_name = "CLASS")]
    property_class: Option<String>,
    /// The assembly: a path that the ids begin with.
    #[arg(long, value_name = "PATH")]
    within: Option<String>,
    /// The joint.
    #[arg(long, value_name = "ID")]
    joint: Option<String>,
    /// The position in the joint.
    #[arg(long, value_name = "N")]
    position: Option<String>,
    /// The reuse rule: renew, reuse, reuse-up-to, measure, inspect.
    #[arg(long, value_name = "RULE")]
    reuse: Option<String>,
    /// The final torque: 20..40, 20.., ..40; in N·m unless a unit follows, as in "15..30 lbf.ft".
    #[arg(long, value_name = "RANGE")]
    torque: Option<String>,
    /// The variant of the machine; what names no variant is for all.
    #[arg(long, value_name = "NAME")]
    variant: Option<String>,
    /// The book as it was at this moment.
    #[arg(long = "as-of", value_name = "TIME")]
    as_of: Option<String>,
    /// Joints instead of fasteners, or both.
    #[arg(long, value_name = "KIND", value_parser = ["fastener", "joint", "any"], default_value = "fastener")]
    kind: String,
    /// The order, such as thread,-torque.
    #[arg(long, value_name = "FIELDS")]
    sort: Option<String>,
    /// How many to show at most, 1 to 500.
    #[arg(long, value_name = "N", default_value = "50")]
    take: String,
    /// Go on after the page that ended here.
    #[arg(long, value_name = "CURSOR")]
    after: Option<String>,
    /// Any other parameter of a question, such as head.not=countersunk.
    #[arg(long = "where", value_name = "KEY=VALUE")]
    more: Vec<String>,
}

/// Answers the question; nothing found is a no.
///
/// # Errors
/// If the question cannot be read, the book cannot be opened, or nothing is found.
pub fn run(arguments: &Arguments, book: &BookArguments, output: &Output) -> Result<(), Failure> {
    let query = Query::parse(arguments.pairs()?).map_err(|refused| said_of(&refused))?;
    let catalog = book.open()?;
    let page = catalog.find(&query)?;
    let view = PageView::of(&catalog, page)?;
    output.show(&view)?;
    if !view.page.missing.is_empty() {
        return Err(Failure::no(Some(format!("not in the book: {}", view.page.missing.join(", ")))));
    }
    if view.items.is_empty() {
        return Err(Failure::no(Some(
            "nothing in the book answers this. Ask for less, or look at \"clampbook find\"".into(),
        )));
    }
    if let Some(caution) = caution(&view) {
        eprintln!("{caution}");
    }
    if let Some(next) = &view.page.next {
        eprintln!("There is more: --after {next}");
    }
    Ok(())
}

/// All faults of a question, one a line.
fn said_of(Refused(faults): &Refused) -> Failure {
    let line = |fault: &Fault| match &fault.hint {
        Some(hint) => format!("{}. {hint}", fault.detail),
        None => fault.detail.clone(),
    };
    Failure::usage(faults.iter().map(line).collect::<Vec<_>>().join("\nclampbook: "))
}

impl Arguments {
    /// The question as pairs, the way HTTP writes it.
    fn pairs(&self) -> Result<Vec<(String, String)>, Failure> {
        let mut pairs: Vec<(String, String)> = Vec::new();
        let mut add = |key: &str, value: &Option<String>| {
            pairs.extend(value.iter().map(|value| (key.to_owned(), value.clone())));
        };
        add("head", &self.head);
        add("thread", &self.thread);
        add("property_class", &self.property_class);
        add("within", &self.within);
        add("joint", &self.joint);
        add("position", &self.position);
        add("reuse", &self.reuse);
        add("variant", &self.variant);
        add("as_of", &self.as_of);
        add("sort", &self.sort);
        add("after", &self.after);
        add("take", &Some(self.take.clone()));
        add("kind", &(self.kind != "any").then(|| self.kind.clone()));
        add("q", &(!self.words.is_empty()).then(|| self.words.join(" ")));
        if let Some(torque) = &self.torque {
            pairs.extend(torque_pairs(torque)?);
        }
        for pair in &self.more {
            let (key, value) = pair.split_once('=').ok_or_else(|| {
                Failure::usage(format!("--where \"{pair}\" has no =. Write it like head.not=countersunk"))
            })?;
            pairs.push((key.to_owned(), value.to_owned()));
        }
        Ok(pairs)
    }
}

/// `20..40 lbf.ft` as the parameters torque.min, torque.max and torque.unit.
fn torque_pairs(text: &str) -> Result<Vec<(String, String)>, Failure> {
    static RANGE: LazyLock<Regex> = LazyLock::new(|| {
        let number = "[0-9]+(?:[.,][0-9]+)?";
        Regex::new(&format!(r"^\s*({number})?(\.\.)?({number})?\s*([^0-9.\s].*?)?\s*$")).expect("the pattern is fixed")
    });
    let parts = RANGE.captures(text).filter(|parts| parts.get(1).or(parts.get(3)).is_some());
    let parts = parts.ok_or_else(|| {
        Failure::usage(format!("--torque \"{text}\" is no range. Write 20..40, 20.. or ..40, with a unit if not N·m"))
    })?;
    let part = |n: usize| parts.get(n).map(|part| part.as_str().to_owned());
    let (min, max) = if part(2).is_some() { (part(1), part(3)) } else { (part(1), part(1)) };
    let pairs = [("torque.min", min), ("torque.max", max), ("torque.unit", part(4))];
    Ok(pairs.into_iter().filter_map(|(key, value)| Some((key.to_owned(), value?))).collect())
}

/// What to look at where several kinds of head answer for one joint.
fn caution(view: &PageView) -> Option<String> {
    let fasteners: Vec<_> = view.items.iter().filter_map(|entry| entry.stored.record.as_fastener()).collect();
    let joint = fasteners.first().map(|fastener| &fastener.joint)?;
    if fasteners.iter().any(|fastener| fastener.joint != *joint) {
        return None;
    }
    crate::catalog::tell_apart(&fasteners).map(|apart| apart.caution)
}

impl Answer for PageView {
    fn json(&self) -> impl Serialize {
        self
    }
    fn lines(&self) -> Vec<serde_json::Value> {
        self.items.iter().filter_map(|entry| serde_json::to_value(entry).ok()).collect()
    }
    fn table(&self) -> Table {
        table_of(&self.items)
    }
    fn for_people(&self, _width: u16) -> String {
        self.items.iter().map(paragraph).collect::<Vec<_>>().join("\n")
    }
}

/// A record in two or three lines for people: what it looks like first, then what is done to it.
pub fn paragraph(entry: &Entry) -> String {
    let record = &entry.stored.record;
    let mut marks = vec![if entry.book.is_checked { "checked" } else { "unchecked" }.to_owned()];
    marks.extend(entry.book.audit.worst.map(|worst| format!("audit: {worst}")));
    let head = format!("{}  [{}]\n", record.id(), marks.join(", "));
    let Some(fastener) = record.as_fastener() else {
        let title = record.as_joint().and_then(|joint| joint.title.as_ref());
        return title.map_or(head.clone(), |title| format!("{head}  {title}\n"));
    };
    let looks = [
        fastener.head.map(|head| format!("{} head", head.words())),
        fastener.drive.as_ref().map(|drive| format!("drive {drive}")),
        Some(fastener.thread.to_string()),
        fastener.property_class.as_ref().map(ToString::to_string),
        fastener.length.map(|length| format!("{length} long")),
        fastener.positions.as_ref().map(|positions| format!("at {positions}")),
        fastener.fits.as_ref().map(|fits| format!("fits {fits}")),
    ];
    let reuse = fastener.reuse.as_ref().map_or_else(|| "reuse not stated".to_owned(), ToString::to_string);
    let looks: Vec<String> = looks.into_iter().flatten().collect();
    format!("{head}  {}\n  {}; {reuse}\n", looks.join(", "), fastener.stages)
}

/// Records as rows: what tells them apart comes first.
pub fn table_of(entries: &[Entry]) -> Table {
    let mut table = Table::new([
        "id",
        "positions",
        "head",
        "drive",
        "thread",
        "class",
        "length",
        "stages",
        "reuse",
        "title",
        "checked",
        "audit",
    ]);
    for entry in entries {
        let record = &entry.stored.record;
        let checked = if entry.book.is_checked { "checked" } else { "unchecked" }.to_owned();
        let audit = entry.book.audit.worst.map_or(String::new(), |worst| worst.to_string());
        let row: Vec<String> = match (record.as_fastener(), record.as_joint()) {
            (Some(fastener), _) => {
                let text = |value: Option<String>| value.unwrap_or_default();
                vec![
                    fastener.id.to_string(),
                    text(fastener.positions.as_ref().map(ToString::to_string)),
                    text(fastener.head.map(|head| head.words())),
                    text(fastener.drive.as_ref().map(ToString::to_string)),
                    fastener.thread.to_string(),
                    text(fastener.property_class.as_ref().map(ToString::to_string)),
                    text(fastener.length.map(|length| length.to_string())),
                    fastener.stages.to_string(),
                    text(fastener.reuse.as_ref().map(ToString::to_string)),
                    String::new(),
                    checked,
                    audit,
                ]
            }
            (_, joint) => {
                let mut row = vec![String::new(); 12];
                row[0] = record.id().to_string();
                row[9] = joint.and_then(|joint| joint.title.as_ref()).map(ToString::to_string).unwrap_or_default();
                row[10] = checked;
                row[11] = audit;
                row
            }
        };
        table.row(row);
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn reads(text: &str, pairs: &[(&str, &str)]) {
        let read = torque_pairs(text).unwrap();
        let read: Vec<_> = read.iter().map(|(key, value)| (key.as_str(), value.as_str())).collect();
        assert_eq!(read, pairs);
    }

    #[test]
    fn a_range_of_torque_is_three_parameters() {
        reads("20..40", &[("torque.min", "20"), ("torque.max", "40")]);
        reads("20..", &[("torque.min", "20")]);
        reads("..40 lbf.ft", &[("torque.max", "40"), ("torque.unit", "lbf.ft")]);
        reads("8.5..9.5 N·m", &[("torque.min", "8.5"), ("torque.max", "9.5"), ("torque.unit", "N·m")]);
        reads("30", &[("torque.min", "30"), ("torque.max", "30")]);
    }
}
