//! One position at a time: what to do to it, large, and what to check first.

use super::joint::{Machine, card_of, variants_of};
use super::page::{self, Answer, Trouble, html, id_in_path};
use super::start::must_choose;
use crate::card::bench_card::{CardBox, CardFastener, CardPass};
use crate::card::{Card, JointRecords, Look, drawing};
use crate::catalog::{Catalog, JointView};
use actix_web::HttpResponse;
use actix_web::http::header::LOCATION;
use actix_web::web::{Data, Path, Query as Asked};
use askama::Template;
use serde::Serialize;
use std::collections::BTreeMap;

/// What a step page is asked for besides its number.
#[derive(Debug, Default, serde::Deserialize)]
#[serde(default)]
pub struct StepForm {
    #[serde(flatten)]
    machine: Machine,
    /// Whether the head was looked at.
    seen: Option<String>,
}

/// One step, as the script shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// The number of the pass.
    pass: u32,
    /// The position; absent where the record states none.
    position: Option<u32>,
    /// The letter of the fastener.
    letter: String,
    /// What is done, each with what stands small beside it.
    actions: Vec<(String, String)>,
    /// Whether the head must be looked at before the value is shown: another kind than the step before.
    ask: bool,
    /// Whether a pass begins here.
    begins: bool,
}

/// A kind of fastener, as the script shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
struct Kind {
    head: String,
    picture: String,
    under: String,
}

/// Everything the script needs to go on without the network.
#[derive(Serialize)]
struct Steps<'s> {
    steps: &'s [Step],
    kinds: BTreeMap<&'s str, Kind>,
    /// The drawings, one for each order; passes in the same order share one.
    drawings: Vec<String>,
    /// Which drawing is that of a pass.
    drawing_of: BTreeMap<u32, usize>,
    passes: usize,
    base: String,
    question: String,
}

#[derive(Template)]
#[template(path = "page_step.html", config = "src/askama.toml")]
struct StepPage<'s> {
    card: &'s Card,
    machine: &'s Machine,
    n: usize,
    of: usize,
    step: &'s Step,
    fastener: &'s CardFastener,
    under: String,
    asks: bool,
    drawing: String,
    data: String,
}

#[derive(Template)]
#[template(path = "page_done.html", config = "src/askama.toml")]
struct DonePage<'s> {
    card: &'s Card,
    machine: &'s Machine,
    of: usize,
}

/// The page of a step. The numbers go on through all passes, from 1; the one after the last says that all is done.
pub async fn step_page(catalog: Data<Catalog>, path: Path<(String, usize)>, form: Asked<StepForm>) -> Answer {
    let (id, n) = path.into_inner();
    let id = id_in_path(&id)?;
    let machine = &form.machine;
    let card = card_of(&catalog, &id, machine).await?;
    if must_choose(&card, machine, &variants_of(&catalog, &id)?) {
        let to = format!("/bench/joints/{id}/start{}", machine.question());
        return Ok(HttpResponse::SeeOther().insert_header((LOCATION, to)).finish());
    }
    let steps = steps(&card);
    let of = steps.len();
    if n == of + 1 && of > 0 {
        return html(&DonePage { card: &card, machine, of });
    }
    let not_there = || Trouble::not_found(format!("step {n} of {id}"));
    let step = n.checked_sub(1).and_then(|at| steps.get(at)).ok_or_else(not_there)?;
    let fastener = card.fasteners.iter().find(|fastener| fastener.letter == step.letter).ok_or_else(not_there)?;
    let view = catalog.joint(&id)?;
    let pictures = view.as_ref().and_then(JointView::records).map(|records| Pictures { records, machine, card: &card });
    let data = data(&card, &steps, pictures.as_ref(), machine)?;
    html(&StepPage {
        card: &card,
        machine,
        n,
        of,
        step,
        fastener,
        under: under(fastener),
        asks: step.ask && form.seen.is_none(),
        drawing: pictures.and_then(|pictures| pictures.of_step(&steps, n - 1)).unwrap_or_default(),
        data,
    })
}

