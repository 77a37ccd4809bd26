//! How many requests one token, or one address without a token, may send.
//!
//! What is told about it is the `RateLimit` and `RateLimit-Policy` fields of the draft of the IETF's HTTPAPI group.

use super::access::Caller;
use super::problem::Problem;
use super::problem_kinds as kinds;
use actix_web::http::header::{HeaderName, RETRY_AFTER};
use governor::clock::{Clock, MonotonicClock};
use governor::middleware::StateInformationMiddleware;
use governor::state::keyed::DashMapStateStore;
use governor::{Quota, RateLimiter};
use std::net::IpAddr;
use std::num::NonZeroU32;

/// How many there may be in all and in how many seconds.
pub const RATE_LIMIT_POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");
/// How many are left, and in how many seconds all of them are there again.
pub const RATE_LIMIT: HeaderName = HeaderName::from_static("ratelimit");

/// The seconds that a rate is told for.
const WINDOW: u32 = 60;

/// Who is counted.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Counted {
    Token(u64),
    Address(Option<IpAddr>),
}

type Limiter = RateLimiter<Counted, DashMapStateStore<Counted>, MonotonicClock, StateInformationMiddleware>;

/// What everybody may send, and what everybody has sent lately.
#[derive(Debug)]
pub struct Rates {
    a_minute: NonZeroU32,
    limiter: Limiter,
}

/// How many requests somebody has left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Left {
    a_minute: u32,
    left: u32,
}

impl Rates {
    /// Lets everybody send so many requests a minute, all of them at once if they like.
    #[must_use]
    pub fn of(a_minute: NonZeroU32) -> Self {
        let limiter = RateLimiter::dashmap_with_clock(Quota::per_minute(a_minute), MonotonicClock);
        Self { a_minute, limiter: limiter.with_middleware() }
    }

    /// Counts a request of this caller, from this address if nobody is known to have sent it.
    ///
    /// # Errors
    /// 429 if there were too many.
    pub fn count(&self, caller: Option<&Caller>, address: Option<IpAddr>) -> Result<Left, Problem> {
        let who = match caller {
            Some(Caller::Holder(token)) => Counted::Token(token.id),
            Some(Caller::Anybody) | None => Counted::Address(address),
        };
        let a_minute = self.a_minute.get();
        match self.limiter.check_key(&who) {
            Ok(state) => Ok(Left { a_minute, left: state.remaining_burst_capacity().min(a_minute) }),
            Err(until) => {
                let wait = until.wait_time_from(MonotonicClock.now()).as_secs() + 1;
                let whose = match who {
                    Counted::Token(_) => "this token",
                    Counted::Address(_) => "this address",
                };
                let detail = format!("{whose} may send {a_minute} requests a minute, and has");
                let left = Left { a_minute, left: 0 };
                let mut problem =
                    Problem::new(&kinds::TOO_MANY_REQUESTS, detail).header(RETRY_AFTER, &wait.to_string());
                for (name, value) in left.fields() {
                    problem = problem.header(name, &value);
                }
                Err(problem)
            }
        }
    }

    /// Forgets those who have sent nothing lately.
    pub fn forget(&self) {
        self.limiter.retain_recent();
    }
}

impl Left {
    /// The header fields that say so.
    #[must_use]
    pub fn fields(self) -> [(HeaderName, String); 2] {
        let Self { a_minute, left } = self;
        let missing = u64::from(a_minute.saturating_sub(left));
        let again = (missing * u64::from(WINDOW)).div_ceil(u64::from(a_minute.max(1)));
        [
            (RATE_LIMIT_POLICY, format!("\"caller\";q={a_minute};w={WINDOW}")),
            (RATE_LIMIT, format!("\"caller\";r={left};t={again}")),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_address_has_its_own_number_and_is_told_how_many_are_left() {
        let rates = Rates::of(NonZeroU32::new(3).unwrap());
        let (one, other) = ("127.0.0.1".parse().ok(), "127.0.0.2".parse().ok());
        let left: Vec<u32> = (0..3).map(|_| rates.count(None, one).unwrap().left).collect();
        assert_eq!(left, [2, 1, 0]);
        let refused = rates.count(None, one).unwrap_err();
        assert_eq!(refused.kind().name, "too-many-requests");
        assert!(refused.to_string().contains("3 requests a minute"), "{refused}");
        assert_eq!(rates.count(None, other).unwrap().left, 2);
        rates.forget();
        assert!(rates.count(None, one).is_err(), "who was counted lately is not forgotten");
    }

    #[test]
    fn the_fields_are_structured_fields() {
        let [policy, limit] = Left { a_minute: 120, left: 119 }.fields();
        assert_eq!((policy.1.as_str(), limit.1.as_str()), ("\"caller\";q=120;w=60", "\"caller\";r=119;t=1"));
        assert_eq!(Left { a_minute: 120, left: 0 }.fields()[1].1, "\"caller\";r=0;t=60");
    }
}
