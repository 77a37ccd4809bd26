//! The bytes of an answer: the command line prints them, the HTTP API sends them, and they are the same.

use serde::Serialize;

/// A value as JSON, ended by a line break.
///
/// # Panics
/// If the value has a map whose keys are not text; no answer has one.
#[must_use]
pub fn json_bytes(value: &impl Serialize) -> Vec<u8> {
    // Most answers have about as many.
    let mut bytes = Vec::with_capacity(1 << 10);
    serde_json::to_writer(&mut bytes, value).expect("answers have text keys and finite numbers");
    bytes.push(b'\n');
    bytes
}

/// A cell for a spreadsheet: one that would be taken for a formula gets an apostrophe in front.
#[must_use]
pub fn guarded_cell(cell: &str) -> std::borrow::Cow<'_, str> {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) { format!("'{cell}").into() } else { cell.into() }
}

/// The cell as it was before [`guarded_cell`].
#[must_use]
pub fn unguarded_cell(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(rest) if rest.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) => rest,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_guard_can_be_taken_off_again() {
        for cell in ["=1+1", "+ 90°", "-3", "@x", "'quoted", "'=x", "plain", ""] {
            assert_eq!(unguarded_cell(&guarded_cell(cell)), cell);
        }
        assert_eq!(guarded_cell("+ 90°"), "'+ 90°");
    }
}
