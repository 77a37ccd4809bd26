//! The seal of a form: what a page carries that was made by this service, and that no page from elsewhere can read.

use sha2::{Digest, Sha256};
use std::sync::OnceLock;
use std::time::{SystemTime, UNIX_EPOCH};

/// How long a form may stand open: between one and two of these.
const PERIOD_SECONDS: u64 = 12 * 3600;

/// A seal for a form that is sent out now; none if the machine gives no chance to make it from.
pub fn seal() -> Option<String> {
    Some(sealed(key()?, period()))
}

/// Whether a form carries a seal of this service that has not run out.
pub fn holds(given: &str) -> bool {
    let Some(key) = key() else { return false };
    let now = period();
    [now, now.saturating_sub(1)].into_iter().map(|period| sealed(key, period)).any(|seal| is_same(&seal, given))
}

fn period() -> u64 {
    SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_secs() / PERIOD_SECONDS)
}

/// What nobody but this process knows.
fn key() -> Option<&'static [u8; 32]> {
    static KEY: OnceLock<Option<[u8; 32]>> = OnceLock::new();
    let made = || {
        let mut key = [0; 32];
        getrandom::fill(&mut key).ok().map(|()| key)
    };
    KEY.get_or_init(made).as_ref()
}

/// Key and period have a fixed length, so that nothing can be appended to them.
fn sealed(key: &[u8; 32], period: u64) -> String {
    let digest = Sha256::new().chain_update(key).chain_update(period.to_be_bytes()).finalize();
    digest.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Compares without telling by its time where two texts part.
fn is_same(a: &str, b: &str) -> bool {
    a.len() == b.len() && a.bytes().zip(b.bytes()).fold(0, |parted, (a, b)| parted | (a ^ b)) == 0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_was_made_here_and_lately_holds() {
        let made = seal().unwrap();
        assert!(holds(&made));
        assert!(!holds("") && !holds(&made.replace(|c: char| c == made.chars().next().unwrap(), "x")));
        let key = key().unwrap();
        assert!(holds(&sealed(key, period() - 1)) && !holds(&sealed(key, period() - 2)));
        assert!(!holds(&sealed(&[0; 32], period())));
    }
}
