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

use rusqlite::types::ValueRef;
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
        self.bytes_of(value.as_bytes())
    }

    fn bytes_of(&mut self, text: &[u8]) -> &mut Self {
        self.0.push(2);
        self.0
            .extend_from_slice(&u64::try_from(text.len()).unwrap_or(u64::MAX).to_be_bytes());
        self.0.extend_from_slice(text);
        self
    }

    /// A column as it lies in a row. No column of the record has a number with a fraction or plain bytes: such a row gets bytes
    /// that no row has which was written.
    pub(super) fn column(&mut self, value: ValueRef<'_>) -> &mut Self {
        match value {
            ValueRef::Null => self.maybe_int(None),
            ValueRef::Integer(value) => self.int(value),
            ValueRef::Text(text) => self.bytes_of(text),
            ValueRef::Real(_) | ValueRef::Blob(_) => {
                self.0.push(0xFF);
                self
            }
        }
    }

    /// The bytes so far.
    pub(super) fn bytes(&self) -> &[u8] {
        &self.0
    }
}

/// Hash of an action from the hash before it, its own columns and those of its entries, as canonical bytes.
pub(super) fn action_hash<'a>(
    prev: &Hash,
    action: &[u8],
    entries: impl IntoIterator<Item = &'a [u8]>,
) -> Hash {
    let mut sha = Sha256::new();
    sha.update([0]);
    sha.update(b"hangtime 1");
    sha.update(prev);
    sha.update(action);
    for entry in entries {
        sha.update([0x1E]);
        sha.update(entry);
    }
    sha.finalize().into()
}

/// Digest of one entry from its canonical bytes.
pub(super) fn entry_digest(entry: &[u8]) -> [u8; 8] {
    let mut sha = Sha256::new();
    sha.update([1]);
    sha.update(entry);
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
