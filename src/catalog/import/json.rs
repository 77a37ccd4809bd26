//! Records from JSON: one a line, or values one after the other, in an array or not.

use super::super::CatalogError;
use super::ahead::{Ahead, Cut};
use super::fault::Blame;
use super::{Item, Sent};
use crate::record::{Record, Refused};
use std::io::{BufRead, Read};

/// The most bytes of one record.
const RECORD_BYTES_MAX: usize = 1 << 20;

/// Passes over the mark that some programs put before UTF-8.
pub fn skip_byte_order_mark(reader: &mut impl BufRead) -> Result<(), CatalogError> {
    let start = reader.fill_buf().map_err(CatalogError::reading)?;
    if start.starts_with(&[0xef, 0xbb, 0xbf]) {
        reader.consume(3);
    }
    Ok(())
}

fn read(cut: &Cut) -> Result<Record, Vec<Blame>> {
    if cut.long {
        return Err(too_long());
    }
    Record::from_json_text(&cut.bytes).map_err(|Refused(faults)| faults.into_iter().map(Blame::of).collect())
}

fn too_long() -> Vec<Blame> {
    vec![Blame::whole("too-long", format!("a record has at most {RECORD_BYTES_MAX} bytes"))]
}

/// Visits the record of every line that is not empty.
pub fn each_line(
    reader: impl BufRead,
    visit: impl FnMut(Item<'_>) -> Result<(), CatalogError>,
) -> Result<(), CatalogError> {
    let mut ahead = Ahead::new(&read, visit);
    let cut = cut_lines(reader, &mut |cut| ahead.take(cut));
    // What came before a fault of the reader is taken in all the same.
    ahead.end()?;
    cut
}

fn cut_lines(
    mut reader: impl BufRead,
    take: &mut dyn FnMut(Cut) -> Result<(), CatalogError>,
) -> Result<(), CatalogError> {
    let (mut line, mut number) = (0, 0);
    loop {
        let mut bytes = Vec::new();
        let most = RECORD_BYTES_MAX as u64 + 1;
        let read_bytes = reader.by_ref().take(most).read_until(b'\n', &mut bytes).map_err(CatalogError::reading)?;
        if read_bytes == 0 {
            return Ok(());
        }
        line += 1;
        let long = bytes.len() > RECORD_BYTES_MAX;
        if long && !bytes.ends_with(b"\n") {
            skip_line(&mut reader)?;
        }
        if bytes.trim_ascii().is_empty() {
            continue;
        }
        number += 1;
        take(Cut { line, number, bytes, long })?;
    }
}

fn skip_line(reader: &mut impl BufRead) -> Result<(), CatalogError> {
    loop {
        let buffer = reader.fill_buf().map_err(CatalogError::reading)?;
        if buffer.is_empty() {
            return Ok(());
        }
        let end = buffer.iter().position(|byte| *byte == b'\n');
        let used = end.map_or(buffer.len(), |end| end + 1);
        reader.consume(used);
        if end.is_some() {
            return Ok(());
        }
    }
}

/// Cuts a stream of bytes into the JSON values of the outermost array, or of the stream itself.
struct Cutter {
    bytes: Vec<u8>,
    line: u64,
    began: u64,
    depth: usize,
    in_text: bool,
    escaped: bool,
    long: bool,
}

/// Visits every value of an array, or every one of values that follow each other.
pub fn each_value(
    reader: impl BufRead,
    mut visit: impl FnMut(Item<'_>) -> Result<(), CatalogError>,
) -> Result<(), CatalogError> {
    let mut ahead = Ahead::new(&read, &mut visit);
    let cut = cut_values(reader, &mut |cut| ahead.take(cut));
    ahead.end()?;
    let Some((line, number)) = cut? else { return Ok(()) };
    let record = Err(vec![Blame::whole("unreadable", "the list ends without its closing bracket")]);
    visit(Item { line, number, record, sent: Sent::Text(b"") })
}

/// Cuts out every value. Of an array that is not closed it gives the last line, and the number that would come next.
fn cut_values(
    mut reader: impl BufRead,
    take: &mut dyn FnMut(Cut) -> Result<(), CatalogError>,
) -> Result<Option<(u64, u64)>, CatalogError> {
    let mut cutter =
        Cutter { bytes: Vec::new(), line: 1, began: 1, depth: 0, in_text: false, escaped: false, long: false };
    let mut number = 0;
    let mut array = false;
    let mut closed = false;
    let mut first = true;
    loop {
        let buffer = reader.fill_buf().map_err(CatalogError::reading)?;
        if buffer.is_empty() {
            break;
        }
        let length = buffer.len();
        for &byte in buffer {
            if first && !byte.is_ascii_whitespace() {
                first = false;
                if byte == b'[' {
                    array = true;
                    continue;
                }
            }
            let ends = array && byte == b']' && cutter.depth == 0 && !cutter.in_text;
            closed |= ends;
            if (ends || cutter.take(byte))
                && let Some(cut) = cutter.cut(&mut number)
            {
                take(cut)?;
            }
        }
        reader.consume(length);
    }
    if let Some(cut) = cutter.cut(&mut number) {
        take(cut)?;
    }
    Ok((array && !closed).then_some((cutter.line, number + 1)))
}

impl Cutter {
    /// Takes a byte; whether a value is complete now.
    fn take(&mut self, byte: u8) -> bool {
        if byte == b'\n' {
            self.line += 1;
        }
        if self.in_text {
            self.keep(byte);
            self.in_text = byte != b'"' || self.escaped;
            self.escaped = byte == b'\\' && !self.escaped;
            return false;
        }
        match byte {
            b',' if self.depth == 0 => true,
            b'{' | b'[' => {
                self.depth += 1;
                self.keep(byte);
                false
            }
            b'}' | b']' => {
                self.depth = self.depth.saturating_sub(1);
                self.keep(byte);
                self.depth == 0
            }
            _ => {
                self.in_text = byte == b'"';
                self.keep(byte);
                false
            }
        }
    }

    fn keep(&mut self, byte: u8) {
        if self.bytes.is_empty() {
            if byte.is_ascii_whitespace() {
                return;
            }
            self.began = self.line;
        }
        if self.bytes.len() < RECORD_BYTES_MAX {
            self.bytes.push(byte);
        } else {
            self.long = true;
        }
    }

    /// The value that was collected, if there is one.
    fn cut(&mut self, number: &mut u64) -> Option<Cut> {
        let bytes = std::mem::take(&mut self.bytes);
        let long = std::mem::take(&mut self.long);
        (self.depth, self.in_text, self.escaped) = (0, false, false);
        if bytes.trim_ascii().is_empty() {
            return None;
        }
        *number += 1;
        Some(Cut { line: self.began, number: *number, bytes, long })
    }
}
