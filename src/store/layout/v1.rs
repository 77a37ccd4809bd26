//! Version 1 of the stored forms: every value that has a notation is kept as its canonical text.

use crate::record::{
    Accepted, CheckItem, Drive, Fastener, FastenerKind, Fits, Id, Joint, JointKind, Landmark, Order, Position, Record,
    RenewItem, Reuse, Seat, Source, Stage, Tapped, Text,
};
use serde::{Deserialize, Serialize};
use std::fmt::Display;
use std::str::FromStr;

/// The schema number in the frame.
pub const SCHEMA: u16 = 1;

/// One revision of a record. It holds everything that its key says, so that it can be told from its bytes alone.
#[derive(Debug, Serialize, Deserialize)]
pub struct RevisionV1 {
    pub revision: u64,
    pub sequence: u64,
    /// Microseconds since 1970-01-01T00:00:00Z.
    pub changed_at: i64,
    pub changed_by: Option<String>,
    pub why: Option<String>,
    pub withdrawn: bool,
    pub record: RecordV1,
}

/// A record.
#[derive(Debug, Serialize, Deserialize)]
pub enum RecordV1 {
    Joint(Box<JointV1>),
    Fastener(Box<FastenerV1>),
}

#[derive(Debug, Serialize, Deserialize)]
pub struct FitsV1 {
    variants: Vec<String>,
    serials: Option<String>,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct SourceV1 {
    document: Option<String>,
    edition: Option<String>,
    page: Option<String>,
    printed: Option<String>,
    entered_by: Option<String>,
    checked_by: Option<String>,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct AcceptedV1 {
    rule: String,
    reason: String,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct JointV1 {
    id: String,
    title: Option<String>,
    assembly_title: Option<String>,
    fits: Option<FitsV1>,
    positions: Vec<(u32, f64, f64)>,
    view: Option<String>,
    landmark: Option<(String, f64, f64)>,
    order: Option<OrderV1>,
    prepare: Vec<String>,
    renew: Vec<(String, Option<u32>, Option<String>)>,
    check: Vec<(String, Option<u32>)>,
    tools: Vec<String>,
    behind: Vec<String>,
    together: Vec<String>,
    cautions: Vec<String>,
    source: Option<SourceV1>,
    accepted: Vec<AcceptedV1>,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct OrderV1 {
    pattern: Option<String>,
    positions: Vec<u32>,
    passes: Vec<(u32, Vec<u32>)>,
}

#[derive(Debug, Serialize, Deserialize)]
pub struct FastenerV1 {
    id: String,
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

fn text<T: Display>(value: Option<&T>) -> Option<String> {
    value.map(ToString::to_string)
}

fn texts<T: Display>(values: &[T]) -> Vec<String> {
    values.iter().map(ToString::to_string).collect()
}

/// Reads a stored text; the error names the field.
fn read<T: FromStr<Err: Display>>(field: &str, text: &str) -> Result<T, String> {
    text.parse().map_err(|error| format!("{field}: {error}"))
}

fn read_option<T: FromStr<Err: Display>>(field: &str, text: Option<&String>) -> Result<Option<T>, String> {
    text.map(|text| read(field, text)).transpose()
}

fn read_list<T: FromStr<Err: Display>>(field: &str, texts: &[String]) -> Result<Vec<T>, String> {
    texts.iter().map(|text| read(field, text)).collect()
}

impl From<&Record> for RecordV1 {
    fn from(record: &Record) -> Self {
        match record {
            Record::Joint(joint) => Self::Joint(Box::new(joint.as_ref().into())),
            Record::Fastener(fastener) => Self::Fastener(Box::new(fastener.as_ref().into())),
        }
    }
}

impl RecordV1 {
    /// The id as text.
    pub fn id(&self) -> &str {
        match self {
            Self::Joint(joint) => &joint.id,
            Self::Fastener(fastener) => &fastener.id,
        }
    }

    /// The record; the error names the field that can't be read.
    pub fn read(&self) -> Result<Record, String> {
        Ok(match self {
            Self::Joint(joint) => Record::Joint(Box::new(joint.read()?)),
            Self::Fastener(fastener) => Record::Fastener(Box::new(fastener.read()?)),
        })
    }
}

impl From<&Fits> for FitsV1 {
    fn from(fits: &Fits) -> Self {
        Self { variants: texts(&fits.variants), serials: text(fits.serials.as_ref()) }
    }
}

impl FitsV1 {
    fn read(&self) -> Result<Fits, String> {
        Ok(Fits {
            variants: read_list("fits.variants", &self.variants)?,
            serials: read_option("fits.serials", self.serials.as_ref())?,
        })
    }
}

impl From<&Source> for SourceV1 {
    fn from(source: &Source) -> Self {
        Self {
            document: text(source.document.as_ref()),
            edition: text(source.edition.as_ref()),
            page: text(source.page.as_ref()),
            printed: text(source.printed.as_ref()),
            entered_by: text(source.entered_by.as_ref()),
            checked_by: text(source.checked_by.as_ref()),
        }
    }
}

impl SourceV1 {
    fn read(&self) -> Result<Source, String> {
        Ok(Source {
            document: read_option("source.document", self.document.as_ref())?,
            edition: read_option("source.edition", self.edition.as_ref())?,
            page: read_option("source.page", self.page.as_ref())?,
            printed: read_option("source.printed", self.printed.as_ref())?,
            entered_by: read_option("source.entered_by", self.entered_by.as_ref())?,
            checked_by: read_option("source.checked_by", self.checked_by.as_ref())?,
        })
    }
}

fn accepted_v1(accepted: &[Accepted]) -> Vec<AcceptedV1> {
    let one = |accepted: &Accepted| AcceptedV1 { rule: accepted.rule.to_string(), reason: accepted.reason.to_string() };
    accepted.iter().map(one).collect()
}

fn read_accepted(accepted: &[AcceptedV1]) -> Result<Vec<Accepted>, String> {
    let one = |accepted: &AcceptedV1| {
        Ok(Accepted {
            rule: read("accepted.rule", &accepted.rule)?,
            reason: read("accepted.reason", &accepted.reason)?,
        })
    };
    accepted.iter().map(one).collect()
}

impl From<&Joint> for JointV1 {
    fn from(joint: &Joint) -> Self {
        let landmark = |mark: &Landmark| (mark.text.to_string(), mark.x_mm, mark.y_mm);
        let renew = |item: &RenewItem| (item.item.to_string(), item.count, text(item.part_no.as_ref()));
        Self {
            id: joint.id.to_string(),
            title: text(joint.title.as_ref()),
            assembly_title: text(joint.assembly_title.as_ref()),
            fits: joint.fits.as_ref().map(FitsV1::from),
            positions: joint.positions.iter().map(|position| (position.n, position.x_mm, position.y_mm)).collect(),
            view: text(joint.view.as_ref()),
            landmark: joint.landmark.as_ref().map(landmark),
            order: joint.order.as_ref().map(OrderV1::from),
            prepare: texts(&joint.prepare),
            renew: joint.renew.iter().map(renew).collect(),
            check: joint.check.iter().map(|item| (item.item.to_string(), item.count)).collect(),
            tools: texts(&joint.tools),
            behind: texts(&joint.behind),
            together: texts(&joint.together),
            cautions: texts(&joint.cautions),
            source: joint.source.as_ref().map(SourceV1::from),
            accepted: accepted_v1(&joint.accepted),
        }
    }
}

impl JointV1 {
    fn read(&self) -> Result<Joint, String> {
        let landmark = |(mark, x_mm, y_mm): &(String, f64, f64)| {
            Ok::<_, String>(Landmark { text: read("landmark.text", mark)?, x_mm: *x_mm, y_mm: *y_mm })
        };
        Ok(Joint {
            kind: JointKind,
            id: read::<Id>("id", &self.id)?,
            title: read_option("title", self.title.as_ref())?,
            assembly_title: read_option("assembly_title", self.assembly_title.as_ref())?,
            fits: self.fits.as_ref().map(FitsV1::read).transpose()?,
            positions: self.positions.iter().map(|&(n, x_mm, y_mm)| Position { n, x_mm, y_mm }).collect(),
            view: read_option("view", self.view.as_ref())?,
            landmark: self.landmark.as_ref().map(landmark).transpose()?,
            order: self.order.as_ref().map(OrderV1::read).transpose()?,
            prepare: read_list("prepare", &self.prepare)?,
            renew: self.renew.iter().map(read_renew).collect::<Result<_, _>>()?,
            check: self.check.iter().map(read_check).collect::<Result<_, _>>()?,
            tools: read_list("tools", &self.tools)?,
            behind: read_list("behind", &self.behind)?,
            together: read_list("together", &self.together)?,
            cautions: read_list("cautions", &self.cautions)?,
            source: self.source.as_ref().map(SourceV1::read).transpose()?,
            accepted: read_accepted(&self.accepted)?,
        })
    }
}

fn read_renew((item, count, part_no): &(String, Option<u32>, Option<String>)) -> Result<RenewItem, String> {
    let part_no = read_option("renew.part_no", part_no.as_ref())?;
    Ok(RenewItem { item: read("renew.item", item)?, count: *count, part_no })
}

fn read_check((item, count): &(String, Option<u32>)) -> Result<CheckItem, String> {
    Ok(CheckItem { item: read("check.item", item)?, count: *count })
}

impl From<&Order> for OrderV1 {
    fn from(order: &Order) -> Self {
        Self {
            pattern: text(order.pattern.as_ref()),
            positions: order.positions.clone(),
            passes: order.passes.iter().map(|(pass, positions)| (*pass, positions.clone())).collect(),
        }
    }
}

impl OrderV1 {
    fn read(&self) -> Result<Order, String> {
        Ok(Order {
            pattern: read_option("order.pattern", self.pattern.as_ref())?,
            positions: self.positions.clone(),
            passes: self.passes.iter().cloned().collect(),
        })
    }
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
    fn read(&self) -> Result<Fastener, String> {
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
