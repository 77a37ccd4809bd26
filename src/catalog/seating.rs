//! Who sits where at a joint, in little room: enough to answer for each of its positions without its records.

use super::{Catalog, CatalogError, PositionAsked, Stored};
use crate::card::{Apart, SIGHTS};
use crate::query::Field;
use crate::record::{Fastener, Head, Id};

/// Who sits where at a joint, and all that tells them apart.
#[derive(Debug)]
pub struct Seating {
    has_joint: bool,
    title: Piece,
    seats: Box<[Seat]>,
    /// The sights in which not all of them are alike. Where all are, no two can differ.
    sights: Box<[u8]>,
    /// What each of them shows, all of the first sight first.
    seen: Box<[Piece]>,
    variants: Box<[Piece]>,
    positions: Box<[(u16, u16)]>,
    text: Box<str>,
}

/// A fastener of a joint.
#[derive(Debug)]
struct Seat {
    change: u64,
    /// Its id without that of the joint and the point behind it.
    id: Piece,
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

/// A fastener that sits where it was asked.
#[derive(Debug, Clone, Copy)]
pub struct Seated<'s> {
    /// Its id without that of the joint and the point behind it.
    pub id: &'s str,
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
        Ok(Seating::of(joint, view.as_ref(), &fasteners))
    }
}

impl Seating {
    fn of(id: &Id, joint: Option<&Stored>, stored: &[Stored]) -> Option<Self> {
        let mut made = Made::default();
        let title = match joint.and_then(|joint| joint.record.as_joint()?.title.as_ref()) {
            Some(title) => made.enter(title)?,
            None => Piece::NOTHING,
        };
        let fasteners: Vec<&Fastener> =
            stored.iter().map(|stored| stored.record.as_fastener()).collect::<Option<_>>()?;
        let seats = stored.iter().zip(&fasteners).map(|(stored, fastener)| made.seat(id, stored, fastener));
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

    /// What people call the joint.
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
    pub fn seated(&self, at: usize) -> Option<Seated<'_>> {
        let seat = self.seats.get(at)?;
        Some(Seated { id: seat.id.text(&self.text)?, change: seat.change })
    }

    /// What tells those that sit here apart, if there are several; or, if there is one, what tells it from the others of its
    /// joint that look otherwise.
    #[must_use]
    pub fn apart(&self, here: &[usize]) -> Option<Apart<&str>> {
        let head = |at: usize| self.seats.get(at).and_then(|seat| seat.head);
        let sights = self.sights.iter().filter_map(|sight| SIGHTS.get(usize::from(*sight)));
        match *here {
            [one] => {
                let others = (0..self.seats.len()).filter(|at| *at != one && head(*at) != head(one));
                let kinds: Vec<usize> = std::iter::once(one).chain(others).collect();
                let heads: Vec<_> = kinds.iter().copied().map(head).collect();
                Apart::of_first(&heads, sights, |sight, at| self.seen(sight, kinds[at]))
            }
            _ => Apart::of(here.len(), sights, |sight, at| self.seen(sight, here[at])),
        }
    }

    fn seen(&self, sight: usize, at: usize) -> Option<&str> {
        self.seen.get(sight * self.seats.len() + at)?.text(&self.text)
    }

    /// About how many bytes of memory it takes.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let pieces = (self.seen.len() + self.variants.len() + self.positions.len()) * size_of::<Piece>();
        size_of::<Self>() + self.seats.len() * size_of::<Seat>() + pieces + self.sights.len() + self.text.len()
    }
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

    fn seat(&mut self, joint: &Id, stored: &Stored, fastener: &Fastener) -> Option<Seat> {
        let id = stored.record.id().as_str().strip_prefix(joint.as_str())?.strip_prefix('.')?;
        let id = self.enter(id)?;
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
        Some(Seat { change: stored.sequence, id, positions, variants, head: fastener.head })
    }

    /// Enters what all fasteners show in a sight; what several in a row show stands once.
    fn column(&mut self, values: &[Option<String>]) -> Option<()> {
        let mut before: Option<(&String, Piece)> = None;
        for value in values {
            let piece = match (value, before) {
                (None, _) => Piece::NOTHING,
                (Some(value), Some((same, piece))) if value == same => piece,
                (Some(value), _) => self.enter(value)?,
            };
            before = value.as_ref().map(|value| (value, piece)).or(before);
            self.seen.push(piece);
        }
        Some(())
    }
}
