//! The use cases of the catalog on the demo yard: looking up, writing, history, import, export.

use clampbook::catalog::{
    Author, Catalog, CatalogError, Expected, ExportFormat, ImportMode, ImportOptions, ImportReport, OnSame,
    PositionAsked, State, StoreError,
};
use clampbook::query::Query;
use clampbook::record::{Head, Id, Kind, Record};
use std::fs;
use std::path::Path;

fn id(text: &str) -> Id {
    text.parse().unwrap()
}

/// The text of the seed files that are the book, without the file of planted slips.
pub fn seed_texts() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("seed");
    let mut texts: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.file_name().unwrap().to_string_lossy().starts_with("skua."))
        .map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read_to_string(path).unwrap()))
        .collect();
    texts.sort();
    texts
}

/// The demo yard in memory.
pub fn yard() -> Catalog {
    let catalog = Catalog::in_memory().unwrap();
    for (name, text) in seed_texts() {
        let report = import(&catalog, &name, &text, ImportMode::Whole, OnSame::Refuse);
        assert!(report.is_clean(), "{:?}", report.lines().collect::<Vec<_>>());
    }
    catalog
}

fn import(catalog: &Catalog, name: &str, text: &str, mode: ImportMode, on_same: OnSame) -> ImportReport {
    let options = ImportOptions { name: name.to_owned(), mode, on_same, ..ImportOptions::default() };
    catalog.import(text.as_bytes(), &options).unwrap()
}

fn ids_of(catalog: &Catalog, pairs: &[(&str, &str)]) -> Vec<String> {
    let page = catalog.find(&Query::parse(pairs.iter().copied()).unwrap()).unwrap();
    page.items.iter().map(|stored| stored.record.id().to_string()).collect()
}

#[test]
fn finds_by_any_mix_of_fields() {
    let yard = yard();
    let all = ids_of(&yard, &[("kind", "fastener"), ("take", "500")]);
    assert!(all.len() >= 160);
    let some =
        ids_of(&yard, &[("within", "skua.diesel"), ("head", "hexagon-flange"), ("thread", "m8x1,25"), ("take", "500")]);
    assert!(!some.is_empty());
    for name in &some {
        assert!(all.contains(name) && name.starts_with("skua.diesel."));
        let stored = yard.get(&id(name)).unwrap().unwrap();
        let fastener = stored.record.as_fastener().unwrap();
        assert_eq!((fastener.head, fastener.thread.to_string().as_str()), (Some(Head::HexagonFlange), "M8×1.25"));
    }
    assert_eq!(ids_of(&yard, &[("q", "pump covr"), ("kind", "joint")]), ["skua.diesel.raw-water-pump.cover"]);
}

#[test]
fn pages_follow_each_other_without_gap_or_double() {
    let yard = yard();
    for sort in ["id", "thread,-torque", "-name", "property_class", "-changed", "head"] {
        let everything = ids_of(&yard, &[("sort", sort), ("take", "500")]);
        let mut pieces = Vec::new();
        let mut after = None;
        loop {
            let mut pairs = vec![("sort", sort.to_owned()), ("take", "7".to_owned())];
            pairs.extend(after.take().map(|cursor| ("after", cursor)));
            let page = yard.find(&Query::parse(pairs).unwrap()).unwrap();
            pieces.extend(page.items.iter().map(|stored| stored.record.id().to_string()));
            after = page.next;
            if after.is_none() {
                break;
            }
        }
        assert_eq!(pieces, everything, "sorted by {sort}");
    }
}

#[test]
fn a_cursor_belongs_to_its_question() {
    let yard = yard();
    let next = yard.find(&Query::parse([("take", "5")]).unwrap()).unwrap().next.unwrap();
    let other = Query::parse([("take", "5"), ("head", "hexagon"), ("after", next.as_str())]).unwrap();
    assert!(matches!(yard.find(&other), Err(CatalogError::Cursor(_))));
    let tail = if next.ends_with('0') { "1" } else { "0" };
    let forged = format!("{}{tail}", &next[..next.len() - 1]);
    let forged = Query::parse([("take", "5"), ("after", forged.as_str())]).unwrap();
    assert!(matches!(yard.find(&forged), Err(CatalogError::Cursor(_))));
}

