//! Stored shapes of what is known of climate loggers and of their files.

use super::{LedgerError, empty, json, read};
use crate::shop::logger_file::LoggerFact;
use serde::{Deserialize, Serialize};

/// The kinds that are read here.
pub(super) const KINDS: &[&str] = &["logger/1", "logger-file/1"];

shape!(LoggerShape {
    code: String,
    revision: String,
    text: String
});
shape!(LoggerFileShape {
    code: String,
    revision: String,
    room: String,
    file: String,
    sha256: String,
    lines: u32,
    left_out: u32,
    known: u32,
    other: u32
});

pub(super) fn encode(fact: LoggerFact) -> Result<(&'static str, String), LedgerError> {
    Ok(match fact {
        LoggerFact::Adopted {
            code,
            revision,
            text,
        } => (
            "logger/1",
            json(&LoggerShape {
                code,
                revision,
                text,
            })?,
        ),
        LoggerFact::Took {
            code,
            revision,
            room,
            file,
            sha256,
            lines,
            left_out,
            known,
            other,
        } => (
            "logger-file/1",
            json(&LoggerFileShape {
                code,
                revision,
                room,
                file,
                sha256,
                lines,
                left_out,
                known,
                other,
            })?,
        ),
    })
}

pub(super) fn decode(kind: &str, body: &str) -> Result<LoggerFact, LedgerError> {
    Ok(if kind == "logger/1" {
        let s: LoggerShape = read(kind, body)?;
        LoggerFact::Adopted {
            code: s.code,
            revision: s.revision,
            text: s.text,
        }
    } else {
        let s: LoggerFileShape = read(kind, body)?;
        LoggerFact::Took {
            code: s.code,
            revision: s.revision,
            room: s.room,
            file: s.file,
            sha256: s.sha256,
            lines: s.lines,
            left_out: s.left_out,
            known: s.known,
            other: s.other,
        }
    })
}

/// Golden texts: what a ledger written by an earlier version holds. They are never edited.
#[cfg(test)]
pub(super) const GOLDEN: &[(&str, &str)] = &[
    (
        "logger/1",
        r#"{"code":"CURE-1","revision":"2026-05","text":"[logger]\n"}"#,
    ),
    (
        "logger-file/1",
        r#"{"code":"CURE-1","revision":"2026-05","room":"cure room","file":"cure-05.csv","sha256":"00ff","lines":97,"left_out":1,"known":1}"#,
    ),
];
