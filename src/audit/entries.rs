//! What the slip model sees of fasteners: each of their torques with what is known about thread, strength and source.
//!
//! This joins records, threads, strengths and mechanics for [`super::slip`], which knows none of them.

use super::friction_words::stated_friction;
use super::slip::{Common, Entry, Figures, Part, Size, Value, Written, joined};
use crate::mechanics::{Friction, HeadBearing, ThreadForm, TorquedBolt};
use crate::record::{Fastener, Form, Setting, Stage, Start};
use crate::standards::{PropertyClass, strength};
use crate::thread::{System, Thread};
use crate::units::{Length, Number, Scanner, Stress, TorqueUnit};
use rayon::prelude::*;
use std::collections::HashMap;
use std::hash::Hasher;

/// A joint with so many fasteners of one kind is a column of its own.
const COLUMN_JOINT_MIN: u32 = 4;

/// The torques of each fastener with their stages. All fasteners of a joint belong in one list.
pub(super) fn read<'f>(fasteners: &[&'f Fastener]) -> Vec<Vec<(usize, Entry)>> {
    let kind = |fastener: &&Fastener| (hash(fastener.joint.as_str()), condition(fastener), page(fastener));
    let kinds: Vec<(u64, u64, u64)> = fasteners.par_iter().map(kind).collect();
    let mut in_joint: HashMap<u64, Crowd> = HashMap::with_capacity(kinds.len());
    for (joint, condition, page) in &kinds {
        in_joint.entry(joined(*joint, *condition)).or_insert(Crowd { count: 0, page: *page }).add(*page);
    }
    const TOGETHER: usize = 1024;
    let read = |(chunk, fasteners): (usize, &[&'f Fastener])| {
        let mut reader = Reader::default();
        let one = |(k, fastener): (usize, &&'f Fastener)| {
            let record = chunk * TOGETHER + k;
            let (joint, condition, _) = kinds[record];
            let crowd = in_joint[&joined(joint, condition)];
            let table = (crowd.count >= COLUMN_JOINT_MIN).then_some(crowd.page);
            reader.entries(fastener, &Kind { record, joint, condition, table })
        };
        fasteners.iter().enumerate().map(one).collect::<Vec<_>>()
    };
    fasteners.par_chunks(TOGETHER).enumerate().flat_map_iter(read).collect()
}

/// The fasteners of one kind in one joint.
#[derive(Clone, Copy)]
struct Crowd {
    count: u32,
    /// The page that all of them were read from; none where it is not the same.
    page: u64,
}

impl Crowd {
    fn add(&mut self, page: u64) {
        self.count += 1;
        self.page = if self.page == page { page } else { 0 };
    }
}

/// What kind of fastener a record is, as numbers.
struct Kind {
    record: usize,
    joint: u64,
    condition: u64,
    /// Where the joint has so many of this kind that they are a column of their own: the page that it was read from.
    table: Option<u64>,
}

/// Remembers what was worked out for a thread and for a class.
#[derive(Default)]
struct Reader<'f> {
    sizes: HashMap<&'f Thread, Option<Size>>,
    strengths: HashMap<(&'f PropertyClass, u64), Option<f64>>,
}

impl<'f> Reader<'f> {
    fn entries(&mut self, fastener: &'f Fastener, kind: &Kind) -> Vec<(usize, Entry)> {
        let plan = plan(&fastener.stages);
        if plan.is_empty() {
            return Vec::new();
        }
        let printed = fastener.source.as_ref().and_then(|source| source.printed.as_ref());
        let printed = printed.map(|text| torques_in(text.as_str())).unwrap_or_default();
        let size = *self.sizes.entry(&fastener.thread).or_insert_with(|| size(&fastener.thread));
        let yield_mpa = self.yield_mpa(fastener, size);
        let friction_ratio = friction_ratio(fastener);
        // Each page of a collection of tables is a table by itself; the joints of a workshop book run on over pages.
        let document = joined(document(fastener, kind.joint), kind.table.unwrap_or(0));
        let column = joined(joined(document, kind.condition), kind.table.map_or(0, |_| kind.joint));
        let count = plan.len();
        let entry = |(k, (stage, part, setting)): (usize, (usize, Part, Setting<TorqueUnit>))| {
            let common = Common {
                document,
                column: joined(joined(column, k as u64), joined(count as u64, part as u64)),
                class: fastener.property_class.as_ref().map(|class| hash(class.as_str())),
                size,
                yield_mpa,
                friction_ratio,
                general: is_general(fastener),
                bolted: fastener.role().is_limited_by_bolt(),
                part,
            };
            let printed = second_figures(&printed, k, count).into();
            let written = Written { stated: value(setting), printed, common: common.into() };
            (stage, Entry { record: kind.record, joint: kind.joint, written: written.into() })
        };
        plan.into_iter().enumerate().map(entry).collect()
    }

    fn yield_mpa(&mut self, fastener: &'f Fastener, size: Option<Size>) -> Option<f64> {
        let (class, size) = (fastener.property_class.as_ref()?, size?);
        let diameter = Length::from_millimeters(size.diameter_mm);
        let found = self.strengths.entry((class, size.diameter_mm.to_bits()));
        *found.or_insert_with(|| strength(class, diameter).ok().map(|found| found.yield_.megapascals()))
    }
}

/// The document; where none is named, the joint has its own.
fn document(fastener: &Fastener, joint: u64) -> u64 {
    let source = fastener.source.as_ref();
    let Some(document) = source.and_then(|source| source.document.as_ref()) else { return joined(joint, 1) };
    let edition = source.and_then(|source| source.edition.as_ref()).map_or(0, |edition| hash(edition.as_str()));
    joined(hash(document.as_str()), edition)
}

/// The page, as a number; nothing where none is stated.
fn page(fastener: &Fastener) -> u64 {
    fastener.source.as_ref().and_then(|source| source.page.as_ref()).map_or(0, |page| hash(page.as_str()))
}

/// A number for a text: the same for the same text, whatever its case.
fn hash(text: &str) -> u64 {
    let mut hasher = std::hash::DefaultHasher::new();
    text.bytes().for_each(|byte| hasher.write_u8(byte.to_ascii_lowercase()));
    hasher.finish()
}

/// What sets the values of one column apart from another's, as a number.
fn condition(fastener: &Fastener) -> u64 {
    let text = |text: Option<&crate::record::Text>| text.map_or(0, |text| hash(text.as_str()));
    let class = fastener.property_class.as_ref().map_or(0, |class| hash(class.as_str()));
    let friction = fastener.friction.as_ref().map_or(0, |friction| hash(&friction.to_string()));
    let into = text(fastener.into.as_ref().and_then(|into| into.material.as_ref()));
    let surface = joined(text(fastener.finish.as_ref()), text(fastener.lubrication.as_ref()));
    joined(joined(class, surface), joined(joined(friction, into), fastener.role() as u64))
}

/// Is it a size, a class and a condition, with nothing said about a place? Then it is more likely a row of a general
/// table than a particular joint.
fn is_general(fastener: &Fastener) -> bool {
    let has_condition = fastener.lubrication.is_some() || fastener.finish.is_some() || fastener.friction.is_some();
    let has_place = fastener.positions.is_some()
        || fastener.count.is_some()
        || fastener.name.is_some()
        || fastener.part_no.is_some()
        || fastener.length.is_some()
        || fastener.grip.is_some()
        || fastener.head.is_some();
    fastener.property_class.is_some() && has_condition && !has_place
}

/// The torques of a plan: the stage, which part of the plan it is, and the torque.
fn plan(stages: &[Stage]) -> Vec<(usize, Part, Setting<TorqueUnit>)> {
    let mut plan: Vec<(usize, Part, Setting<TorqueUnit>)> = Vec::new();
    for (i, stage) in stages.iter().enumerate() {
        if let Stage::Tighten { start, turns } = stage {
            if let Start::Torque(torque) = start {
                plan.push((i, Part::Step, *torque));
            }
            if !turns.is_empty()
                && let Some(last) = plan.last_mut()
            {
                last.1 = Part::Snug;
            }
        }
    }
    if let Some(last) = plan.last_mut()
        && last.1 == Part::Step
    {
        last.1 = Part::Final;
    }
    plan
}

fn value(setting: Setting<TorqueUnit>) -> Value {
    let figures = match setting.form() {
        Form::Exact(n) => Figures::One(n),
        Form::Range(a, b) => Figures::Range(a, b),
        Form::PlusMinus(n, off) => Figures::Around(n, off),
        Form::Percent(n, percent) => Figures::Around(n, Number::from_f64(n.value() * percent.value() / 100.0, 3)),
    };
    Value { figures, unit: setting.unit() }
}

/// Every torque that a text names, in its order.
fn torques_in(text: &str) -> Vec<Value> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(offset) = text[at..].find(|c: char| c.is_ascii_digit()) {
        let start = at + offset;
        let mut scanner = Scanner::new(&text[start..]);
        match scan_torque(&mut scanner) {
            Some(value) => {
                found.push(value);
                at = start + scanner.at();
            }
            None => {
                let rest = &text[start..];
                at = start + rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
            }
        }
    }
    found
}