/// The steps of a card, through all passes.
fn steps(card: &Card) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::new();
    let kinds: std::collections::BTreeSet<&str> =
        card.fasteners.iter().map(|fastener| fastener.head_words.as_str()).collect();
    let head = |letter: &str| {
        card.fasteners.iter().find(|fastener| fastener.letter == letter).map(|fastener| fastener.head_words.as_str())
    };
    for pass in &card.passes {
        for (i, tick) in pass.boxes.iter().enumerate() {
            let same = steps.last().is_some_and(|last| head(&last.letter) == head(&tick.letter));
            steps.push(Step {
                pass: pass.number,
                position: tick.position,
                letter: tick.letter.clone(),
                actions: actions(pass, tick),
                ask: kinds.len() > 1 && !same,
                begins: i == 0,
            });
        }
    }
    steps
}

fn actions(pass: &CardPass, tick: &CardBox) -> Vec<(String, String)> {
    let cell = pass.cells.iter().find(|cell| cell.letter == tick.letter);
    let actions = cell.map(|cell| cell.actions.as_slice()).unwrap_or_default();
    actions.iter().map(|action| (action.words(), action.aside().unwrap_or_default())).collect()
}

/// Size, reuse rule and thread condition in one line.
fn under(fastener: &CardFastener) -> String {
    let mut said = vec![fastener.size.clone(), fastener.reuse.clone(), fastener.lubrication.clone()];
    said.extend(fastener.locking.clone());
    if fastener.is_left_hand {
        said.insert(0, "LEFT-HAND THREAD".to_owned());
    }
    said.extend(fastener.fits.iter().map(|fits| format!("only {fits}")));
    said.join(" · ")
}

/// What the drawings of a joint are made from.
struct Pictures<'p> {
    records: JointRecords<'p>,
    machine: &'p Machine,
    card: &'p Card,
}

impl Pictures<'_> {
    /// The drawing while a step is done: what is done before it in its pass is ticked.
    fn of_step(&self, steps: &[Step], at: usize) -> Option<String> {
        let step = steps.get(at)?;
        let pass = self.card.passes.iter().find(|known| known.number == step.pass)?;
        let done = steps.iter().take(at).filter(|known| known.pass == step.pass).filter_map(|known| known.position);
        let done = done.filter(|position| Some(*position) != step.position).collect();
        self.draw(Look { done, now: step.position, ..look(pass) })
    }

    fn draw(&self, look: Look) -> Option<String> {
        drawing(self.records.joint, &self.records.suiting(self.machine.variant()), &look)
    }

    /// The drawing of each order without any state, and which of them is that of each pass.
    fn of_passes(&self) -> (Vec<String>, BTreeMap<u32, usize>) {
        let mut looks: Vec<Look> = Vec::new();
        let mut drawing_of = BTreeMap::new();
        for pass in &self.card.passes {
            let look = look(pass);
            let same = looks.iter().position(|known| known.order == look.order);
            drawing_of.insert(pass.number, same.unwrap_or(looks.len()));
            if same.is_none() {
                looks.push(look);
            }
        }
        (looks.into_iter().filter_map(|look| self.draw(look)).collect(), drawing_of)
    }
}

/// The order of a pass, for a script to show the state in.
fn look(pass: &CardPass) -> Look {
    let mut order: Vec<u32> = Vec::new();
    for position in pass.boxes.iter().filter_map(|tick| tick.position) {
        if !order.contains(&position) {
            order.push(position);
        }
    }
    Look { order, order_words: pass.order.to_owned(), is_live: true, ..Look::default() }
}

fn data(card: &Card, steps: &[Step], pictures: Option<&Pictures<'_>>, machine: &Machine) -> Result<String, Trouble> {
    let kinds = card.fasteners.iter().map(|fastener| {
        let kind = Kind { head: fastener.head_words.clone(), picture: fastener.picture(), under: under(fastener) };
        (fastener.letter.as_str(), kind)
    });
    let (drawings, drawing_of) = pictures.map(Pictures::of_passes).unwrap_or_default();
    let data = Steps {
        steps,
        kinds: kinds.collect(),
        drawings,
        drawing_of,
        passes: card.passes.len(),
        base: format!("/bench/joints/{}", card.id),
        question: machine.question(),
    };
    let json = serde_json::to_string(&data).map_err(|error| Trouble::Internal(error.to_string()))?;
    // Inside a script element only "<" could end it.
    Ok(json.replace('<', "\\u003c"))
}

/// The question that says that the head was looked at.
fn seen(machine: &Machine) -> String {
    page::question(&[("variant", machine.variant()), ("step", machine.step()), ("seen", Some("1"))])
}
