//! Choosing joints by words: boxes to tick in the form of a page, so that it works without script.

use super::page::Trouble;
use crate::catalog::Catalog;
use crate::query::{Field, Query};
use crate::record::{Fault, Id, Kind};

/// How many joints are offered at once.
const TAKE: usize = 20;

/// Joints to choose from.
#[derive(Debug, Default)]
pub struct Picker {
    /// The words that were asked for.
    pub words: String,
    /// The joints that answer, less those that are chosen already: id, title, assembly.
    pub found: Vec<(Id, String, String)>,
    /// How many more answer.
    pub more: u64,
    /// Why the words cannot be read.
    pub faults: Vec<Fault>,
}

impl Picker {
    /// The joints for some words; all of them while nothing is chosen and nothing asked.
    pub fn of(catalog: &Catalog, words: &str, chosen: &[Id]) -> Result<Self, Trouble> {
        let words = words.trim();
        let mut picker = Self { words: words.to_owned(), ..Self::default() };
        if words.is_empty() && !chosen.is_empty() {
            return Ok(picker);
        }
        let take = (TAKE + chosen.len()).min(crate::query::TAKE_MAX).to_string();
        let pairs = [("q", words), ("take", take.as_str()), ("count", "exact")];
        let query = match Query::parse(pairs.into_iter().filter(|(_, value)| !value.is_empty())) {
            Ok(query) => query.with(Field::Kind, Kind::Joint.to_string()),
            Err(refused) => return Ok(Self { faults: refused.0, ..picker }),
        };
        let page = catalog.find(&query)?;
        let mut others = 0;
        for stored in &page.items {
            let Some(joint) = stored.record.as_joint() else { continue };
            if chosen.contains(&joint.id) {
                others += 1;
            } else if picker.found.len() < TAKE {
                let title = joint.title.as_ref().map_or_else(|| joint.id.last().to_owned(), ToString::to_string);
                let assembly = joint.assembly_title.as_ref().map_or(String::new(), ToString::to_string);
                picker.found.push((joint.id.clone(), title, assembly));
            }
        }
        picker.more = page.count.unwrap_or(0).saturating_sub(others + picker.found.len() as u64);
        Ok(picker)
    }
}
