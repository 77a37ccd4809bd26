//! `find`: look up fasteners and joints.

use super::book::BookArguments;
use super::entries::{paragraph, table_of};
use super::failure::Failure;
use super::output::Output;
use super::said::{ListSaid, Said, Shown, list, text};
use super::table::Table;
use super::torque_range::torque_pairs;
use crate::query::{Field, Query};
use crate::record::{Fastener, Fault, Refused};
use crate::standards::PropertyClass;
use crate::thread::Designation;
use serde_json::Value;

/// Look up fasteners and joints.
///
/// By words, head, thread, class, assembly, position, reuse rule, torque, in any mix. Values of one kind may be
/// joined by commas or given several times: --thread M8 --thread M10 finds both.
#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Words that the record holds; one wrong letter is forgiven.
    #[arg(value_name = "WORDS")]
    words: Vec<String>,
    /// The kind of head: hexagon, socket-cap …
    #[arg(long, value_name = "HEAD")]
    head: Vec<String>,
    /// The thread: M8, "3/8-16 UNC" …
    #[arg(long, value_name = "DESIGNATION")]
    thread: Vec<String>,
    /// The property class: 8.8, A2-70, "grade 5" …
    #[arg(long = "class", value_name = "CLASS")]
    property_class: Vec<String>,
    /// The assembly: a path that the ids begin with.
    #[arg(long, value_name = "PATH")]
    within: Vec<String>,
    /// The joint.
    #[arg(long, value_name = "ID")]
    joint: Vec<String>,
    /// The position in the joint.
    #[arg(long, value_name = "N")]
    position: Vec<String>,
    /// The reuse rule: renew, reuse, reuse-up-to, measure, inspect.
    #[arg(long, value_name = "RULE")]
    reuse: Vec<String>,
    /// The final torque: 20..40, 20.., ..40; in N·m unless a unit follows, as in "15..30 lbf.ft".
    #[arg(long, value_name = "RANGE")]
    torque: Option<String>,
    /// The variant of the machine; what names no variant is for all.
    #[arg(long, value_name = "NAME")]
    variant: Vec<String>,
    /// The book as it was at this moment: 2026-03-01, 2026-03-01T08:00:00Z.
    #[arg(long = "as-of", value_name = "TIME")]
    as_of: Option<String>,
    /// What to look for: fastener, joint or any.
    #[arg(long, value_name = "KIND", value_parser = ["fastener", "joint", "any"], default_value = "fastener", hide_possible_values = true)]
    kind: String,
    /// The order, such as thread,-torque.
    #[arg(long, value_name = "FIELDS", allow_hyphen_values = true)]
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
    let pairs = arguments.pairs()?;
    let query = Query::parse(pairs.clone()).map_err(|refused| said_of(&refused))?;
    let page = FoundPage(book.open()?.find(&pairs, &query)?);
    output.show(&page)?;
    let about = page.0.value().get("page").cloned().unwrap_or_default();
    let missing: Vec<&str> = list(&about, "missing").iter().filter_map(Value::as_str).collect();
    if !missing.is_empty() {
        return Err(Failure::no(Some(format!("not in the book: {}", missing.join(", ")))));
    }
    if page.0.items().is_empty() {
        return Err(Failure::no(Some(nothing_found(&query))));
    }
    for words in caution(page.0.items()).into_iter().chain(page.0.words_on_audit()) {
        eprintln!("{words}");
    }
    if !text(&about, "next").is_empty() {
        eprintln!("There is more: --after {}", text(&about, "next"));
    }
    Ok(())
}

/// What to say where nothing answers: a thread or class that no standard has was probably meant to be another.
fn nothing_found(query: &Query) -> String {
    if query.words.is_empty() && query.torque.is_open() && query.filters.iter().all(|f| f.field == Field::Kind) {
        return "the book holds nothing of this kind".to_owned();
    }
    let mut message = "nothing in the book answers this. Ask for less".to_owned();
    for filter in &query.filters {
        for value in &filter.any {
            if let Some(nearest) = nearest(filter.field, value) {
                message += &format!(". No standard known here has {value}{nearest}");
            }
        }
    }
    message
}

/// What a value that no standard has is near to, in words; nothing if a standard has it.
fn nearest(field: Field, value: &str) -> Option<String> {
    let nearest: Vec<String> = match field {
        Field::Thread => {
            let thread = value.parse::<Designation>().ok()?.thread;
            let nearest = || thread.nearest(3).iter().map(ToString::to_string).collect();
            if thread.is_standard() { None } else { Some(nearest()) }
        }
        Field::PropertyClass => {
            let class = value.parse::<PropertyClass>().ok()?;
            let nearest = || class.nearest().iter().map(ToString::to_string).collect();
            if class.is_known() { None } else { Some(nearest()) }
        }
        _ => None,
    }?;
    Some(if nearest.is_empty() { String::new() } else { format!("; nearest: {}", nearest.join(", ")) })
}

/// All faults of a question, one a line.
pub fn said_of(Refused(faults): &Refused) -> Failure {
    let line = |fault: &Fault| match &fault.hint {
        Some(hint) if !fault.detail.contains("did you mean") => {
            format!("{}. {hint}{}", fault.detail, if hint.starts_with("Did you") { "?" } else { "" })
        }
        None if !fault.detail.contains("expected") => match &fault.allowed {
            Some(allowed) => format!("{}. Write {allowed}", fault.detail),
            None => fault.detail.clone(),
        },
        _ => fault.detail.clone(),
    };
    Failure::usage(faults.iter().map(line).collect::<Vec<_>>().join("\nclampbook: "))
}

impl Arguments {
    /// The question as pairs, the way HTTP writes it.
    fn pairs(&self) -> Result<Vec<(String, String)>, Failure> {
        let mut pairs: Vec<(String, String)> = Vec::new();
        let lists = [
            ("head", &self.head),
            ("thread", &self.thread),
            ("property_class", &self.property_class),
            ("within", &self.within),
            ("joint", &self.joint),
            ("position", &self.position),
            ("reuse", &self.reuse),
            ("variant", &self.variant),
        ];
        let given = lists.into_iter().filter(|(_, values)| !values.is_empty());
        pairs.extend(given.map(|(key, values)| (key.to_owned(), values.join(","))));
        let mut add = |key: &str, value: Option<String>| pairs.extend(value.map(|value| (key.to_owned(), value)));
        add("as_of", self.as_of.clone());
        add("sort", self.sort.clone());
        add("after", self.after.clone());
        add("take", Some(self.take.clone()));
        add("kind", (self.kind != "any").then(|| self.kind.clone()));
        add("q", (!self.words.is_empty()).then(|| self.words.join(" ")));
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

/// What to look at where several kinds of head answer for one joint.
fn caution(items: &[Value]) -> Option<String> {
    let shown: Vec<Shown<'_>> = items.iter().map(Shown::of).collect();
    let fasteners: Vec<&Fastener> = shown.iter().filter_map(|shown| shown.record.as_ref()?.as_fastener()).collect();
    let joint = fasteners.first().map(|fastener| &fastener.joint)?;
    if fasteners.iter().any(|fastener| fastener.joint != *joint) {
        return None;
    }
    crate::catalog::tell_apart(&fasteners).map(|apart| apart.caution)
}

/// A page of records.
struct FoundPage(Said);

impl ListSaid for FoundPage {
    fn said(&self) -> &Said {
        &self.0
    }
    fn rows(&self) -> Table {
        table_of(self.0.items())
    }
    fn page(&self, width: usize) -> String {
        self.0.items().iter().map(|item| paragraph(item, width)).collect::<Vec<_>>().join("\n")
    }
}
