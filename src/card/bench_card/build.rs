//! Putting a card together from records.

use super::{
    Action, ActionKind, Card, CardBox, CardCell, CardFastener, CardInput, CardPass, CardSource, Numbered, cautions,
    standing,
};
use crate::audit::Finding;
use crate::card::amount::Amount;
use crate::card::fits::{fits_words, suits};
use crate::card::kit::{JointRecords, KitOptions, count_of, kit, size_of};
use crate::card::passes::{self, positions_of, stage_in};
use crate::card::shapes::head_words;
use crate::card::turns;
use crate::card::{Look, drawing, order};
use crate::record::{Fastener, Joint, Locking, ReuseRule, Setting, Source, Stage, Start};
use crate::thread::Hand;
use crate::units::{Angle, AngleUnit};

/// Whose instructions come first.
pub(super) const FIRST_OF_ALL: &str = "The maker's current instructions come first, then local codes and licensed \
    practice. This card only repeats a record.";

/// A fastener with its letter.
pub(super) struct Lettered<'r> {
    pub letter: String,
    pub numbered: Numbered<'r, Fastener>,
}

impl Lettered<'_> {
    pub fn record(&self) -> &Fastener {
        self.numbered.record
    }
}

/// Makes the card of a joint.
#[must_use]
pub fn bench_card(input: &CardInput<'_>) -> Card {
    let joint = input.joint.record;
    let variant = input.options.variant.as_deref();
    let lettered = lettered(input, variant);
    let fasteners: Vec<&Fastener> = lettered.iter().map(|one| one.numbered.record).collect();
    let wanted = positions_of(&fasteners);
    let options = KitOptions { variant: None, wrenches: input.options.wrenches.clone() };
    let tools = kit(&[JointRecords { joint, fasteners: fasteners.clone() }], &options);
    let alternatives = cautions::alternatives(&lettered);
    let passes = card_passes(joint, &lettered, input.options.largest_step);
    Card {
        id: joint.id.clone(),
        revision: input.joint.revision,
        title: joint.title.as_ref().map_or_else(|| joint.id.to_string(), ToString::to_string),
        assembly_title: joint.assembly_title.as_ref().map_or_else(|| joint.assembly().to_owned(), ToString::to_string),
        fits: joint.fits.clone(),
        variant: input.options.variant.clone(),
        as_of: input.options.as_of.map(|moment| moment.to_string()),
        standing: standing::standing(input, &lettered),
        first_of_all: FIRST_OF_ALL,
        cautions: cautions::cautions(input, &lettered, &alternatives, &passes),
        alternatives,
        prepare: joint.prepare.clone(),
        renew: joint.renew.clone(),
        check: joint.check.clone(),
        tools: joint.tools.clone(),
        behind: joint.behind.clone(),
        together: joint.together.clone(),
        fasteners: lettered.iter().map(|one| card_fastener(one, input.findings)).collect(),
        passes,
        loosening: order::loosening(joint, &wanted),
        wrenches: tools.wrenches,
        unserved: tools.unserved,
        sources: sources(joint, &lettered),
        printed_at: input.printed_at.clone(),
        drawing: drawing(joint, &fasteners, &look(joint, &fasteners)),
    }
}

/// The drawing of the whole order.
fn look(joint: &Joint, fasteners: &[&Fastener]) -> Look {
    let sequence = order::whole(joint, &positions_of(fasteners));
    Look { order: sequence.positions, order_words: sequence.from.words().to_owned(), ..Look::default() }
}

/// The fasteners for the variant, in the order of their first positions, each with a letter.
fn lettered<'r>(input: &CardInput<'r>, variant: Option<&str>) -> Vec<Lettered<'r>> {
    let mut fasteners: Vec<Numbered<'r, Fastener>> =
        input.fasteners.iter().copied().filter(|one| suits(one.record.fits.as_ref(), variant)).collect();
    let first = |fastener: &Fastener| fastener.positions.as_ref().and_then(|positions| positions.iter().min());
    fasteners.sort_by_key(|one| (first(one.record).unwrap_or(u32::MAX), one.record.id.clone()));
    fasteners.into_iter().enumerate().map(|(i, numbered)| Lettered { letter: letter(i), numbered }).collect()
}

/// A, B … Z, AA, AB …
fn letter(index: usize) -> String {
    let last = char::from(b'A' + (index % 26) as u8);
    if index < 26 { last.to_string() } else { format!("{}{last}", letter(index / 26 - 1)) }
}

