//! Laying out text for a terminal: lines broken at spaces, columns that fit beside each other.

/// Text broken at spaces so that no line is longer than `width`, where its words allow; `first` stands before the
/// first line and `rest` before the others. Ends with a line break.
#[must_use]
pub fn fill(text: &str, width: usize, first: &str, rest: &str) -> String {
    let mut out = String::new();
    let mut indent = first;
    for line in text.lines() {
        for piece in broken(line, width.saturating_sub(length(indent)), width.saturating_sub(length(rest))) {
            out += format!("{indent}{piece}").trim_end();
            out.push('\n');
            indent = rest;
        }
    }
    if out.is_empty() { "\n".to_owned() } else { out }
}

/// A paragraph without an indent.
#[must_use]
pub fn paragraph(text: &str, width: usize) -> String {
    fill(text, width, "", "")
}

/// The lines of a text for a column of this width.
#[must_use]
pub fn lines(text: &str, width: usize) -> Vec<String> {
    text.lines().flat_map(|line| broken(line, width, width)).collect()
}

fn broken(line: &str, first: usize, rest: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    let mut room = first;
    for word in unbroken(line) {
        let current = lines.last_mut().expect("there is always a line");
        if current.is_empty() {
            current.push_str(&word);
        } else if length(current) + 1 + length(&word) <= room {
            current.push(' ');
            current.push_str(&word);
        } else {
            room = rest;
            lines.push(word);
        }
    }
    lines
}

/// Units that stay in the line of their number.
const UNITS: &[&str] = &[
    "N·m", "cN·m", "lbf·ft", "lbf·in", "kgf·m", "kgf·cm", "mm", "mm²", "in", "kN", "N", "lbf", "MPa", "ksi", "%", "°",
];

/// The parts of a line that are not broken: words, and numbers with their units.
fn unbroken(line: &str) -> Vec<String> {
    let mut parts: Vec<String> = Vec::new();
    for word in line.split(' ') {
        let is_unit = UNITS.contains(&word.trim_end_matches([',', '.', ';', ':', ')', '"']));
        match parts.last_mut().filter(|before| is_unit && before.ends_with(|c: char| c.is_ascii_digit())) {
            Some(number) => *number += &format!(" {word}"),
            None => parts.push(word.to_owned()),
        }
    }
    parts
}

/// How many columns of a terminal a text takes. The records and tables hold no wide or combining characters that
/// matter here, so that one character is one column.
#[must_use]
pub fn length(text: &str) -> usize {
    text.chars().count()
}

/// The longest part of a text that is not broken.
#[must_use]
pub fn longest_word(text: &str) -> usize {
    text.lines().flat_map(unbroken).map(|part| length(&part)).max().unwrap_or(0)
}

/// The space between two columns.
pub const GAP: usize = 2;
/// A column of text is not made narrower than this.
const LEAST: usize = 10;

/// The width of each column, whose first cell is its heading: what its cells need if that fits, else the widest ones
/// narrower, down to their longest word. Headings get what room is left. Nothing if even that does not fit.
#[must_use]
pub fn column_widths(columns: &[Vec<&str>], width: usize) -> Option<Vec<usize>> {
    let heading_word = |column: &Vec<&str>| column.first().map_or(0, |heading| longest_word(heading));
    let body = |column: &Vec<&str>| column.iter().skip(1).map(|cell| length(cell)).max().unwrap_or(0);
    let least = |column: &Vec<&str>| {
        let word = column.iter().map(|cell| longest_word(cell)).max().unwrap_or(0);
        word.max(body(column).min(LEAST))
    };
    let mut widths: Vec<usize> = columns.iter().map(|column| body(column).max(heading_word(column))).collect();
    let least: Vec<usize> = columns.iter().map(least).collect();
    let room = width.saturating_sub(GAP * columns.len().saturating_sub(1));
    while widths.iter().sum::<usize>() > room {
        let widest = (0..widths.len()).filter(|&i| widths[i] > least[i]).max_by_key(|&i| widths[i])?;
        widths[widest] -= 1;
    }
    for (i, column) in columns.iter().enumerate() {
        let missing = column.first().map_or(0, |heading| length(heading)).saturating_sub(widths[i]);
        if widths.iter().sum::<usize>() + missing <= room {
            widths[i] += missing;
        }
    }
    Some(widths)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_broken_at_spaces_only() {
        assert_eq!(fill("one two three", 9, "- ", "  "), "- one two\n  three\n");
        assert_eq!(fill("skua.diesel.raw-water-pump.cover", 9, "", ""), "skua.diesel.raw-water-pump.cover\n");
        assert_eq!(fill("", 9, "- ", "  "), "\n");
    }

    #[test]
    fn a_number_keeps_its_unit() {
        assert_eq!(fill("meant to be 40 N·m: so", 16, "", ""), "meant to be\n40 N·m: so\n");
    }

    #[test]
    fn a_line_break_in_a_text_stays() {
        assert_eq!(fill("a b\nc", 80, "", "  "), "a b\n  c\n");
    }

    #[test]
    fn the_widest_columns_give_way_down_to_their_longest_word() {
        let columns = vec![vec!["name", "iso-898-1"], vec!["", "Property classes of bolts and screws made of steel"]];
        assert_eq!(column_widths(&columns, 80), Some(vec![9, 50]));
        assert_eq!(column_widths(&columns, 40), Some(vec![9, 29]));
        assert_eq!(column_widths(&columns, 20), None);
    }
}
