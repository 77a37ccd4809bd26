//! The card as one HTML file that opens from a device's storage and prints on one page.

use super::{Card, CardFastener};
use crate::card::shapes::head_picture;
use askama::Template;

/// The style of the card, in the file itself.
const STYLE: &str = include_str!("../templates/card.css");

#[derive(Template)]
#[template(path = "card.html")]
struct CardPage<'c> {
    card: &'c Card,
    style: &'static str,
}

impl CardPage<'_> {
    fn picture(&self, fastener: &CardFastener) -> String {
        head_picture(fastener.head, fastener.drive.as_ref())
    }

    /// The cell of a fastener in a pass.
    fn cell<'p>(&self, pass: &'p super::CardPass, fastener: &CardFastener) -> Option<&'p super::CardCell> {
        pass.cells.iter().find(|cell| cell.letter == fastener.letter)
    }
}

/// The card as one HTML file.
#[must_use]
pub fn html(card: &Card) -> String {
    // The template writes into a string and calls nothing that fails.
    CardPage { card, style: STYLE }.render().unwrap_or_default()
}
