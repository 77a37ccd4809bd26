//! The change feed: what was written since, as a list that may be waited for, or as events while they happen.

use crate::api::app::Shared;
use crate::api::asked::Asked;
use crate::api::edge::OnlyHead;
use crate::api::failing::in_background;
use crate::api::problem::{Part, Problem};
use crate::api::problem_kinds as kinds;
use crate::api::reply::{self, preferred};
use crate::api::says::Gone;
use crate::api::stopping::Stopping;
use crate::api::streaming::{Maker, streamed};
use crate::catalog::{Catalog, CatalogError};
use crate::record::{Fault, Place};
use crate::view::{ChangeList, ChangeShown};
use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE, HeaderValue, VARY};
use actix_web::{HttpMessage, HttpRequest, HttpResponse, get, rt, web};
use std::str::FromStr;
use std::time::{Duration, Instant};

const JSON: &str = "application/json";
const EVENTS: &str = "text/event-stream";

/// How often who waits looks for a change: reading a number in memory.
const LOOK: Duration = Duration::from_millis(40);
/// How often a stream without changes says that it is still there.
const SIGN_OF_LIFE: Duration = Duration::from_secs(15);
/// The most changes of one answer.
const TAKE_MAX: usize = 1000;
/// How many changes an answer has if the question does not say.
const TAKE_DEFAULT: usize = 100;
/// The longest wait, in seconds.
const WAIT_MAX: u64 = 60;

/// What was changed
///
/// Every write of the book in its order, withdrawals included; each was entered in the same transaction as the write. `next` is
/// the place to ask for next as `since`; it names the life of the store, which is another after a restore: who has seen more
/// than there is gets 410, and reads the book anew. With `wait` an answer that would be empty waits for a change. As
/// `text/event-stream` every change is sent when it happens, with its place as the id of the event, and `Last-Event-ID` goes on
/// from there.
#[utoipa::path(
    tag = "history",
    params(
        ("since" = Option<String>, Query, description = "Only changes after this place: `next` of the list before, or a number; \
            absent means from the beginning", example = "0", min_length = 1, max_length = 60, pattern = "^([0-9a-f]{16}[.])?[0-9]{1,15}$"),
        ("wait" = Option<u32>, Query, description = "How many seconds to wait for a change where there is none", example = 25,
            minimum = 0, maximum = 60),
        ("take" = Option<u32>, Query, description = "How many changes to send at most, 100 if it is not given", example = 3,
            minimum = 1, maximum = 1000),
        ("records" = Option<bool>, Query, description = "Whether each change carries the record as it left it, and why a record \
            was taken back; not for events", example = false),
        ("Last-Event-ID" = Option<String>, Header, description = "The id of the last event that was seen, for a stream that goes on",
            example = "0", min_length = 1, max_length = 60, pattern = "^([0-9a-f]{16}[.])?[0-9]{1,15}$"),
    ),
    responses(
        (status = 200, description = "The changes", content((ChangeList = "application/json"), (String = "text/event-stream"))),
        (status = 410, response = Gone),
    ),
)]
#[get("/v1/changes")]
pub async fn list_changes(shared: web::Data<Shared>, request: HttpRequest) -> Result<HttpResponse, Problem> {
    let mut asked = Asked::of(&request);
    let since: Option<At> = asked.optional("since");
    let wait: Option<Within<0, WAIT_MAX>> = asked.optional("wait");
    let take: Option<Within<1, { TAKE_MAX as u64 }>> = asked.optional("take");
    let records: Option<bool> = asked.optional("records");
    asked.finish(Some(()))?;
    let Some(form) = preferred(request.headers(), &[JSON, EVENTS]) else {
        return Err(Problem::new(&kinds::NOT_ACCEPTABLE, format!("what is here is {JSON} or {EVENTS}")));
    };
    let catalog = shared.catalog.clone();
    let last_event = last_event(&request)?;
    let seen = if form == EVENTS { last_event.or(since) } else { since };
    let since = place(&catalog, seen)?;
    let take = take.map_or(TAKE_DEFAULT, |take| usize::try_from(take.0).unwrap_or(TAKE_MAX));
    if form == EVENTS {
        let is_head = request.extensions().get::<OnlyHead>().is_some();
        return Ok(events(catalog, since, is_head, shared.stopping.clone()));
    }
    tokio::select! {
        () = until_changed(&catalog, since, Duration::from_secs(wait.map_or(0, |wait| wait.0))) => {}
        // Whoever waits when the service stops is told that there is nothing so far, and asks again.
        () = shared.stopping.begun() => {}
    }
    let list = in_background(move || {
        let last = catalog.sequence();
        Ok(match records {
            Some(true) => {
                ChangeList::with_records(catalog.changes_with_records(since, take)?, catalog.epoch(), since, last)
            }
            _ => ChangeList::of(catalog.changes(since, take)?, catalog.epoch(), since, last),
        })
    })
    .await?;
    let mut response = reply::json(&list);
    reply::set(&mut response, CACHE_CONTROL, "no-store");
    response.headers_mut().insert(VARY, HeaderValue::from_static("Accept"));
    Ok(response)
}

