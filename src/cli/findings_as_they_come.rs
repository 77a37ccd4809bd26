//! Findings shown while the audit still runs: rows and lines as they come, a page or one document at the end.

use super::book::{FindingReader, Trait};
use super::failure::Failure;
use super::findings::{Findings, rows};
use super::output::{Form, Output};
use super::progress::Progress;
use serde_json::Value;
use std::time::{Duration, Instant};

/// Which findings are wanted.
type Wanted<'w> = &'w dyn Fn(&Trait<'_>) -> bool;

/// Shows findings in the form that was asked for.
pub struct AsTheyCome<'o> {
    output: &'o Output,
    wanted: Wanted<'o>,
    asked: Vec<(&'static str, String)>,
    progress: Progress,
    /// What is not shown yet.
    waiting: Vec<Value>,
    has_header: bool,
    /// When rows were written last.
    written: Option<Instant>,
    /// How many nobody has accepted.
    open: usize,
}

/// So many rows are written at once, and none waits longer than this for the others.
const AT_ONCE: usize = 256;
const WAIT: Duration = Duration::from_millis(200);

impl<'o> AsTheyCome<'o> {
    /// Shows the findings that are wanted. `asked` is what of that a server can choose by.
    #[must_use]
    pub fn new(output: &'o Output, wanted: Wanted<'o>, asked: Vec<(&'static str, String)>) -> Self {
        let progress = Progress::new("audit".to_owned());
        Self { output, wanted, asked, progress, waiting: Vec::new(), has_header: false, written: None, open: 0 }
    }

    /// Shows the rest, and says how many findings nobody has accepted.
    ///
    /// # Errors
    /// If standard output does not take it.
    pub fn end(mut self) -> Result<usize, Failure> {
        self.progress.clear();
        match self.output.form() {
            Form::Table | Form::Json => self.output.show(&Findings::of(std::mem::take(&mut self.waiting)))?,
            Form::Plain | Form::Csv | Form::Ndjson => self.write()?,
        }
        Ok(self.open)
    }

    fn write(&mut self) -> Result<(), Failure> {
        let findings = std::mem::take(&mut self.waiting);
        let bytes = match self.output.form() {
            Form::Ndjson => findings.iter().flat_map(crate::answer::json_bytes).collect(),
            Form::Csv if self.has_header => rows(&findings).to_csv_without_header().into_bytes(),
            Form::Csv => rows(&findings).to_csv().into_bytes(),
            _ => rows(&findings).to_plain().into_bytes(),
        };
        self.has_header = true;
        self.written = Some(Instant::now());
        self.progress.clear();
        self.output.write(&bytes)
    }
}

impl FindingReader for AsTheyCome<'_> {
    fn wants(&self, finding: &Trait<'_>) -> bool {
        (self.wanted)(finding)
    }

    fn goes_on(&mut self, count: usize, of: &str) {
        self.progress.show(count as u64, of);
    }

    fn found(&mut self, finding: Value) -> Result<(), Failure> {
        self.open += usize::from(finding.get("accepted").is_none());
        self.waiting.push(finding);
        let is_row = matches!(self.output.form(), Form::Plain | Form::Csv | Form::Ndjson);
        // The first is shown at once.
        let is_time = self.waiting.len() >= AT_ONCE || self.written.is_none_or(|written| written.elapsed() >= WAIT);
        if is_row && is_time { self.write() } else { Ok(()) }
    }

    fn asks_for(&self) -> &[(&'static str, String)] {
        &self.asked
    }
}
