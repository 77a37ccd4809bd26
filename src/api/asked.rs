//! Reading the parameters after `?` of a request, all faults at once.
//!
//! The searches have a grammar of their own in `query`; this is for the paths with a few parameters.

use super::problem::{Part, Problem};
use crate::record::{Fault, Place, did_you_mean};
use actix_web::HttpRequest;
use std::fmt::Display;
use std::str::FromStr;

/// The parameters of a request, which are taken one by one; what is left over at the end is unknown.
#[derive(Debug)]
pub struct Asked {
    pairs: Vec<(String, String)>,
    known: Vec<&'static str>,
    faults: Vec<Fault>,
    is_lenient: bool,
}

impl Asked {
    /// The parameters of this request.
    #[must_use]
    pub fn of(request: &HttpRequest) -> Self {
        let pairs = pairs_of(request).into_owned().collect();
        Self { pairs, known: Vec::new(), faults: Vec::new(), is_lenient: wants_lenience(request) }
    }

    /// Takes a parameter that may be left out.
    pub fn optional<T: FromStr<Err: Display>>(&mut self, name: &'static str) -> Option<T> {
        self.known.push(name);
        let mut given = self.pairs.iter().filter(|(key, _)| key == name);
        let (_, value) = given.next()?;
        if given.next().is_some() {
            let detail = format!("\"{name}\" is given twice");
            self.faults.push(Fault::new("given-twice", &Place::root().below(name), detail).hint("Keep one of them"));
            return None;
        }
        match value.parse() {
            Ok(read) => Some(read),
            Err(error) => {
                let fault = Fault::new("unreadable", &Place::root().below(name), error.to_string()).given(value);
                self.faults.push(fault);
                None
            }
        }
    }

    /// Takes a list, whose values stand together or apart: `a=1,2` or `a=1&a=2`.
    pub fn list(&mut self, name: &'static str) -> Option<Vec<String>> {
        self.known.push(name);
        let given = self.pairs.iter().filter(|(key, _)| key == name);
        let values: Vec<String> =
            given.flat_map(|(_, value)| value.split(',')).map(|value| value.trim().to_owned()).collect();
        (!values.is_empty()).then_some(values)
    }

    /// Takes a parameter that must be there.
    pub fn required<T: FromStr<Err: Display>>(&mut self, name: &'static str, hint: &str) -> Option<T> {
        let value = self.optional(name);
        if !self.pairs.iter().any(|(key, _)| key == name) {
            let detail = format!("the parameter \"{name}\" must be given");
            self.faults.push(Fault::new("missing", &Place::root().below(name), detail).hint(hint));
        }
        value
    }

    /// Adds that a value can't be read, for a reason that only the handler can see.
    pub fn unreadable(&mut self, name: &str, given: &str, reason: impl Into<String>) {
        self.fault(Fault::new("unreadable", &Place::root().below(name), reason).given(given));
    }

    /// Adds a fault that only the handler can see.
    pub fn fault(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    /// Ends the reading: every parameter that was not asked about is unknown.
    ///
    /// # Errors
    /// All faults at once. `value` is what was read, and is nothing only where a fault was found.
    pub fn finish<T>(mut self, value: Option<T>) -> Result<T, Problem> {
        if !self.is_lenient {
            for (name, _) in self.pairs.iter().filter(|(name, _)| !self.known.contains(&name.as_str())) {
                let detail = format!("there is no parameter \"{name}\" here");
                let mut fault = Fault::new("unknown-parameter", &Place::root().below(name), detail).given(name);
                fault.hint = did_you_mean(name, &self.known);
                if !self.known.is_empty() {
                    fault.allowed = Some(self.known.join(", "));
                }
                self.faults.push(fault);
            }
        }
        match value {
            Some(value) if self.faults.is_empty() => Ok(value),
            _ => Err(Problem::unreadable(Part::Query, self.faults)),
        }
    }

    /// Ends the reading of a request that has no parameters.
    ///
    /// # Errors
    /// If it has some.
    pub fn nothing(request: &HttpRequest) -> Result<(), Problem> {
        Self::of(request).finish(Some(()))
    }
}

/// The parameters of a request as pairs, percent-decoded, in their order.
pub fn pairs_of(request: &HttpRequest) -> form_urlencoded::Parse<'_> {
    form_urlencoded::parse(request.query_string().as_bytes())
}

/// Whether the sender prefers that unknown parameters are passed over (RFC 7240 `handling=lenient`).
#[must_use]
pub fn wants_lenience(request: &HttpRequest) -> bool {
    let values = request.headers().get_all("prefer").filter_map(|value| value.to_str().ok());
    values
        .flat_map(|value| value.split(','))
        .any(|preference| preference.trim().eq_ignore_ascii_case("handling=lenient"))
}
