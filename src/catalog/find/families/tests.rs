//! The three ways against each other and against looking at every record.

use super::{Admitted, Parts, Search, order::Order};
use crate::catalog::{Author, Catalog, Expected};
use crate::query::{Query, Stored};
use crate::record::Record;
use proptest::prelude::*;

/// A book of some fasteners that have much in common, a few of them withdrawn.
fn book() -> Catalog {
    let catalog = Catalog::in_memory().expect("a book");
    catalog.keep_directory().expect("a directory");
    let author = Author::unknown();
    for number in 0..600_usize {
        // Numbers without a pattern, but always the same.
        let dice = number.wrapping_mul(0x9e37_79b9) >> 7;
        let id = format!("skua.pump-{}.{}-{number}", dice % 7, ["cover", "flange", "foot"][dice % 3]);
        let thread = ["M8", "M10", "M6", "3/8-16"][dice / 3 % 4];
        let mut json = serde_json::json!({
            "kind": "fastener", "id": id, "joint": format!("skua.pump-{}", dice % 7),
            "name": format!("{} bolt", ["Cover", "Sump", "Clamp", "Cap"][dice / 7 % 4]),
            "thread": thread, "stages": ["hand"],
            "source": { "document": format!("Workshop book {}", dice % 5) },
        });
        if dice % 11 > 1 {
            json["property_class"] = ["8.8", "10.9", "A4-70"][dice / 5 % 3].into();
            json["head"] = ["hexagon", "socket-cap"][dice / 13 % 2].into();
            json["stages"] = serde_json::json!([format!("{} Nm", 10 + dice / 17 % 4)]);
        }
        if dice % 5 == 0 {
            let variant = ["iron", "bronze"][dice / 5 % 2];
            json["fits"] = serde_json::json!({ "variants": [variant] });
        }
        let record = Record::from_json(&json).expect("a record");
        catalog.put(record.clone(), Expected::Any, &author).expect("it is stored");
        if dice % 19 == 0 {
            catalog.withdraw(record.id(), Expected::Any, None, &author).expect("it is withdrawn");
        }
    }
    catalog
}

fn questions() -> impl Strategy<Value = Vec<(&'static str, &'static str)>> {
    let of = |name: &'static str, values: &'static [&'static str]| {
        prop::option::weighted(0.3, prop::sample::select(values))
            .prop_map(move |value| value.map(|value| (name, value)))
    };
    let one = (
        of("thread", &["M8", "M10,M6", "M24"]),
        of("head", &["hexagon", "socket-cap,hexagon"]),
        of("property_class.not", &["8.8"]),
        of("head.has", &["true", "false"]),
        of("torque.min", &["11", "12"]),
        of("torque.max", &["12"]),
    );
    let more = (
        of("q", &["bolt", "sump", "co", "clmap", "bolt cover"]),
        of("variant", &["iron"]),
        of("within.not", &["skua.pump-2"]),
        of("within", &["skua.pump-1", "skua", "skua.pump-3"]),
        prop::sample::select(
            &["id", "-id", "torque", "-torque", "thread,-id", "-head,torque", "property_class", "torque,-thread"][..],
        ),
    );
    (one, more).prop_map(|(one, more)| {
        let mut pairs: Vec<_> =
            [one.0, one.1, one.2, one.3, one.4, one.5, more.0, more.1, more.2, more.3].into_iter().flatten().collect();
        pairs.push(("sort", more.4));
        pairs
    })
}

fn ids(of: &[Stored]) -> Vec<&str> {
    of.iter().map(|stored| stored.record.id().as_str()).collect()
}

#[test]
fn every_way_leads_to_what_looking_at_all_finds() {
    let catalog = book();
    let store = catalog.store();
    let directory = store.directory().expect("a directory");
    let found = std::cell::Cell::new(0);
    let config = ProptestConfig { cases: 200, ..ProptestConfig::default() };
    proptest!(config, |(pairs in questions(), take in 1_usize..40)| {
        let mut query = Query::parse(pairs.iter().copied()).expect("a question");
        query.take = take;
        for _ in 0..3 {
            let naive = catalog.find_by_looking_at_all(&query).expect("an answer");
            let order = Order::of(&query, &directory).expect("families have this order");
            let parts = Parts::of(store, &query).expect("a read").expect("the index has these");
            let families = Admitted::of(directory.through(&query.filters, &query.torque, None));
            let search = Search { directory: &directory, families, parts: &parts };
            let named = |slots: Vec<u32>| slots.iter().map(|slot| directory.id(*slot).to_owned()).collect::<Vec<_>>();
            let expected = ids(&naive.items);
            prop_assert_eq!(named(search.first(&order, take)), &expected[..], "chosen");
            prop_assert_eq!(named(search.merge(&order, take, u64::MAX).expect("an end")), &expected[..], "merged");
            if !parts.must.is_empty() {
                prop_assert_eq!(named(search.gather(&order, take)), &expected[..], "gathered");
            }
            if order.is_by_id() {
                prop_assert_eq!(named(search.walk(&order, take, u64::MAX).expect("an end")), &expected[..], "walked");
            }
            found.set(found.get() + expected.len());
            let Some(next) = naive.next else { break };
            query.after = Some(next.parse().expect("a cursor"));
        }
    });
    assert!(found.get() > 1000, "only {} records were found: the test says little", found.get());
}
