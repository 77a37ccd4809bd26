//! What is made for several joints: the kit, the way in and out, the label. Nothing is stored.

use super::cards::{HTML, JSON, PLAIN, form_of, in_form};
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::body::JsonBody;
use crate::api::failing::in_background;
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::says::Faulty;
use crate::card::turns::largest_step;
use crate::card::{CardOptions, Kit, KitOptions, Label, LabelInput, WaySheet, WrenchRange};
use crate::catalog::Catalog;
use crate::record::field::{Field, fields};
use crate::record::{Fault, Id, Place, Refused, Text, TorqueSetting};
use crate::view::printed_at;
use actix_web::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use actix_web::{HttpRequest, HttpResponse, post, web};
use serde::Serialize;
use serde_json::Value;

fields! {
    /// The joints that are to be opened.
    pub struct KitRequest {
        /// The joints; one named twice counts once.
        #[schema(min_items = 1, max_items = 400)]
        pub joints: Vec<Id>,
        /// The variant of the machine; without one, parts of every variant are named, each with what it fits.
        pub variant: Option<Text>,
        /// The torque wrenches at hand, each as its range; absent means the usual ones.
        #[schema(required = false, max_items = 400)]
        pub wrenches: Vec<TorqueSetting>,
        /// Whether the joints that must be opened first are to be counted in.
        pub way: Option<bool>,
    }
}

fields! {
    /// The joints that are to be reached.
    pub struct WayRequest {
        /// The joints; one named twice counts once.
        #[schema(min_items = 1, max_items = 400)]
        pub joints: Vec<Id>,
        /// The variant of the machine; without one, every variant is shown with what tells it apart.
        pub variant: Option<Text>,
        /// The torque wrenches at hand, each as its range; absent means the usual ones.
        #[schema(required = false, max_items = 400)]
        pub wrenches: Vec<TorqueSetting>,
        /// Turns are split into steps not larger than this, 1° to 360°; absent means 90°.
        #[schema(value_type = Option<String>, max_length = 6, example = "60°",
            pattern = "^([1-9][0-9]?|[12][0-9]{2}|3[0-5][0-9])([.][0-9])?°$|^360°$")]
        pub step: Option<Text>,
    }
}

fields! {
    /// The joints that were opened, and what is known about the work.
    pub struct LabelRequest {
        /// The joints; one named twice counts once.
        #[schema(min_items = 1, max_items = 400)]
        pub joints: Vec<Id>,
        /// The day of the work; what is not given is a line to write on.
        pub date: Option<Text>,
        /// Hours or distance at the work, with the unit.
        pub reading: Option<Text>,
        /// When it is next due.
        pub next_due: Option<Text>,
        /// The variant of the machine.
        pub variant: Option<Text>,
    }
}

/// Reads a request for some joints, all faults at once.
fn read<T: Field>(value: &Value, joints: impl Fn(&T) -> &[Id]) -> Result<T, Problem> {
    let mut faults = Vec::new();
    let read = T::read(value, &Place::root(), &mut faults);
    if read.as_ref().is_some_and(|read| joints(read).is_empty()) {
        let detail = "at least one joint is to be named";
        faults.push(Fault::new("missing", &Place::root().below("joints"), detail).hint("Name the ids of joints"));
    }
    read.filter(|_| faults.is_empty()).ok_or_else(|| Problem::faulty(Refused(faults)))
}

/// The wrenches at hand.
fn wrenches(settings: Vec<TorqueSetting>) -> Result<Vec<WrenchRange>, Problem> {
    let mut faults = Vec::new();
    let mut ranges = Vec::new();
    for (i, wrench) in settings.into_iter().enumerate() {
        match WrenchRange::new(wrench) {
            Some(range) => ranges.push(range),
            None => {
                let place = Place::root().below("wrenches").below(i);
                let fault = Fault::new("unreadable", &place, "a wrench is written as its range").given(wrench);
                faults.push(fault.allowed("a range such as 10-60 N·m"));
            }
        }
    }
    if faults.is_empty() { Ok(ranges) } else { Err(Problem::faulty(Refused(faults))) }
}

