//! Who sits where at a joint, in little room: enough to answer for each of its positions without its records.
//!
//! What is said of those that sit somewhere is kept as JSON, in which it is sent.

use super::{Catalog, CatalogError, PositionAsked, Stored};
use crate::card::{SIGHTS, caution_between, caution_of_heads, caution_of_none};
use crate::query::Field;
use crate::record::{Fastener, Head, Id};
use serde::Serialize;

/// Who sits where at a joint, and all that tells them apart.
#[derive(Debug)]
pub struct Seating {
    has_joint: bool,
    title: Piece,
    seats: Box<[Seat]>,
    /// The sights in which not all of them are alike. Where all are, no two can differ.
    sights: Box<[u8]>,
    /// What each of them shows, all of the first sight first. What is the same in a sight is the same piece.
    seen: Box<[Piece]>,
    variants: Box<[Piece]>,
    positions: Box<[(u16, u16)]>,
    text: Box<str>,
}

/// A fastener of a joint.
#[derive(Debug)]
struct Seat {
    change: u64,
    slot: u32,
    positions: Piece,
    variants: Piece,
    head: Option<Head>,
}

/// Some of a list: where it begins and ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Piece(u16, u16);

impl Piece {
    /// What is not stated.
    const NOTHING: Self = Self(u16::MAX, 0);

    fn of<T>(self, all: &[T]) -> &[T] {
        all.get(usize::from(self.0)..usize::from(self.1)).unwrap_or_default()
    }

    fn text(self, all: &str) -> Option<&str> {
        all.get(usize::from(self.0)..usize::from(self.1))
    }
}

/// What makes a joint and what is in force below it what they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    count: usize,
    /// The last change that made one of them what it is.
    last: u64,
}

/// What tells those apart that sit somewhere, or one that sits there alone from the others of its joint that have
/// another head.
#[derive(Debug)]
pub struct Kinds<'s> {
    /// What to look at before a value is set.
    pub caution: String,
    seating: &'s Seating,
    numbers: Vec<usize>,
}

/// A fastener that sits where it was asked.
#[derive(Debug, Clone, Copy)]
pub struct Seated {
    /// Its slot.
    pub slot: u32,
    /// The change that made its revision.
    pub change: u64,
}

impl Catalog {
    /// What makes a joint and what is in force below it what they are: as long as this is the same, so is what sits at its
    /// positions now. Nothing where no directory is kept.
    ///
    /// A count and the last change tell it: whatever is written gets a later change than all that were, and what only
    /// disappears leaves fewer.
    ///
    /// # Errors
    /// If the store can't be read.
    pub fn standing_of_joint(&self, joint: &str) -> Result<Option<Standing>, CatalogError> {
        let standing = || {
            let directory = self.store().directory()?;
            let change = |slot| directory.entry(slot).map_or(0, |entry| entry.sequence);
            let itself = directory.slot(joint).map_or(0, change);
            let below = directory.in_force_below(joint).map(change);
            Some(below.fold(Standing { count: 0, last: itself }, |Standing { count, last }, change| Standing {
                count: count + 1,
                last: last.max(change),
            }))
        };
        Ok(self.store().undisturbed(|| Ok::<_, CatalogError>(standing()))?.flatten())
    }

    /// Who sits where at a joint now, whether or not the joint itself is in the book; nothing where that would take more room
    /// than such a joint is worth.
    ///
    /// # Errors
    /// If the store can't be read, or is damaged.
    pub fn seating(&self, joint: &Id) -> Result<Option<Seating>, CatalogError> {
        let (view, fasteners) = match self.joint(joint)? {
            Some(view) => (Some(view.joint), view.fasteners),
            None => (None, self.fasteners_of(joint, None)?),
        };
        let slots = fasteners.iter().map(|stored| self.slot_of(stored.record.id().as_str()));
        let slots: Option<Vec<u32>> = slots.collect::<Result<_, _>>()?;
        Ok(slots.and_then(|slots| Seating::of(view.as_ref(), &fasteners, &slots)))
    }
}

impl Seating {
    fn of(joint: Option<&Stored>, stored: &[Stored], slots: &[u32]) -> Option<Self> {
        let mut made = Made::default();
        let title = match joint.and_then(|joint| joint.record.as_joint()?.title.as_ref()) {
            Some(title) => made.enter_json(title)?,
            None => Piece::NOTHING,
        };
        let fasteners: Vec<&Fastener> =
            stored.iter().map(|stored| stored.record.as_fastener()).collect::<Option<_>>()?;
        let seats = stored.iter().zip(&fasteners).zip(slots);
        let seats = seats.map(|((stored, fastener), slot)| made.seat(stored, *slot, fastener));
        let seats = seats.collect::<Option<_>>()?;
        let mut sights = Vec::new();
        for (number, sight) in SIGHTS.iter().enumerate() {
            let values: Vec<_> = fasteners.iter().map(|fastener| (sight.seen)(fastener)).collect();
            if values.iter().any(|value| *value != values[0]) {
                sights.push(u8::try_from(number).ok()?);
                made.column(&values)?;
            }
        }
        Some(Self {
            has_joint: joint.is_some(),
            title,
            seats,
            sights: sights.into(),
            seen: made.seen.into(),
            variants: made.variants.into(),
            positions: made.positions.into(),
            text: made.text.into(),
        })
    }

    /// Whether the joint is in the book.
    #[must_use]
    pub fn has_joint(&self) -> bool {
        self.has_joint
    }

    /// What people call the joint, as JSON.
    #[must_use]
    pub fn title(&self) -> Option<&str> {
        self.title.text(&self.text)
    }

