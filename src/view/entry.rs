//! A record as it is shown: its own fields, then what the book knows about it.

use crate::audit::Severity;
use crate::catalog::{AuditSoFar, AuditSummary, Catalog, CatalogError, State, Stored};
use crate::record::{Fastener, Joint, Record, Source, Stage};
use crate::units::{Number, Torque};
use serde::Serialize;
use serde::ser::{Error, SerializeMap, Serializer};
use std::sync::Arc;
use utoipa::openapi::{Ref, RefOr, schema::Schema};
use utoipa::{PartialSchema, ToSchema};

/// A record and what the book knows about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// The record as stored.
    pub stored: Stored,
    /// What the book knows about it.
    pub book: BookEntry,
    /// The members that are shown besides those that every record has; absent means all.
    pub members: Option<Members>,
    /// The change up to which the book had been audited, where that is not the last one. Not shown with it.
    pub audited_up_to: Option<u64>,
}

/// Names of members of a record.
pub type Members = Arc<[String]>;

/// The members that every record is shown with, whatever is asked for: what it is, what is done, and how far to trust it.
pub const ALWAYS_SHOWN: &[&str] = &["kind", "id", "joint", "thread", "stages", "book"];

/// What the book knows about a record. Computed: it is passed over where a record is read.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct BookEntry {
    /// The revision, from 1.
    #[schema(minimum = 1)]
    pub revision: u64,
    /// Whether the record is in force.
    pub state: State,
    /// When this revision was stored.
    #[schema(value_type = String, format = DateTime)]
    pub changed_at: String,
    /// Who stored it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub changed_by: Option<String>,
    /// Whether a second person has compared it with its source.
    pub is_checked: bool,
    /// Every torque of its stages, as stated and in newton-metres, with how far to trust it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false, max_items = 400)]
    pub torques: Vec<TorqueShown>,
    /// What the audit of the whole book says about it.
    pub audit: AuditState,
}

/// A torque as stated, the newton-metres computed from it, and how far to trust it: who shows the one can show the other.
#[derive(Debug, Clone, PartialEq, Serialize, utoipa::ToSchema)]
pub struct TorqueShown {
    /// The stage, counted from 0.
    pub stage: usize,
    /// The torque as stated.
    pub stated: String,
    /// Its lower end, computed.
    pub min_nm: f64,
    /// Its higher end, computed.
    pub max_nm: f64,
    /// Whether a second person has compared its record with the source.
    pub is_checked: bool,
    /// What the audit of the whole book says about its record.
    pub audit: AuditState,
    /// Where it was read; absent where the record does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

/// What the audit says about a record: the worst finding and how many there are, accepted ones apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub struct AuditState {
    /// Whether the audit has yet to come to it as it stands: then nothing is known, whatever the counts are. Absent when it has.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    #[schema(required = false)]
    pub is_pending: bool,
    /// The severity of the worst finding; absent when nothing was found, which does not mean that all is right, and when it
    /// is pending.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub worst: Option<Severity>,
    /// How many findings there are.
    pub count: usize,
    /// How many were accepted with a reason.
    pub accepted: usize,
}

impl Entry {
    /// A stored record with what the book knows about it.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn of(catalog: &Catalog, stored: Stored) -> Result<Self, CatalogError> {
        let AuditSoFar { summaries, up_to } = catalog.audit_so_far(&[&stored])?;
        Ok(Self { audited_up_to: up_to, ..Self::with(stored, summaries.into_iter().next().flatten()) })
    }

    /// Stored records with what the book knows about them, in their order.
    ///
    /// # Errors
    /// If the store cannot be read.
    pub fn all_of(catalog: &Catalog, stored: Vec<Stored>) -> Result<Vec<Self>, CatalogError> {
        let AuditSoFar { summaries, up_to } = catalog.audit_so_far(&stored.iter().collect::<Vec<_>>())?;
        let entry = |(stored, summary)| Self { audited_up_to: up_to, ..Self::with(stored, summary) };
        Ok(stored.into_iter().zip(summaries).map(entry).collect())
    }

    /// The change up to which the book had been audited for all of them, where that is not the last one.
    #[must_use]
    pub fn all_audited_up_to<'e>(entries: impl IntoIterator<Item = &'e Self>) -> Option<u64> {
        entries.into_iter().filter_map(|entry| entry.audited_up_to).min()
    }

    /// The same with these members only, besides those that every record is shown with.
    #[must_use]
    pub fn showing(self, members: Option<&Members>) -> Self {
        Self { members: members.cloned(), ..self }
    }

    /// A stored record with what the audit says about it; nothing where that is pending.
    #[must_use]
    pub fn with(stored: Stored, summary: Option<AuditSummary>) -> Self {
        let audit = AuditState::of(summary);
        let book = BookEntry {
            revision: stored.revision,
            state: stored.state,
            changed_at: stored.changed_at.to_string(),
            changed_by: stored.changed_by.as_ref().map(ToString::to_string),
            is_checked: stored.record.source().is_some_and(Source::is_checked),
            torques: torques(&stored.record, audit),
            audit,
        };
        Self { stored, book, members: None, audited_up_to: None }
    }

    /// The torque of a stage, counted from 0.
    #[must_use]
    pub fn torque_of(&self, stage: usize) -> Option<&TorqueShown> {
        self.book.torques.iter().find(|torque| torque.stage == stage)
    }
}

