//! Makes books of any size: the same size and seed give the same book.
//!
//! The spread is invented but plausible: ferries with assemblies, assemblies with joints of two or three kinds
//! of fastener, sizes and classes as workshops meet them, torques near nine tenths of the yield torque.

use std::fmt::Write;

/// A source of numbers that look random and are always the same (splitmix64).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, limit: usize) -> usize {
        (self.next() % limit as u64) as usize
    }

    pub fn one_of<'t, T>(&mut self, items: &'t [T]) -> &'t T {
        &items[self.below(items.len())]
    }

    /// Mostly the first ones.
    pub fn early_of<'t, T>(&mut self, items: &'t [T]) -> &'t T {
        let at = self.below(items.len()).min(self.below(items.len()));
        &items[at]
    }

    pub fn chance(&mut self, percent: u64) -> bool {
        self.next() % 100 < percent
    }
}

pub const ASSEMBLIES: &[&str] = &[
    "diesel.raw-water-pump",
    "diesel.cylinder-head",
    "diesel.intake-trunk",
    "diesel.exhaust",
    "diesel.sump",
    "gearbox.housing",
    "gearbox.output",
    "shaft.coupling",
    "shaft.stern-tube",
    "steering.tiller",
    "steering.ram",
    "deck.winch",
    "deck.windlass",
    "deck.railing",
    "sea-strainer",
    "fuel.tank",
    "fuel.filter",
    "cooling.exchanger",
    "gangway.trolley",
    "thruster.tunnel",
];
const JOINTS: &[&str] = &["cover", "flange", "foot", "bearing-cap", "end-plate", "clamp", "bracket", "manifold"];
pub const NAMES: &[&str] = &["Cover bolt", "Flange bolt", "Foot screw", "Cap screw", "Clamp bolt", "Through bolt"];
pub const HEADS: &[(&str, &str)] = &[
    ("hexagon", "hexagon"),
    ("hexagon-flange", "hexagon"),
    ("socket-cap", "hexagon-socket"),
    ("button", "hexagon-socket"),
    ("countersunk", "hexagon-socket"),
    ("pan", "hexalobular-socket"),
    ("twelve-point-flange", "twelve-point"),
    ("external-hexalobular-flange", "external-hexalobular"),
];
/// Thread, size of the hexagon, torque in N·m for class 8.8 (about; the numbers are invented).
pub const THREADS: &[(&str, &str, u32)] = &[
    ("M8×1.25", "13 mm", 24),
    ("M10×1.5", "16 mm", 48),
    ("M6×1", "10 mm", 10),
    ("M12×1.75", "18 mm", 80),
    ("M16×2", "24 mm", 200),
    ("M5×0.8", "8 mm", 6),
    ("M10×1.25", "16 mm", 50),
    ("M14×2", "21 mm", 130),
    ("M20×2.5", "30 mm", 390),
    ("3/8-16 UNC", "9/16 in", 42),
    ("1/2-13 UNC", "3/4 in", 100),
    ("1/4-20 UNC", "7/16 in", 12),
    ("M24×3", "36 mm", 660),
    ("5/8-11 UNC", "15/16 in", 200),
];
pub const CLASSES: &[(&str, u32)] =
    &[("8.8", 100), ("10.9", 145), ("A4-70", 65), ("12.9", 170), ("A4-80", 85), ("5.6", 45)];
pub const REUSE: &[&str] = &["reuse", "renew", "inspect", "measure"];
const VARIANTS: &[&str] = &["bronze-housing", "iron-housing", "long-shaft", "ice-class"];
const PEOPLE: &[&str] = &["mo", "ines", "runa", "pim", "tove", "kaj", "odd", "siv"];

