//! From records to pages: orders and passes, the drawing, the bench card, the kit, the way in and out.
//!
//! Everything here is made from records that are handed in. It reads no store and no clock, and it judges no number:
//! what the audit says about a record is handed in as findings.

mod amount;
mod apart;
pub mod bench_card;
pub mod drawing;
mod fits;
pub mod kit;
pub mod label;
pub mod order;
pub mod passes;
pub mod range_bar;
pub mod series_plot;
pub mod shapes;
pub mod svg;
pub mod turns;
pub mod way;
pub mod wrenches;

pub use amount::Amount;
pub use apart::{
    Apart, Difference, SIGHTS, Sight, caution_between, caution_of_heads, caution_of_none, tell_apart, tell_first_apart,
};
pub use bench_card::{Card, CardInput, CardOptions, Numbered, WaySheet, bench_card};
pub use drawing::{Look, drawing};
pub use fits::{fits_words, suits};
pub use kit::{JointRecords, Kit, KitOptions, kit};
pub use label::{Label, LabelInput, label};
pub use passes::{Pass, Step};
pub use range_bar::{RangeBar, range_bar};
pub use series_plot::{SeriesPoint, series_plot};
pub use way::{Way, WayFault, WayFaultKind, WayWork, way, way_work};
pub use wrenches::WrenchRange;
