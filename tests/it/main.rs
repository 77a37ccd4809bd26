//! The integration tests, one binary. What belongs where:
//!
//! (one line per module, kept in the order of the house)