impl AuditState {
    /// The summary in its public shape; nothing stands for one that is pending.
    #[must_use]
    pub fn of(summary: Option<AuditSummary>) -> Self {
        let AuditSummary { worst, count, accepted } = summary.unwrap_or_default();
        Self { is_pending: summary.is_none(), worst, count, accepted }
    }
}

fn torques(record: &Record, audit: AuditState) -> Vec<TorqueShown> {
    let Some(fastener) = record.as_fastener() else { return Vec::new() };
    let rounded = |torque: Torque| Number::from_f64(torque.newton_meters(), 4).value();
    let shown = |stage: usize, stated: &dyn ToString, (min, max): (Torque, Torque)| TorqueShown {
        stage,
        stated: stated.to_string(),
        min_nm: rounded(min),
        max_nm: rounded(max),
        is_checked: fastener.source.as_ref().is_some_and(Source::is_checked),
        audit,
        source: fastener.source.clone(),
    };
    let of_stage = |(stage, written): (usize, &Stage)| match written {
        Stage::Check(least) => Some(shown(stage, least, (least.quantity(), least.quantity()))),
        other => other.torque().map(|torque| shown(stage, &torque, torque.ends())),
    };
    fastener.stages.iter().enumerate().filter_map(of_stage).collect()
}

impl Serialize for Entry {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        match &self.members {
            None => self.stored.record.write_members(&mut map)?,
            Some(members) => {
                let whole = serde_json::to_value(&*self.stored.record).map_err(S::Error::custom)?;
                let is_shown = |name: &str| ALWAYS_SHOWN.contains(&name) || members.iter().any(|member| member == name);
                for (name, value) in whole.as_object().into_iter().flatten().filter(|(name, _)| is_shown(name)) {
                    map.serialize_entry(name, value)?;
                }
            }
        }
        map.serialize_entry("book", &self.book)?;
        map.end()
    }
}

/// A fastener with what the book knows about it, for the API's document: an [`Entry`] of a fastener.
#[derive(Debug)]
pub struct FastenerEntry;

/// A joint with what the book knows about it, for the API's document: an [`Entry`] of a joint.
#[derive(Debug)]
pub struct JointEntry;

/// The schema of a record with the member that the book adds.
fn with_book(record: RefOr<Schema>, description: &str) -> RefOr<Schema> {
    let RefOr::T(Schema::Object(mut object)) = record else { return record };
    object.properties.insert("book".to_owned(), Ref::from_schema_name(BookEntry::name()).into());
    object.required.push("book".to_owned());
    object.description = Some(description.to_owned());
    Schema::Object(object).into()
}

macro_rules! entry_schema {
    ($entry:ident, $record:ident, $description:literal) => {
        impl PartialSchema for $entry {
            fn schema() -> RefOr<Schema> {
                with_book($record::schema(), $description)
            }
        }

        impl ToSchema for $entry {
            fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
                $record::schemas(schemas);
                BookEntry::schemas(schemas);
                schemas.push((BookEntry::name().into_owned(), BookEntry::schema()));
            }
        }
    };
}

entry_schema!(FastenerEntry, Fastener, "A fastener with what the book knows about it.");
entry_schema!(JointEntry, Joint, "A joint with what the book knows about it.");

/// A fastener as it is sent to the path that names it, for the API's document: kind and id may be left out.
#[derive(Debug)]
pub struct FastenerInput;

/// A joint as it is sent to the path that names it, for the API's document: kind and id may be left out.
#[derive(Debug)]
pub struct JointInput;

/// The schema of a record whose kind and id the path says.
fn named_by_path(record: RefOr<Schema>) -> RefOr<Schema> {
    let RefOr::T(Schema::Object(mut object)) = record else { return record };
    object.required.retain(|name| name != "kind" && name != "id");
    Schema::Object(object).into()
}

macro_rules! input_schema {
    ($input:ident, $record:ident) => {
        impl PartialSchema for $input {
            fn schema() -> RefOr<Schema> {
                named_by_path($record::schema())
            }
        }

        impl ToSchema for $input {
            fn schemas(schemas: &mut Vec<(String, RefOr<Schema>)>) {
                $record::schemas(schemas);
            }
        }
    };
}

input_schema!(FastenerInput, Fastener);
input_schema!(JointInput, Joint);