fn scan_torque(scanner: &mut Scanner<'_>) -> Option<Value> {
    if let Ok(setting) = Setting::<TorqueUnit>::scan(scanner) {
        return Some(value(setting));
    }
    // A range whose other end was cut off ("63.7- N·m") still has one.
    scanner.go_to(0);
    let number = Number::scan(scanner).ok()?;
    scanner.take_while(|c| matches!(c, ' ' | '-' | '–' | '…' | '.'));
    let unit = crate::units::scan_unit::<TorqueUnit>(scanner).ok()?;
    Some(Value { figures: Figures::One(number), unit })
}

/// What the source prints for the torque `k` of `count`: of each unit that it prints once for every torque, or once
/// for the last.
fn second_figures(printed: &[Value], k: usize, count: usize) -> Vec<Value> {
    // What is too small for the digits printed says nothing.
    let printed: Vec<Value> = printed.iter().filter(|value| value.figures.middle() > 0.0).copied().collect();
    let mut units: Vec<TorqueUnit> = printed.iter().map(|value| value.unit).collect();
    units.sort_unstable();
    units.dedup();
    let of_unit = |unit: TorqueUnit| {
        let values: Vec<Value> = printed.iter().filter(|value| value.unit == unit).copied().collect();
        match values.len() {
            printed if printed == count => Some(values[k]),
            1 if k + 1 == count => Some(values[0]),
            _ => None,
        }
    };
    units.into_iter().filter_map(of_unit).collect()
}

