//! Counting: what was found, what was named right, and whether probabilities mean what they say.

use std::collections::BTreeMap;

/// Counts of one kind of wrong entries.
#[derive(Default, Clone, Copy)]
pub struct Count {
    pub made: usize,
    /// Lies where right values lie: nothing but a second witness could tell.
    pub impossible: usize,
    pub found: usize,
    pub first: usize,
    pub among_three: usize,
}

impl Count {
    pub fn add(&mut self, other: Self) {
        self.made += other.made;
        self.impossible += other.impossible;
        self.found += other.found;
        self.first += other.first;
        self.among_three += other.among_three;
    }
}

/// Counts by kind.
#[derive(Default)]
pub struct Tally(BTreeMap<String, Count>);

impl Tally {
    pub fn kind(&mut self, kind: &str) -> &mut Count {
        self.0.entry(kind.to_owned()).or_default()
    }

    /// All kinds together.
    pub fn all(&self) -> Count {
        let mut all = Count::default();
        self.0.values().for_each(|count| all.add(*count));
        all
    }

    pub fn print(&self, title: &str) {
        println!("\n{title}");
        println!(
            "  {:34} {:>6} {:>11} {:>8} {:>7} {:>7}  found of made, first of found",
            "kind", "made", "impossible", "found", "first", "in 3"
        );
        self.0.iter().for_each(|(kind, count)| line(kind, count));
        let all = self.all();
        line("all", &all);
        let possible = all.made - all.impossible;
        println!("  without the impossible: {} of {} found ({:.1} %)", all.found, possible, share(all.found, possible));
    }
}

fn line(kind: &str, count: &Count) {
    let Count { made, impossible, found, first, among_three } = count;
    let (of_made, of_found) = (share(*found, *made), share(*first, *found));
    println!(
        "  {kind:34} {made:6} {impossible:11} {found:8} {first:7} {among_three:7}  {of_made:5.1} %, {of_found:5.1} %"
    );
}

pub fn share(part: usize, whole: usize) -> f64 {
    if whole == 0 { 0.0 } else { 100.0 * part as f64 / whole as f64 }
}

/// Reported probabilities against what was right, in ten bins.
#[derive(Default)]
pub struct Calibration {
    bins: [(f64, f64, f64); 10],
}

impl Calibration {
    /// Adds a probability that was reported, and whether it came true; `weight` counts it more or less than once.
    pub fn add(&mut self, probability: f64, right: bool, weight: f64) {
        let bin = ((probability * 10.0) as usize).min(9);
        self.bins[bin].0 += weight;
        self.bins[bin].1 += weight * probability;
        self.bins[bin].2 += if right { weight } else { 0.0 };
    }

    /// The expected calibration error: how far reported and true share lie apart, weighted by count.
    pub fn error(&self) -> f64 {
        let all: f64 = self.bins.iter().map(|bin| bin.0).sum();
        self.bins.iter().map(|(_, reported, right)| (reported - right).abs()).sum::<f64>() / all.max(1e-9)
    }

    pub fn print(&self, title: &str) {
        println!("\n{title}");
        println!("  {:>10} {:>9} {:>10} {:>8}", "reported", "count", "mean", "right");
        for (i, (count, reported, right)) in self.bins.iter().enumerate().filter(|(_, bin)| bin.0 > 0.0) {
            let (from, to) = (i as f64 / 10.0, (i + 1) as f64 / 10.0);
            println!("  {from:4.1} … {to:3.1} {count:9.1} {:10.3} {:8.3}", reported / count, right / count);
        }
        println!("  expected calibration error {:.3}", self.error());
    }
}
