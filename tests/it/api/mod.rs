//! The HTTP API, asked over loopback like anybody else asks it.

mod access; // tokens: every operation asks for the one it needs
mod cards; // cards, drawings, ranges, kits, assemblies: forms, equal to the command line
mod document; // the document: as checked in, complete, its examples served
mod edge; // what every request goes through: methods, headers, limits, bad input
mod exports; // the book as tables and lines: counted, guarded, equal to the command line
mod feed; // the change feed: lists, waiting, events, places of another life
mod intakes; // bulk intake: modes, faults of every line, apply, limits, export and back
mod past; // what was at a moment: records, positions, joints, cards
mod records; // reading and writing records: conditions, history, questions, pages
pub mod service; // starting a service and talking to it
