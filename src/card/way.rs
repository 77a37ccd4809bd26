//! The way in and the way out: which joints to open, in which order, to reach some joints.
//!
//! What stands behind what is read from the records' `behind`. A circle or an id that is not in the book is a fault of
//! the way, named, and the rest of the way is found all the same.

use crate::record::{Id, Joint, Text};
use serde::Serialize;
use std::collections::HashMap;

/// The joints to open to reach some joints, and what stands in the way of knowing it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct Way {
    /// The joints that are to be reached.
    pub targets: Vec<Id>,
    /// The joints in the order they are opened; the targets are among them.
    pub open: Vec<Id>,
    /// The joints in the order they are closed: the reverse.
    pub close: Vec<Id>,
    /// What is wrong with what the records say.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    pub faults: Vec<WayFault>,
}

impl Way {
    /// The joints that were to be reached and are none. One that a record names is a fault of the way; one that was asked for
    /// is a wrong question.
    #[must_use]
    pub fn asked_in_vain(&self) -> Vec<Id> {
        let asked = self.faults.iter().filter(|fault| fault.fault == WayFaultKind::Unknown && fault.ids.len() == 1);
        asked.flat_map(|fault| fault.ids.clone()).collect()
    }
}

/// Something wrong with the way.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct WayFault {
    /// What kind of fault.
    pub fault: WayFaultKind,
    /// The ids concerned: the circle in its order, or the record and the unknown id that it names.
    pub ids: Vec<Id>,
    /// The fault in a sentence.
    pub message: String,
}

/// Kinds of faults of a way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
#[serde(rename_all = "kebab-case")]
pub enum WayFaultKind {
    /// Joints that are behind each other.
    Circle,
    /// An id that is no joint of the book.
    Unknown,
}

/// Finds the way to some joints. `behind` gives what a joint's record says must be opened first, or nothing for an id
/// that is no joint of the book; it is asked once for each id.
///
/// # Errors
/// Those of `behind`.
pub fn way<E>(targets: &[Id], behind: impl FnMut(&Id) -> Result<Option<Vec<Id>>, E>) -> Result<Way, E> {
    let mut search = Search { behind, known: HashMap::new(), path: Vec::new(), open: Vec::new(), faults: Vec::new() };
    for target in targets {
        search.reach(target)?;
    }
    let mut close = search.open.clone();
    close.reverse();
    let mut distinct: Vec<Id> = Vec::new();
    for target in targets {
        if !distinct.contains(target) {
            distinct.push(target.clone());
        }
    }
    Ok(Way { targets: distinct, open: search.open, close, faults: search.faults })
}

struct Search<F> {
    behind: F,
    /// Whether an id has been gone through; false while it is on the path.
    known: HashMap<Id, bool>,
    /// The joints between a target and where the search is, each with those before it that are still to be gone through,
    /// the next one last. A way can have more steps than a thread has room for calls.
    path: Vec<(Id, Vec<Id>)>,
    open: Vec<Id>,
    faults: Vec<WayFault>,
}

impl<E, F: FnMut(&Id) -> Result<Option<Vec<Id>>, E>> Search<F> {
    fn reach(&mut self, target: &Id) -> Result<(), E> {
        self.enter(target.clone())?;
        while let Some((_, before)) = self.path.last_mut() {
            if let Some(first) = before.pop() {
                self.enter(first)?;
            } else if let Some((id, _)) = self.path.pop() {
                self.known.insert(id.clone(), true);
                self.open.push(id);
            }
        }
        Ok(())
    }

    fn enter(&mut self, id: Id) -> Result<(), E> {
        match self.known.get(&id) {
            Some(true) => {}
            Some(false) => self.faults.push(self.circle(&id)),
            None => match (self.behind)(&id)? {
                Some(mut before) => {
                    before.reverse();
                    self.known.insert(id.clone(), false);
                    self.path.push((id, before));
                }
                None => self.faults.push(unknown(&id, self.path.last().map(|(from, _)| from))),
            },
        }
        Ok(())
    }

    fn circle(&self, id: &Id) -> WayFault {
        let start = self.path.iter().position(|(known, _)| known == id).unwrap_or(0);
        let mut ids: Vec<Id> = self.path[start..].iter().map(|(id, _)| id.clone()).collect();
        ids.push(id.clone());
        let named: Vec<&str> = ids.iter().map(Id::as_str).collect();
        let message = format!("These joints are behind each other: {}", named.join(" ← "));
        WayFault { fault: WayFaultKind::Circle, ids, message }
    }
}

fn unknown(id: &Id, from: Option<&Id>) -> WayFault {
    let (ids, message) = match from {
        Some(from) => (vec![from.clone(), id.clone()], format!("{from} is behind {id}, which is no joint of the book")),
        None => (vec![id.clone()], format!("{id} is no joint of the book")),
    };
    WayFault { fault: WayFaultKind::Unknown, ids, message }
}

/// What the joints of a way ask for besides fasteners, each with the joint that asks.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, utoipa::ToSchema)]
pub struct WayWork {
    /// What to drain, disconnect or prepare, in the order of opening.
    pub prepare: Vec<WayTask>,
    /// What can hurt people or parts.
    pub cautions: Vec<WayTask>,
    /// Special tools.
    pub tools: Vec<WayTask>,
    /// Work that is worth doing on the same occasion.
    pub together: Vec<WayTask>,
}

