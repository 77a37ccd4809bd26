//! Sheets as a server makes them.

use super::http::{Reply, Server};
use super::sheet::{Sheet, SheetForm, no_card, none_missing};
use crate::card::{CardOptions, LabelInput};
use crate::cli::failure::Failure;
use crate::cli::said::{list, text};
use crate::record::Id;
use serde_json::{Value, json};

/// Asks a server for a sheet.
///
/// # Errors
/// If the book has not all of the joints, or the server can't be reached, or refuses.
pub fn asked(server: &Server, sheet: &Sheet, options: &CardOptions, form: SheetForm) -> Result<Vec<u8>, Failure> {
    let accept = match form {
        SheetForm::Json => "application/json",
        SheetForm::Text => "text/plain",
        SheetForm::Page => "text/html",
        SheetForm::Table => "text/csv",
    };
    let (path, body) = match sheet {
        Sheet::Card(joint) => return card(server, joint, options, accept),
        Sheet::Way(joints) => ("/v1/ways", way(joints, options)),
        Sheet::Label(joints, input) => ("/v1/labels", label(joints, input, options)),
        Sheet::Kit { joints, way } => {
            let path = if form == SheetForm::Table { "/v1/kits.csv" } else { "/v1/kits" };
            (path, kit(joints, *way, options))
        }
    };
    let body = Some(("application/json", body.to_string().into_bytes()));
    let reply = server.send("POST", path, &[], &[("Accept", accept)], body)?;
    if reply.status == 422 {
        let problem = reply.value();
        let unknown = list(&problem, "errors").iter().filter(|error| text(error, "code") == "unknown");
        none_missing(&unknown.map(|error| text(error, "given")).collect::<Vec<_>>())?;
    }
    reply.good()
}

fn card(server: &Server, joint: &Id, options: &CardOptions, accept: &str) -> Result<Vec<u8>, Failure> {
    let (step, wrenches) = (step_of(options), wrenches_of(options));
    let mut pairs: Vec<(&str, &str)> = wrenches.iter().map(|wrench| ("wrench", wrench.as_str())).collect();
    pairs.extend(options.variant.iter().map(|variant| ("variant", variant.as_str())));
    pairs.push(("step", &step));
    let as_of = options.as_of.map(|moment| moment.to_string());
    pairs.extend(as_of.as_deref().map(|moment| ("as_of", moment)));
    let reply = server.send("GET", &format!("/v1/joints/{joint}/card"), &pairs, &[("Accept", accept)], None)?;
    reply.unless_absent().map(Reply::good).unwrap_or_else(|| Err(no_card(joint)))
}

fn step_of(options: &CardOptions) -> String {
    format!("{}°", options.largest_step.degrees())
}

fn wrenches_of(options: &CardOptions) -> Vec<String> {
    options.wrenches.iter().map(ToString::to_string).collect()
}

fn way(joints: &[Id], options: &CardOptions) -> Value {
    json!({ "joints": joints, "variant": options.variant, "wrenches": wrenches_of(options), "step": step_of(options) })
}

fn label(joints: &[Id], LabelInput { date, reading, next_due, .. }: &LabelInput, options: &CardOptions) -> Value {
    json!({ "joints": joints, "date": date, "reading": reading, "next_due": next_due, "variant": options.variant })
}

fn kit(joints: &[Id], way: bool, options: &CardOptions) -> Value {
    json!({ "joints": joints, "variant": options.variant, "wrenches": wrenches_of(options), "way": way })
}
