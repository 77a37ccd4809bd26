//! The card as one HTML file that opens from a device's storage and prints on one page.

use super::build::FIRST_OF_ALL;
use super::{Card, CardCell, CardFastener, CardPass};
use crate::card::kit::Kit;
use crate::card::shapes::head_picture;
use crate::card::way::{Way, WayWork};
use askama::Template;
use serde::Serialize;

/// The style of the card, in the file itself.
const STYLE: &str = include_str!("../templates/card.css");

#[derive(Template)]
#[template(path = "card.html", config = "src/askama.toml")]
struct CardPage<'c> {
    card: &'c Card,
    style: &'static str,
}

/// The card as one HTML file.
#[must_use]
pub fn html(card: &Card) -> String {
    // The template writes into a string and calls nothing that fails.
    CardPage { card, style: STYLE }.render().unwrap_or_default()
}

/// A way with its kit and the cards of its joints in the order they are opened.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct WaySheet {
    /// The way.
    pub way: Way,
    /// What its joints ask for besides fasteners.
    pub work: WayWork,
    /// The kit for all of them.
    pub kit: Kit,
    /// Their cards.
    pub cards: Vec<Card>,
    /// When it was made.
    pub printed_at: String,
}

#[derive(Template)]
#[template(path = "way.html", config = "src/askama.toml")]
struct WayPage<'w> {
    sheet: &'w WaySheet,
    title: String,
    first_of_all: &'static str,
    style: &'static str,
}

impl WaySheet {
    /// The way as one HTML file: a page for the whole, then a page for each joint.
    #[must_use]
    pub fn html(&self) -> String {
        let title = self.way.targets.iter().map(|id| self.title_of(id)).collect::<Vec<_>>().join(", ");
        // The template writes into a string and calls nothing that fails.
        WayPage { sheet: self, title, first_of_all: FIRST_OF_ALL, style: STYLE }.render().unwrap_or_default()
    }
}

impl Card {
    /// Whether it holds so much that it is set smaller to fit one sheet.
    #[must_use]
    pub fn is_dense(&self) -> bool {
        self.passes.len() > 5 || self.passes.iter().map(|pass| pass.boxes.len()).sum::<usize>() > 90
    }

    /// The cell of a fastener in a pass.
    #[must_use]
    pub fn cell<'p>(&self, pass: &'p CardPass, fastener: &CardFastener) -> Option<&'p CardCell> {
        pass.cells.iter().find(|cell| cell.letter == fastener.letter)
    }
}

impl CardFastener {
    /// The drawing of its head.
    #[must_use]
    pub fn picture(&self) -> String {
        head_picture(self.head, self.drive.as_ref())
    }
}
