//! Rows and columns, printed for a terminal, a pipe or a spreadsheet.

use super::layout::{self, GAP};
use super::terminal;
use super::words;
use serde::Serialize;
use serde_json::Value;

/// A table of text.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Table {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// An empty table with these columns.
    pub fn new<C: Into<String>>(columns: impl IntoIterator<Item = C>) -> Self {
        Self { columns: columns.into_iter().map(Into::into).collect(), rows: Vec::new() }
    }

    /// The table that stands in CSV with a heading.
    #[must_use]
    pub fn of_csv(bytes: &[u8]) -> Self {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(bytes);
        let mut rows = reader.records().filter_map(Result::ok);
        let mut table = rows.next().map(|heading| Self::new(heading.iter())).unwrap_or_else(|| Self::new([""; 0]));
        rows.for_each(|row| table.row(row.iter()));
        table
    }

    /// Adds a row; cells left over stay empty.
    pub fn row<C: Into<String>>(&mut self, cells: impl IntoIterator<Item = C>) {
        let mut row: Vec<String> = cells.into_iter().map(Into::into).collect();
        row.resize(self.columns.len(), String::new());
        self.rows.push(row);
    }

    /// Without the columns that are empty in every row.
    #[must_use]
    pub fn without_empty_columns(self) -> Self {
        let used: Vec<usize> =
            (0..self.columns.len()).filter(|&i| self.rows.iter().any(|row| !row[i].is_empty())).collect();
        let pick = |row: &Vec<String>| used.iter().map(|&i| row[i].clone()).collect();
        Self { columns: pick(&self.columns), rows: self.rows.iter().map(pick).collect() }
    }

    /// For people at a terminal: columns aligned, long cells broken at spaces. Rows that do not fit beside each other
    /// become paragraphs.
    #[must_use]
    pub fn to_terminal(&self, width: usize) -> String {
        let headings: Vec<String> = self.columns.iter().map(|name| words::heading(name)).collect();
        let column = |i: usize| {
            std::iter::once(headings[i].as_str()).chain(self.rows.iter().map(|row| row[i].as_str())).collect::<Vec<_>>()
        };
        let columns: Vec<Vec<&str>> = (0..headings.len()).map(column).collect();
        match layout::column_widths(&columns, width) {
            Some(widths) => self.grid(&headings, &widths),
            None => self.paragraphs(&headings, width),
        }
    }

    fn grid(&self, headings: &[String], widths: &[usize]) -> String {
        let is_number = |i: usize| {
            let mut cells = self.rows.iter().map(|row| &row[i]).filter(|cell| !cell.is_empty()).peekable();
            cells.peek().is_some() && cells.all(|cell| cell.parse::<f64>().is_ok())
        };
        let right: Vec<bool> = (0..widths.len()).map(is_number).collect();
        let mut text = String::new();
        for line in row_lines(headings, widths, &right) {
            text += &terminal::heading(&line);
            text.push('\n');
        }
        let rule: Vec<String> = widths.iter().map(|width| "-".repeat(*width)).collect();
        text += &rule.join(&" ".repeat(GAP));
        text.push('\n');
        for row in &self.rows {
            for line in row_lines(row, widths, &right) {
                text += &line;
                text.push('\n');
            }
        }
        text
    }

    fn paragraphs(&self, headings: &[String], width: usize) -> String {
        let mut blocks = Vec::new();
        for row in &self.rows {
            let mut cells = headings.iter().zip(row);
            let mut block = cells.next().map(|(_, cell)| terminal::heading(cell) + "\n").unwrap_or_default();
            let named: Vec<_> = cells.filter(|(_, cell)| !cell.is_empty()).collect();
            let widest = named.iter().map(|(heading, _)| layout::length(heading)).max().unwrap_or(0);
            for (heading, cell) in named {
                block += &layout::fill(cell, width, &format!("  {heading:widest$}  "), &" ".repeat(widest + 4));
            }
            blocks.push(block);
        }
        blocks.join("\n")
    }

    /// For a pipe: separated by tabs, nothing cut.
    #[must_use]
    pub fn to_plain(&self) -> String {
        let clean = |cell: &String| cell.replace(['\t', '\n', '\r'], " ");
        let line = |cells: &Vec<String>| cells.iter().map(clean).collect::<Vec<_>>().join("\t") + "\n";
        self.rows.iter().map(line).collect()
    }

    /// For a spreadsheet: RFC 4180 with a header.
    #[must_use]
    pub fn to_csv(&self) -> String {
        Self::csv(std::iter::once(&self.columns).chain(&self.rows))
    }

    /// For a spreadsheet that has its header already.
    #[must_use]
    pub fn to_csv_without_header(&self) -> String {
        Self::csv(self.rows.iter())
    }

    fn csv<'r>(rows: impl Iterator<Item = &'r Vec<String>>) -> String {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        for row in rows {
            writer
                .write_record(row.iter().map(|cell| crate::answer::guarded_cell(cell).into_owned()))
                .expect("memory takes every row");
        }
        String::from_utf8(writer.into_inner().expect("memory takes every row")).expect("cells are UTF-8")
    }
}

