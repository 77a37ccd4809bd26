//! The log of the service, on standard error: as text for people, or as JSON, one object a line.
//!
//! Lines are written by a thread of their own. A reader that does not keep up loses lines rather than holding up the
//! answers.

use clap::ValueEnum;
use std::io::IsTerminal;
use tracing::level_filters::LevelFilter;
use tracing_appender::non_blocking::{ErrorCounter, NonBlocking, NonBlockingBuilder, WorkerGuard};
use tracing_subscriber::filter::Targets;
use tracing_subscriber::fmt::layer;
use tracing_subscriber::layer::SubscriberExt;
use tracing_subscriber::registry;
use tracing_subscriber::util::SubscriberInitExt;

/// How the log is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LogForm {
    /// For people.
    Text,
    /// One JSON object a line.
    Json,
}

/// What the log tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LogLevel {
    /// Only what went wrong.
    Error,
    /// What may need somebody's attention, too.
    Warn,
    /// A line for each request, too.
    Info,
    /// What libraries have to say, too.
    Debug,
}

/// Options for the log.
#[derive(Debug, clap::Args)]
pub struct LogArguments {
    /// How the log on standard error is written: text, or json with one object a line.
    #[arg(
        long = "log",
        value_name = "FORM",
        default_value = "text",
        env = "CLAMPBOOK_LOG",
        hide_env_values = true,
        hide_possible_values = true
    )]
    log_form: LogForm,
    /// What it tells: error, warn, info (a line for each request) or debug.
    #[arg(
        long = "log-level",
        value_name = "LEVEL",
        default_value = "info",
        env = "CLAMPBOOK_LOG_LEVEL",
        hide_env_values = true,
        hide_possible_values = true
    )]
    log_level: LogLevel,
}

/// How many lines wait to be written at most.
const WAITING_MAX: usize = 16_384;

/// The log as long as it is written; what waits is written when this ends.
#[derive(Debug)]
pub struct Log {
    _writer: WorkerGuard,
    lost: ErrorCounter,
}

impl Log {
    /// Counts the lines that were lost because nobody read them in time.
    #[must_use]
    pub fn lost_lines(&self) -> ErrorCounter {
        self.lost.clone()
    }
}

impl LogArguments {
    /// Begins to write the log of this process.
    #[must_use]
    pub fn begin(&self) -> Log {
        let builder = NonBlockingBuilder::default().buffered_lines_limit(WAITING_MAX).lossy(true);
        let (writer, guard): (NonBlocking, _) = builder.thread_name("clampbook-log").finish(std::io::stderr());
        let lost = writer.error_counter();
        let (ours, others) = match self.log_level {
            LogLevel::Error => (LevelFilter::ERROR, LevelFilter::ERROR),
            LogLevel::Warn => (LevelFilter::WARN, LevelFilter::WARN),
            LogLevel::Info => (LevelFilter::INFO, LevelFilter::WARN),
            LogLevel::Debug => (LevelFilter::DEBUG, LevelFilter::DEBUG),
        };
        let filter = Targets::new().with_target("clampbook", ours).with_default(others);
        let layer = layer().with_writer(writer);
        // A second log of one process would be a fault of this program, and a log is not worth ending it.
        let _ = match self.log_form {
            LogForm::Text => {
                let layer = layer.with_ansi(std::io::stderr().is_terminal()).with_target(false);
                registry().with(filter).with(layer).try_init()
            }
            LogForm::Json => {
                let layer = layer.json().flatten_event(true).with_current_span(false).with_span_list(false);
                registry().with(filter).with(layer).try_init()
            }
        };
        Log { _writer: guard, lost }
    }
}