/// A place in the feed as it is written: a number, with or without the life of the store before it.
struct At {
    epoch: Option<String>,
    number: u64,
}

impl FromStr for At {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let (epoch, number) = match text.split_once('.') {
            Some((epoch, number)) => (Some(epoch), number),
            None => (None, text),
        };
        let is_epoch = |text: &str| text.len() == 16 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
        let is_number = (1..=15).contains(&number.len()) && number.bytes().all(|b| b.is_ascii_digit());
        match number.parse() {
            Ok(number) if is_number && epoch.is_none_or(is_epoch) => {
                Ok(Self { epoch: epoch.map(str::to_owned), number })
            }
            _ => Err("a place in the feed is what the list before gave as next, or a number".to_owned()),
        }
    }
}

/// A whole number from `LEAST` to `MOST`.
struct Within<const LEAST: u64, const MOST: u64>(u64);

impl<const LEAST: u64, const MOST: u64> FromStr for Within<LEAST, MOST> {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let number = text.parse().ok().filter(|number| (LEAST..=MOST).contains(number));
        number.map(Self).ok_or_else(|| format!("a whole number from {LEAST} to {MOST} belongs here"))
    }
}

fn last_event(request: &HttpRequest) -> Result<Option<At>, Problem> {
    let Some(value) = request.headers().get("last-event-id") else { return Ok(None) };
    let text = value.to_str().unwrap_or_default();
    let refused = |error: String| {
        let fault = Fault::new("unreadable", &Place::root().below("Last-Event-ID"), error).given(text);
        Problem::unreadable(Part::Header, vec![fault])
    };
    text.parse().map(Some).map_err(refused)
}

/// The number that the feed is to be read after.
///
/// # Errors
/// 410 if the place is not one of this life of the store.
fn place(catalog: &Catalog, at: Option<At>) -> Result<u64, Problem> {
    let Some(At { epoch, number }) = at else { return Ok(0) };
    let (current, last) = (catalog.epoch(), catalog.sequence());
    let gone = |detail: String| {
        let place = format!("{current}.{last}");
        Err(Problem::new(&kinds::GONE, detail).with("epoch", &current).with("next", place))
    };
    match epoch {
        Some(epoch) if epoch != current => {
            gone(format!("the store was restored: its life is {current} now, and {epoch} has ended"))
        }
        _ if number > last => gone(format!("the last change is {last}, so {number} was seen in another book")),
        _ => Ok(number),
    }
}

/// Waits until there is a change after this one, or the time is over.
async fn until_changed(catalog: &Catalog, since: u64, most: Duration) {
    let end = Instant::now() + most;
    while catalog.sequence() <= since && Instant::now() < end {
        rt::time::sleep(LOOK.min(end.saturating_duration_since(Instant::now()))).await;
    }
}

/// The changes as events, for as long as the connection lasts.
fn events(catalog: Catalog, since: u64, is_head: bool, stopping: Stopping) -> HttpResponse {
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((CONTENT_TYPE, EVENTS))
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((VARY, "Accept"));
    if is_head {
        return answer.finish();
    }
    let (maker, body) = streamed();
    rt::spawn(send_events(catalog, since, maker, stopping));
    answer.body(body)
}

async fn send_events(catalog: Catalog, mut since: u64, maker: Maker, stopping: Stopping) {
    // Whoever listens learns at once that it is connected, through every proxy between.
    let mut text = format!("retry: 2000\nid: {}.{since}\n: connected\n\n", catalog.epoch());
    loop {
        if maker.send(text).await.is_err() {
            return;
        }
        tokio::select! {
            () = until_changed(&catalog, since, SIGN_OF_LIFE) => {}
            () = maker.left() => return,
            () = stopping.begun() => return maker.finish().await,
        }
        let book = catalog.clone();
        let changes = rt::task::spawn_blocking(move || book.changes(since, TAKE_DEFAULT)).await;
        let changes = match changes {
            Ok(Ok(changes)) => changes,
            failed => {
                let cause = failed.map_or_else(|error| error.to_string(), |error| cause(error.err()));
                tracing::error!(cause, "the change feed broke off");
                return;
            }
        };
        if changes.is_empty() {
            text = ": nothing new\n\n".to_owned();
            continue;
        }
        since = changes.last().map_or(since, |change| change.sequence);
        let epoch = catalog.epoch();
        text = changes.into_iter().map(|change| event(&epoch, &ChangeShown::of(change))).collect();
    }
}

fn cause(error: Option<CatalogError>) -> String {
    error.map(|error| error.to_string()).unwrap_or_default()
}

fn event(epoch: &str, change: &ChangeShown) -> String {
    let data = serde_json::to_string(change).unwrap_or_default();
    format!("id: {epoch}.{}\nevent: change\ndata: {data}\n\n", change.sequence)
}
