//! The values of a field that has at most one, each with the families that have it.

use super::family_set::FamilySet;
use crate::query::{Field, Filter, SortField};
use std::collections::HashMap;
use std::sync::Arc;

/// The values of one field. A value is known by its code; that of no value at all is 0.
#[derive(Debug, Clone)]
pub struct Column {
    /// The field.
    pub field: Field,
    texts: Vec<String>,
    codes: HashMap<String, u16>,
    families: Vec<Arc<FamilySet>>,
    /// What the values are ordered by, if the field can be ordered by; nothing where that can't be told.
    order: Option<Vec<Vec<u8>>>,
    /// The place of each value in that order, from 1; equal ones have the same.
    ranks: Vec<u64>,
}

/// The order that goes by a field.
fn order_by(field: Field) -> Option<SortField> {
    match field {
        Field::Head => Some(SortField::Head),
        Field::Thread => Some(SortField::Thread),
        Field::PropertyClass => Some(SortField::PropertyClass),
        _ => None,
    }
}

impl Column {
    /// A field without values.
    pub fn new(field: Field) -> Self {
        Self {
            field,
            texts: vec![String::new()],
            codes: HashMap::from([(String::new(), 0)]),
            families: vec![Arc::default()],
            order: order_by(field).map(|_| vec![Vec::new()]),
            ranks: vec![0],
        }
    }

    /// The code of a value, if a record has or had it.
    pub fn code(&self, text: &str) -> Option<u16> {
        self.codes.get(text).copied()
    }

    /// The value of a code.
    pub fn text(&self, code: u16) -> &str {
        self.texts.get(usize::from(code)).map(String::as_str).unwrap_or_default()
    }

    /// How many codes there are.
    pub fn codes(&self) -> usize {
        self.texts.len()
    }

    /// Enters a value and gives its code; nothing if there are too many.
    pub fn enter(&mut self, text: &str) -> Option<u16> {
        let code = u16::try_from(self.texts.len()).ok()?;
        self.texts.push(text.to_owned());
        self.codes.insert(text.to_owned(), code);
        self.families.push(Arc::default());
        self.ranks.push(0);
        if let Some(order) = &mut self.order {
            match order_by(self.field).and_then(|sort| sort.bytes_of(text)) {
                Some(bytes) => {
                    order.push(bytes);
                    self.ranks = ranks(order);
                }
                None => self.order = None,
            }
        }
        Some(code)
    }

    /// Enters a family under its value.
    pub fn enter_family(&mut self, code: u16, family: u32) {
        if let Some(families) = self.families.get_mut(usize::from(code)) {
            Arc::make_mut(families).push(family);
        }
    }

    /// The families that have a value.
    pub fn families(&self, code: u16) -> &FamilySet {
        &self.families[usize::from(code)]
    }

    /// Whether records can be ordered by it.
    pub fn has_order(&self) -> bool {
        self.order.is_some()
    }

    /// What a value is ordered by; nothing where there is no value.
    pub fn order_bytes(&self, code: u16) -> Option<&[u8]> {
        let order = self.order.as_ref()?.get(usize::from(code))?;
        (code != 0).then_some(order)
    }

    /// The place of a value in the order, from 1; nothing where there is no value.
    #[inline]
    pub fn rank(&self, code: u16) -> Option<u64> {
        if code == 0 { None } else { self.ranks.get(usize::from(code)).copied() }
    }

    /// The codes that a filter lets through.
    pub fn admitted(&self, filter: &Filter) -> Vec<u16> {
        let only_some_values = filter.not.is_empty() && filter.has.is_none() && filter.starts.is_none();
        if only_some_values && !filter.any.is_empty() && !self.field.none_means_all() {
            return filter.any.iter().filter(|text| !text.is_empty()).filter_map(|text| self.code(text)).collect();
        }
        let values = |text: &String| if text.is_empty() { Vec::new() } else { vec![text.clone()] };
        let texts = (0_u16..).zip(&self.texts);
        texts.filter(|(_, text)| filter.admits(&values(text))).map(|(code, _)| code).collect()
    }
}

fn ranks(order: &[Vec<u8>]) -> Vec<u64> {
    let mut sorted: Vec<&[u8]> = order.iter().skip(1).map(Vec::as_slice).collect();
    sorted.sort_unstable();
    sorted.dedup();
    order.iter().map(|bytes| sorted.partition_point(|other| *other < bytes.as_slice()) as u64 + 1).collect()
}
