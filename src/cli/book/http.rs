//! Asking a server: addresses, tokens, and what a no of the API means at the command line.

use crate::cli::failure::Failure;
use crate::cli::said::{Said, list, text};
use serde_json::Value;
use std::io::BufRead;
use std::path::Path;
use std::time::Duration;
use ureq::tls::{PemItem, RootCerts, TlsConfig, parse_pem};

/// A server of this program.
#[derive(Debug, Clone)]
pub struct Server {
    base: String,
    token: Option<String>,
    agent: ureq::Agent,
}

/// What a server said.
#[derive(Debug)]
pub struct Reply {
    /// The status.
    pub status: u16,
    records: Option<u64>,
    audited_up_to: Option<u64>,
    bytes: Vec<u8>,
}

/// How long a server may take to be there.
const CONNECT_TIME: Duration = Duration::from_secs(10);
/// How long an answer may take; exports are long, and waiting for changes is.
pub const ANSWER_TIME: Duration = Duration::from_secs(300);
/// The most bytes of an answer.
const ANSWER_MAX: u64 = 4 << 30;

impl Server {
    /// The server at an address such as `http://127.0.0.1:8470`, which may take so long to answer.
    #[must_use]
    pub fn at(address: &str, token: Option<String>, roots: Option<RootCerts>, patience: Duration) -> Self {
        let tls = TlsConfig::builder();
        let tls = match roots {
            Some(roots) => tls.root_certs(roots),
            None => tls,
        };
        let config = ureq::Agent::config_builder()
            .http_status_as_error(false)
            .max_redirects(0)
            .timeout_connect(Some(CONNECT_TIME))
            .timeout_global(Some(patience))
            .tls_config(tls.build())
            .user_agent(concat!("clampbook/", env!("CARGO_PKG_VERSION")))
            .build();
        Self { base: address.trim_end_matches('/').to_owned(), token, agent: config.new_agent() }
    }

    /// Reads a path.
    ///
    /// # Errors
    /// If the server can't be reached.
    pub fn get(&self, path: &str, pairs: &[(&str, &str)]) -> Result<Reply, Failure> {
        self.send("GET", path, pairs, &[], None)
    }

    /// Sends a request.
    ///
    /// # Errors
    /// If the server can't be reached.
    pub fn send(
        &self,
        method: &str,
        path: &str,
        pairs: &[(&str, &str)],
        headers: &[(&str, &str)],
        body: Option<(&str, Vec<u8>)>,
    ) -> Result<Reply, Failure> {
        let request = self.request(method, path, pairs, headers);
        let sent = match body {
            Some((media_type, bytes)) => {
                let request = request.header("Content-Type", media_type).body(bytes);
                self.agent.run(request.map_err(|error| self.wrong(&error))?)
            }
            None => self.agent.run(request.body(()).map_err(|error| self.wrong(&error))?),
        };
        self.read(self.reached(sent)?)
    }

    /// A request that is still without a body.
    fn request(
        &self,
        method: &str,
        path: &str,
        pairs: &[(&str, &str)],
        headers: &[(&str, &str)],
    ) -> ureq::http::request::Builder {
        let query: Vec<String> =
            pairs.iter().map(|(name, value)| format!("{}={}", encoded(name), encoded(value))).collect();
        let mark = if query.is_empty() { "" } else { "?" };
        let mut request =
            ureq::http::Request::builder().method(method).uri(format!("{}{path}{mark}{}", self.base, query.join("&")));
        for (name, value) in headers {
            request = request.header(*name, *value);
        }
        if let Some(token) = &self.token {
            request = request.header("Authorization", format!("Bearer {token}"));
        }
        request
    }

    fn wrong(&self, error: &dyn std::fmt::Display) -> Failure {
        Failure::usage(format!("{} can't be asked: {error}", self.base))
    }

    /// Reads an answer of one JSON object a line, and tells each as it comes.
    ///
    /// # Errors
    /// If the server can't be reached or refuses, if the answer breaks off, or `tell` fails.
    pub fn lines(
        &self,
        path: &str,
        pairs: &[(&str, &str)],
        tell: &mut dyn FnMut(Value) -> Result<(), Failure>,
    ) -> Result<(), Failure> {
        let request = self.request("GET", path, pairs, &[]).body(());
        let mut response = self.reached(self.agent.run(request.map_err(|error| self.wrong(&error))?))?;
        if !response.status().is_success() {
            return Err(self.read(response)?.refused());
        }
        let broke_off = |why: &dyn std::fmt::Display| {
            Failure::undone(format!("the answer of the server at {} broke off: {why}", self.base))
        };
        let body = response.body_mut().with_config().limit(ANSWER_MAX).reader();
        for line in std::io::BufReader::new(body).lines() {
            let line = line.map_err(|error| broke_off(&error))?;
            tell(serde_json::from_str(&line).map_err(|error| broke_off(&error))?)?;
        }
        Ok(())
    }

