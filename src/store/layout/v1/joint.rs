//! Joints in version 1 of the stored forms.

use super::{AcceptedV1, FitsV1, SourceV1, accepted_v1, read, read_accepted, read_list, read_option, text, texts};
use crate::record::{CheckItem, Id, Joint, JointKind, Landmark, Order, Position, RenewItem};
use serde::{Deserialize, Serialize};

#[derive(Debug, Serialize, Deserialize)]
pub struct JointV1 {
    pub(super) id: String,
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
    pub(super) fn read(&self) -> Result<Joint, String> {
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
