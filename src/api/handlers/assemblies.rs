//! The tree of assemblies.

use super::records::audited_as_seen;
use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::failing::in_background;
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::reply;
use crate::api::says::{NotFound, NotModified};
use crate::api::tags;
use crate::query::Field;
use crate::record::{Fault, Place};
use crate::view::{AssemblyList, AssemblyView};
use actix_web::{HttpRequest, HttpResponse, get, web};

/// The most parts of one answer.
const PARTS_MAX: usize = 10_000;

/// The tree of assemblies
///
/// Machines, assemblies and joints with how many joints and fasteners lie in each; every part is directly followed by its own
/// parts. A large tree is asked for in pieces: down to a `depth`, then one assembly after the other.
#[utoipa::path(
    tag = "assemblies",
    params(("depth" = Option<u32>, Query, description = "Only parts whose path has at most so many segments; absent means all", example = 2,
        minimum = 1, maximum = 8)),
    responses(
        (status = 200, description = "The tree", body = AssemblyList,
            headers(("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
    ),
)]
#[get("/v1/assemblies")]
pub async fn list_assemblies(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let depth: Option<Depth> = asked.optional("depth");
    asked.finish(Some(()))?;
    let catalog = shared.in_time();
    let tag = tags::of_now(&catalog);
    let list = in_background(move || match catalog.assembly_tree(depth.map_or(8, |depth| depth.0), PARTS_MAX)? {
        Some(tree) => Ok(AssemblyList::of(tree)),
        None => {
            let detail = format!("the tree has more than {PARTS_MAX} parts; ask for it down to a depth");
            Err(Problem::new(&kinds::UNREADABLE, detail))
        }
    });
    tags::unless_known(&request, tag, async { Ok(reply::json(&list.await?)) }).await
}

/// How deep a tree is shown.
struct Depth(usize);

impl std::str::FromStr for Depth {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let depth = text.parse().ok().filter(|depth| (1..=8).contains(depth));
        depth.map(Self).ok_or_else(|| "a depth is a whole number from 1 to 8".to_owned())
    }
}

/// One assembly
///
/// A machine, an assembly or a joint: how much lies in it, what lies directly below it, and what the audit says about all of
/// it. No finding does not mean that all numbers are right.
#[utoipa::path(
    tag = "assemblies",
    params(("id" = String, Path, description = "The path of the machine, assembly or joint", example = "skua.diesel.raw-water-pump", min_length = 1, max_length = 160,
        pattern = "^[a-z0-9]+(-[a-z0-9]+)*([.][a-z0-9]+(-[a-z0-9]+)*){0,7}$")),
    responses(
        (status = 200, description = "The assembly", body = AssemblyView,
            headers(("ETag" = String, description = "The state of the book"))),
        (status = 304, response = NotModified),
        (status = 404, response = NotFound),
    ),
)]
#[get("/v1/assemblies/{id}")]
pub async fn get_assembly(
    shared: web::Data<Shared>,
    request: HttpRequest,
    id: web::Path<String>,
) -> Result<HttpResponse, Problem> {
    Asked::nothing(&request)?;
    let path = Field::Within.read(&id).ok().filter(|path| *path == *id && is_short(path)).ok_or_else(|| {
        let detail = format!("\"{}\" is not a path: segments of a-z, 0-9 and - joined by dots", id.escape_default());
        let fault = Fault::new("unreadable", &Place::root().below("id"), detail).given(&id);
        Problem::unreadable(Part::Path, vec![fault])
    })?;
    let (catalog, mark) = (shared.in_time(), shared.catalog.mark());
    // Whether there is one is asked in any case, the audit only where something is told.
    let (book, within) = (catalog.clone(), path.clone());
    let assembly =
        in_background(move || book.assembly(&within)?.ok_or_else(|| Problem::not_found(no_assembly(&within)))).await?;
    let as_seen = audited_as_seen(&request);
    let view = in_background(move || {
        as_seen(&catalog)?;
        let (audit, up_to) = catalog.audit_so_far_within(&path)?;
        Ok((AssemblyView::of(assembly, audit), up_to))
    });
    tags::unless_known_as_audited(&request, &mark, async {
        let (view, up_to) = view.await?;
        Ok((reply::json(&view), up_to))
    })
    .await
}

/// Whether ids could begin with it.
fn is_short(path: &str) -> bool {
    path.len() <= 160 && path.split('.').count() <= 8
}

fn no_assembly(path: &str) -> String {
    format!("no joint of the book lies in {path}; /v1/assemblies lists the tree")
}
