//! The tree of assemblies.

use super::{Catalog, CatalogError, Stored};
use crate::record::Record;
use std::collections::BTreeMap;

/// What lies directly below a path: an assembly, or a joint.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AssemblyPart {
    /// Its path.
    pub path: String,
    /// What people call it, where a record says so.
    pub title: Option<String>,
    /// Whether the path is a joint.
    pub is_joint: bool,
    /// How many joints lie at or below it.
    pub joints: usize,
    /// How many fasteners lie below it.
    pub fasteners: usize,
}

/// An assembly, or a joint, and what lies directly below it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Assembly {
    /// The assembly itself.
    pub itself: AssemblyPart,
    /// What lies directly below it, by name.
    pub parts: Vec<AssemblyPart>,
}

impl Catalog {
    /// The tree of assemblies down to a depth: every part is directly followed by its own parts. Nothing if there are
    /// more than `most`.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn assembly_tree(&self, depth: usize, most: usize) -> Result<Option<Vec<AssemblyPart>>, CatalogError> {
        let mut tree = Vec::new();
        // The next part to be looked at is the last one.
        let mut open = self.assemblies("")?;
        open.reverse();
        while let Some(part) = open.pop() {
            if tree.len() == most {
                return Ok(None);
            }
            if !part.is_joint && part.path.split('.').count() < depth {
                open.extend(self.assemblies(&part.path)?.into_iter().rev());
            }
            tree.push(part);
        }
        Ok(Some(tree))
    }

    /// The assembly or joint at a path; nothing if no joint and no fastener lies there.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn assembly(&self, path: &str) -> Result<Option<Assembly>, CatalogError> {
        let snapshot = self.snapshot()?;
        let own = snapshot.get(path);
        let inside: Vec<&Stored> = own.into_iter().chain(snapshot.below(path)).collect();
        let is_fastener = own.is_some_and(|own| own.record.as_fastener().is_some());
        if inside.is_empty() || is_fastener {
            return Ok(None);
        }
        Ok(Some(Assembly { itself: part_of(path, &inside), parts: self.assemblies(path)? }))
    }

    /// What lies directly below a path, by name; below the empty path lie the machines. A joint has nothing below it:
    /// its fasteners are no assemblies.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn assemblies(&self, path: &str) -> Result<Vec<AssemblyPart>, CatalogError> {
        let snapshot = self.snapshot()?;
        let mut children: BTreeMap<&str, Vec<&Stored>> = BTreeMap::new();
        for stored in snapshot.below(path) {
            children.entry(child(stored.record.id().as_str(), path)).or_default().push(stored);
        }
        children.retain(|_, inside| !inside.iter().all(|stored| is_fastener_of(stored, path)));
        Ok(children.into_iter().map(|(path, inside)| part_of(path, &inside)).collect())
    }
}

/// The path with one segment of the id more.
fn child<'i>(id: &'i str, path: &str) -> &'i str {
    let start = if path.is_empty() { 0 } else { path.len() + 1 };
    let segment = id[start..].find('.').map_or(id.len(), |at| start + at);
    &id[..segment]
}

fn is_fastener_of(stored: &Stored, path: &str) -> bool {
    stored.record.as_fastener().is_some_and(|fastener| fastener.joint.as_str() == path)
}

fn part_of(path: &str, inside: &[&Stored]) -> AssemblyPart {
    let joints = || inside.iter().filter_map(|stored| stored.record.as_joint());
    let own = joints().find(|joint| joint.id.as_str() == path);
    let title = match own {
        Some(joint) => joint.title.as_ref(),
        None => joints().find(|joint| joint.assembly() == path).and_then(|joint| joint.assembly_title.as_ref()),
    };
    AssemblyPart {
        title: title.map(ToString::to_string),
        is_joint: own.is_some(),
        joints: joints().count(),
        fasteners: inside.iter().filter(|stored| matches!(&*stored.record, Record::Fastener(_))).count(),
        path: path.to_owned(),
    }
}
