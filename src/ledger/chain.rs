//! The hash chain over the record.
//!
//! Canonical bytes, format 1: each column in the order of the table, as one type byte and its content: `0x00` for
//! NULL; `0x01` and eight bytes big-endian for an integer; `0x02`, the length in eight bytes big-endian and the UTF-8
//! bytes for a text. The hash of an action is
//! `SHA-256(0x00 | "hangtime 1" | previous hash | action columns | for each entry: 0x1E | entry columns)` over every column but
//! the hashes themselves. The digest of an entry is the first eight bytes of `SHA-256(0x01 | entry columns)`: it tells
//! which entry of an action differs, the chain tells that one does.
//!
//! *What this cannot show*: somebody who rewrites the whole record can compute the whole chain anew. Only a head that
//! was kept elsewhere (a print-out, a backup) shows that.

use sha2::{Digest, Sha256};

/// A SHA-256 value.
pub type Hash = [u8; 32];

/// Canonical bytes under construction.
#[derive(Debug, Default, Clone)]
pub(super) struct Canonical(Vec<u8>);

impl Canonical {
    /// Empty, with room for the columns of a row with such a body.
    pub(super) fn of_body(body: &str) -> Self {
        Self(Vec::with_capacity(256 + body.len()))
    }

    pub(super) fn int(&mut self, value: i64) -> &mut Self {
        self.0.push(1);
        self.0.extend_from_slice(&value.to_be_bytes());
        self
    }

    pub(super) fn maybe_int(&mut self, value: Option<i64>) -> &mut Self {
        if let Some(v) = value {
            return self.int(v);
        }
        self.0.push(0);
        self
    }

    pub(super) fn text(&mut self, value: &str) -> &mut Self {
        self.0.push(2);
        self.0
            .extend_from_slice(&u64::try_from(value.len()).unwrap_or(u64::MAX).to_be_bytes());
        self.0.extend_from_slice(value.as_bytes());
        self
    }
}

/// Hash of an action from the hash before it, its own columns and those of its entries.
pub(super) fn action_hash(prev: &Hash, action: &Canonical, entries: &[Canonical]) -> Hash {
    let mut sha = Sha256::new();
    sha.update([0]);
    sha.update(b"hangtime 1");
    sha.update(prev);
    sha.update(&action.0);
    for entry in entries {
        sha.update([0x1E]);
        sha.update(&entry.0);
    }
    sha.finalize().into()
}

/// Digest of one entry.
pub(super) fn entry_digest(entry: &Canonical) -> [u8; 8] {
    let mut sha = Sha256::new();
    sha.update([1]);
    sha.update(&entry.0);
    let hash: Hash = sha.finalize().into();
    let mut short = [0; 8];
    short.copy_from_slice(hash.first_chunk::<8>().unwrap_or(&[0; 8]));
    short
}

/// SHA-256 of some bytes, as hexadecimal digits.
pub fn sha256_hex(bytes: &[u8]) -> String {
    hex(&<Hash>::from(Sha256::digest(bytes)))
}

/// Hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes
        .iter()
        .fold(String::with_capacity(bytes.len() * 2), |mut out, b| {
            let _ = write!(out, "{b:02x}");
            out
        })
}
