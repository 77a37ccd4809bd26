//! The card as plain text for a terminal of 80 columns.

use super::{Action, Card, CardCell, CardFastener, CardPass};
use crate::card::svg::wrapped;
use crate::record::Id;

const WIDTH: usize = 80;

/// The card as plain text.
#[must_use]
pub fn plain_text(card: &Card) -> String {
    let mut page = Page::default();
    head(&mut page, card);
    page.section(
        "Cautions",
        card.cautions.iter().map(|caution| {
            let about = caution.about.as_ref().map_or(String::new(), |letter| format!("{letter}: "));
            format!("! {about}{}", caution.text)
        }),
    );
    page.section("Open first", card.behind.iter().map(Id::to_string));
    page.section("Prepare", card.prepare.iter().map(|text| format!("[ ] {text}")));
    page.section(
        "Renew",
        card.renew.iter().map(|item| {
            let part_no = item.part_no.as_ref().map_or(String::new(), |part_no| format!(", {part_no}"));
            format!("[ ] {}{}{part_no}", times(item.count), item.item)
        }),
    );
    page.section("Check", card.check.iter().map(|item| format!("[ ] {}{}", times(item.count), item.item)));
    page.section("Special tools", card.tools.iter().map(ToString::to_string));
    page.section("Worth doing at the same time", card.together.iter().map(ToString::to_string));
    page.heading("Fasteners");
    for fastener in &card.fasteners {
        fastener_lines(&mut page, fastener);
    }
    for pass in &card.passes {
        pass_lines(&mut page, pass);
    }
    if card.loosening.len() > 1 {
        let order: Vec<String> = card.loosening.iter().map(u32::to_string).collect();
        page.section("Loosen in this order", [order.join(" ")]);
    }
    wrenches(&mut page, card);
    page.section(
        "Read in",
        card.sources.iter().map(|source| format!("{}: {}", source.about.join(", "), source.source)),
    );
    page.line(&format!("\nPrinted {}", card.printed_at));
    page.0
}

fn head(page: &mut Page, card: &Card) {
    let title = card.title.to_uppercase();
    let gap = WIDTH.saturating_sub(title.chars().count() + card.assembly_title.chars().count()).max(2);
    if gap > 2 {
        page.line(&format!("{title}{}{}", " ".repeat(gap), card.assembly_title));
    } else {
        page.wrap(0, &title);
        page.wrap(0, &card.assembly_title);
    }
    let revision = card.revision.map_or("not stored".to_owned(), |revision| format!("revision {revision}"));
    page.wrap(0, &format!("{}  {revision}", card.id));
    if let Some(variant) = &card.variant {
        page.wrap(0, &format!("For {variant}"));
    }
    page.wrap(0, &card.standing.words);
    page.wrap(0, card.first_of_all);
}

fn fastener_lines(page: &mut Page, fastener: &CardFastener) {
    let count = fastener.count.map_or(String::new(), |count| format!(" ({count})"));
    let at = fastener.positions.as_deref().unwrap_or("?");
    let name = fastener.name.as_ref().map_or(String::new(), |name| format!(": {name}"));
    page.hang(4, &format!("{:<3} at {at}{count}{name}", fastener.letter));
    page.indent(4, &format!("{}; {}", fastener.head_words, fastener.size));
    let mut said = vec![if fastener.is_renewed { "ALWAYS RENEW".to_owned() } else { fastener.reuse.clone() }];
    said.push(fastener.lubrication.clone());
    said.extend(fastener.locking.clone());
    if fastener.is_left_hand {
        said.push("LEFT-HAND THREAD".to_owned());
    }
    said.extend(fastener.fits.iter().map(|fits| format!("only {fits}")));
    said.extend(fastener.part_no.iter().map(ToString::to_string));
    if !fastener.is_checked {
        said.push("UNCHECKED".to_owned());
    }
    page.indent(4, &said.join(" · "));
    if let Some(note) = &fastener.note {
        page.indent(4, note);
    }
}

fn pass_lines(page: &mut Page, pass: &CardPass) {
    page.heading(&format!("Pass {}  {}", pass.number, pass.order));
    for cell in &pass.cells {
        page.hang(5, &cell_line(cell));
    }
    let boxes = pass.boxes.iter().map(|tick| {
        let letter = if pass.cells.len() > 1 { tick.letter.as_str() } else { "" };
        let position = tick.position.map_or("?".to_owned(), |n| n.to_string());
        format!("[ ]\u{a0}{:<4}", format!("{position}{letter}")).replace(' ', "\u{a0}")
    });
    let text = boxes.collect::<Vec<_>>().join(" ");
    for line in wrapped_words(&text, WIDTH - 4) {
        page.line(format!("    {}", line.replace('\u{a0}', " ")).trim_end());
    }
}

fn cell_line(cell: &CardCell) -> String {
    let said: Vec<String> = cell
        .actions
        .iter()
        .map(|action: &Action| match action.aside() {
            Some(aside) => format!("{} ({aside})", action.words()),
            None => action.words(),
        })
        .collect();
    format!("  {:<2} {}", cell.letter, said.join("  "))
}

fn wrenches(page: &mut Page, card: &Card) {
    let lines = card.wrenches.iter().map(|wrench| format!("{}: set to {}", wrench.range, wrench.settings.join(", ")));
    let unserved = card.unserved.iter().map(|torque| format!("no wrench here serves {torque}"));
    page.section("Torque wrenches", lines.chain(unserved));
}

fn times(count: Option<u32>) -> String {
    count.map_or(String::new(), |count| format!("{count} × "))
}

/// Words parted by plain spaces only, so that a box stays with its number.
fn wrapped_words(text: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A page while it is written.
#[derive(Default)]
pub(super) struct Page(String);

impl Page {
    /// What was written.
    pub fn finish(self) -> String {
        self.0
    }

    /// A line as it is.
    pub fn line(&mut self, text: &str) {
        self.0.push_str(text);
        self.0.push('\n');
    }

    fn heading(&mut self, text: &str) {
        self.line("");
        self.line(&text.to_uppercase());
    }

    /// A text with every line indented.
    fn indent(&mut self, indent: usize, text: &str) {
        for line in wrapped(text, WIDTH - indent) {
            self.line(&format!("{}{line}", " ".repeat(indent)));
        }
    }

    fn wrap(&mut self, indent: usize, text: &str) {
        self.indent(indent, text);
    }

    /// A text whose first line stands out to the left; its own leading spaces are kept.
    fn hang(&mut self, indent: usize, text: &str) {
        let lead = text.len() - text.trim_start().len();
        let lines = wrapped_words(text.trim(), WIDTH - indent);
        for (i, line) in lines.iter().enumerate() {
            let indent = if i == 0 { lead } else { indent };
            self.line(&format!("{}{line}", " ".repeat(indent)));
        }
    }

    /// Lines below a heading; nothing if there are none.
    pub fn section(&mut self, heading: &str, lines: impl IntoIterator<Item = String>) {
        let mut lines = lines.into_iter().peekable();
        if lines.peek().is_none() {
            return;
        }
        self.heading(heading);
        for line in lines {
            let mark = ["[ ] ", "! "].into_iter().find(|mark| line.starts_with(mark)).map_or(0, str::len);
            self.hang(2 + mark, &format!("  {line}"));
        }
    }
}
