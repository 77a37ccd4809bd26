//! Assessments that were worked out once: a book has few kinds of bolt, and each stands in it many times.
//!
//! Each thread of the machine remembers its own, so that none waits for another. What is remembered is compared field by
//! field before it is used: it is the same question, not only the same number of it.

use super::assessment::{Assessment, Unjudged};
use crate::record::{Fastener, Friction, Head, Role, Text};
use crate::standards::PropertyClass;
use crate::thread::Thread;
use std::cell::RefCell;
use std::collections::HashMap;
use std::hash::{Hash, Hasher};
use std::rc::Rc;

/// An assessment, or why there is none.
pub(super) type Assessed = Rc<Result<Assessment, Unjudged>>;

/// So many kinds are remembered; a book of more kinds than this begins anew.
const KINDS_MAX: usize = 4096;

/// Everything of a fastener that its assessment depends on.
struct Kind {
    thread: Thread,
    class: Option<PropertyClass>,
    role: Role,
    head: Option<Head>,
    drive: Option<crate::record::DriveType>,
    hole_mm: Option<f64>,
    friction: Option<Friction>,
    finish: Option<Text>,
    lubrication: Option<Text>,
}

impl Kind {
    fn of(fastener: &Fastener) -> Self {
        Self {
            thread: fastener.thread.clone(),
            class: fastener.property_class.clone(),
            role: fastener.role(),
            head: fastener.head,
            drive: fastener.drive.as_ref().map(|drive| drive.kind),
            hole_mm: hole_mm(fastener),
            friction: fastener.friction,
            finish: fastener.finish.clone(),
            lubrication: fastener.lubrication.clone(),
        }
    }

    fn is_of(&self, fastener: &Fastener) -> bool {
        self.thread == fastener.thread
            && self.class == fastener.property_class
            && self.role == fastener.role()
            && self.head == fastener.head
            && self.drive == fastener.drive.as_ref().map(|drive| drive.kind)
            && self.hole_mm == hole_mm(fastener)
            && self.friction == fastener.friction
            && self.finish == fastener.finish
            && self.lubrication == fastener.lubrication
    }
}

fn hole_mm(fastener: &Fastener) -> Option<f64> {
    Some(fastener.seat.as_ref()?.hole?.quantity().millimeters())
}

/// A number that is the same for the same kind; different kinds may share it.
fn number(fastener: &Fastener) -> u64 {
    let mut hasher = std::hash::DefaultHasher::new();
    fastener.thread.hash(&mut hasher);
    for text in [
        fastener.property_class.as_ref().map(PropertyClass::as_str),
        fastener.finish.as_ref().map(Text::as_str),
        fastener.lubrication.as_ref().map(Text::as_str),
    ] {
        text.hash(&mut hasher);
    }
    (fastener.role() as u8, fastener.head.map(|head| head as u8)).hash(&mut hasher);
    hasher.finish()
}

thread_local! {
    static KNOWN: RefCell<HashMap<u64, (Kind, Assessed)>> = RefCell::default();
}

/// The assessment of a fastener, worked out or remembered.
pub(super) fn assessed(fastener: &Fastener) -> Assessed {
    let number = number(fastener);
    KNOWN.with_borrow_mut(|known| {
        if let Some((kind, assessed)) = known.get(&number)
            && kind.is_of(fastener)
        {
            return Rc::clone(assessed);
        }
        if known.len() >= KINDS_MAX {
            known.clear();
        }
        let assessed = Rc::new(Assessment::of(fastener));
        known.insert(number, (Kind::of(fastener), Rc::clone(&assessed)));
        assessed
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::Record;
    use serde_json::json;

    /// Whatever was asked before, the answer is that of the fastener itself.
    #[test]
    fn what_is_remembered_is_what_would_be_worked_out() {
        let base = json!({ "kind": "fastener", "id": "skua.a.b.c", "joint": "skua.a.b", "thread": "M8",
            "property_class": "8.8", "stages": ["20 N·m"] });
        let others = [
            json!({}),
            json!({ "property_class": "10.9" }),
            json!({ "thread": "M10" }),
            json!({ "role": "plug" }),
            json!({ "head": "socket-cap" }),
            json!({ "head": "pan", "drive": { "type": "hexalobular-socket" } }),
            json!({ "friction": "0.10-0.12" }),
            json!({ "lubrication": "µ 0.2" }),
            json!({ "finish": "wax" }),
            json!({ "seat": { "hole": "8.4 mm" } }),
        ];
        for _ in 0..2 {
            for other in &others {
                let mut value = base.clone();
                let members = value.as_object_mut().expect("an object");
                members.extend(other.as_object().expect("an object").clone());
                let record = Record::from_json(&value).unwrap_or_else(|e| panic!("{value}: {e}"));
                let fastener = record.as_fastener().expect("a fastener");
                let (known, own) = (assessed(fastener), Assessment::of(fastener));
                assert_eq!(format!("{known:?}"), format!("{own:?}"), "{value}");
            }
        }
    }
}
