//! The byte forms of what is stored, one module per version, each independent of the public JSON form.
//!
//! A version that has been released never changes: a new field is a new version, and old ones are converted up
//! when they are read.

pub mod v1;