/// That some of the joints are none, each with its place and what is near it; nothing if all are there.
fn all_there(catalog: &Catalog, joints: &[Id], unknown: &[Id]) -> Result<(), Problem> {
    let fault = |(i, id): (usize, &Id)| {
        let place = Place::root().below("joints").below(i);
        let mut fault = Fault::new("unknown", &place, format!("there is no joint {id}")).given(id);
        let near: Vec<String> = catalog.ids_near(id).unwrap_or_default().iter().map(ToString::to_string).collect();
        if !near.is_empty() {
            fault = fault.hint(format!("Near it: {}", near.join(", ")));
        }
        fault
    };
    let unknown = joints.iter().enumerate().filter(|(_, id)| unknown.contains(id));
    let faults: Vec<Fault> = unknown.map(fault).collect();
    if faults.is_empty() { Ok(()) } else { Err(Problem::of_faults(&kinds::FAULTY, Part::Body, faults)) }
}

/// Makes the kit that a body asks for.
async fn kit_of(shared: &Shared, request: &HttpRequest, body: JsonBody) -> Result<Kit, Problem> {
    Asked::nothing(request)?;
    let KitRequest { joints, variant, wrenches: settings, way } = read(&body.0, |kit: &KitRequest| &kit.joints)?;
    let options = KitOptions { variant: variant.map(|text| text.to_string()), wrenches: wrenches(settings)? };
    let catalog = shared.in_time();
    in_background(move || {
        let made =
            if way == Some(true) { catalog.kit_of_way(&joints, &options) } else { catalog.kit(&joints, &options) };
        let (kit, unknown) = made?;
        all_there(&catalog, &joints, &unknown)?;
        Ok(kit)
    })
    .await
}

/// Makes a sheet away from the threads that answer, and sends it in one of its forms.
async fn sheet<T: Serialize + Send + 'static>(
    shared: &Shared,
    form: &str,
    page: fn(&T) -> String,
    text: fn(&T) -> String,
    make: impl FnOnce(&Catalog) -> Result<T, Problem> + Send + 'static,
) -> Result<HttpResponse, Problem> {
    let catalog = shared.in_time();
    let sheet = in_background(move || make(&catalog)).await?;
    Ok(in_form(form, &sheet, || page(&sheet), || text(&sheet)))
}