    fn reached(
        &self,
        sent: Result<ureq::http::Response<ureq::Body>, ureq::Error>,
    ) -> Result<ureq::http::Response<ureq::Body>, Failure> {
        sent.map_err(|error| {
            let message =
                format!("the server at {} can't be reached: {error}. Is \"clampbook serve\" running?", self.base);
            Failure::undone(message)
        })
    }

    fn read(&self, mut response: ureq::http::Response<ureq::Body>) -> Result<Reply, Failure> {
        let header = |name| response.headers().get(name).and_then(|value| value.to_str().ok());
        let records = header("record-count").and_then(|count| count.parse().ok());
        let audited_up_to = header("book-audited").and_then(|change| change.rsplit('.').next()?.parse().ok());
        let bytes = response.body_mut().with_config().limit(ANSWER_MAX).read_to_vec().map_err(|error| {
            Failure::undone(format!("the answer of the server at {} broke off: {error}", self.base))
        })?;
        Ok(Reply { status: response.status().as_u16(), records, audited_up_to, bytes })
    }
}

/// The authorities in a file of certificates (PEM), which are trusted instead of the public ones.
///
/// # Errors
/// If it can't be read, or holds no certificate.
pub fn authorities(path: &Path) -> Result<RootCerts, Failure> {
    let wrong = |why: &dyn std::fmt::Display| {
        Failure::undone(format!("{} cannot be read as certificates: {why}", path.display()))
    };
    let bytes = std::fs::read(path).map_err(|error| wrong(&error))?;
    let mut certificates = Vec::new();
    for item in parse_pem(&bytes) {
        if let PemItem::Certificate(certificate) = item.map_err(|error| wrong(&error))? {
            certificates.push(certificate);
        }
    }
    if certificates.is_empty() {
        return Err(wrong(&"there is none in it, in PEM"));
    }
    Ok(RootCerts::new_with_certs(&certificates))
}

/// A text as it stands in an address.
fn encoded(text: &str) -> String {
    let one = |byte: u8| match byte {
        b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => char::from(byte).to_string(),
        _ => format!("%{byte:02X}"),
    };
    text.bytes().map(one).collect()
}

impl Reply {
    /// The body as JSON; null if it is none.
    #[must_use]
    pub fn value(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_default()
    }

    /// The reply, unless it says that there is nothing of this name.
    #[must_use]
    pub fn unless_absent(self) -> Option<Self> {
        (self.status != 404).then_some(self)
    }

    /// The bytes of a yes.
    ///
    /// # Errors
    /// If it is a no.
    pub fn good(self) -> Result<Vec<u8>, Failure> {
        if (200..300).contains(&self.status) { Ok(self.bytes) } else { Err(self.refused()) }
    }

    /// What the server said.
    ///
    /// # Errors
    /// If it is a no, or no JSON.
    pub fn said(self) -> Result<Said, Failure> {
        let foreign = "what answers there does not speak as this program does. Is the address right?";
        let audited_up_to = self.audited_up_to;
        let said = Said::of_bytes(self.good()?).ok_or_else(|| Failure::undone(foreign))?;
        Ok(said.audited_up_to(audited_up_to))
    }

    /// The bytes of an export, with how many records they hold.
    ///
    /// # Errors
    /// If it is a no, or does not say how many records it has.
    pub fn whole(self) -> Result<(u64, Vec<u8>), Failure> {
        let records = self.records;
        let bytes = self.good()?;
        let records = records.ok_or_else(|| Failure::undone("the server does not say how many records it sent"))?;
        Ok((records, bytes))
    }

    /// A no of the API in words, with the exit code that it has here.
    fn refused(&self) -> Failure {
        let value = self.value();
        let mut message = match text(&value, "detail") {
            "" => format!("the server answers with status {}", self.status),
            detail => detail.to_owned(),
        };
        let errors = list(&value, "errors");
        if errors.len() > 1 {
            for error in errors {
                message += &format!("\n{}: {}", text(error, "pointer"), text(error, "detail"));
            }
        }
        match self.status {
            401 => Failure::not_allowed(format!(
                "{message}. Name a file with one in --token, or set CLAMPBOOK_TOKEN; \"clampbook token new\" makes one \
                 where the server runs"
            )),
            403 => Failure::not_allowed(message),
            412 => Failure::changed(format!("{message}. Read it again and repeat the change")),
            400 | 404 | 409 | 410 | 413 | 415 | 422 => Failure::no(Some(message)),
            429 => Failure::undone(format!("{message}. Wait a little and try again")),
            _ => Failure::undone(message),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_in_an_address_is_encoded() {
        assert_eq!(encoded("3/8-16 UNC"), "3%2F8-16%20UNC");
        assert_eq!(encoded("M8×1.25"), "M8%C3%971.25");
    }

    #[test]
    fn a_server_that_is_not_there_is_told_so() {
        let told = Server::at("http://127.0.0.1:1", None, None, ANSWER_TIME).get("/v1/fasteners", &[]).unwrap_err();
        assert!(format!("{told:?}").contains("can't be reached"), "{told:?}");
    }
}