#[test]
fn several_kinds_at_a_joint_are_told_apart() {
    let yard = yard();
    let page = yard.find(&Query::parse([("kind", "joint"), ("take", "500")]).unwrap()).unwrap();
    let mut with_two_heads = 0;
    for joint in &page.items {
        let view = yard.joint(joint.record.id()).unwrap().unwrap();
        for fastener in &view.fasteners {
            let fastener = fastener.record.as_fastener().unwrap();
            let Some(position) = fastener.positions.as_ref().and_then(|positions| positions.iter().next()) else {
                continue;
            };
            let answer =
                yard.at_position(&fastener.joint, &PositionAsked { position, ..PositionAsked::default() }).unwrap();
            assert!(answer.fasteners.iter().any(|stored| *stored.record.id() == fastener.id));
            if view.fasteners.iter().any(|other| other.record.as_fastener().unwrap().head != fastener.head) {
                with_two_heads += 1;
                let apart = answer.apart.expect("a joint with two heads must say so");
                assert_eq!(apart.differences[0].field, "head");
                assert!(apart.caution.contains("Check"), "{}", apart.caution);
            }
        }
    }
    assert!(with_two_heads >= 2);
}

#[test]
fn a_position_where_nothing_sits_names_what_comes_nearest() {
    let yard = yard();
    let joint = id("skua.diesel.raw-water-pump.cover");
    let answer = yard.at_position(&joint, &PositionAsked { position: 99, ..PositionAsked::default() }).unwrap();
    assert!(answer.fasteners.is_empty() && !answer.nearest.is_empty());
    assert!(answer.nearest[0].reason.ends_with("not at 99"), "{}", answer.nearest[0].reason);
}

#[test]
fn revisions_are_kept_and_the_past_can_be_asked() {
    let yard = yard();
    let name = id("skua.diesel.raw-water-pump.cover.hex");
    let first = yard.get(&name).unwrap().unwrap();
    let mut fastener = first.record.as_fastener().unwrap().clone();
    fastener.note = Some("second".parse().unwrap());
    let author = Author::named("mo".parse().unwrap());
    let record = Record::Fastener(Box::new(fastener));
    let stale = yard.put(record.clone(), Expected::New, &author).unwrap_err();
    assert!(matches!(stale, CatalogError::Store(StoreError::Changed { found: Some(_), .. })), "{stale}");
    let put = yard.put(record.clone(), Expected::Revision(1), &author).unwrap();
    assert_eq!((put.revision, put.changed), (2, true));
    let again = yard.put(record, Expected::Revision(2), &author).unwrap();
    assert_eq!((again.revision, again.changed), (2, false));
    let gone = yard.withdraw(&name, Expected::Revision(2), Some("superseded".parse().unwrap()), &author).unwrap();
    assert_eq!(gone.revision, 3);
    let last = yard.get(&name).unwrap().unwrap();
    assert_eq!((last.state, last.why.unwrap().as_str()), (State::Withdrawn, "superseded"));
    assert_eq!(yard.revision(&name, 1).unwrap().unwrap(), first);
    assert_eq!(yard.revisions(&name).unwrap().len(), 3);
    assert!(ids_of(&yard, &[("id", name.as_str())]).is_empty());
    let then = Query::parse([("id", name.as_str()), ("as_of", &first.changed_at.to_string())]).unwrap();
    assert_eq!(yard.find(&then).unwrap().items, [first]);
    let changes = yard.changes(yard.sequence() - 2, 10).unwrap();
    assert_eq!(
        changes.iter().map(|change| (change.revision, change.state)).collect::<Vec<_>>(),
        [(2, State::Current), (3, State::Withdrawn)]
    );
}

#[test]
fn export_and_import_are_a_fixed_point() {
    let yard = yard();
    for format in [ExportFormat::Csv, ExportFormat::Ndjson] {
        let mut text = Vec::new();
        let exported = yard.export(None, format, &mut text).unwrap();
        assert_eq!(exported.records, yard.export_count(None));
        let copy = Catalog::in_memory().unwrap();
        let report = copy.import(text.as_slice(), &ImportOptions::default()).unwrap();
        assert_eq!(report.lines().collect::<Vec<_>>(), [""; 0]);
        assert_eq!(report.stored, exported.records);
        let mut again = Vec::new();
        copy.export(None, format, &mut again).unwrap();
        assert!(text == again, "{format:?}");
        let into_itself = yard.import(text.as_slice(), &ImportOptions::default()).unwrap();
        assert_eq!((into_itself.unchanged, into_itself.stored), (exported.records, 0));
    }
}

#[test]
fn a_store_in_a_folder_is_there_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("book");
    let (sequence, epoch) = {
        let catalog = Catalog::create(&path).unwrap();
        for (name, text) in seed_texts() {
            import(&catalog, &name, &text, ImportMode::Whole, OnSame::Refuse);
        }
        (catalog.sequence(), catalog.epoch())
    };
    let catalog = Catalog::open(&path, &Default::default()).unwrap();
    assert_eq!((catalog.sequence(), catalog.epoch()), (sequence, epoch));
    let count = catalog.find(&Query::parse([("count", "exact")]).unwrap()).unwrap().count;
    assert_eq!(count, Some(catalog.export_count(None)));
    assert!(catalog.export_count(Some(Kind::Joint)) >= 45);
}
