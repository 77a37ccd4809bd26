//! clampbook: a book of fastener specifications that checks every number it takes in.
//!
//! The pure core (`units`, `thread`, `standards`, `mechanics`, `record`, `query`, `audit`, `card`) knows no
//! storage, no HTTP and no command line; `catalog` joins it with `store` and is the only door to it; `api`,
//! `bench` and `cli` are the edges. DEVELOPERS.md has the map.

pub mod answer;
pub mod api;
pub mod audit;
pub mod bench;
pub mod card;
pub mod catalog;
pub mod cli;
pub mod mechanics;
pub mod query;
pub mod record;
pub mod sheets;
pub mod standards;
pub mod store;
pub mod thread;
pub mod tightening;
pub mod units;
pub mod view;

/// Books are made of very many small pieces, which this allocator makes in two thirds of the time of the system's, and
/// gives back when a large piece of work is done. It asks for no huge pages: they were filled with zeros as a whole and never
/// full, a quarter of an import in a profile and a third of the memory of a service.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;
