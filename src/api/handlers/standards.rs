//! What the tables say, and conversions. No store is asked.

use crate::api::asked::Asked;
use crate::api::problem::{Part, Problem};
use crate::api::reply::{self, Items};
use crate::api::says::NotFound;
use crate::record::{Fault, Place, did_you_mean};
use crate::sheets::{ClassSheet, Conversion, ThreadSheet, convert};
use crate::standards::{self, PropertyClass};
use crate::thread::Designation;
use actix_web::{HttpRequest, HttpResponse, get, web};
use serde::Serialize;

/// A thread
///
/// Geometry and stress area of a thread, whether a standard has it, and the nearest threads that standards have. Written leniently
/// (`m10x1,25`, `3/8-16 UNC-2A`, `#10-24`), shown in its canonical form.
#[utoipa::path(
    tag = "standards",
    params(("designation" = String, Query, description = "The thread as it is written", example = "M10×1.25",
        min_length = 1, max_length = 60)),
    responses((status = 200, description = "The sheet of the thread", body = ThreadSheet)),
)]
#[get("/v1/standards/threads")]
pub async fn get_thread(request: HttpRequest) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let designation: Option<Designation> =
        asked.required("designation", "Write designation=M10 or designation=3/8-16 UNC");
    let designation = asked.finish(designation)?;
    Ok(reply::json(&ThreadSheet::of(&designation)))
}

/// A property class that a standard has.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ClassSummary {
    /// The class as it is written in records.
    pub property_class: String,
    /// The standard that has it.
    pub standard: &'static str,
}

/// The property classes of bolts.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct ClassList {
    /// The classes, by standard.
    pub items: Vec<ClassSummary>,
}

/// The property classes
///
/// Every property class and grade of bolts that a table here has, with its standard.
#[utoipa::path(
    tag = "standards",
    responses((status = 200, description = "The classes", body = ClassList)),
)]
#[get("/v1/standards/classes")]
pub async fn list_classes(request: HttpRequest) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let summary = |class: PropertyClass| {
        let standard = class.standard()?;
        Some(ClassSummary { property_class: class.to_string(), standard })
    };
    let items = PropertyClass::known().into_iter().filter_map(summary).collect();
    Ok(reply::json(&ClassList { items }))
}

/// A property class
///
/// The least strengths that a standard demands of a class: in every range of sizes, or with the loads for one thread.
#[utoipa::path(
    tag = "standards",
    params(
        ("class" = String, Path, description = "The class as it is written: 8.8, A2-70, grade 5", example = "10.9",
            min_length = 1, max_length = 40),
        ("thread" = Option<String>, Query, description = "The thread to give the loads for", example = "M10",
            min_length = 1, max_length = 60),
    ),
    responses(
        (status = 200, description = "The sheet of the class", body = ClassSheet),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/standards/classes/{class}")]
pub async fn get_class(request: HttpRequest, class: web::Path<String>) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let designation: Option<Designation> = asked.optional("thread");
    let thread = designation.as_ref().map(|designation| &designation.thread);
    if let Some(thread) = thread.filter(|thread| thread.geometry().is_none()) {
        let detail = format!("the size of \"{thread}\" is not known");
        asked.fault(
            Fault::new("unreadable", &Place::root().below("thread"), detail).hint("Write it like M10 or 3/8-16 UNC"),
        );
    }
    asked.finish(Some(()))?;
    let class: PropertyClass = class.parse().map_err(|error| {
        let fault = Fault::new("unreadable", &Place::root().below("class"), format!("{error}")).given(&class);
        Problem::unreadable(Part::Path, vec![fault])
    })?;
    let sheet = ClassSheet::of(&class, thread).map_err(|reason| {
        let nearest: Vec<String> = class.nearest().iter().map(ToString::to_string).collect();
        let is_lost = class.is_known() || nearest.is_empty();
        let hint = if is_lost { String::new() } else { format!("; nearest: {}", nearest.join(", ")) };
        Problem::not_found(format!("{reason}{hint}"))
    })?;
    Ok(reply::json(&sheet))
}