/// The lines of a row, long cells broken.
fn row_lines(cells: &[String], widths: &[usize], right: &[bool]) -> Vec<String> {
    let cells: Vec<Vec<String>> = cells.iter().zip(widths).map(|(cell, width)| layout::lines(cell, *width)).collect();
    let height = cells.iter().map(Vec::len).max().unwrap_or(0);
    let line = |n: usize| {
        let piece = |i: usize| {
            let text = cells[i].get(n).map_or("", String::as_str);
            let width = widths[i];
            if right[i] { format!("{text:>width$}") } else { format!("{text:width$}") }
        };
        (0..cells.len()).map(piece).collect::<Vec<_>>().join(&" ".repeat(GAP)).trim_end().to_owned()
    };
    (0..height).map(line).collect()
}

/// A table of one value: a row for each of its members.
pub fn of_members(value: &impl Serialize) -> Table {
    of_members_but(value, &[])
}

/// A table of one value without some of its members.
pub fn of_members_but(value: &impl Serialize, without: &[&str]) -> Table {
    let mut table = Table::new(["what", "value"]);
    for (key, cell) in members(value).into_iter().filter(|(key, _)| !without.contains(&key.as_str())) {
        table.row([key, cell]);
    }
    table
}

/// A table of one value for programs that read text: a row for each of its innermost members, named by its path; ranges
/// as `1-2`, lists of texts joined by ` | `.
pub fn of_paths(value: &impl Serialize) -> Table {
    let mut table = Table::new(["what", "value"]);
    flatten("", &serde_json::to_value(value).unwrap_or_default(), &mut table);
    table
}

fn flatten(path: &str, value: &Value, table: &mut Table) {
    let below = |key: &str| if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") };
    match value {
        Value::Object(members) if members.len() == 2 && members.contains_key("min") && members.contains_key("max") => {
            table.row([path.to_owned(), format!("{}-{}", cell(&members["min"]), cell(&members["max"]))]);
        }
        Value::Object(members) => members.iter().for_each(|(key, value)| flatten(&below(key), value, table)),
        Value::Array(items) if items.iter().any(Value::is_object) => {
            for (i, item) in items.iter().enumerate() {
                flatten(&format!("{path}[{i}]"), item, table);
            }
        }
        Value::Array(items) => table.row([path.to_owned(), items.iter().map(cell).collect::<Vec<_>>().join(" | ")]),
        other => table.row([path.to_owned(), cell(other)]),
    }
}

/// A table of values of one kind: a row for each, a column for each member that any of them has.
pub fn of_rows<T: Serialize>(values: &[T]) -> Table {
    let rows: Vec<Vec<(String, String)>> = values.iter().map(members).collect();
    let mut columns: Vec<String> = Vec::new();
    for (key, _) in rows.iter().flatten() {
        if !columns.contains(key) {
            columns.push(key.clone());
        }
    }
    let mut table = Table::new(columns.clone());
    for row in &rows {
        let cell = |column: &String| row.iter().find(|(key, _)| key == column).map_or("", |(_, cell)| cell.as_str());
        table.row(columns.iter().map(cell));
    }
    table
}

/// The members of a value and their text, in order.
fn members(value: &impl Serialize) -> Vec<(String, String)> {
    let Ok(Value::Object(members)) = serde_json::to_value(value) else { return Vec::new() };
    members.into_iter().map(|(key, value)| (key, cell(&value))).collect()
}

/// A JSON value as the text of a cell.
pub fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Array(items) => items.iter().map(cell).collect::<Vec<_>>().join(", "),
        Value::Object(members) => members.values().map(cell).collect::<Vec<_>>().join(" "),
        Value::Number(number) => {
            let text = number.to_string();
            text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Table {
        let mut table = Table::new(["name", "stress_area_mm2", "title"]);
        table.row(["iso-898-1", "36.6", "Property classes of bolts and screws"]);
        table.row(["sae-j429", "8.5", "Grades"]);
        table
    }

    fn bare(text: &str) -> String {
        anstream::adapter::strip_str(text).to_string()
    }

    #[test]
    fn columns_stand_beside_each_other_numbers_to_the_right() {
        assert_eq!(
            bare(&table().to_terminal(46)),
            "name       stress  title\n\
             \u{20}            area\n\
             \u{20}             mm²\n\
             ---------  ------  ---------------------------\n\
             iso-898-1    36.6  Property classes of bolts\n\
             \u{20}                  and screws\n\
             sae-j429      8.5  Grades\n"
        );
    }

    #[test]
    fn rows_that_do_not_fit_become_paragraphs() {
        assert_eq!(
            bare(&table().to_terminal(28)),
            "iso-898-1\n\
             \u{20} stress area mm²  36.6\n\
             \u{20} title            Property\n\
             \u{20}                  classes\n\
             \u{20}                  of bolts\n\
             \u{20}                  and\n\
             \u{20}                  screws\n\
             \n\
             sae-j429\n\
             \u{20} stress area mm²  8.5\n\
             \u{20} title            Grades\n"
        );
    }

    #[test]
    fn numbers_have_no_empty_decimals() {
        assert_eq!(cell(&serde_json::json!(1040.0)), "1040");
        assert_eq!(cell(&serde_json::json!(8.50)), "8.5");
        assert_eq!(cell(&serde_json::json!(12)), "12");
    }
}