/// Writes the records of a book with about `fasteners` fasteners, each as one line of JSON, joints before their
/// fasteners.
pub fn book(fasteners: usize, seed: u64, mut line: impl FnMut(&str)) {
    let mut dice = Dice::new(seed);
    let (mut made, mut joint_number) = (0, 0);
    let mut text = String::new();
    while made < fasteners {
        let assembly = dice.one_of(ASSEMBLIES);
        let joint =
            format!("ferry-{:03}.{assembly}.{}-{}", joint_number / 160, dice.one_of(JOINTS), joint_number % 160);
        joint_number += 1;
        let kinds = 1 + dice.below(4);
        text.clear();
        joint_line(&mut text, &joint, kinds, &mut dice);
        line(&text);
        for kind in 0..kinds.min(fasteners - made) {
            text.clear();
            fastener_line(&mut text, &joint, kind, &mut dice);
            line(&text);
            made += 1;
        }
    }
}

fn joint_line(text: &mut String, joint: &str, kinds: usize, dice: &mut Dice) {
    let places = kinds * 4;
    write!(
        text,
        r#"{{"kind":"joint","id":"{joint}","title":"Joint of {}","positions":["#,
        joint.replace(['.', '-'], " ")
    )
    .unwrap();
    for n in 1..=places {
        let comma = if n > 1 { "," } else { "" };
        let (x, y) = (dice.below(400) as i64 - 200, dice.below(300) as i64 - 150);
        write!(text, r#"{comma}{{"n":{n},"x_mm":{x}.0,"y_mm":{y}.0}}"#).unwrap();
    }
    write!(text, r#"],"order":{{"pattern":"diagonal"}},"prepare":["Clean both faces"],"#).unwrap();
    write!(text, r#""source":{{"document":"Workshop book {}","page":"{}"}}}}"#, dice.below(40), 1 + dice.below(300))
        .unwrap();
}

fn fastener_line(text: &mut String, joint: &str, kind: usize, dice: &mut Dice) {
    let (head, drive) = dice.early_of(HEADS);
    let (thread, hexagon, torque) = dice.early_of(THREADS);
    let (class, per_cent) = dice.early_of(CLASSES);
    let torque = (torque * per_cent / 100).max(2);
    let length = 16 + 2 * dice.below(40);
    let first = kind * 4 + 1;
    write!(
        text,
        r#"{{"kind":"fastener","id":"{joint}.{head}-{kind}","joint":"{joint}","name":"{}","#,
        dice.one_of(NAMES)
    )
    .unwrap();
    if dice.chance(15) {
        write!(text, r#""fits":{{"variants":["{}"]}},"#, dice.one_of(VARIANTS)).unwrap();
    }
    write!(
        text,
        r#""positions":"{first}-{}","count":4,"head":"{head}","drive":{{"type":"{drive}","size":"{hexagon}"}},"#,
        first + 3
    )
    .unwrap();
    write!(text, r#""thread":"{thread}","length":"{length} mm","property_class":"{class}","finish":"zinc-plated","#)
        .unwrap();
    write!(text, r#""lubrication":"oiled","grip":"{} mm","stages":["#, length - 8).unwrap();
    match dice.below(10) {
        0..=5 => write!(text, r#""{torque} N·m""#).unwrap(),
        6..=7 => write!(text, r#""{} N·m","{torque} N·m""#, torque / 2).unwrap(),
        _ => write!(text, r#""hand","{} N·m + {}°""#, torque / 2, 30 * (1 + dice.below(4))).unwrap(),
    }
    let reuse = dice.early_of(REUSE);
    write!(text, r#"],"reuse":{{"rule":"{reuse}"}},"part_no":"SY-{:06}","#, dice.below(40_000)).unwrap();
    let (by, checker) = (dice.below(PEOPLE.len()), dice.below(PEOPLE.len()));
    write!(
        text,
        r#""source":{{"document":"Workshop book {}","page":"{}","entered_by":"{}""#,
        dice.below(40),
        1 + dice.below(300),
        PEOPLE[by]
    )
    .unwrap();
    if checker != by && dice.chance(70) {
        write!(text, r#","checked_by":"{}""#, PEOPLE[checker]).unwrap();
    }
    text.push_str("}}");
}
