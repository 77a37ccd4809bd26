//! The index against the meaning of a query: the same records in the same order, the same counts and facets.

use crate::generator::{Dice, book};
use clampbook::catalog::{Author, Catalog, Expected, ImportOptions, Page, Stored};
use clampbook::query::Query;
use clampbook::record::Record;

const THREADS: &[&str] = &["M8", "M10", "3/8-16", "M5", "M7", "M24"];
const HEADS: &[&str] = &["hexagon", "socket-cap", "pan", "hexagon-flange", "square"];
const WORDS: &[&str] = &["pump", "covr", "flange", "diesel zinc", "workshop 3", "bolt", "tunel", "x", "hexagon sock"];
const PATHS: &[&str] = &["ferry-000", "ferry-001.diesel", "ferry-000.deck.winch", "ferry-099", "ferry-001.gearbox"];
const SORTS: &[&str] = &[
    "id",
    "-id",
    "thread",
    "-thread",
    "torque",
    "-torque",
    "property_class",
    "-head",
    "changed",
    "-changed",
    "name",
    "thread,-torque",
    "head,thread,-id",
    "-torque,head",
    "property_class,changed",
    "head,-changed",
];
const FACETS: &[&str] = &["head", "thread,property_class", "reuse,kind,checked,variant", "position,hand,document"];

/// When the directory of a book is made.
#[derive(Clone, Copy)]
pub enum Kept {
    Never,
    FromTheBeginning,
    InTheEnd,
}

/// A book with some history: records changed and withdrawn.
pub fn lived_in(fasteners: usize, seed: u64) -> Catalog {
    lived_in_and_kept(fasteners, seed, Kept::Never)
}

/// The same with a directory.
pub fn lived_in_and_kept(fasteners: usize, seed: u64, kept: Kept) -> Catalog {
    let catalog = Catalog::in_memory().unwrap();
    if matches!(kept, Kept::FromTheBeginning) {
        catalog.keep_directory().unwrap();
    }
    let mut text = String::new();
    book(fasteners, seed, |line| {
        text.push_str(line);
        text.push('\n');
    });
    let report = catalog.import(text.as_bytes(), &ImportOptions::default()).unwrap();
    assert!(report.is_clean(), "{:?}", report.lines().next());
    let mut dice = Dice::new(seed + 1);
    let page = catalog.find(&Query::parse([("kind", "fastener"), ("take", "500")]).unwrap()).unwrap();
    for stored in page.items.iter().step_by(3) {
        let author = Author::unknown();
        if dice.chance(30) {
            catalog.withdraw(stored.record.id(), Expected::Any, None, &author).unwrap();
        } else {
            let mut fastener = stored.record.as_fastener().unwrap().clone();
            fastener.head = Some(dice.one_of(HEADS).parse().unwrap()).filter(|_| dice.chance(80));
            fastener.property_class = None;
            fastener.note = Some("seen by the tunnel crew".parse().unwrap());
            catalog.put(Record::Fastener(Box::new(fastener)), Expected::Any, &author).unwrap();
        }
    }
    if matches!(kept, Kept::InTheEnd) {
        catalog.keep_directory().unwrap();
    }
    catalog
}

/// A question with a few filters, an order, and maybe facets.
pub fn question(dice: &mut Dice) -> Vec<(&'static str, String)> {
    let mut pairs: Vec<(&'static str, String)> = Vec::new();
    let mut maybe = |dice: &mut Dice, percent, name: &'static str, value: String| {
        if dice.chance(percent) {
            pairs.push((name, value));
        }
    };
    let thread = dice.one_of(THREADS).to_string();
    maybe(dice, 25, "thread", thread);
    let heads = format!("{},{}", dice.one_of(HEADS), dice.one_of(HEADS));
    maybe(dice, 25, "head", heads);
    let head = dice.one_of(HEADS).to_string();
    maybe(dice, 10, "head.not", head);
    maybe(dice, 5, "head.has", "false".to_owned());
    maybe(dice, 20, "property_class", "8.8,A4-70".to_owned());
    let path = dice.one_of(PATHS).to_string();
    maybe(dice, 25, "within", path);
    let words = dice.one_of(WORDS).to_string();
    maybe(dice, 25, "q", words);
    let least = (dice.below(100)).to_string();
    maybe(dice, 20, "torque.min", least);
    let most = (100 + dice.below(300)).to_string();
    maybe(dice, 20, "torque.max", most);
    maybe(dice, 10, "angle.has", "true".to_owned());
    maybe(dice, 10, "variant", "Bronze-housing".to_owned());
    let position = (1 + dice.below(9)).to_string();
    maybe(dice, 10, "position", position);
    maybe(dice, 10, "part_no.starts", "sy-01".to_owned());
    maybe(dice, 10, "checked", "true".to_owned());
    maybe(dice, 10, "kind", "fastener".to_owned());
    let sort = dice.one_of(SORTS).to_string();
    maybe(dice, 80, "sort", sort);
    let facets = dice.one_of(FACETS).to_string();
    maybe(dice, 40, "facets", facets);
    let take = (1 + dice.below(40)).to_string();
    maybe(dice, 80, "take", take);
    pairs.push(("count", "exact".to_owned()));
    pairs
}

