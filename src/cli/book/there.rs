//! The book when a server answers for it: every question and every write goes through the server's HTTP API.

use super::either::FindingReader;
use super::http::{Reply, Server};
use super::{Trait, Which};
use crate::catalog::{
    AuditScope, Decimal, Expected, ExportFormat, ImportFormat, ImportMode, ImportOptions, OnSame, PositionAsked, Write,
};
use crate::cli::failure::Failure;
use crate::cli::said::{Said, list, text};
use crate::record::{Id, Kind};
use crate::view::Written;
use serde_json::{Value, json};
use std::io::Read;
use std::time::Duration;

/// The book behind a server.
#[derive(Debug, Clone)]
pub struct There {
    pub(super) server: Server,
}

impl There {
    /// The book of this server.
    #[must_use]
    pub fn behind(server: Server) -> Self {
        Self { server }
    }

    /// One page of records; `pairs` is the question as it stands behind `?`.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses.
    pub fn find(&self, pairs: &[(String, String)]) -> Result<Said, Failure> {
        let kind = pairs.iter().find(|(name, _)| name == "kind").map(|(_, kind)| kind.parse::<Kind>());
        let (path, is_named) = match kind {
            Some(Ok(kind)) => (folder(kind), true),
            _ => ("/v1/records", false),
        };
        let pairs = pairs.iter().filter(|(name, _)| !is_named || name != "kind");
        let pairs: Vec<(&str, &str)> = pairs.map(|(name, value)| (name.as_str(), value.as_str())).collect();
        self.server.get(path, &pairs)?.said()
    }

    /// A record, or one of its revisions; nothing if it is not in the book.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses.
    pub fn entry(&self, id: &Id, which: Which) -> Result<Option<Said>, Failure> {
        match which {
            Which::Last => self.of_either_kind(id, "", &[]),
            Which::Revision(revision) => self.of_either_kind(id, &format!("/revisions/{revision}"), &[]),
            Which::AsOf(moment) => self.of_either_kind(id, "", &[("as_of", &moment.to_string())]),
        }
    }

    /// What the server has below a record, which is a fastener or a joint.
    fn of_either_kind(&self, id: &Id, below: &str, pairs: &[(&str, &str)]) -> Result<Option<Said>, Failure> {
        for kind in [Kind::Fastener, Kind::Joint] {
            if let Some(reply) = self.server.get(&format!("{}/{id}{below}", folder(kind)), pairs)?.unless_absent() {
                return Ok(Some(reply.said()?));
            }
        }
        Ok(None)
    }

    /// Ids that look like this one.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses.
    pub fn ids_near(&self, id: &Id) -> Result<Vec<String>, Failure> {
        let reply = self.server.get(&format!("{}/{id}", folder(Kind::Joint)), &[])?;
        let near = reply.value().get("near").and_then(Value::as_array).cloned().unwrap_or_default();
        Ok(near.iter().filter_map(Value::as_str).map(str::to_owned).collect())
    }

    /// What sits at a position; nothing if the book has no such joint.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses.
    pub fn position(&self, joint: &Id, asked: &PositionAsked<'_>) -> Result<Option<Said>, Failure> {
        let PositionAsked { position, head, variant, as_of } = asked;
        let (head, as_of) = (head.map(|head| head.to_string()), as_of.map(|moment| moment.to_string()));
        let mut pairs = Vec::new();
        pairs.extend(head.as_deref().map(|head| ("head", head)));
        pairs.extend(variant.map(|variant| ("variant", variant)));
        pairs.extend(as_of.as_deref().map(|moment| ("as_of", moment)));
        let reply = self.server.get(&format!("{}/{joint}/positions/{position}", folder(Kind::Joint)), &pairs)?;
        reply.unless_absent().map(Reply::said).transpose()
    }

