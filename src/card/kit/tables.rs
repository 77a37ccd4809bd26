//! A kit as a plain table and as CSV.

use super::{Kit, KitPart, KitTool};
use crate::answer::guarded_cell;
use crate::record::Id;

/// One line of a kit, whatever it is.
struct Line<'k> {
    section: &'static str,
    item: String,
    size: &'k str,
    part_no: &'k str,
    count: String,
    note: String,
    joints: &'k [Id],
}

/// The sections as people read them, with the word for a program.
const RENEW: (&str, &str) = ("renew", "Renew");
const CONDITIONAL: (&str, &str) = ("look-at", "May go back if");
const DRIVES: (&str, &str) = ("drive", "Sockets, keys and bits");
const WRENCHES: (&str, &str) = ("torque-wrench", "Torque wrenches");
const GAUGE: (&str, &str) = ("angle-gauge", "Angle gauge");
const SPECIAL: (&str, &str) = ("special-tool", "Special tools");
const SUPPLIES: (&str, &str) = ("supply", "Supplies");
const UNSERVED: (&str, &str) = ("no-wrench", "No wrench here serves");
const NOT_STATED: (&str, &str) = ("not-stated", "The records do not say");
const SECTIONS: [(&str, &str); 9] =
    [RENEW, CONDITIONAL, DRIVES, WRENCHES, GAUGE, SPECIAL, SUPPLIES, UNSERVED, NOT_STATED];

impl Kit {
    /// The kit for a terminal of 80 columns.
    #[must_use]
    pub fn plain_text(&self) -> String {
        let lines = self.lines();
        let mut out = String::from("KIT\n");
        for joint in &self.joints {
            let title = joint.title.as_ref().map_or(String::new(), |title| format!("  {title}"));
            out.push_str(&format!("for {}{title}\n", joint.id));
        }
        if let Some(variant) = &self.variant {
            out.push_str(&format!("variant {variant}\n"));
        }
        for (section, heading) in SECTIONS {
            let lines: Vec<&Line<'_>> = lines.iter().filter(|line| line.section == section).collect();
            if lines.is_empty() {
                continue;
            }
            out.push_str(&format!("\n{}\n", heading.to_uppercase()));
            for line in lines {
                line.print(&mut out);
            }
        }
        out
    }

    /// The kit as CSV (RFC 4180), one line an item.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut writer = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        // Writing into memory cannot fail.
        let _ = writer.write_record(Self::COLUMNS);
        for row in self.rows() {
            let cells = row.each_ref().map(|cell| guarded_cell(cell));
            let _ = writer.write_record(cells.iter().map(|cell| cell.as_bytes()));
        }
        String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
    }

    /// The columns of a kit as a table.
    pub const COLUMNS: [&'static str; 7] = ["section", "item", "size", "part_no", "count", "note", "for"];

    /// The kit as rows, one an item.
    #[must_use]
    pub fn rows(&self) -> Vec<[String; 7]> {
        let row = |line: Line<'_>| {
            let joints = line.joints.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
            let [section, size, part_no] = [line.section, line.size, line.part_no].map(str::to_owned);
            [section, line.item, size, part_no, line.count, line.note, joints]
        };
        self.lines().into_iter().map(row).collect()
    }

    fn lines(&self) -> Vec<Line<'_>> {
        let mut lines: Vec<Line<'_>> = Vec::new();
        lines.extend(self.renew.iter().map(|part| part_line(RENEW.0, part)));
        lines.extend(self.conditional.iter().map(|part| part_line(CONDITIONAL.0, part)));
        lines.extend(self.drives.iter().map(|tool| tool_line(DRIVES.0, tool)));
        for wrench in &self.wrenches {
            let note = format!("set to {}", wrench.settings.join(", "));
            lines.push(Line { note, ..bare(WRENCHES.0, wrench.range.clone()) });
        }
        lines.extend(self.angle_gauge.iter().map(|tool| tool_line(GAUGE.0, tool)));
        lines.extend(self.special_tools.iter().map(|tool| tool_line(SPECIAL.0, tool)));
        lines.extend(self.supplies.iter().map(|tool| tool_line(SUPPLIES.0, tool)));
        lines.extend(self.unserved.iter().map(|torque| bare(UNSERVED.0, torque.clone())));
        lines.extend(self.not_stated.iter().map(|what| bare(NOT_STATED.0, what.clone())));
        lines
    }
}

fn bare(section: &'static str, item: String) -> Line<'static> {
    Line { section, item, size: "", part_no: "", count: String::new(), note: String::new(), joints: &[] }
}

fn part_line<'k>(section: &'static str, part: &'k KitPart) -> Line<'k> {
    let fits = part.fits.as_ref().map(|fits| format!("only {fits}"));
    let notes: Vec<String> = part.rule.iter().cloned().chain(fits).collect();
    Line {
        section,
        item: part.item.clone(),
        size: part.size.as_deref().unwrap_or(""),
        part_no: part.part_no.as_deref().unwrap_or(""),
        count: part.count.map_or("?".to_owned(), |count| count.to_string()),
        note: notes.join("; "),
        joints: &part.joints,
    }
}

fn tool_line<'k>(section: &'static str, tool: &'k KitTool) -> Line<'k> {
    Line { joints: &tool.joints, ..bare(section, tool.item.clone()) }
}

impl Line<'_> {
    /// The count first, as on a picking list; what does not fit beside it goes below.
    fn print(&self, out: &mut String) {
        let count = if self.count.is_empty() { String::new() } else { format!("{} ×", self.count) };
        let size = if self.size.is_empty() { String::new() } else { format!(", {}", self.size) };
        let text = format!("{}{size}", self.item);
        let mut first = true;
        for line in super::super::svg::wrapped(&text, 54) {
            let count = if first { count.as_str() } else { "" };
            let part_no = if first { self.part_no } else { "" };
            out.push_str(format!("[ ] {count:>5} {line:<54} {part_no}").trim_end());
            out.push('\n');
            if first {
                first = false;
            }
        }
        for line in super::super::svg::wrapped(&self.note, 68) {
            out.push_str(&format!("          {line}\n"));
        }
    }
}
