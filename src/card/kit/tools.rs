//! The tools and supplies of a kit.

use super::parts::add_joints;
use super::{KitTool, KitWrench};
use crate::card::wrenches::{WrenchRange, fewest, finest};
use crate::record::{Drive, DriveSize, DriveType, Fastener, Head, Id, Joint, Locking, Stage};
use crate::units::{Quantity, Torque};
use std::collections::BTreeMap;

/// The tools so far.
#[derive(Debug, Default)]
pub(super) struct Tools {
    in_drawer: BTreeMap<PlaceInDrawer, Vec<Id>>,
    pub special: Vec<KitTool>,
    pub supplies: Vec<KitTool>,
    pub angle_gauge: Option<KitTool>,
    pub not_stated: Vec<String>,
    torques: Vec<(Torque, String)>,
}

impl Tools {
    /// Adds what one joint needs.
    pub fn add(&mut self, joint: &Joint, fasteners: &[&Fastener]) {
        for tool in &joint.tools {
            add(&mut self.special, tool.to_string(), &joint.id);
        }
        for fastener in fasteners {
            self.add_drive(fastener);
            for supply in supplies_of(fastener) {
                add(&mut self.supplies, supply, &joint.id);
            }
            for stage in fastener.stages.iter() {
                self.add_stage(stage, &joint.id);
            }
        }
    }

    fn add_drive(&mut self, fastener: &Fastener) {
        match &fastener.drive {
            Some(drive) => {
                if let Some(tool) = tool_for(drive) {
                    let joints = self.in_drawer.entry(place_in_drawer(drive, tool)).or_default();
                    add_joints(joints, vec![fastener.joint.clone()]);
                }
            }
            None if fastener.head == Some(Head::None) => {}
            None => self.not_stated.push(format!("{}: no drive", fastener.id)),
        }
    }

    fn add_stage(&mut self, stage: &Stage, joint: &Id) {
        let torque = match stage {
            Stage::Check(torque) => Some((torque.quantity(), torque.to_string())),
            stage => stage.torque().map(|setting| (setting.middle(), setting.to_string())),
        };
        if let Some(torque) = torque.filter(|torque| self.torques.iter().all(|known| known.1 != torque.1)) {
            self.torques.push(torque);
        }
        let turns = match stage {
            Stage::BackOff(Some(turn)) => std::slice::from_ref(turn),
            stage => stage.turns(),
        };
        for turn in turns {
            let gauge = self.angle_gauge.get_or_insert_with(|| KitTool { item: String::new(), joints: Vec::new() });
            let angle = turn.to_string();
            if !gauge.item.split(", ").any(|known| known == angle) {
                gauge.item = if gauge.item.is_empty() { angle } else { format!("{}, {angle}", gauge.item) };
            }
            add_joints(&mut gauge.joints, vec![joint.clone()]);
        }
    }

    /// Sockets, keys and bits, each kind by size.
    pub fn drives(&self) -> Vec<KitTool> {
        let tool =
            |((_, _, item), joints): (&PlaceInDrawer, &Vec<Id>)| KitTool { item: item.clone(), joints: joints.clone() };
        self.in_drawer.iter().map(tool).collect()
    }

    /// The fewest wrenches with their settings, and the torques that none of them serves.
    pub fn wrenches(&self, own: &[WrenchRange]) -> (Vec<KitWrench>, Vec<String>) {
        let usual = WrenchRange::usual();
        let at_hand = if own.is_empty() { &usual } else { own };
        let torques: Vec<Torque> = self.torques.iter().map(|(torque, _)| *torque).collect();
        let (taken, _) = fewest(at_hand, &torques);
        let mut sorted: Vec<&(Torque, String)> = self.torques.iter().collect();
        sorted.sort_by(|a, b| a.0.base().total_cmp(&b.0.base()));
        let settings = |wrench: &WrenchRange| {
            let with = sorted.iter().filter(|(torque, _)| finest(&taken, *torque) == Some(wrench));
            with.map(|(_, stated)| stated.clone()).collect::<Vec<String>>()
        };
        let wrenches = taken.iter().map(|wrench| KitWrench { range: wrench.to_string(), settings: settings(wrench) });
        let unserved = sorted.iter().filter(|(torque, _)| finest(&taken, *torque).is_none());
        (wrenches.collect(), unserved.map(|(_, stated)| stated.clone()).collect())
    }
}

/// Kind, size and name of a drive: the order in which tools lie in a drawer.
type PlaceInDrawer = (DriveType, u64, String);

fn place_in_drawer(drive: &Drive, item: String) -> PlaceInDrawer {
    let size = match &drive.size {
        Some(DriveSize::Flats(flats)) => (flats.quantity().millimeters() * 1000.0).round() as u64,
        Some(DriveSize::Number(number)) => number.trim_start_matches(char::is_alphabetic).parse().unwrap_or(0),
        None => u64::MAX,
    };
    (drive.kind, size, item)
}

fn add(tools: &mut Vec<KitTool>, item: String, joint: &Id) {
    match tools.iter_mut().find(|tool| tool.item == item) {
        Some(tool) => add_joints(&mut tool.joints, vec![joint.clone()]),
        None => tools.push(KitTool { item, joints: vec![joint.clone()] }),
    }
}

/// The tool that goes on a drive.
pub(in crate::card) fn tool_for(drive: &Drive) -> Option<String> {
    let kind = match drive.kind {
        DriveType::None => return None,
        DriveType::Hexagon => "hexagon socket wrench",
        DriveType::HexagonSocket => "hexagon key",
        DriveType::HexalobularSocket => "hexalobular bit",
        DriveType::ExternalHexalobular => "external hexalobular socket wrench",
        DriveType::TwelvePoint => "twelve-point socket wrench",
        DriveType::CrossRecess => "cross-recess screwdriver",
        DriveType::Slot => "slot screwdriver",
        DriveType::Square => "square socket wrench",
    };
    Some(match &drive.size {
        Some(size) => format!("{size} {kind}"),
        None => format!("{kind}, size not stated"),
    })
}

/// What goes on the thread: lubrication and locking, each once.
fn supplies_of(fastener: &Fastener) -> Vec<String> {
    let mut supplies = Vec::new();
    if let Some(lubrication) = &fastener.lubrication
        && !matches!(lubrication.as_str(), "dry" | "as-delivered" | "none")
    {
        supplies.push(supply(lubrication));
    }
    match fastener.locking {
        Some(Locking::Threadlocker) => supplies.push("Threadlocker".to_owned()),
        Some(Locking::ThreadSealant) => supplies.push("Thread sealant".to_owned()),
        _ => {}
    }
    supplies.dedup();
    supplies
}

/// The word on the tin for the word in the record.
fn supply(lubrication: &str) -> String {
    match lubrication {
        "oiled" => "Oil".to_owned(),
        "greased" => "Grease".to_owned(),
        other => {
            let other = if other.starts_with("anti-") { other.to_owned() } else { other.replace('-', " ") };
            let mut letters = other.chars();
            letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
        }
    }
}