/// The thread as the model needs it; nothing for a size that nobody makes: it is itself a wrong entry.
fn size(thread: &Thread) -> Option<Size> {
    let geometry = thread.geometry()?;
    let diameter_mm = geometry.major().millimeters();
    let binary_fraction = |inches: f64| (inches * 64.0 - (inches * 64.0).round()).abs() < 1e-6;
    if thread.system() == Some(System::Unified) && !thread.is_standard() && !binary_fraction(geometry.major().inches())
    {
        return None;
    }
    let fine = !thread.is_coarse();
    Some(Size {
        diameter_mm,
        pitch_mm: geometry.pitch().millimeters(),
        fine,
        torque_per_mpa: torque_per_mpa(&geometry, FRICTION)?,
    })
}

/// The friction that the learned priors are reckoned with.
const FRICTION: f64 = 0.12;

/// The torque at the friction that the record states, over that at the usual friction.
fn friction_ratio(fastener: &Fastener) -> f64 {
    let ratio = || {
        let (low, high) = stated_friction(fastener)?;
        let stated = f64::midpoint(low, high);
        let geometry = fastener.thread.geometry()?;
        Some(torque_per_mpa(&geometry, stated)? / torque_per_mpa(&geometry, FRICTION)?)
    };
    ratio().unwrap_or(1.0)
}

/// The torque that loads the thread to one megapascal of combined stress, at a friction and a bearing face of 1.3
/// diameters: the usual head on the usual hole.
fn torque_per_mpa(geometry: &crate::thread::Geometry, friction: f64) -> Option<f64> {
    const BEARING: f64 = 1.3;
    let form = ThreadForm::try_from(geometry).ok()?;
    let bearing = HeadBearing::of_mean_diameter(geometry.major() * BEARING).ok()?;
    let bolt = TorquedBolt::new(form, bearing, Friction::same(friction).ok()?);
    Some(bolt.torque_at(1.0, Stress::from_megapascals(100.0)).ok()?.newton_meters() / 100.0)
}