    /// Tells the findings in a scope that are wanted, each as it comes.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses.
    pub fn findings(&self, scope: &AuditScope, reader: &mut dyn FindingReader) -> Result<(), Failure> {
        let mut count = 0;
        let mut tell = |reader: &mut dyn FindingReader, finding: Value| {
            count += 1;
            reader.goes_on(count, "findings read");
            if reader.wants(&Trait::of_json(&finding)) { reader.found(finding) } else { Ok(()) }
        };
        if let AuditScope::Ids(ids) = scope {
            for id in ids {
                let said = self.of_either_kind(id, "/findings", &[])?;
                said.iter().flat_map(Said::items).try_for_each(|finding| tell(reader, finding.clone()))?;
            }
            return Ok(());
        }
        let asked = reader.asks_for().to_vec();
        let mut pairs: Vec<(&str, &str)> = asked.iter().map(|(name, value)| (*name, value.as_str())).collect();
        if let AuditScope::Within(path) = scope {
            pairs.push(("within", path));
        }
        self.server.lines("/v1/exports/findings.ndjson", &pairs, &mut |line| tell(reader, line))
    }

    /// Does all writes, or none.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses; with the exit code for a book that has changed.
    pub fn apply(&self, writes: Vec<Write>) -> Result<Vec<Written>, Failure> {
        let write = match <[Write; 1]>::try_from(writes) {
            Ok([write]) => write,
            Err(writes) => return self.apply_batch(&writes),
        };
        let reply = match write {
            Write::Put { record, expected } => {
                let path = format!("{}/{}", folder(record.kind()), record.id());
                let body = serde_json::to_vec(&*record).unwrap_or_default();
                self.put(&path, expected, &body)?
            }
            Write::Withdraw { id, expected, why } => {
                let kind = if self.entry(&id, Which::Last)?.is_some_and(|said| text(said.value(), "kind") == "joint") {
                    Kind::Joint
                } else {
                    Kind::Fastener
                };
                let why = why.map(|why| why.to_string());
                let pairs: Vec<(&str, &str)> = why.iter().map(|why| ("why", why.as_str())).collect();
                let tag = tag(expected);
                self.server.send("DELETE", &format!("{}/{id}", folder(kind)), &pairs, &[("If-Match", &tag)], None)?
            }
        };
        Ok(vec![written(reply.said()?.value())])
    }

    /// Does several writes in one request, all or none.
    fn apply_batch(&self, writes: &[Write]) -> Result<Vec<Written>, Failure> {
        let of = |write: &Write| match write {
            Write::Put { record, expected } => json!({ "expected": expected_word(*expected), "record": &**record }),
            Write::Withdraw { id, expected, why } => {
                json!({ "expected": expected_word(*expected), "withdraw": id, "why": why })
            }
        };
        let body = json!({ "writes": writes.iter().map(of).collect::<Vec<_>>() }).to_string().into_bytes();
        let reply = self.server.send("POST", "/v1/batches", &[], &[], Some(("application/json", body)))?;
        Ok(reply.said()?.items().iter().map(written).collect())
    }

    fn put(&self, path: &str, expected: Expected, body: &[u8]) -> Result<Reply, Failure> {
        let put = |condition: (&str, &str)| {
            self.server.send("PUT", path, &[], &[condition], Some(("application/json", body.to_vec())))
        };
        match expected {
            Expected::New => put(("If-None-Match", "*")),
            Expected::Revision(_) => put(("If-Match", &tag(expected))),
            Expected::Any => {
                let reply = put(("If-Match", "*"))?;
                let is_absent = reply.status == 412 && reply.value().get("current").is_none();
                if is_absent { put(("If-None-Match", "*")) } else { Ok(reply) }
            }
        }
    }

