//! Slips: how right numbers become wrong ones, how probable it is that one did, and what was meant.
//!
//! `P(meant v | seen x) ∝ P(slip turns v into x) · P(v is a tightening value for this thread, class and condition)`.
//! The first factor is in [`suspects`]; the second is learned from published tables and read from what stands
//! around the value: its series, comparable records, the other printed unit. This module needs nothing but
//! [`crate::units`]: who asks it builds the [`Entry`] list. It says what is improbable, never what is right.

mod alone;
mod chances;
mod copies;
mod digits;
mod entry;
mod expect;
mod grain;
mod index;
mod judge;
mod kind;
mod learn;
mod ledger;
mod level;
mod likely;
mod matrix;
mod noted;
mod peers;
mod printed;
mod priors;
mod said;
mod series;
mod series_of_book;
mod smooth;
mod suspect;
mod twins;
mod unit_habit;
mod verdict;
mod weigh;

pub use entry::{Common, Entry, Figures, Part, Sharing, Size, Value, Written};
pub use index::{Index, joined};
pub use judge::{Basis, Judged, judge};
pub use kind::Slip;
pub use learn::learn;
pub use ledger::{BookOrder, Ledger};
pub use level::{COLUMN_MIN, ColumnMeant, Level, fits_class, level};
pub use noted::Noted;
pub use printed::units_agree;
pub use priors::{Priors, Spread};
pub use suspect::{Suspect, suspects};
pub use verdict::{Meaning, Meant, Verdict};
