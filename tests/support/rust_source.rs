//! A small reader of Rust source: enough to tell code, text and comments apart and to leave test modules out.
//!
//! It is no parser. It knows string, raw string, byte string and character literals, line, nested block and doc
//! comments, and which item a `#[cfg(test)]` stands before.

use std::path::{Path, PathBuf};

/// One piece of source and the line it starts on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Token {
    pub(crate) line: usize,
    pub(crate) piece: Piece,
}

/// What a token is. A text keeps the line of each of its characters, as a literal can run over many lines.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Piece {
    Name(String),
    Sign(char),
    Text(Vec<(usize, char)>),
    Doc(Vec<(usize, char)>),
}

impl Token {
    pub(crate) fn is_name(&self, wanted: &str) -> bool {
        matches!(&self.piece, Piece::Name(name) if name == wanted)
    }

    pub(crate) fn is_sign(&self, wanted: char) -> bool {
        self.piece == Piece::Sign(wanted)
    }
}

/// The tokens of a source without the items that are compiled for tests only.
pub(crate) fn shipped(source: &str) -> Vec<Token> {
    without_test_items(&tokens(source))
}

/// Every `.rs` file under a folder, in a fixed order; none when the folder does not exist.
pub(crate) fn files_under(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let Ok(entries) = std::fs::read_dir(folder) else {
        return found;
    };
    for entry in entries {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files_under(&path));
        } else {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// A reader that walks over characters and counts lines.
struct Walk {
    signs: Vec<char>,
    at: usize,
    line: usize,
}

impl Walk {
    fn peek(&self, ahead: usize) -> Option<char> {
        self.signs.get(self.at + ahead).copied()
    }

    fn step(&mut self) -> Option<(usize, char)> {
        let sign = self.peek(0)?;
        let here = self.line;
        self.at += 1;
        if sign == '\n' {
            self.line += 1;
        }
        Some((here, sign))
    }

    fn rest_of_line(&mut self) -> Vec<(usize, char)> {
        let mut text = Vec::new();
        while self.peek(0).is_some_and(|sign| sign != '\n') {
            text.extend(self.step());
        }
        text
    }

    fn block_comment(&mut self) -> Vec<(usize, char)> {
        let mut text = Vec::new();
        let mut depth = 0;
        while let Some(sign) = self.peek(0) {
            let opens = sign == '/' && self.peek(1) == Some('*');
            let closes = sign == '*' && self.peek(1) == Some('/');
            text.extend(self.step());
            if opens || closes {
                text.extend(self.step());
                depth += if opens { 1 } else { -1 };
            }
            if depth == 0 {
                break;
            }
        }
        text
    }

    /// The text of a literal after its opening quote, escapes resolved.
    fn quoted(&mut self) -> Vec<(usize, char)> {
        let mut text = Vec::new();
        while let Some((line, sign)) = self.step() {
            match sign {
                '"' => break,
                '\\' => {
                    let Some((_, escaped)) = self.step() else {
                        break;
                    };
                    match escaped {
                        'n' | 'r' | 't' | '0' => text.push((line, ' ')),
                        '\n' => {
                            while self.peek(0).is_some_and(char::is_whitespace) {
                                self.step();
                            }
                        }
                        'x' => {
                            let code: String = [self.step(), self.step()]
                                .into_iter()
                                .flatten()
                                .map(|(_, digit)| digit)
                                .collect();
                            text.extend(coded(&code).map(|sign| (line, sign)));
                        }
                        'u' => {
                            let mut code = String::new();
                            while let Some((_, digit)) = self.step() {
                                match digit {
                                    '}' => break,
                                    '{' | '_' => {}
                                    digit => code.push(digit),
                                }
                            }
                            text.extend(coded(&code).map(|sign| (line, sign)));
                        }
                        other => text.push((line, other)),
                    }
                }
                other => text.push((line, other)),
            }
        }
        text
    }

    /// The text of a raw literal after its opening quote, up to a quote with that many hashes.
    fn raw(&mut self, hashes: usize) -> Vec<(usize, char)> {
        let mut text = Vec::new();
        while let Some((line, sign)) = self.step() {
            if sign == '"' && (0..hashes).all(|ahead| self.peek(ahead) == Some('#')) {
                self.at += hashes;
                break;
            }
            text.push((line, sign));
        }
        text
    }

    fn name(&mut self) -> String {
        let mut name = String::new();
        while let Some(sign) = self
            .peek(0)
            .filter(|sign| sign.is_alphanumeric() || *sign == '_')
        {
            name.push(sign);
            self.step();
        }
        name
    }
}

fn coded(code: &str) -> Option<char> {
    u32::from_str_radix(code, 16).ok().and_then(char::from_u32)
}

/// Every token of a source; plain comments are left out, doc comments are kept as such.
pub(crate) fn tokens(source: &str) -> Vec<Token> {
    let mut walk = Walk {
        signs: source.chars().collect(),
        at: 0,
        line: 1,
    };
    let mut found = Vec::new();
    while let Some(sign) = walk.peek(0) {
        let line = walk.line;
        let piece = match (sign, walk.peek(1), walk.peek(2)) {
            ('/', Some('/'), third) => {
                let text = walk.rest_of_line();
                let doc = third == Some('!')
                    || (third == Some('/') && text.get(3).is_none_or(|(_, sign)| *sign != '/'));
                doc.then_some(Piece::Doc(text))
            }
            ('/', Some('*'), third) => {
                let text = walk.block_comment();
                let doc = matches!(third, Some('!' | '*')) && text.len() > 4;
                doc.then_some(Piece::Doc(text))
            }
            ('"', _, _) => {
                walk.step();
                Some(Piece::Text(walk.quoted()))
            }
            ('\'', second, third) => {
                walk.step();
                if second == Some('\\') {
                    walk.step();
                    walk.step();
                    while walk.step().is_some_and(|(_, sign)| sign != '\'') {}
                } else if third == Some('\'') {
                    walk.step();
                    walk.step();
                } else {
                    walk.name();
                }
                None
            }
            (sign, _, _) if sign.is_alphanumeric() || sign == '_' => {
                let name = walk.name();
                let hashes = walk.signs[walk.at..]
                    .iter()
                    .take_while(|sign| **sign == '#')
                    .count();
                let opens = walk.peek(hashes) == Some('"');
                if opens && matches!(name.as_str(), "r" | "br" | "cr") {
                    walk.at += hashes + 1;
                    Some(Piece::Text(walk.raw(hashes)))
                } else if opens && hashes == 0 && matches!(name.as_str(), "b" | "c") {
                    walk.step();
                    Some(Piece::Text(walk.quoted()))
                } else {
                    Some(Piece::Name(name))
                }
            }
            (sign, _, _) => {
                walk.step();
                (!sign.is_whitespace()).then_some(Piece::Sign(sign))
            }
        };
        found.extend(piece.map(|piece| Token { line, piece }));
    }
    found
}

/// Leaves out each item behind a `#[cfg(test)]`: up to its closing brace, or to its semicolon when it has no body.
fn without_test_items(all: &[Token]) -> Vec<Token> {
    let mut kept = Vec::new();
    let mut at = 0;
    while at < all.len() {
        if !starts_test_item(&all[at..]) {
            kept.push(all[at].clone());
            at += 1;
            continue;
        }
        let mut depth = 0_i32;
        while let Some(token) = all.get(at) {
            at += 1;
            match token.piece {
                Piece::Sign('{' | '(' | '[') => depth += 1,
                Piece::Sign(closing @ ('}' | ')' | ']')) => {
                    depth -= 1;
                    if depth == 0 && closing == '}' {
                        break;
                    }
                }
                Piece::Sign(';') if depth == 0 => break,
                _ => {}
            }
        }
    }
    kept
}

fn starts_test_item(rest: &[Token]) -> bool {
    rest.len() > 6
        && rest[0].is_sign('#')
        && rest[1].is_sign('[')
        && rest[2].is_name("cfg")
        && rest[3].is_sign('(')
        && rest[4].is_name("test")
        && rest[5].is_sign(')')
}