/// The kit for some joints
///
/// What must lie on the bench before the first fastener is loosened: parts to renew with their counts, fasteners to measure,
/// sockets and drives, the fewest torque wrenches, fluids, and what the records do not say. As data or as plain text: `Accept`
/// says which; `/v1/kits.csv` has it as a table. Nothing is stored.
#[utoipa::path(
    tag = "joints",
    request_body(content = KitRequest, description = "The joints, and how the kit is made",
        example = json!({ "joints": ["skua.diesel.raw-water-pump.cover"], "wrenches": ["5-25 N·m", "20-100 N·m"] })),
    responses(
        (status = 200, description = "The kit", content((Kit = "application/json"), (String = "text/plain")),
            headers(("Vary" = String, description = "Accept"))),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/kits")]
pub async fn make_kit(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: JsonBody,
) -> Result<HttpResponse, Problem> {
    let form = form_of(&request, &[JSON, PLAIN])?;
    let kit = kit_of(&shared, &request, body).await?;
    Ok(in_form(form, &kit, String::new, || kit.plain_text()))
}

/// The kit for some joints as a table
///
/// As `/v1/kits`, one row an item: the section, the item, its size and part number, how many, and the joints it is for. A cell that
/// a spreadsheet would take for a formula has a `'` before it.
#[utoipa::path(
    tag = "joints",
    request_body(content = KitRequest, description = "The joints, and how the kit is made",
        example = json!({ "joints": ["skua.diesel.raw-water-pump.cover"], "way": true })),
    responses(
        (status = 200, description = "The table", body = String, content_type = "text/csv"),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/kits.csv")]
pub async fn make_kit_table(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: JsonBody,
) -> Result<HttpResponse, Problem> {
    let kit = kit_of(&shared, &request, body).await?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/csv; charset=utf-8; header=present"))
        .insert_header((CONTENT_DISPOSITION, "attachment; filename=\"kit.csv\""))
        .body(kit.csv()))
}

/// The way to some joints
///
/// Which joints must be opened to reach some joints, in which order, and the reverse for closing; what to drain and disconnect,
/// the kit for the whole way, and the card of every joint on it. As data, as an HTML file that needs no other file, or as plain
/// text: `Accept` says which. What the records say wrongly about the way, such as joints that are behind each other, is in
/// `way.faults`.
#[utoipa::path(
    tag = "joints",
    request_body(content = WayRequest, description = "The joints to be reached, and how their cards are made",
        example = json!({ "joints": ["skua.diesel.raw-water-pump.cover"], "step": "60°" })),
    responses(
        (status = 200, description = "The way", content((WaySheet = "application/json"), (String = "text/html"), (String = "text/plain")),
            headers(("Vary" = String, description = "Accept"))),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/ways")]
pub async fn find_way(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: JsonBody,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let form = form_of(&request, &[JSON, HTML, PLAIN])?;
    let WayRequest { joints, variant, wrenches: settings, step } = read(&body.0, |way: &WayRequest| &way.joints)?;
    let mut options = CardOptions {
        variant: variant.map(|text| text.to_string()),
        wrenches: wrenches(settings)?,
        ..CardOptions::default()
    };
    if let Some(step) = step {
        let fault = |detail| Fault::new("unreadable", &Place::root().below("step"), detail).given(&step);
        options.largest_step =
            largest_step(step.as_str()).map_err(|error| Problem::faulty(Refused(vec![fault(error)])))?;
    }
    sheet(&shared, form, WaySheet::html, WaySheet::plain_text, move |catalog| {
        let sheet = catalog.way_sheet(&joints, &options, &printed_at())?;
        all_there(catalog, &joints, &sheet.way.asked_in_vain())?;
        Ok(sheet)
    })
    .await
}

/// A label for the machine
///
/// What was renewed at some joints, when, and when it is next due, for a label of 90 × 55 mm. What is not given is a line to
/// write on. As data, as an HTML file that needs no other file, or as plain text: `Accept` says which.
#[utoipa::path(
    tag = "joints",
    request_body(content = LabelRequest, description = "The joints that were opened, and what is known about the work",
        example = json!({ "joints": ["skua.diesel.raw-water-pump.cover"], "reading": "1,240 h" })),
    responses(
        (status = 200, description = "The label", content((Label = "application/json"), (String = "text/html"), (String = "text/plain")),
            headers(("Vary" = String, description = "Accept"))),
        (status = 422, response = Faulty),
    ),
)]
#[post("/v1/labels")]
pub async fn make_label(
    shared: web::Data<Shared>,
    request: HttpRequest,
    body: JsonBody,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let form = form_of(&request, &[JSON, HTML, PLAIN])?;
    let LabelRequest { joints, date, reading, next_due, variant } =
        read(&body.0, |label: &LabelRequest| &label.joints)?;
    let [date, reading, next_due, variant] =
        [date, reading, next_due, variant].map(|text| text.map(|text| text.to_string()));
    let input = LabelInput { date, reading, next_due, variant };
    sheet(&shared, form, Label::html, Label::plain_text, move |catalog| {
        all_there(catalog, &joints, &catalog.some_joints(&joints)?.unknown)?;
        Ok(catalog.label(&joints, &input)?)
    })
    .await
}