impl WayWork {
    /// The kinds of work with their headings; those of which there is nothing are left out.
    #[must_use]
    pub fn lists(&self) -> Vec<(&'static str, &[WayTask])> {
        let lists: [(&str, &[WayTask]); 4] = [
            ("Cautions", &self.cautions),
            ("Drain, disconnect, prepare", &self.prepare),
            ("Special tools", &self.tools),
            ("Worth doing at the same time", &self.together),
        ];
        lists.into_iter().filter(|(_, tasks)| !tasks.is_empty()).collect()
    }
}

/// Something that a joint asks for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct WayTask {
    /// The joint.
    pub joint: Id,
    /// What it asks for.
    pub text: Text,
}

/// What the joints of a way ask for, in the order given; the same text asked twice stands once.
#[must_use]
pub fn way_work(joints: &[&Joint]) -> WayWork {
    let mut work = WayWork::default();
    for joint in joints {
        let parts: [(&mut Vec<WayTask>, &Vec<Text>); 4] = [
            (&mut work.prepare, &joint.prepare),
            (&mut work.cautions, &joint.cautions),
            (&mut work.tools, &joint.tools),
            (&mut work.together, &joint.together),
        ];
        for (tasks, texts) in parts {
            for text in texts {
                if !tasks.iter().any(|task| task.text == *text) {
                    tasks.push(WayTask { joint: joint.id.clone(), text: text.clone() });
                }
            }
        }
    }
    work
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::convert::Infallible;

    fn id(name: &str) -> Id {
        format!("a.{name}").parse().unwrap()
    }

    /// The way through a book of `joint: what is behind which`.
    fn found(targets: &[&str], book: &[(&str, &[&str])]) -> Way {
        let targets: Vec<Id> = targets.iter().map(|name| id(name)).collect();
        let behind = |asked: &Id| {
            let entry = book.iter().find(|(name, _)| id(name) == *asked);
            Ok::<_, Infallible>(entry.map(|(_, behind)| behind.iter().map(|name| id(name)).collect()))
        };
        way(&targets, behind).unwrap_or_else(|never| match never {})
    }

    fn names(ids: &[Id]) -> Vec<&str> {
        ids.iter().map(|id| id.last()).collect()
    }

    #[test]
    fn what_is_in_front_is_opened_first_and_closed_last() {
        let book: &[(&str, &[&str])] =
            &[("head", &["cover", "trunk"]), ("cover", &[]), ("trunk", &["cooler"]), ("cooler", &[]), ("other", &[])];
        let way = found(&["head"], book);
        assert_eq!(names(&way.open), ["cover", "cooler", "trunk", "head"]);
        assert_eq!(names(&way.close), ["head", "trunk", "cooler", "cover"]);
        assert!(way.faults.is_empty());
    }

    #[test]
    fn several_targets_share_their_way() {
        let book: &[(&str, &[&str])] = &[("a", &["c"]), ("b", &["c"]), ("c", &[])];
        let way = found(&["a", "b", "a"], book);
        assert_eq!((names(&way.open), names(&way.targets)), (vec!["c", "a", "b"], vec!["a", "b"]));
    }

    #[test]
    fn circles_and_unknown_ids_are_named_and_the_rest_is_found() {
        let book: &[(&str, &[&str])] = &[("a", &["b", "gone"]), ("b", &["c"]), ("c", &["a"])];
        let way = found(&["a", "nowhere"], book);
        assert_eq!(names(&way.open), ["c", "b", "a"]);
        let told: Vec<_> = way.faults.iter().map(|fault| (fault.fault, names(&fault.ids))).collect();
        assert_eq!(
            told,
            [
                (WayFaultKind::Circle, vec!["a", "b", "c", "a"]),
                (WayFaultKind::Unknown, vec!["a", "gone"]),
                (WayFaultKind::Unknown, vec!["nowhere"]),
            ]
        );
        assert_eq!(way.faults[1].message, "a.a is behind a.gone, which is no joint of the book");
    }

    #[test]
    fn the_work_of_a_way_stands_in_its_order_and_once() {
        let text = |text: &str| text.parse::<Text>().unwrap();
        let joint = |name: &str, prepare: &[&str]| Joint {
            prepare: prepare.iter().map(|t| text(t)).collect(),
            ..Joint::bare(id(name))
        };
        let (first, second) =
            (joint("a", &["Drain coolant", "Battery off"]), joint("b", &["Battery off", "Clean faces"]));
        let work = way_work(&[&first, &second]);
        let told: Vec<_> = work.prepare.iter().map(|task| (task.joint.last(), task.text.as_str())).collect();
        assert_eq!(told, [("a", "Drain coolant"), ("a", "Battery off"), ("b", "Clean faces")]);
    }

    #[test]
    fn a_way_of_very_many_steps_is_walked_to_its_end() {
        let name = |i: usize| id(&format!("j{i}"));
        let number = |id: &Id| id.as_str()[3..].parse::<usize>().unwrap();
        let last = 100_000;
        let next = |id: &Id| Ok::<_, Infallible>(Some((number(id)..last).take(1).map(|i| name(i + 1)).collect()));
        let Ok(way) = way(&[name(0)], next);
        assert_eq!((way.open.len(), &way.open[0], &way.close[0]), (last + 1, &name(last), &name(0)));
    }
}
