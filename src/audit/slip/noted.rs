//! What was found about every entry of a book, in little room: about most nothing was.

use super::judge::{Found, Judged};
use std::collections::HashMap;

/// What was found about an entry.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noted<'n> {
    /// The verdict; nothing where nothing asks for a closer look.
    pub judged: Option<&'n Judged>,
    /// Does it stand in line with a smooth series of its own?
    pub in_line: bool,
    /// Is its value that of the other pitch of its diameter?
    pub(super) has_twin: bool,
}

impl Found {
    /// The same, read.
    pub(super) fn noted(&self) -> Noted<'_> {
        Noted { judged: self.judged.as_deref(), in_line: self.in_line, has_twin: self.has_twin }
    }
}

/// What was found about every entry, by its place.
#[derive(Debug, Default)]
pub(super) struct Notes {
    marks: Vec<u8>,
    judged: HashMap<u32, Box<Judged>>,
}

const JUDGED: u8 = 1;
const IN_LINE: u8 = 2;
const TWIN: u8 = 4;

impl Notes {
    /// How many entries there are.
    pub fn count(&self) -> usize {
        self.marks.len()
    }

    /// Adds what was found about the next entry.
    pub fn push(&mut self, found: Found) {
        self.marks.push(0);
        self.set(self.marks.len() - 1, found);
    }

    /// What was found about the entry at a place.
    pub fn get(&self, place: usize) -> Noted<'_> {
        let judged = if self.is_judged(place) { self.judged.get(&(place as u32)) } else { None };
        let has = |mark: u8| self.marks[place] & mark != 0;
        Noted { judged: judged.map(|judged| &**judged), in_line: has(IN_LINE), has_twin: has(TWIN) }
    }

    /// Whether something asked for a closer look at it.
    pub fn is_judged(&self, place: usize) -> bool {
        self.marks[place] & JUDGED != 0
    }

    /// Notes what is found about it now.
    pub fn set(&mut self, place: usize, Found { judged, in_line, has_twin }: Found) {
        let mark = |is_so: bool, mark: u8| if is_so { mark } else { 0 };
        let before = self.marks[place];
        self.marks[place] = mark(judged.is_some(), JUDGED) | mark(in_line, IN_LINE) | mark(has_twin, TWIN);
        match judged {
            Some(judged) => drop(self.judged.insert(place as u32, judged)),
            None if before & JUDGED != 0 => drop(self.judged.remove(&(place as u32))),
            None => {}
        }
    }
}
