//! The way as plain text for a terminal of 80 columns.

use super::WaySheet;
use super::text::Page;
use crate::record::Id;

impl WaySheet {
    /// What people call a joint of the way; its id where the way has no card for it.
    #[must_use]
    pub fn title_of<'s>(&'s self, id: &'s Id) -> &'s str {
        self.cards.iter().find(|card| card.id == *id).map_or(id.as_str(), |card| card.title.as_str())
    }

    /// The way, what it asks for and its kit; the cards stand for themselves.
    #[must_use]
    pub fn plain_text(&self) -> String {
        let mut page = Page::default();
        let targets: Vec<&str> = self.way.targets.iter().map(|id| self.title_of(id)).collect();
        page.line(&format!("WAY TO {}", targets.join(", ").to_uppercase()));
        page.section("Faults of the records", self.way.faults.iter().map(|fault| format!("! {}", fault.message)));
        page.section(
            "Open in this order",
            self.way.open.iter().enumerate().map(|(i, id)| format!("{:>2}  {}  {id}", i + 1, self.title_of(id))),
        );
        page.section("Close in this order", [self.titles(&self.way.close).join(" → ")]);
        for (heading, tasks) in self.work.lists() {
            let sign = if heading == "Cautions" { "!" } else { "[ ]" };
            page.section(
                heading,
                tasks.iter().map(|task| format!("{sign} {} ({})", task.text, self.title_of(&task.joint))),
            );
        }
        page.line(&format!("\n{}", self.kit.plain_text().trim_end()));
        page.line(&format!("\nPrinted {}", self.printed_at));
        page.finish()
    }

    fn titles<'s>(&'s self, ids: &'s [Id]) -> Vec<&'s str> {
        ids.iter().map(|id| self.title_of(id)).collect()
    }
}
