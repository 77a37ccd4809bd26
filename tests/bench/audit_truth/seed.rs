//! Slips of the second generator in the demo yard.

use crate::measure::{CHANGE_MIN, SAYS_WRONG, is_plausible};
use crate::seed_slips::{Slipped, slips};
use crate::tally::{Calibration, Tally, share};
use clampbook::audit::{JudgedTorque, Torques};
use clampbook::record::{Fastener, Record, Stage};
use clampbook::units::{Stated, TorqueUnit, Unit};
use serde_json::Value as Json;

/// One slip of each kind for every so-manieth fastener, so that the measurement takes seconds.
const EVERY: usize = 4;

/// The right records of the demo yard.
pub struct Yard {
    records: Vec<Record>,
}

impl Yard {
    fn read() -> Self {
        let folder = format!("{}/seed", env!("CARGO_MANIFEST_DIR"));
        let mut paths: Vec<_> =
            std::fs::read_dir(&folder).expect("the seed folder").map(|entry| entry.expect("an entry").path()).collect();
        paths.sort();
        let is_right = |path: &&std::path::PathBuf| {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            name.ends_with(".json") && !name.starts_with("slips")
        };
        let read = |path: &std::path::PathBuf| -> Vec<Json> {
            let text = std::fs::read(path).expect("a seed file");
            serde_json::from_slice(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
        };
        let values = paths.iter().filter(is_right).flat_map(read);
        Self { records: values.map(|value| Record::from_json(&value).expect("a seed record")).collect() }
    }

    /// The fasteners in their order.
    pub fn fasteners(&self) -> impl Iterator<Item = &Fastener> + Clone {
        self.records.iter().filter_map(Record::as_fastener)
    }

    /// The torques of the yard with one record replaced.
    fn torques_with(&self, other: &Fastener) -> Torques {
        Torques::of(self.fasteners().map(|fastener| if fastener.id == other.id { other } else { fastener }))
    }
}

/// Counts of the yard.
#[derive(Default)]
struct Measured {
    big: Tally,
    small: Tally,
    alone: Tally,
    named: Calibration,
}

/// The false alarms in the yard and the slips found.
pub fn report() {
    let yard = Yard::read();
    let torques = Torques::of(yard.fasteners());
    let all: Vec<(&Fastener, JudgedTorque<'_>)> = yard
        .fasteners()
        .flat_map(|fastener| torques.of_fastener(fastener.id.as_str()).map(move |torque| (fastener, torque)))
        .collect();
    let alarms: Vec<_> = all.iter().filter(|(_, torque)| doubt(torque) >= SAYS_WRONG).collect();
    println!(
        "\nThe demo yard: {} of {} right torques called wrong ({:.2} %)",
        alarms.len(),
        all.len(),
        share(alarms.len(), all.len())
    );
    for (fastener, torque) in alarms {
        println!("  {} stages[{}] {}", fastener.id, torque.stage, torque.entry.stated);
    }
    let mut measured = Measured::default();
    for (seed, fastener) in yard.fasteners().enumerate().filter(|(seed, _)| seed % EVERY == 0) {
        for slip in slips(&yard, fastener, seed / EVERY) {
            measured.count(&yard, fastener, &slip);
        }
    }
    measured.big.print(
        "Slips of the second generator in the demo yard that change a value by 15 % or more, the book being there",
    );
    measured.small.print("Those that change it by less");
    measured.alone.print("Those of 15 % or more, the record alone, without its second unit (impossible: as above, or no strength to judge by)");
    measured.named.print("Probability of the first value named, against whether it was meant, in the yard");
}

impl Measured {
    fn count(&mut self, yard: &Yard, before: &Fastener, slip: &Slipped) {
        let after = slip.record.as_fastener().expect("a slip leaves a fastener");
        let big = changes_much(before, after, slip);
        let torques = yard.torques_with(after);
        let tally = if big { &mut self.big } else { &mut self.small };
        if let Some(torque) = torques.of_fastener(after.id.as_str()).find(|torque| torque.stage == slip.stage) {
            counted(tally, &torque, slip, false, Some(&mut self.named));
        }
        if big {
            let alone = without_printed(&slip.record);
            let torques = Torques::of(std::iter::once(alone.as_fastener().expect("a fastener")));
            if let Some(torque) = torques.of_fastener(after.id.as_str()).find(|torque| torque.stage == slip.stage) {
                let impossible = is_plausible(torque.entry, torque.entry.stated);
                counted(&mut self.alone, &torque, slip, impossible, None);
            }
        }
    }
}

fn counted(
    tally: &mut Tally,
    torque: &JudgedTorque<'_>,
    slip: &Slipped,
    impossible: bool,
    named: Option<&mut Calibration>,
) {
    let found = doubt(torque) >= SAYS_WRONG;
    let meant = torque.judged.map_or(&[][..], |judged| judged.verdict.meant.as_slice());
    let is = |text: &str, meant: &str| text == meant || same_torque(text, meant);
    let is_right = |text: &str| is(text, &slip.meant) || slip.also.as_ref().is_some_and(|also| is(text, also));
    let right: Vec<bool> = meant.iter().map(|meaning| is_right(&meaning.meant.to_string())).collect();
    let count = tally.kind(slip.kind);
    count.made += 1;
    count.impossible += usize::from(impossible && !found);
    count.found += usize::from(found);
    count.first += usize::from(found && right.first() == Some(&true));
    count.among_three += usize::from(found && right.contains(&true));
    if let (true, Some(first), Some(named)) = (found, meant.first(), named) {
        named.add(first.probability, right[0], 1.0);
    }
}

fn same_torque(a: &str, b: &str) -> bool {
    let read = |text: &str| {
        text.parse::<Stated<TorqueUnit>>().ok().map(|stated| stated.number().value() * stated.unit().in_base())
    };
    read(a).zip(read(b)).is_some_and(|(a, b)| (a - b).abs() < 1e-4 * a)
}

fn doubt(torque: &JudgedTorque<'_>) -> f64 {
    torque.judged.map_or(0.0, |judged| judged.verdict.wrong + judged.verdict.printed_wrong)
}

fn changes_much(before: &Fastener, after: &Fastener, slip: &Slipped) -> bool {
    let torque = |fastener: &Fastener| {
        fastener.stages.get(slip.stage).and_then(Stage::torque).map(|torque| torque.middle().newton_meters())
    };
    torque(before).zip(torque(after)).is_none_or(|(a, b)| (a / b).max(b / a) >= CHANGE_MIN)
}

fn without_printed(record: &Record) -> Record {
    let mut value = serde_json::to_value(record).expect("a record can be written");
    if let Some(source) = value["source"].as_object_mut() {
        source.shift_remove("printed");
    }
    Record::from_json(&value).expect("a record without its printed text")
}
