//! Finding a joint or a fastener: words, assemblies, head and thread.

use super::page::{self, Answer, html, question};
use crate::card::shapes::{head_picture, head_symbols};
use crate::catalog::{AssemblyPart, Catalog, Stored};
use crate::query::Query;
use crate::record::{Fastener, Fault, Head, Record};
use actix_web::web::{Data, Query as Asked};
use askama::Template;

/// How many results a page shows.
const TAKE: usize = 25;

/// What is asked for, as it stands in the form.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub struct FindForm {
    q: String,
    within: String,
    head: String,
    thread: String,
    after: String,
}

impl FindForm {
    fn is_empty(&self) -> bool {
        [&self.q, &self.head, &self.thread].iter().all(|value| value.trim().is_empty())
    }

    fn query(&self) -> Result<Query, Vec<Fault>> {
        let take = TAKE.to_string();
        let pairs = [
            ("q", self.q.as_str()),
            ("within", &self.within),
            ("head", &self.head),
            ("thread", &self.thread),
            ("after", &self.after),
            ("count", "exact"),
            ("take", &take),
        ];
        let given = pairs.iter().filter(|(_, value)| !value.trim().is_empty()).copied();
        Query::parse(given).map_err(|refused| refused.0)
    }

    fn address(&self, after: Option<&str>) -> String {
        let text = |value: &str| if value.is_empty() { None } else { Some(value.to_owned()) };
        let [q, within, head, thread] = [&self.q, &self.within, &self.head, &self.thread].map(|value| text(value));
        format!(
            "/bench/{}",
            question(&[
                ("q", q.as_deref()),
                ("within", within.as_deref()),
                ("head", head.as_deref()),
                ("thread", thread.as_deref()),
                ("after", after),
            ])
        )
    }
}

/// A record that was found.
struct Found {
    address: String,
    picture: String,
    title: String,
    under: String,
    id: String,
}

impl Found {
    fn of(stored: &Stored) -> Self {
        match &*stored.record {
            Record::Joint(joint) => Self {
                address: format!("/bench/joints/{}", joint.id),
                picture: String::new(),
                title: joint.title.as_ref().map_or_else(|| joint.id.last().to_owned(), ToString::to_string),
                under: joint.assembly_title.as_ref().map_or(String::new(), ToString::to_string),
                id: joint.id.to_string(),
            },
            Record::Fastener(fastener) => Self {
                address: format!("/bench/joints/{}", fastener.joint),
                picture: head_picture(fastener.head, fastener.drive.as_ref()),
                title: fastener.name.as_ref().map_or_else(|| fastener.id.last().to_owned(), ToString::to_string),
                under: under(fastener),
                id: fastener.id.to_string(),
            },
        }
    }
}

#[derive(Template)]
#[template(path = "page_find.html", config = "src/askama.toml")]
struct FindPage<'f> {
    form: &'f FindForm,
    symbols: String,
    results: Results,
}

/// What is below the form.
struct Results {
    faults: Vec<Fault>,
    found: Vec<Found>,
    count: Option<u64>,
    next: Option<String>,
    parts: Vec<AssemblyPart>,
    /// The path whose parts are shown, segment by segment, each with the address of its own parts.
    trail: Vec<(String, String)>,
}

/// The page that finds.
pub async fn find_page(catalog: Data<Catalog>, form: Asked<FindForm>) -> Answer {
    let results = results(&catalog, &form)?;
    html(&FindPage { form: &form, symbols: head_symbols(), results })
}

fn results(catalog: &Catalog, form: &FindForm) -> Result<Results, page::Trouble> {
    let mut results = Results {
        faults: Vec::new(),
        found: Vec::new(),
        count: None,
        next: None,
        parts: Vec::new(),
        trail: trail(&form.within),
    };
    if form.is_empty() {
        let mut within = form.within.trim().to_owned();
        results.parts = catalog.assemblies(&within)?;
        // Where there is only one way to go, it is gone.
        while let [only] = results.parts.as_slice()
            && !only.is_joint
        {
            within = only.path.clone();
            results.parts = catalog.assemblies(&within)?;
        }
        results.trail = trail(&within);
        return Ok(results);
    }
    match form.query() {
        Err(faults) => results.faults = faults,
        Ok(query) => {
            let found = catalog.find(&query)?;
            results.found = found.items.iter().map(Found::of).collect();
            results.count = found.count;
            results.next = found.next.map(|cursor| form.address(Some(&cursor)));
        }
    }
    Ok(results)
}

/// Thread and stages in one line, which breaks between stages and not within one.
fn under(fastener: &Fastener) -> String {
    format!("{} · {}", fastener.thread, fastener.stages)
        .replace("→ ", "→\u{200b}")
        .replace(' ', "\u{a0}")
        .replace('\u{200b}', " ")
}

fn trail(within: &str) -> Vec<(String, String)> {
    let mut trail = Vec::new();
    let mut path = String::new();
    for segment in within.trim().split('.').filter(|segment| !segment.is_empty()) {
        if !path.is_empty() {
            path.push('.');
        }
        path.push_str(segment);
        trail.push((segment.to_owned(), format!("/bench/{}", question(&[("within", Some(&path))]))));
    }
    trail
}

/// Where a part of the tree leads.
fn part_address(part: &AssemblyPart) -> String {
    if part.is_joint {
        format!("/bench/joints/{}", part.path)
    } else {
        format!("/bench/{}", question(&[("within", Some(&part.path))]))
    }
}

fn part_title(part: &AssemblyPart) -> &str {
    part.title.as_deref().unwrap_or_else(|| part.path.rsplit('.').next().unwrap_or(&part.path))
}
