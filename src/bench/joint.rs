//! The page of a joint: everything on its card, and where to go from there.

use super::page::{self, Answer, Trouble, away, html, id_in_path, question};
use crate::card::{Card, CardOptions, turns};
use crate::catalog::Catalog;
use crate::record::{Fault, Id, Place};
use crate::units::Angle;
use actix_web::web::{Data, Path, Query as Asked};
use askama::Template;

/// The machine that is worked on.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub struct Machine {
    variant: Option<String>,
    /// The largest turn in one go, such as `60°`.
    step: Option<String>,
}

/// The largest turns in one go that a page offers, in degrees: what a wrench swings between bulkheads, or freely.
const STEPS: [f64; 6] = [30.0, 45.0, 60.0, 90.0, 120.0, 180.0];

impl Machine {
    /// The variant, if one is named.
    pub fn variant(&self) -> Option<&str> {
        self.variant.as_deref().map(str::trim).filter(|variant| !variant.is_empty())
    }

    /// The largest turn as it was asked for.
    pub fn step(&self) -> Option<&str> {
        self.step.as_deref().map(str::trim).filter(|step| !step.is_empty())
    }

    /// The largest turn in one go.
    fn largest_step(&self) -> Result<Angle, String> {
        self.step().map_or(Ok(CardOptions::default().largest_step), turns::largest_step)
    }

    /// The largest turns to choose from, with the one that holds, which may be another.
    pub fn steps(&self) -> Vec<(String, bool)> {
        let chosen = self.largest_step().ok().map(Angle::degrees);
        let mut all: Vec<f64> = STEPS.into_iter().chain(chosen).collect();
        all.sort_by(f64::total_cmp);
        all.dedup();
        all.into_iter().map(|degrees| (format!("{degrees}°"), Some(degrees) == chosen)).collect()
    }

    /// The question that carries the machine to the next page.
    pub fn question(&self) -> String {
        question(&[("variant", self.variant()), ("step", self.step())])
    }

    /// The question for this variant.
    pub fn question_for(&self, variant: &str) -> String {
        question(&[("variant", Some(variant)), ("step", self.step())])
    }

    /// The question of a page about several joints, for this one.
    pub fn question_of_joint(&self, id: &Id) -> String {
        question(&[("joint", Some(id.as_str())), ("variant", self.variant())])
    }

    /// How a card for this machine is made.
    fn options(&self) -> Result<CardOptions, Trouble> {
        let largest_step = self.largest_step().map_err(|detail| {
            let fault = Fault::new("unreadable", &Place::root().below("step"), detail);
            let fault = fault.given(self.step().unwrap_or_default());
            Trouble::Unreadable(vec![fault.hint("Write an angle such as 60°")])
        })?;
        Ok(CardOptions { variant: self.variant().map(str::to_owned), largest_step, ..CardOptions::default() })
    }
}

/// The card of a joint, or the page that says that it is not in the book.
pub async fn card_of(catalog: &Catalog, id: &Id, machine: &Machine) -> Result<Card, Trouble> {
    let (book, joint, options) = (catalog.clone(), id.clone(), machine.options()?);
    match away(move || Ok(book.card(&joint, &options, &page::now_in_words())?)).await? {
        Some(card) => Ok(card),
        None => Err(Trouble::NotFound { what: id.to_string(), near: catalog.ids_near(id)? }),
    }
}

#[derive(Template)]
#[template(path = "page_joint.html", config = "src/askama.toml")]
struct JointPage<'j> {
    card: &'j Card,
    machine: &'j Machine,
    variants: Vec<String>,
    behind: Vec<(Id, String)>,
}

/// The page of a joint.
pub async fn joint_page(catalog: Data<Catalog>, id: Path<String>, machine: Asked<Machine>) -> Answer {
    let id = id_in_path(&id)?;
    let card = card_of(&catalog, &id, &machine).await?;
    let variants = variants_of(&catalog, &id)?;
    let behind = titles(&catalog, &card.behind)?;
    html(&JointPage { card: &card, machine: &machine, variants, behind })
}

/// Joints with what people call them; one that is not in the book by its id.
pub fn titles(catalog: &Catalog, ids: &[Id]) -> Result<Vec<(Id, String)>, Trouble> {
    let titled = ids.iter().map(|id| {
        let stored = catalog.get(id)?;
        let title = stored.as_ref().and_then(|stored| stored.record.as_joint()).and_then(|joint| joint.title.as_ref());
        Ok((id.clone(), title.map_or_else(|| id.to_string(), ToString::to_string)))
    });
    titled.collect()
}

/// The variants that a joint or its fasteners name, each once.
pub fn variants_of(catalog: &Catalog, id: &Id) -> Result<Vec<String>, Trouble> {
    let Some(view) = catalog.joint(id)? else { return Ok(Vec::new()) };
    let joint = view.joint_record().and_then(|joint| joint.fits.as_ref());
    let fasteners = view.fastener_records();
    let all = joint.into_iter().chain(fasteners.iter().filter_map(|fastener| fastener.fits.as_ref()));
    let mut variants: Vec<String> = all.flat_map(|fits| fits.variants.iter().map(ToString::to_string)).collect();
    variants.sort();
    variants.dedup();
    Ok(variants)
}

/// The card of a joint in one file to keep or to print.
pub async fn card_file(catalog: Data<Catalog>, id: Path<String>, machine: Asked<Machine>) -> Answer {
    let id = id_in_path(&id)?;
    Ok(page::whole_file(crate::card::bench_card::html(&card_of(&catalog, &id, &machine).await?)))
}
