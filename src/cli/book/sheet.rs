//! Sheets that are made from joints: card, way, label, kit. Made here or by a server, in the form asked for.

use super::Book;
use super::here::Here;
use super::there::There;
use crate::card::bench_card::{html, plain_text};
use crate::card::{CardOptions, KitOptions, LabelInput};
use crate::catalog::Catalog;
use crate::cli::failure::Failure;
use crate::record::Id;
use crate::view::printed_at;
use serde::Serialize;

/// A sheet, and what it is for.
#[derive(Debug, Clone)]
pub enum Sheet {
    /// The bench card of a joint.
    Card(Id),
    /// The way to some joints.
    Way(Vec<Id>),
    /// The label for some joints; its variant is that of the options.
    Label(Vec<Id>, LabelInput),
    /// The kit for some joints.
    Kit {
        /// The joints.
        joints: Vec<Id>,
        /// Whether the joints that must be opened first are counted in.
        way: bool,
    },
}

/// The form of a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SheetForm {
    /// The bytes that the HTTP API sends.
    Json,
    /// Text for people.
    Text,
    /// A page that needs no other file.
    Page,
    /// A table; only kits have one.
    Table,
}

impl Book {
    /// A sheet in this form.
    ///
    /// # Errors
    /// If the book has not all of the joints, or can't be read.
    pub fn sheet(&self, sheet: &Sheet, options: &CardOptions, form: SheetForm) -> Result<Vec<u8>, Failure> {
        match self {
            Self::Here(Here(catalog)) => made(catalog, sheet, options, form),
            Self::There(There { server }) => super::sheet_there::asked(server, sheet, options, form),
        }
    }
}

fn made(catalog: &Catalog, sheet: &Sheet, options: &CardOptions, form: SheetForm) -> Result<Vec<u8>, Failure> {
    match sheet {
        Sheet::Card(id) => {
            let card = catalog.card(id, options, &printed_at())?.ok_or_else(|| no_card(id))?;
            Ok(in_form(form, &card, || html(&card), || plain_text(&card)))
        }
        Sheet::Way(joints) => {
            let sheet = catalog.way_sheet(joints, options, &printed_at())?;
            none_missing(&sheet.way.asked_in_vain())?;
            Ok(in_form(form, &sheet, || sheet.html(), || sheet.plain_text()))
        }
        Sheet::Label(joints, input) => {
            none_missing(&catalog.some_joints(joints)?.unknown)?;
            let label = catalog.label(joints, &LabelInput { variant: options.variant.clone(), ..input.clone() })?;
            Ok(in_form(form, &label, || label.html(), || label.plain_text()))
        }
        Sheet::Kit { joints, way } => {
            let options = KitOptions { variant: options.variant.clone(), wrenches: options.wrenches.clone() };
            let (kit, missing) =
                if *way { catalog.kit_of_way(joints, &options) } else { catalog.kit(joints, &options) }?;
            none_missing(&missing)?;
            Ok(if form == SheetForm::Table {
                kit.csv().into_bytes()
            } else {
                in_form(form, &kit, String::new, || kit.plain_text())
            })
        }
    }
}

fn in_form(
    form: SheetForm,
    data: &impl Serialize,
    page: impl FnOnce() -> String,
    text: impl FnOnce() -> String,
) -> Vec<u8> {
    match form {
        SheetForm::Page => page().into_bytes(),
        SheetForm::Text => text().into_bytes(),
        SheetForm::Json | SheetForm::Table => crate::answer::json_bytes(data),
    }
}

/// That the book has no such joint, and how to look for one.
pub fn no_card(joint: &Id) -> Failure {
    let hint = format!("\"clampbook find --kind joint {}\" looks for joints", joint.last());
    Failure::no(Some(format!("the book has no joint {joint}. {hint}")))
}

/// Refuses ids that are no joints of the book.
///
/// # Errors
/// If there is one.
pub fn none_missing<T: ToString>(missing: &[T]) -> Result<(), Failure> {
    if missing.is_empty() {
        return Ok(());
    }
    let missing: Vec<String> = missing.iter().map(ToString::to_string).collect();
    Err(Failure::no(Some(format!("the book has no joint {}", missing.join(" and no joint ")))))
}
