//! What is to be known before the first stage: the machine, what may not go back, what goes on the threads.

use super::joint::{Machine, card_of, variants_of};
use super::page::{Answer, html, id_in_path};
use crate::card::Card;
use crate::catalog::Catalog;
use actix_web::web::{Data, Path, Query as Asked};
use askama::Template;

#[derive(Template)]
#[template(path = "page_start.html", config = "src/askama.toml")]
struct StartPage<'s> {
    card: &'s Card,
    machine: &'s Machine,
    variants: Vec<String>,
    /// The machine must be told before a value is shown.
    must_choose: bool,
}

/// The page before the first stage.
pub async fn start_page(catalog: Data<Catalog>, id: Path<String>, machine: Asked<Machine>) -> Answer {
    let id = id_in_path(&id)?;
    let card = card_of(&catalog, &id, &machine).await?;
    let variants = variants_of(&catalog, &id)?;
    let must_choose = must_choose(&card, &machine, &variants);
    html(&StartPage { card: &card, machine: &machine, variants, must_choose })
}

/// Whether some place has one fastener or another by machine, while the machine is not told.
pub fn must_choose(card: &Card, machine: &Machine, variants: &[String]) -> bool {
    machine.variant().is_none() && !variants.is_empty() && card.alternatives.iter().any(|one| one.depends_on_machine)
}