    /// The numbers of the fasteners that sit where it is asked, and are what is asked for.
    pub fn here(&self, asked: &PositionAsked<'_>) -> Vec<usize> {
        let is_here = |seat: &&Seat| {
            let positions = seat.positions.of(&self.positions);
            positions.iter().any(|&(first, last)| (u32::from(first)..=u32::from(last)).contains(&asked.position))
                && asked.is_head(seat.head)
                && asked.is_variant(seat.variants.of(&self.variants).iter().filter_map(|piece| piece.text(&self.text)))
        };
        self.seats.iter().enumerate().filter(|(_, seat)| is_here(seat)).map(|(at, _)| at).collect()
    }

    /// One of the fasteners.
    #[must_use]
    pub fn seated(&self, at: usize) -> Option<Seated> {
        self.seats.get(at).map(|seat| Seated { slot: seat.slot, change: seat.change })
    }

    /// What tells those that sit here apart, if there are several; or, if there is one, what tells it from the others of its
    /// joint that have another head.
    #[must_use]
    pub fn kinds(&self, here: &[usize]) -> Option<Kinds<'_>> {
        match *here {
            [] => None,
            [one] => {
                let head = self.seats.get(one)?.head;
                let others = || self.seats.iter().enumerate().filter(|(_, seat)| seat.head != head);
                others().next()?;
                let numbers = std::iter::once(one).chain(others().map(|(at, _)| at)).collect();
                let caution = caution_of_heads(head, others().map(|(_, seat)| seat.head));
                Some(Kinds { caution, seating: self, numbers })
            }
            _ => {
                let kinds = Kinds { caution: String::new(), seating: self, numbers: here.to_vec() };
                Some(Kinds { caution: kinds.caution_of_several(), ..kinds })
            }
        }
    }

    /// About how many bytes of memory it takes.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let pieces = (self.seen.len() + self.variants.len() + self.positions.len()) * size_of::<Piece>();
        let lists = size_of_val(&*self.seats) + pieces + self.sights.len();
        size_of::<Self>() + lists + self.text.len()
    }
}

impl<'s> Kinds<'s> {
    /// The fields in which they differ, what is seen first coming first, each with what they show there as JSON, in
    /// their order.
    pub fn differences(&self) -> impl Iterator<Item = (&'static str, impl Iterator<Item = &'s str>)> {
        let Self { seating, numbers, .. } = self;
        let shown = move |row: &'s [Piece]| numbers.iter().map(move |at| json_of(&seating.text, row[*at]));
        self.told_by().map(move |(row, field, _)| (field, shown(row)))
    }

    /// The sights in which they differ: what all seats show, the field, and what that is called.
    fn told_by(&self) -> impl Iterator<Item = (&'s [Piece], &'static str, &'static str)> {
        let Seating { sights, seen, seats, .. } = self.seating;
        let rows = sights.iter().zip(seen.chunks_exact(seats.len().max(1)));
        let differ = |row: &[Piece]| self.numbers.iter().any(|at| row[*at] != row[self.numbers[0]]);
        rows.filter(move |(_, row)| differ(row)).filter_map(|(sight, row)| {
            let sight = SIGHTS.get(usize::from(*sight))?;
            Some((row, sight.field, sight.words))
        })
    }

    fn caution_of_several(&self) -> String {
        let count = self.numbers.len();
        let Some((row, field, words)) = self.told_by().next() else { return caution_of_none(count) };
        let shown = |at: &usize| serde_json::from_str(json_of(&self.seating.text, row[*at])).unwrap_or_default();
        let values: Vec<Option<String>> = self.numbers.iter().map(shown).collect();
        caution_between(count, field, words, values.iter().map(Option::as_deref))
    }
}

/// What a piece says as JSON.
fn json_of(text: &str, piece: Piece) -> &str {
    piece.text(text).unwrap_or("null")
}

/// The lists of a seating that is being made.
#[derive(Default)]
struct Made {
    text: String,
    seen: Vec<Piece>,
    variants: Vec<Piece>,
    positions: Vec<(u16, u16)>,
}

/// The end of a list and where it began, if it is not too long.
fn piece(from: usize, to: usize) -> Option<Piece> {
    Some(Piece(u16::try_from(from).ok()?, u16::try_from(to).ok()?))
}

impl Made {
    fn enter(&mut self, text: &str) -> Option<Piece> {
        let from = self.text.len();
        self.text.push_str(text);
        piece(from, self.text.len())
    }

    fn enter_json(&mut self, value: &(impl Serialize + ?Sized)) -> Option<Piece> {
        self.enter(&serde_json::to_string(value).ok()?)
    }

    fn seat(&mut self, stored: &Stored, slot: u32, fastener: &Fastener) -> Option<Seat> {
        let from = self.positions.len();
        for (first, last) in fastener.positions.iter().flat_map(|positions| positions.runs()) {
            self.positions.push((u16::try_from(first).ok()?, u16::try_from(last).ok()?));
        }
        let positions = piece(from, self.positions.len())?;
        let from = self.variants.len();
        for variant in Field::Variant.values(&stored.record) {
            let variant = self.enter(&variant)?;
            self.variants.push(variant);
        }
        let variants = piece(from, self.variants.len())?;
        Some(Seat { change: stored.sequence, slot, positions, variants, head: fastener.head })
    }

    /// Enters what all fasteners show in a sight; what several show stands once.
    fn column(&mut self, values: &[Option<String>]) -> Option<()> {
        let first = self.seen.len();
        for (at, value) in values.iter().enumerate() {
            let piece = match (value, values[..at].iter().position(|before| before == value)) {
                (None, _) => Piece::NOTHING,
                (Some(_), Some(same)) => self.seen[first + same],
                (Some(value), None) => self.enter_json(value)?,
            };
            self.seen.push(piece);
        }
        Some(())
    }
}
