//! Who may do what: the scope that a request needs, and whether its sender has it.

use super::failing::chain;
use super::problem::Problem;
use super::problem_kinds as kinds;
use super::tokens::{Scope, Token, Tokens};
use crate::catalog::{Author, MayCheck};
use crate::record::Record;
use actix_web::http::Method;
use actix_web::http::header::{AUTHORIZATION, COOKIE, HOST, HeaderMap, WWW_AUTHENTICATE};
use actix_web::{HttpMessage, HttpRequest};
use std::net::IpAddr;

/// What is allowed without a token, and the tokens.
#[derive(Debug)]
pub struct Access {
    /// Whether anybody may read.
    pub anonymous_read: bool,
    /// Whether anybody may write.
    pub anonymous_write: bool,
    /// The tokens.
    pub tokens: Tokens,
}

/// Who sent a request.
#[derive(Debug, Clone)]
pub enum Caller {
    /// Somebody without a token, where that is allowed.
    Anybody,
    /// The holder of a token.
    Holder(Token),
}

/// The scope that a request needs; none for what says nothing of the book.
#[must_use]
pub fn needed(method: &Method, path: &str) -> Option<Scope> {
    if !path.starts_with("/v1/") {
        return None;
    }
    let only_computes = matches!(
        path,
        "/v1/tightening" | "/v1/audits" | "/v1/ranges" | "/v1/kits" | "/v1/kits.csv" | "/v1/ways" | "/v1/labels"
    );
    let reads = matches!(*method, Method::GET | Method::HEAD) || (*method == Method::POST && only_computes);
    Some(if reads { Scope::Read } else { Scope::Write })
}

impl Access {
    /// Who sends a request that needs this scope.
    ///
    /// # Errors
    /// 401 without a good token where one is needed, 403 if it does not allow this.
    pub fn check(&self, headers: &HeaderMap, scope: Scope) -> Result<Caller, Problem> {
        let Some(given) = headers.get(AUTHORIZATION) else {
            if scope == Scope::Read
                && let Some(token) = self.of_cookie(headers)
            {
                return Ok(Caller::Holder(token));
            }
            let is_free = match scope {
                Scope::Read => self.anonymous_read,
                _ => self.anonymous_write && names_this_machine(headers),
            };
            return if is_free {
                Ok(Caller::Anybody)
            } else {
                Err(wanted("this needs a token, and none was sent", ""))
            };
        };
        let text = given.to_str().ok().and_then(|text| text.split_once(' '));
        let Some((_, text)) = text.filter(|(scheme, _)| scheme.eq_ignore_ascii_case("bearer")) else {
            return Err(wanted("the header Authorization is not Bearer and a token", ", error=\"invalid_request\""));
        };
        self.holder(text, scope)
    }

    /// The holder of a token that allows this.
    ///
    /// # Errors
    /// 401 if the token is not good, 403 if it does not allow this.
    pub fn holder(&self, text: &str, scope: Scope) -> Result<Caller, Problem> {
        match self.tokens.find(text.trim()) {
            Ok(Some(token)) if token.allows(scope) => Ok(Caller::Holder(token)),
            Ok(Some(_)) => Err(too_narrow(scope)),
            Ok(None) => Err(wanted("the token is unknown, ended or revoked", ", error=\"invalid_token\"")),
            Err(error) => Err(Problem::internal(&chain(&error))),
        }
    }
}

/// Whether a request names this machine as its own: a page from elsewhere whose name was made to lead here
/// still names its own host.
#[must_use]
pub fn names_this_machine(headers: &HeaderMap) -> bool {
    let Some(host) = headers.get(HOST) else { return true };
    let host = host.to_str().unwrap_or_default();
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => host,
    };
    let address = name.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>();
    name.eq_ignore_ascii_case("localhost") || address.is_ok_and(|address| address.is_loopback())
}

impl Access {
    /// The token that a browser keeps for the pages, if it is good for reading. It never allows more: whoever makes a
    /// browser send it can read nothing of the answer, and change nothing.
    fn of_cookie(&self, headers: &HeaderMap) -> Option<Token> {
        let all = headers.get_all(COOKIE).filter_map(|value| value.to_str().ok());
        let text = all.flat_map(|text| text.split(';')).find_map(|pair| pair.trim().strip_prefix("clampbook="))?;
        self.tokens.find(text).ok().flatten().filter(|token| token.allows(Scope::Read))
    }
}

fn wanted(detail: &str, more: &str) -> Problem {
    let challenge = format!("Bearer realm=\"clampbook\"{more}");
    Problem::new(&kinds::TOKEN_WANTED, detail).header(WWW_AUTHENTICATE, &challenge)
}

fn too_narrow(scope: Scope) -> Problem {
    let word = scope.word();
    let challenge = format!("Bearer realm=\"clampbook\", error=\"insufficient_scope\", scope=\"{word}\"");
    let detail = format!("this needs the scope {word}, which the token does not have");
    Problem::new(&kinds::NOT_ALLOWED, detail).header(WWW_AUTHENTICATE, &challenge)
}

impl Caller {
    /// Who sent a request that was let in.
    #[must_use]
    pub fn of(request: &HttpRequest) -> Self {
        request.extensions().get::<Self>().cloned().unwrap_or(Self::Anybody)
    }

    /// The name that a write is entered under.
    #[must_use]
    pub fn author(&self) -> Author {
        match self {
            Self::Anybody => Author::unknown(),
            Self::Holder(token) => token.label.parse().map_or_else(|_| Author::unknown(), Author::named),
        }
    }

    /// Who may say that records of an intake were checked, if this sender brings it in. An administrator brings in whole books,
    /// which are believed.
    #[must_use]
    pub fn checks(&self) -> MayCheck {
        match self {
            Self::Anybody => MayCheck::Everybody,
            Self::Holder(token) if token.allows(Scope::Admin) => MayCheck::Everybody,
            Self::Holder(token) if token.allows(Scope::Check) => MayCheck::Another(token.label.clone()),
            Self::Holder(_) => MayCheck::Nobody,
        }
    }

    /// Whether the sender may say that an entry was compared with its source. Two pairs of eyes: not the one who
    /// stored the revision.
    ///
    /// # Errors
    /// 403 if the scope is missing, or the sender stored the revision.
    pub fn may_check(&self, before: Option<&crate::catalog::Stored>, now: &Record) -> Result<(), Problem> {
        let checked_by = |record: &Record| record.source().and_then(|source| source.checked_by.clone());
        let new = checked_by(now);
        if new.is_none() || new == before.and_then(|before| checked_by(&before.record)) {
            return Ok(());
        }
        let Self::Holder(token) = self else { return Ok(()) };
        if !token.allows(Scope::Check) {
            return Err(too_narrow(Scope::Check));
        }
        let author = before.and_then(|before| before.changed_by.as_ref()).map(crate::record::Text::as_str);
        if before.is_none() || author == Some(token.label.as_str()) {
            let detail = "an entry is checked by somebody other than the one who stored it";
            return Err(Problem::new(&kinds::NOT_ALLOWED, detail));
        }
        Ok(())
    }
}