    /// Takes records in, all of a file in one request.
    ///
    /// # Errors
    /// If the input can't be read, the server can't be reached, or refuses for another reason than faults.
    pub fn import(&self, mut input: impl Read, options: &ImportOptions) -> Result<Said, Failure> {
        let mut bytes = Vec::new();
        let read = input.read_to_end(&mut bytes);
        read.map_err(|error| Failure::undone(format!("{} cannot be read: {error}", options.name)))?;
        let (path, media_type) = match ImportFormat::of(bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&bytes)) {
            ImportFormat::Json => ("/v1/intakes", "application/json"),
            ImportFormat::Ndjson => ("/v1/intakes.ndjson", "application/x-ndjson"),
            ImportFormat::Csv => ("/v1/intakes.csv", "text/csv"),
        };
        let mut pairs = vec![("name", options.name.as_str())];
        pairs.push(("mode", mode_word(options.mode)));
        pairs.push(("on_same", on_same_word(options.on_same)));
        if path.ends_with(".csv") && options.decimal == Decimal::Comma {
            pairs.push(("decimal", "comma"));
        }
        let mut reply = self.server.send("POST", path, &pairs, &[], Some((media_type, bytes)))?;
        while reply.status == 202 {
            std::thread::sleep(PAUSE);
            let id = text(&reply.value(), "id").to_owned();
            reply = self.server.get(&format!("/v1/intakes/{id}"), &[])?;
        }
        // Faults are in the answer; what became of it otherwise is a no of the server.
        let refused = if reply.status == 422 { report_of(&reply.value()) } else { None };
        let mut report = match refused {
            Some(report) => report,
            None => reply.said()?.value().clone(),
        };
        // What only the server knows of it: the report is that of the store then, byte for byte.
        for name in ["id", "state", "mode", "at", "expires_at", "by"] {
            report.as_object_mut().and_then(|members| members.shift_remove(name));
        }
        Ok(Said::of(&report))
    }

    /// Every record in force as the server sends it, with how many there are.
    ///
    /// # Errors
    /// If the server can't be reached, refuses, or breaks off.
    pub fn export(&self, kind: Option<Kind>, format: ExportFormat) -> Result<(u64, Vec<u8>), Failure> {
        let what = kind.map_or("/v1/exports/records", |kind| match kind {
            Kind::Fastener => "/v1/exports/fasteners",
            Kind::Joint => "/v1/exports/joints",
        });
        let ending = match format {
            ExportFormat::Csv => "csv",
            ExportFormat::Ndjson => "ndjson",
        };
        self.server.get(&format!("{what}.{ending}"), &[])?.whole()
    }

    /// The changes after a number, waiting so long for one.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses.
    pub fn changes(&self, since: u64, take: usize, wait_seconds: u32) -> Result<Said, Failure> {
        let (since, take, wait) = (since.to_string(), take.min(CHANGES_MAX).to_string(), wait_seconds.to_string());
        self.server.get("/v1/changes", &[("since", &since), ("take", &take), ("wait", &wait)])?.said()
    }

    /// The revisions of a record; nothing if it has none.
    ///
    /// # Errors
    /// If the server can't be reached, or refuses.
    pub fn revisions(&self, id: &Id) -> Result<Option<Said>, Failure> {
        self.of_either_kind(id, "/revisions", &[])
    }
}

/// The report of an intake that was refused, with its faults in the shape of a report.
fn report_of(problem: &Value) -> Option<Value> {
    let mut report = problem.get("intake")?.clone();
    let fault = |error: &Value| {
        let names = ["line", "record", "column", "code", "pointer", "given", "allowed", "detail", "hint"];
        let there = names.into_iter().filter_map(|name| Some((name.to_owned(), error.get(name)?.clone())));
        Value::Object(there.collect())
    };
    report["faults"] = list(problem, "errors").iter().map(fault).collect();
    Some(report)
}

/// How long to wait before asking again for an intake that is under way.
const PAUSE: Duration = Duration::from_millis(500);

fn mode_word(mode: ImportMode) -> &'static str {
    match mode {
        ImportMode::Check => "check",
        ImportMode::Whole => "whole",
        ImportMode::Partial => "partial",
    }
}

fn on_same_word(on_same: OnSame) -> &'static str {
    match on_same {
        OnSame::Refuse => "refuse",
        OnSame::Skip => "skip",
        OnSame::Replace => "replace",
    }
}

/// The most changes that a server sends at once.
const CHANGES_MAX: usize = 1000;

fn folder(kind: Kind) -> &'static str {
    match kind {
        Kind::Fastener => "/v1/fasteners",
        Kind::Joint => "/v1/joints",
    }
}

fn expected_word(expected: Expected) -> String {
    match expected {
        Expected::New => "new".to_owned(),
        Expected::Any => "any".to_owned(),
        Expected::Revision(revision) => format!("r{revision}"),
    }
}

fn written(value: &Value) -> Written {
    Written {
        id: text(value, "id").to_owned(),
        revision: value["revision"].as_u64().unwrap_or_default(),
        changed: value["changed"] == true,
    }
}

fn tag(expected: Expected) -> String {
    match expected {
        Expected::Revision(revision) => format!("\"r{revision}\""),
        Expected::Any | Expected::New => "*".to_owned(),
    }
}
