//! The book that is measured: lines of JSON by id, and what happens to some of its records later.

use crate::generator;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

/// A book in a file.
pub struct Book {
    /// The file: one record a line, by id.
    pub file: PathBuf,
    /// How many records there are.
    pub records: usize,
    /// The bytes of all of them.
    pub bytes: u64,
    /// Records that get a second revision, as lines of JSON.
    pub changed: Vec<String>,
    /// Records that are withdrawn, by id.
    pub withdrawn: Vec<String>,
    /// The ids of some fasteners that stay.
    pub fasteners: Vec<String>,
    /// Some joints with a position and the head that sits there.
    pub places: Vec<(String, u32, String)>,
}

/// About how many ids are looked up.
const LOOKED_UP: usize = 20_000;

impl Book {
    /// Makes the book of so many fasteners.
    pub fn make(fasteners: usize, folder: &Path) -> Self {
        let mut lines: Vec<(String, String)> = Vec::with_capacity(fasteners * 3 / 2);
        generator::book(fasteners, 1, |line| lines.push((member(line, "id").to_owned(), line.to_owned())));
        lines.sort();
        let file = folder.join("book.ndjson");
        let mut out = BufWriter::new(File::create(&file).expect("a file"));
        let mut book = Self {
            file,
            records: lines.len(),
            bytes: 0,
            changed: Vec::new(),
            withdrawn: Vec::new(),
            fasteners: Vec::new(),
            places: Vec::new(),
        };
        let step = (fasteners / LOOKED_UP).max(1);
        for (number, (id, line)) in lines.into_iter().enumerate() {
            writeln!(out, "{line}").expect("room for the book");
            book.bytes += line.len() as u64 + 1;
            if line.contains(r#""kind":"joint""#) {
                continue;
            }
            match number % 200 {
                7 => book.withdrawn.push(id),
                3 | 44 | 85 | 126 | 167 => book.changed.push(changed(&line)),
                _ if number % step == 0 => {
                    let first = member(&line, "positions").split('-').next().and_then(|first| first.parse().ok());
                    let head = member(&line, "head").to_owned();
                    book.places.push((member(&line, "joint").to_owned(), first.unwrap_or(1), head));
                    book.fasteners.push(id);
                }
                _ => {}
            }
        }
        out.flush().expect("room for the book");
        book
    }
}

/// The text of a member of a line, which holds no escapes.
pub fn member<'l>(line: &'l str, name: &str) -> &'l str {
    let start = line.find(&format!("\"{name}\":\"")).map_or(line.len(), |at| at + name.len() + 4);
    line[start..].split('"').next().unwrap_or_default()
}

/// The line of the next revision: another reuse rule, and a note.
fn changed(line: &str) -> String {
    let rule = member(line, "rule");
    let other = if rule == "renew" { "inspect" } else { "renew" };
    let line = line.replacen(&format!(r#""rule":"{rule}""#), &format!(r#""rule":"{other}""#), 1);
    line.replacen(r#""source""#, r#""note":"Rule changed after a leak","source""#, 1)
}
