//! The integration tests, one binary. What belongs where:

mod api; // the HTTP API over loopback: its document, its edge, its operations
mod architecture; // imports go one way, files stay small
mod audit; // the whole audit: false alarms of the rules on published values, any record, how findings read
mod audit_live; // the audit that follows a book that changes, against an audit of the whole book
mod bench; // the bench page over loopback: every page, steps without script, entry, history
mod card; // cards, kits, ways and drawings of the demo yard as people see them
mod cli; // the command line: every command, its forms, exit codes and errors word for word
mod corpus_import; // published tables go in as records, are found and audited
mod demo; // the demonstration finds every planted slip
mod engines; // the one list of engines that stores are tested on
mod fuzz; // every decoder against bytes that are nearly right
#[path = "../support/generator.rs"]
mod generator; // books of any size, shared with the benchmarks
mod mechanics; // the mechanics against published tables, worked examples, properties and an integrated bolt
#[cfg(feature = "postgres")]
mod postgres; // books in a database: several servers, outages, standbys, roles, moves
mod readme; // every command that README shows is run and its output compared
mod seed; // the demo data: canonical, wide enough, hanging together
mod serve; // the service as a process: log, metrics, limits, stopping, encryption, following
mod slips; // the slip model against published tables: what was learned, no false alarm, the plainest slips
mod standards; // the published tables: every row, and that they are complete
mod store_bundles; // pairs in bundles: beside writers, after a failure, after rot
mod store_care; // backup, restore, compaction
mod store_catalog; // the catalog on the demo yard: look-up, writes, history, import, export
mod store_damage; // rot, cut-off and missing files
mod store_find; // the index against the meaning of a query
mod store_folder; // what stands in the way of opening a store
mod store_import; // taking records in: forms, modes, faults
mod store_killed; // killing the process at any moment
mod store_model; // engines against a map, stores against a list of what was written
mod store_old_bytes; // bytes of every format that was ever written
mod store_power; // a loss of power at any moment
mod store_readers; // readers beside a writer, and what is held in memory
mod store_reading; // reading a closed store from its reading copy
mod store_trouble; // a full disk, a clock set back, folders without rights, flipped bits
mod threads; // threads against published dimensions, areas and limits of size
mod tighten; // clampbook tighten: keys, table, bar
