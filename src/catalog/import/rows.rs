//! Records from the rows of a table.

use super::super::CatalogError;
use super::super::export::unguarded;
use super::super::table::{COLUMNS, Cell, Column, column, value_of_row};
use super::fault::Blame;
use super::{Decimal, ImportOptions, Item, Sent};
use crate::record::{Fault, Kind, Place, Record, Refused, did_you_mean};
use crate::units::Number;
use csv::{ByteRecord, ReaderBuilder, Trim};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::io::{BufRead, Read};
use std::rc::Rc;

/// Columns that are no fields: a torque and an angle that make one stage where `stages` is empty.
const SHORTHANDS: [&str; 2] = ["torque", "angle"];

/// What a column of the input is.
#[derive(Clone, Copy)]
enum Meaning {
    Field(&'static Column),
    Shorthand(&'static str),
    /// What an earlier intake said about the row.
    Remark,
}

/// Visits the record of every row. Faults of the heading belong to record 0.
pub fn each_row(
    mut reader: impl BufRead,
    options: &ImportOptions,
    mut visit: impl FnMut(Item<'_>) -> Result<(), CatalogError>,
) -> Result<(), CatalogError> {
    let delimiter = match options.delimiter {
        Some(delimiter) => delimiter,
        None => delimiter_of(&mut reader)?,
    };
    let mut lines = Lines::default();
    let counted = Counted { reader, lines: lines.clone(), at: 0 };
    let mut csv = ReaderBuilder::new()
        .delimiter(delimiter)
        .flexible(true)
        .trim(Trim::All)
        .has_headers(false)
        .from_reader(counted);
    let mut row = ByteRecord::new();
    if !csv.read_byte_record(&mut row).map_err(csv_error)? {
        return Ok(());
    }
    let (meanings, blames) = read_heading(&row);
    if !blames.is_empty() {
        let line = lines.of(&row);
        let sent = Sent::Row { heading: &row, row: &row };
        return visit(Item { line, number: 0, record: Err(blames), sent });
    }
    lines.of(&row);
    let heading = row.clone();
    let mut number = 0;
    while csv.read_byte_record(&mut row).map_err(csv_error)? {
        number += 1;
        let line = lines.of(&row);
        let sent = Sent::Row { heading: &heading, row: &row };
        visit(Item { line, number, record: read_row(&row, &meanings, options.decimal), sent })?;
    }
    Ok(())
}

/// A reader that notes where lines end.
struct Counted<R> {
    reader: R,
    lines: Lines,
    at: u64,
}

impl<R: Read> Read for Counted<R> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let count = self.reader.read(buffer)?;
        let ends = buffer[..count].iter().enumerate().filter(|(_, byte)| matches!(byte, b'\n' | b'\r'));
        let mut noted = self.lines.ends.borrow_mut();
        noted.extend(ends.map(|(at, byte)| (self.at + at as u64, *byte == b'\n')));
        self.at += count as u64;
        Ok(count)
    }
}

/// The ends of lines that lie behind the last row, and how many lines lie before it.
#[derive(Clone, Default)]
struct Lines {
    ends: Rc<RefCell<VecDeque<(u64, bool)>>>,
    before: u64,
}

impl Lines {
    /// The physical line on which a row begins, from 1. Rows come in their order.
    fn of(&mut self, row: &ByteRecord) -> u64 {
        let mut start = row.position().map_or(0, csv::Position::byte);
        let mut ends = self.ends.borrow_mut();
        // What ends lines just where a row is said to begin ends the lines before it.
        while let Some((at, is_end)) = ends.front().copied().filter(|(at, _)| *at <= start) {
            ends.pop_front();
            self.before += u64::from(is_end);
            start += u64::from(at == start);
        }
        self.before + 1
    }
}

fn csv_error(error: csv::Error) -> CatalogError {
    CatalogError::reading(error.into())
}

/// The delimiter that the first row speaks for.
fn delimiter_of(reader: &mut impl BufRead) -> Result<u8, CatalogError> {
    let start = reader.fill_buf().map_err(CatalogError::reading)?;
    let heading = start.split(|byte| *byte == b'\n').next().unwrap_or_default();
    let count = |sign: u8| heading.iter().filter(|byte| **byte == sign).count();
    let signs = [b',', b';', b'\t'];
    Ok(signs.into_iter().rev().max_by_key(|sign| count(*sign)).filter(|sign| count(*sign) > 0).unwrap_or(b','))
}

fn read_heading(row: &ByteRecord) -> (Vec<Meaning>, Vec<Blame>) {
    let known: Vec<&str> = COLUMNS.iter().map(|column| column.name).chain(SHORTHANDS).collect();
    let mut meanings = Vec::new();
    let mut blames = Vec::new();
    let mut names: Vec<String> = Vec::new();
    for cell in row {
        let name = String::from_utf8_lossy(cell).trim_start_matches('\u{feff}').trim().to_lowercase();
        let shorthand = SHORTHANDS.into_iter().find(|shorthand| *shorthand == name).map(Meaning::Shorthand);
        let remark = name.starts_with(super::fault_table::PREFIX).then_some(Meaning::Remark);
        match column(&name).map(Meaning::Field).or(shorthand).or(remark) {
            Some(_) if names.contains(&name) => blames.push(heading_blame("given-twice", &name, "stands twice", None)),
            Some(meaning) => meanings.push(meaning),
            None => {
                let hint = did_you_mean(&name, &known);
                blames.push(heading_blame("unknown-column", &name, "is not a column that is known", hint));
            }
        }
        names.push(name);
    }
    for needed in ["id", "thread"] {
        let is_joints_only = needed == "thread" && names.iter().any(|name| name == "kind");
        if !names.iter().any(|name| name == needed) && !is_joints_only {
            blames.push(heading_blame("missing", needed, "must be a column", None));
        }
    }
    (meanings, blames)
}

fn heading_blame(code: &'static str, name: &str, what: &str, hint: Option<String>) -> Blame {
    let mut fault = Fault::new(code, &Place::root(), format!("\"{name}\" {what}")).given(name);
    fault.hint = hint;
    Blame { fault, column: Some(name.to_owned()) }
}

fn read_row(row: &ByteRecord, meanings: &[Meaning], decimal: Decimal) -> Result<Record, Vec<Blame>> {
    let cells = read_cells(row, meanings)?;
    let mut blames = Vec::new();
    let mut fields: Vec<(&'static Column, String)> = Vec::new();
    let mut shorthands = [String::new(), String::new()];
    for (meaning, cell) in meanings.iter().zip(cells) {
        match meaning {
            Meaning::Field(column) => {
                if matches!(column.cell, Cell::Quantity | Cell::Quantities) {
                    blames.extend(check_decimal(column.name, &cell, decimal));
                    blames.extend(check_unit(column, &cell));
                }
                fields.push((column, cell));
            }
            Meaning::Remark => {}
            Meaning::Shorthand(name) => {
                blames.extend(check_decimal(name, &cell, decimal));
                blames.extend(missing_unit(name, &cell, if *name == "torque" { " N·m" } else { "°" }));
                shorthands[usize::from(*name == "angle")] = cell;
            }
        }
    }
    blames.extend(join_shorthands(&mut fields, &shorthands));
    if !blames.is_empty() {
        return Err(blames);
    }
    let kind = kind_of_row(&fields)?;
    let named = fields.iter().map(|(column, cell)| (*column, cell.as_str()));
    Record::from_json(&value_of_row(named, kind))
        .map_err(|Refused(faults)| faults.into_iter().map(Blame::in_table).collect())
}

fn read_cells(row: &ByteRecord, meanings: &[Meaning]) -> Result<Vec<String>, Vec<Blame>> {
    if row.len() != meanings.len() {
        let detail = format!("the row has {} cells, the heading has {}", row.len(), meanings.len());
        let mut blame = Blame::whole("wrong-count", detail);
        blame.fault.hint = Some("Look for a cell with a delimiter that is not in quotes".to_owned());
        return Err(vec![blame]);
    }
    let text = |cell: &[u8]| std::str::from_utf8(cell).map(|text| unguarded(text).to_owned());
    let cells: Result<Vec<String>, _> = row.iter().map(text).collect();
    cells.map_err(|_| vec![Blame::whole("unreadable", "the row is not UTF-8")])
}

fn kind_of_row(fields: &[(&'static Column, String)]) -> Result<Kind, Vec<Blame>> {
    let kind = fields.iter().find(|(column, cell)| column.name == "kind" && !cell.is_empty());
    let Some((_, cell)) = kind else { return Ok(Kind::Fastener) };
    cell.parse().map_err(|error: String| {
        let fault = Fault::new("unreadable", &Place::root().below("kind"), error).given(cell);
        vec![Blame::in_table(fault)]
    })
}

/// Makes one stage of a torque and an angle.
fn join_shorthands(fields: &mut Vec<(&'static Column, String)>, shorthands: &[String; 2]) -> Option<Blame> {
    let [torque, angle] = shorthands;
    if torque.is_empty() && angle.is_empty() {
        return None;
    }
    let angle = angle.trim_start_matches('+').trim();
    let stage = if angle.is_empty() { torque.clone() } else { format!("{torque} + {angle}") };
    let stages = column("stages")?;
    match fields.iter_mut().find(|(column, _)| column.name == "stages") {
        Some((_, cell)) if !cell.is_empty() => {
            let detail = "the row states both stages and a torque or an angle";
            let fault = Fault::new("contradiction", &Place::root().below("stages"), detail);
            Some(Blame::in_table(fault.hint("Keep one of them")))
        }
        Some((_, cell)) => {
            *cell = stage;
            None
        }
        None => {
            fields.push((stages, stage));
            None
        }
    }
}

/// A quantity that is a bare number.
fn check_unit(column: &Column, cell: &str) -> Vec<Blame> {
    let unit = match column.name {
        "stages" => " N·m",
        "friction" => return Vec::new(),
        _ => " mm",
    };
    let parts = cell.split('|').map(str::trim);
    parts.filter_map(|part| missing_unit(column.name, part, unit)).collect()
}

fn missing_unit(column: &str, cell: &str, unit: &str) -> Option<Blame> {
    let bare = cell.split(['-', '–']).all(|part| part.trim().parse::<Number>().is_ok());
    if !bare || cell.is_empty() {
        return None;
    }
    let place = Place::root().below(column);
    let what = if column == "stages" { "torque" } else { column };
    let fault = Fault::new("no-unit", &place, format!("{what} \"{cell}\" has no unit")).given(cell);
    Some(Blame { fault: fault.hint(format!("Write {cell}{unit}")), column: Some(column.to_owned()) })
}

/// A quantity with the other decimal sign, which may part thousands.
fn check_decimal(column: &str, cell: &str, decimal: Decimal) -> Option<Blame> {
    let (sign, name, option) = match decimal {
        Decimal::Point => (',', "comma", "say that the decimal sign is a comma"),
        Decimal::Comma => ('.', "point", "leave the decimal sign at the point"),
    };
    let characters: Vec<char> = cell.chars().collect();
    let between = |at: &[char]| at[0].is_ascii_digit() && at[1] == sign && at[2].is_ascii_digit();
    if !characters.windows(3).any(between) {
        return None;
    }
    let detail = format!("\"{cell}\" has a {name} between digits, which may part thousands or decimals");
    let fault = Fault::new("two-readings", &Place::root().below(column), detail).given(cell);
    Some(Blame { fault: fault.hint(format!("Write it without, or {option}")), column: Some(column.to_owned()) })
}