/// What a published table holds, and how much of it was read.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct TableSummary {
    /// The name to ask for it by.
    pub name: &'static str,
    /// What it holds.
    pub title: &'static str,
    /// Standard or document.
    pub standard: &'static str,
    /// Edition; empty where there is none.
    pub edition: &'static str,
    /// Number of the table or clause; empty where there is none.
    pub table: &'static str,
    /// The unit of the values.
    pub unit: &'static str,
    /// How many rows it has.
    pub rows: usize,
    /// How many of them were read from a page that prints them.
    pub read: usize,
    /// How many were recalled from memory.
    pub from_memory: usize,
    /// How many were computed with the formula of the standard.
    pub computed: usize,
}

/// The published tables.
#[derive(Debug, Serialize, utoipa::ToSchema)]
pub struct TableList {
    /// The tables, by subject.
    pub items: Vec<TableSummary>,
}

/// The published tables
///
/// Every table that numbers are compared with: its standard and edition, its unit, and how much of it was read.
#[utoipa::path(
    tag = "standards",
    responses((status = 200, description = "The tables", body = TableList)),
)]
#[get("/v1/standards/tables")]
pub async fn list_tables(request: HttpRequest) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let summary = |table: &standards::Table| {
        let origins = table.origins();
        TableSummary {
            name: table.name,
            title: table.title,
            standard: table.standard,
            edition: table.edition,
            table: table.table,
            unit: table.unit,
            rows: table.rows.len(),
            read: origins.read,
            from_memory: origins.from_memory,
            computed: origins.computed,
        }
    };
    Ok(reply::json(&Items { items: standards::tables().iter().map(summary).collect() }))
}

/// A published table
///
/// The rows of a table in the order, the unit and the rounding of its standard.
#[utoipa::path(
    tag = "standards",
    params(("name" = String, Path, description = "The name of the table", example = "iso-898-1",
        min_length = 1, max_length = 60, pattern = "^[a-z0-9-]+$")),
    responses(
        (status = 200, description = "The table", body = standards::Table),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/standards/tables/{name}")]
pub async fn get_table(request: HttpRequest, name: web::Path<String>) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    match standards::table(&name) {
        Some(table) => Ok(reply::json(&table)),
        None => {
            let tables = standards::tables();
            let names: Vec<&str> = tables.iter().map(|table| table.name).collect();
            let hint = did_you_mean(&name, &names).map(|hint| format!(" {hint}?")).unwrap_or_default();
            Err(Problem::not_found(format!("no table is called \"{name}\".{hint}")))
        }
    }
}

/// A quantity in another unit
///
/// Converts a torque, a length, a force or a stress as stated to another unit of its kind, with exact factors.
#[utoipa::path(
    tag = "standards",
    params(
        ("value" = String, Query, description = "The quantity with its unit", example = "20 N·m",
            min_length = 1, max_length = 60),
        ("to" = String, Query, description = "The unit to give it in", example = "lbf.ft",
            min_length = 1, max_length = 20),
    ),
    responses((status = 200, description = "The quantity as stated and in the other unit", body = Conversion)),
)]
#[get("/v1/conversions")]
pub async fn get_conversion(request: HttpRequest) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let value: Option<String> = asked.required("value", "Write value=20 N·m");
    let to: Option<String> = asked.required("to", "Write to=lbf.ft");
    let (value, to) = asked.finish(value.zip(to))?;
    let converted = convert(&value, &to).map_err(|error| {
        let (name, given) = match &error {
            crate::sheets::NoConversion::Unreadable(_) => ("value", &value),
            crate::sheets::NoConversion::OtherKind { .. } => ("to", &to),
        };
        let fault = Fault::new("unreadable", &Place::root().below(name), error.to_string()).given(given);
        Problem::unreadable(Part::Query, vec![fault])
    })?;
    Ok(reply::json(&converted))
}
