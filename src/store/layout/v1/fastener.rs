//! Fasteners in version 1 of the stored forms.

use super::{AcceptedV1, FitsV1, SourceV1, accepted_v1, read, read_accepted, read_list, read_option, text, texts};
use crate::record::{Drive, Fastener, FastenerKind, Reuse, Seat, Stage, Tapped, Text};
use serde::{Deserialize, Serialize};

#[derive(Debug, Serialize, Deserialize)]
pub struct FastenerV1 {
    pub(super) id: String,
    joint: String,
    name: Option<String>,
    role: Option<String>,
    fits: Option<FitsV1>,
    positions: Option<String>,
    count: Option<u32>,
    head: Option<String>,
    drive: Option<(String, Option<String>)>,
    thread: String,
    thread_class: Option<String>,
    hand: Option<String>,
    length: Option<String>,
    property_class: Option<String>,
    nut_class: Option<String>,
    finish: Option<String>,
    lubrication: Option<String>,
    friction: Option<String>,
    grip: Option<String>,
    seat: Option<(Option<String>, Option<String>)>,
    into: Option<(Option<String>, Option<String>)>,
    stages: Vec<String>,
    reuse: Option<ReuseV1>,
    locking: Option<String>,
    part_no: Option<String>,
    cautions: Vec<String>,
    note: Option<String>,
    source: Option<SourceV1>,
    accepted: Vec<AcceptedV1>,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct ReuseV1 {
    rule: String,
    times: Option<u32>,
    limit: Option<String>,
    what: Option<String>,
}

impl From<&Fastener> for FastenerV1 {
    fn from(fastener: &Fastener) -> Self {
        let drive = |drive: &Drive| (drive.kind.to_string(), text(drive.size.as_ref()));
        let seat = |seat: &Seat| (text(seat.material.as_ref()), text(seat.hole.as_ref()));
        let into = |into: &Tapped| (text(into.material.as_ref()), text(into.engagement.as_ref()));
        Self {
            id: fastener.id.to_string(),
            joint: fastener.joint.to_string(),
            name: text(fastener.name.as_ref()),
            role: text(fastener.role.as_ref()),
            fits: fastener.fits.as_ref().map(FitsV1::from),
            positions: text(fastener.positions.as_ref()),
            count: fastener.count,
            head: text(fastener.head.as_ref()),
            drive: fastener.drive.as_ref().map(drive),
            thread: fastener.thread.to_string(),
            thread_class: text(fastener.thread_class.as_ref()),
            hand: text(fastener.hand.as_ref()),
            length: text(fastener.length.as_ref()),
            property_class: fastener.property_class.as_ref().map(|class| class.as_str().to_owned()),
            nut_class: fastener.nut_class.as_ref().map(|class| class.as_str().to_owned()),
            finish: text(fastener.finish.as_ref()),
            lubrication: text(fastener.lubrication.as_ref()),
            friction: text(fastener.friction.as_ref()),
            grip: text(fastener.grip.as_ref()),
            seat: fastener.seat.as_ref().map(seat),
            into: fastener.into.as_ref().map(into),
            stages: fastener.stages.iter().map(Stage::to_string).collect(),
            reuse: fastener.reuse.as_ref().map(ReuseV1::from),
            locking: text(fastener.locking.as_ref()),
            part_no: text(fastener.part_no.as_ref()),
            cautions: texts(&fastener.cautions),
            note: text(fastener.note.as_ref()),
            source: fastener.source.as_ref().map(SourceV1::from),
            accepted: accepted_v1(&fastener.accepted),
        }
    }
}

impl FastenerV1 {
    pub(super) fn read(&self) -> Result<Fastener, String> {
        let (id, joint) = (read("id", &self.id)?, read("joint", &self.joint)?);
        let bare = Fastener::bare(id, joint, read("thread", &self.thread)?, read_list("stages", &self.stages)?);
        Ok(Fastener {
            kind: FastenerKind,
            name: read_option("name", self.name.as_ref())?,
            role: read_option("role", self.role.as_ref())?,
            fits: self.fits.as_ref().map(FitsV1::read).transpose()?,
            positions: read_option("positions", self.positions.as_ref())?,
            count: self.count,
            head: read_option("head", self.head.as_ref())?,
            drive: self.drive.as_ref().map(read_drive).transpose()?,
            thread_class: read_option("thread_class", self.thread_class.as_ref())?,
            hand: read_option("hand", self.hand.as_ref())?,
            length: read_option("length", self.length.as_ref())?,
            property_class: read_option("property_class", self.property_class.as_ref())?,
            nut_class: read_option("nut_class", self.nut_class.as_ref())?,
            finish: read_option("finish", self.finish.as_ref())?,
            lubrication: read_option("lubrication", self.lubrication.as_ref())?,
            friction: read_option("friction", self.friction.as_ref())?,
            grip: read_option("grip", self.grip.as_ref())?,
            seat: self.seat.as_ref().map(read_seat).transpose()?,
            into: self.into.as_ref().map(read_into).transpose()?,
            reuse: self.reuse.as_ref().map(ReuseV1::read).transpose()?,
            locking: read_option("locking", self.locking.as_ref())?,
            part_no: read_option("part_no", self.part_no.as_ref())?,
            cautions: read_list::<Text>("cautions", &self.cautions)?,
            note: read_option("note", self.note.as_ref())?,
            source: self.source.as_ref().map(SourceV1::read).transpose()?,
            accepted: read_accepted(&self.accepted)?,
            ..bare
        })
    }
}

fn read_drive((kind, size): &(String, Option<String>)) -> Result<Drive, String> {
    Ok(Drive { kind: read("drive.type", kind)?, size: read_option("drive.size", size.as_ref())? })
}

fn read_seat((material, hole): &(Option<String>, Option<String>)) -> Result<Seat, String> {
    let material = read_option("seat.material", material.as_ref())?;
    Ok(Seat { material, hole: read_option("seat.hole", hole.as_ref())? })
}

fn read_into((material, engagement): &(Option<String>, Option<String>)) -> Result<Tapped, String> {
    let material = read_option("into.material", material.as_ref())?;
    Ok(Tapped { material, engagement: read_option("into.engagement", engagement.as_ref())? })
}

impl From<&Reuse> for ReuseV1 {
    fn from(reuse: &Reuse) -> Self {
        Self {
            rule: reuse.rule.to_string(),
            times: reuse.times,
            limit: text(reuse.limit.as_ref()),
            what: text(reuse.what.as_ref()),
        }
    }
}

impl ReuseV1 {
    fn read(&self) -> Result<Reuse, String> {
        Ok(Reuse {
            rule: read("reuse.rule", &self.rule)?,
            times: self.times,
            limit: read_option("reuse.limit", self.limit.as_ref())?,
            what: read_option("reuse.what", self.what.as_ref())?,
        })
    }
}