fn card_fastener(one: &Lettered<'_>, findings: &[Finding]) -> CardFastener {
    let fastener = one.record();
    let is_open = |finding: &&Finding| finding.record == fastener.id.as_str() && finding.accepted.is_none();
    let open: Vec<&Finding> = findings.iter().filter(is_open).collect();
    CardFastener {
        letter: one.letter.clone(),
        id: fastener.id.clone(),
        revision: one.numbered.revision,
        name: fastener.name.clone(),
        head_words: head_words(fastener.head, fastener.drive.as_ref()),
        head: fastener.head,
        drive: fastener.drive.clone(),
        size: size_of(fastener),
        positions: fastener.positions.as_ref().map(ToString::to_string),
        count: count_of(fastener),
        reuse: fastener.reuse.as_ref().map_or("reuse not stated".to_owned(), ToString::to_string),
        is_renewed: fastener.reuse_rule() == Some(ReuseRule::Renew),
        lubrication: fastener
            .lubrication
            .as_ref()
            .map_or("thread condition not stated".to_owned(), ToString::to_string),
        locking: fastener.locking.filter(|locking| *locking != Locking::None).map(|locking| locking.words()),
        is_left_hand: fastener.hand() == Hand::Left,
        fits: fastener.fits.as_ref().map(fits_words),
        part_no: fastener.part_no.clone(),
        note: fastener.note.clone(),
        is_checked: fastener.is_checked(),
        worst: open.iter().map(|finding| finding.severity).max(),
        findings: open.len(),
        source: fastener.source.clone(),
    }
}

fn card_passes(joint: &Joint, lettered: &[Lettered<'_>], largest: Angle) -> Vec<CardPass> {
    let fasteners: Vec<&Fastener> = lettered.iter().map(Lettered::record).collect();
    let letter_of =
        |id| lettered.iter().find(|one| one.record().id == id).map_or(String::new(), |one| one.letter.clone());
    let passes = passes::passes(joint, &fasteners).into_iter().map(|pass| CardPass {
        number: pass.number,
        order: pass.order,
        cells: lettered.iter().filter_map(|one| cell(one, pass.number, largest)).collect(),
        boxes: pass
            .steps
            .into_iter()
            .map(|step| CardBox { position: step.position, letter: letter_of(step.fastener) })
            .collect(),
        left_out: pass.left_out,
    });
    passes.collect()
}

fn cell(one: &Lettered<'_>, number: u32, largest: Angle) -> Option<CardCell> {
    let actions = actions(stage_in(one.record(), number)?, largest);
    Some(CardCell { letter: one.letter.clone(), actions })
}

/// What a stage asks for, one thing after the other, with turns in steps no larger than `largest`.
#[must_use]
pub(in crate::card) fn actions(stage: &Stage, largest: Angle) -> Vec<Action> {
    let plain = |what, amount| Action { what, amount, steps: Vec::new() };
    match stage {
        Stage::Skip => Vec::new(),
        Stage::Check(torque) => vec![plain(ActionKind::Check, Some(Amount::of_stated(*torque)))],
        Stage::BackOff(None) => vec![plain(ActionKind::BackOff, None)],
        Stage::BackOff(Some(turn_)) => vec![turn(ActionKind::BackOff, *turn_, largest)],
        Stage::Tighten { start, turns } => {
            let first = match start {
                Start::AsItIs => None,
                Start::Hand => Some(plain(ActionKind::Hand, None)),
                Start::Torque(torque) => Some(plain(ActionKind::Torque, Some(Amount::of_setting(*torque)))),
            };
            let turns = turns.iter().map(|one| turn(ActionKind::Turn, *one, largest));
            first.into_iter().chain(turns).collect()
        }
    }
}

fn turn(what: ActionKind, turn: Setting<AngleUnit>, largest: Angle) -> Action {
    let steps = turns::steps(turn, largest);
    let steps = if steps.len() > 1 { steps.iter().map(ToString::to_string).collect() } else { Vec::new() };
    Action { what, amount: Some(Amount::plain(turn)), steps }
}

fn sources(joint: &Joint, lettered: &[Lettered<'_>]) -> Vec<CardSource> {
    let mut sources: Vec<CardSource> = Vec::new();
    let fasteners = lettered.iter().map(|one| (one.letter.clone(), one.record().source.as_ref()));
    for (about, source) in [("joint".to_owned(), joint.source.as_ref())].into_iter().chain(fasteners) {
        let source = source.and_then(source_words).unwrap_or_else(|| "source not stated".to_owned());
        match sources.iter_mut().find(|known| known.source == source) {
            Some(known) => known.about.push(about),
            None => sources.push(CardSource { source, about: vec![about] }),
        }
    }
    sources
}

/// Document, edition and page in words; nothing if none of them is stated.
#[must_use]
pub(in crate::card) fn source_words(source: &Source) -> Option<String> {
    let parts: Vec<String> = [
        source.document.as_ref().map(ToString::to_string),
        source.edition.as_ref().map(|edition| format!("edition {edition}")),
        source.page.as_ref().map(|page| format!("page {page}")),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}
