//! Answers of the catalog in their public shape: what the command line prints and the HTTP API sends, byte for byte.
//!
//! A record is shown with its own fields, just as it may be put back, and a member `book` with what the book
//! knows about it. Readers of records pass over that member. Nothing is decided here.

mod assembly;
mod care;
mod closing;
mod entry;
mod findings;
mod history;
mod intake;
mod page;
mod position;
mod printed;
mod table_schema;
mod written;

pub use assembly::{AssemblyList, AssemblyPartShown, AssemblyView};
pub use care::{BackupView, CheckView, DamageShown, LostShown, RemedyShown};
pub use closing::{JointFasteners, PassShown, StepShown};
pub use entry::{
    ALWAYS_SHOWN, AuditState, BookEntry, Entry, FastenerEntry, FastenerInput, JointEntry, JointInput, Members,
    TorqueShown,
};
pub use findings::FindingList;
pub use history::{ChangeList, ChangeShown, RevisionList, RevisionShown};
pub use intake::{IntakeList, IntakeShown, IntakeState, IntakeView};
pub use page::{JointPage, PageInfo, PageView, RecordEntry, RecordPage};
pub use position::{DifferenceShown, NearShown, PositionView, before_the_seated};
pub use printed::printed_at;
pub use table_schema::{TableConstraints, TableField, TableSchema};
pub use written::{Written, WrittenList};
