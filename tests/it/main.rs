//! The integration tests, one binary. What belongs where:

mod architecture; // imports go one way, files stay small
mod seed; // the demo data: canonical, wide enough, hanging together
