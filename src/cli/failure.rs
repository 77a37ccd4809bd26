//! How a command ends when it does not end well, and with which exit code.

use std::fmt;
use std::process::ExitCode;

/// A command that did not end well: what, where, what to do, and the exit code.
#[derive(Debug)]
pub struct Failure {
    code: u8,
    message: Option<String>,
}

/// The exit codes and what they mean; `explain` shows them.
pub const EXIT_CODES: &[(u8, &str)] = &[
    (0, "done, found, clean"),
    (1, "the answer is no: nothing found, findings at or above --at-least, import refused"),
    (2, "wrong command line"),
    (3, "could not be done"),
    (4, "not allowed"),
    (5, "changed since you read it"),
    (130, "interrupted"),
];

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.message.as_deref().unwrap_or_default())
    }
}

impl Failure {
    /// The answer is no; a message only where it is not plain from the output.
    #[must_use]
    pub fn no(message: Option<String>) -> Self {
        Self { code: 1, message }
    }

    /// The command line is wrong.
    #[must_use]
    pub fn usage(message: impl fmt::Display) -> Self {
        Self { code: 2, message: Some(message.to_string()) }
    }

    /// It could not be done.
    #[must_use]
    pub fn undone(message: impl fmt::Display) -> Self {
        Self { code: 3, message: Some(message.to_string()) }
    }

    /// It is not allowed.
    #[must_use]
    pub fn not_allowed(message: impl fmt::Display) -> Self {
        Self { code: 4, message: Some(message.to_string()) }
    }

    /// The book has changed since it was read.
    #[must_use]
    pub fn changed(message: impl fmt::Display) -> Self {
        Self { code: 5, message: Some(message.to_string()) }
    }

    /// An error of the catalog: its words and those of what caused it.
    #[must_use]
    pub fn of_error(error: &crate::catalog::CatalogError) -> Self {
        use crate::catalog::{CatalogError, StoreError};
        if let CatalogError::Stream { source, .. } = error
            && source.kind() == std::io::ErrorKind::BrokenPipe
        {
            return Self::closed_pipe();
        }
        let code = match error {
            CatalogError::Store(StoreError::Changed { found: Some(_), .. }) => 5,
            CatalogError::Store(StoreError::Changed { found: None, .. }) => 1,
            CatalogError::Cursor(_) => 2,
            _ => 3,
        };
        let mut message = error.to_string();
        let mut cause = std::error::Error::source(error);
        while let Some(deeper) = cause {
            message = format!("{message}: {deeper}");
            cause = deeper.source();
        }
        Self { code, message: Some(message) }
    }

    /// Standard output did not take the result; a pipe closed at the other end is no error.
    #[must_use]
    pub fn of_output(error: &std::io::Error) -> Self {
        if error.kind() == std::io::ErrorKind::BrokenPipe {
            return Self::closed_pipe();
        }
        Self::undone(format!("the result could not be written to standard output: {error}"))
    }

    /// The reader of the output went away, which is no fault of anybody.
    #[must_use]
    pub fn closed_pipe() -> Self {
        Self { code: 0, message: None }
    }

    /// Says it on standard error and gives the exit code.
    #[must_use]
    pub fn report(&self) -> ExitCode {
        if let Some(message) = &self.message {
            eprintln!("clampbook: {message}");
        }
        ExitCode::from(self.code)
    }
}
