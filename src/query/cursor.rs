//! Where a page ended, as text that belongs to one question.

use sha2::{Digest, Sha256};
use std::fmt;
use std::str::FromStr;

/// Where a page ended. Its text is opaque, is bound to the question by its fingerprint, and is signed with the
/// secret of the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cursor {
    /// The fingerprint of the question.
    pub fingerprint: u64,
    /// The last change that the first page knew.
    pub sequence: u64,
    /// The place of the page's last record in the order.
    pub key: Vec<u8>,
    signature: [u8; 8],
}

/// A text that is not a cursor, or not one for this question.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("this cursor does not belong to this question; ask for the first page again")]
pub struct NotACursor;

impl Cursor {
    /// The cursor of a place, signed.
    #[must_use]
    pub fn signed(fingerprint: u64, sequence: u64, key: Vec<u8>, secret: &[u8]) -> Self {
        let signature = sign(fingerprint, sequence, &key, secret);
        Self { fingerprint, sequence, key, signature }
    }

    /// Checks that the cursor is for the question with this fingerprint and was signed with this secret.
    ///
    /// # Errors
    /// If it is not, or was not.
    pub fn check(&self, fingerprint: u64, secret: &[u8]) -> Result<(), NotACursor> {
        let signed = sign(self.fingerprint, self.sequence, &self.key, secret) == self.signature;
        if signed && fingerprint == self.fingerprint { Ok(()) } else { Err(NotACursor) }
    }
}

fn sign(fingerprint: u64, sequence: u64, key: &[u8], secret: &[u8]) -> [u8; 8] {
    let mut hash = Sha256::new();
    hash.update(u64::try_from(secret.len()).unwrap_or(u64::MAX).to_be_bytes());
    hash.update(secret);
    hash.update(fingerprint.to_be_bytes());
    hash.update(sequence.to_be_bytes());
    hash.update(key);
    let digest = hash.finalize();
    std::array::from_fn(|i| digest[i])
}

impl fmt::Display for Cursor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (fingerprint, sequence) = (self.fingerprint.to_be_bytes(), self.sequence.to_be_bytes());
        let parts: [&[u8]; 4] = [&self.signature, &fingerprint, &sequence, &self.key];
        const DIGITS: &[u8; 16] = b"0123456789abcdef";
        let mut text = String::with_capacity(2 * (24 + self.key.len()));
        for byte in parts.into_iter().flatten() {
            text.push(char::from(DIGITS[usize::from(byte >> 4)]));
            text.push(char::from(DIGITS[usize::from(byte & 15)]));
        }
        f.write_str(&text)
    }
}

impl FromStr for Cursor {
    type Err = NotACursor;
    fn from_str(text: &str) -> Result<Self, NotACursor> {
        let bytes = from_hex(text).ok_or(NotACursor)?;
        let (signature, rest) = bytes.split_first_chunk::<8>().ok_or(NotACursor)?;
        let (fingerprint, rest) = rest.split_first_chunk::<8>().ok_or(NotACursor)?;
        let (sequence, key) = rest.split_first_chunk::<8>().ok_or(NotACursor)?;
        Ok(Self {
            fingerprint: u64::from_be_bytes(*fingerprint),
            sequence: u64::from_be_bytes(*sequence),
            key: key.to_vec(),
            signature: *signature,
        })
    }
}

fn from_hex(text: &str) -> Option<Vec<u8>> {
    let digit = |byte: u8| char::from(byte).to_digit(16).filter(|_| !byte.is_ascii_uppercase());
    let pairs = text.as_bytes().chunks(2);
    pairs.map(|pair| u8::try_from(digit(*pair.first()?)? << 4 | digit(*pair.get(1)?)?).ok()).collect()
}