fn names(page: &Page) -> Vec<&str> {
    page.items.iter().map(|stored| stored.record.id().as_str()).collect()
}

/// Asks for up to three pages, by the index and by looking at every record.
fn same_answers(catalog: &Catalog, mut pairs: Vec<(&'static str, String)>) -> u64 {
    let mut count = 0;
    for page in 0..3 {
        let query = Query::parse(pairs.iter().map(|(name, value)| (*name, value.as_str()))).unwrap();
        let by_index = catalog.find(&query).unwrap();
        let by_looking = catalog.find_by_looking_at_all(&query).unwrap();
        assert_eq!(names(&by_index), names(&by_looking), "page {page} of {pairs:?}");
        assert_eq!(by_index, by_looking, "page {page} of {pairs:?}");
        count = by_index.count.unwrap();
        pairs.retain(|(name, _)| *name != "after");
        match by_index.next {
            Some(next) => pairs.push(("after", next)),
            None => break,
        }
    }
    count
}

#[test]
fn the_index_gives_what_looking_at_every_record_gives() {
    for kept in [Kept::Never, Kept::FromTheBeginning, Kept::InTheEnd] {
        let mut matches = 0;
        for (fasteners, seed, questions) in [(60, 1, 150), (700, 2, 100)] {
            let catalog = lived_in_and_kept(fasteners, seed, kept);
            let mut dice = Dice::new(seed);
            for _ in 0..questions {
                matches += u64::from(same_answers(&catalog, question(&mut dice)) > 0);
            }
        }
        assert!(matches > 100, "only {matches} of 250 questions had an answer: the test says little");
    }
}

#[test]
fn joints_and_paths_are_found_by_the_index_too() {
    for kept in [Kept::Never, Kept::FromTheBeginning, Kept::InTheEnd] {
        joints_and_paths_of(&lived_in_and_kept(400, 5, kept));
    }
}

fn joints_and_paths_of(catalog: &Catalog) {
    let page = catalog.find(&Query::parse([("kind", "joint"), ("take", "40")]).unwrap()).unwrap();
    let all = Query::parse([("kind", "fastener"), ("take", "500")]).unwrap();
    let all = catalog.find_by_looking_at_all(&all).unwrap();
    for stored in &page.items {
        let joint = stored.record.id().to_string();
        let others = ["head", "kind,joint"]
            .map(|facets| vec![("joint", joint.clone()), ("facets", facets.to_owned()), ("count", "exact".into())]);
        for pairs in others {
            assert!(same_answers(catalog, pairs) >= 1);
        }
        let within = vec![("within", joint.clone()), ("count", "exact".to_owned())];
        same_answers(catalog, within);
        let closes = |fastener: &&Stored| fastener.record.as_fastener().unwrap().joint == *stored.record.id();
        let fasteners = catalog.fasteners_of(stored.record.id(), None).unwrap();
        assert_eq!(fasteners.iter().collect::<Vec<_>>(), all.items.iter().filter(closes).collect::<Vec<_>>());
        for fastener in fasteners {
            let within = vec![("within", fastener.record.id().to_string()), ("count", "exact".to_owned())];
            assert_eq!(same_answers(catalog, within), 1);
        }
    }
}
