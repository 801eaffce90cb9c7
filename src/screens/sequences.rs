//! Bytes of a terminal, and the keys and pasted texts that they stand for.
//!
//! *Invariants*: what is kept does not grow with what comes: of a sequence a few numbers, of a pasted text what fits into a
//! field, and of the rest its count, also where the mark at its end never comes. What is no key of ours is nothing, and never
//! a part of another key.
//!
//! *Not here*: when bytes come (`keyboard`), what a key does (`update`).
//!
//! The sequences are those of ECMA-48 (5th edition, 1991, control sequences) and of terminals that send function keys as
//! the VT220 did (from memory, to be confirmed); the marks around a paste are ESC \[ 200 ~ and ESC \[ 201 ~.

use super::keys::Key;
use super::prompt;

/// What came of some bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Part {
    Key(Key),
    /// A pasted text, of which no more is kept than a field takes, and how many characters it had.
    Pasted(String, usize),
}

/// What the end of a sequence or of a paste is still waited for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Begun {
    Nothing,
    Sequence,
    Paste,
}

const ESCAPE: u8 = 0x1b;
const PASTE: u16 = 200;
const PASTE_END: &[u8] = b"\x1b[201~";

/// Bytes that are kept of a pasted text: no character has more than four.
const KEPT: usize = (prompt::LONGEST + 1) * 4;

#[derive(Debug, Default)]
enum State {
    #[default]
    Ground,
    // ESC came.
    Escape,
    // ESC O came: one byte tells which key.
    Single,
    // ESC [ [ came, as the console of Linux sends it: one byte tells which key.
    Console,
    // ESC [ came: the first number, whether it is over, and whether anything came at all.
    Control {
        number: u16,
        over: bool,
        empty: bool,
    },
    // The beginning of a character of several bytes.
    Character {
        bytes: Vec<u8>,
        size: usize,
    },
    Paste {
        kept: Vec<u8>,
        count: usize,
        // So many bytes of the mark at its end came.
        end: usize,
    },
}

/// Reads bytes, in whatever pieces they come.
#[derive(Debug, Default)]
pub(super) struct Sequences(State);

impl Sequences {
    /// What is not at its end yet.
    pub(super) const fn begun(&self) -> Begun {
        match self.0 {
            State::Ground => Begun::Nothing,
            State::Paste { .. } => Begun::Paste,
            _ => Begun::Sequence,
        }
    }

    /// Takes a byte.
    pub(super) fn take(&mut self, byte: u8) -> Option<Part> {
        if let State::Paste { kept, count, end } = &mut self.0 {
            if !pasted(byte, kept, count, end) {
                return None;
            }
            // Where a letter was cut at the end of what is kept, more came than a field takes.
            let text = String::from_utf8_lossy(kept).into_owned();
            let part = Part::Pasted(text, *count);
            self.0 = State::Ground;
            return Some(part);
        }
        let (next, part) = match std::mem::take(&mut self.0) {
            State::Ground | State::Paste { .. } => ground(byte),
            // With Alt, or ESC twice in one go: no key of ours, or ESC once more.
            State::Escape => match byte {
                b'[' => (
                    State::Control {
                        number: 0,
                        over: false,
                        empty: true,
                    },
                    None,
                ),
                b'O' => (State::Single, None),
                ESCAPE => (State::Escape, Some(Key::Esc)),
                _ => (State::Ground, None),
            },
            State::Single => (State::Ground, named(byte)),
            State::Console => (
                State::Ground,
                (b'A'..=b'E')
                    .contains(&byte)
                    .then(|| Key::F(byte - b'A' + 1)),
            ),
            State::Control {
                number,
                over,
                empty,
            } => control(byte, number, over, empty),
            State::Character { bytes, size } => return self.character(byte, bytes, size),
        };
        self.0 = next;
        part.map(Part::Key)
    }

    /// Nothing came for a while: ESC by itself is a key, a beginning without its end is nothing. A paste that did not end gives
    /// how many characters of it came.
    pub(super) fn pause(&mut self) -> Result<Option<Key>, usize> {
        match std::mem::take(&mut self.0) {
            State::Escape => Ok(Some(Key::Esc)),
            State::Paste { count, .. } => Err(count),
            _ => Ok(None),
        }
    }

    fn character(&mut self, byte: u8, mut bytes: Vec<u8>, size: usize) -> Option<Part> {
        if byte & 0xc0 != 0x80 {
            // The one before it was cut off.
            return self.take(byte);
        }
        bytes.push(byte);
        if bytes.len() < size {
            self.0 = State::Character { bytes, size };
            return None;
        }
        let character = std::str::from_utf8(&bytes).ok()?.chars().next()?;
        Some(Part::Key(Key::Char(character)))
    }
}

// Takes a byte of a pasted text; `true` at its end.
fn pasted(byte: u8, kept: &mut Vec<u8>, count: &mut usize, end: &mut usize) -> bool {
    if PASTE_END.get(*end) == Some(&byte) {
        *end += 1;
        return *end == PASTE_END.len();
    }
    // What looked like the mark was text. Its first byte comes in it only once, so that nothing of it can begin anew.
    let looked = PASTE_END.get(..*end).unwrap_or_default();
    let again = byte == ESCAPE;
    for b in looked.iter().copied().chain((!again).then_some(byte)) {
        *count += usize::from(b & 0xc0 != 0x80);
        if kept.len() < KEPT {
            kept.push(b);
        }
    }
    *end = usize::from(again);
    false
}

fn ground(byte: u8) -> (State, Option<Key>) {
    let size = match byte {
        0xc2..=0xdf => 2,
        0xe0..=0xef => 3,
        0xf0..=0xf4 => 4,
        _ => {
            let key = match byte {
                ESCAPE => return (State::Escape, None),
                // Control and C.
                0x03 => Some(Key::Interrupt),
                0x08 | 0x7f => Some(Key::Backspace),
                b'\t' => Some(Key::Tab),
                // A scanner may end with a line feed.
                b'\n' | b'\r' => Some(Key::Enter),
                b' '..=b'~' => Some(Key::Char(char::from(byte))),
                _ => None,
            };
            return (State::Ground, key);
        }
    };
    let bytes = vec![byte];
    (State::Character { bytes, size }, None)
}

// A key that one letter tells.
const fn named(byte: u8) -> Option<Key> {
    Some(match byte {
        b'A' => Key::Up,
        b'B' => Key::Down,
        b'H' => Key::Home,
        b'F' => Key::End,
        b'Z' => Key::BackTab,
        b'P'..=b'S' => Key::F(byte - b'P' + 1),
        _ => return None,
    })
}

// A key that a number tells.
fn numbered(number: u16) -> Option<Key> {
    let function = |before: u16| u8::try_from(number - before).ok().map(Key::F);
    match number {
        1 | 7 => Some(Key::Home),
        4 | 8 => Some(Key::End),
        5 => Some(Key::PageUp),
        6 => Some(Key::PageDown),
        11..=15 => function(10),
        17..=21 => function(11),
        23..=26 => function(12),
        28 | 29 => function(13),
        31..=34 => function(14),
        _ => None,
    }
}

fn control(byte: u8, number: u16, over: bool, empty: bool) -> (State, Option<Key>) {
    match byte {
        b'[' if empty => (State::Console, None),
        b'~' if number == PASTE => {
            let paste = State::Paste {
                kept: Vec::new(),
                count: 0,
                end: 0,
            };
            (paste, None)
        }
        b'~' => (State::Ground, numbered(number)),
        0x40..=0x7e => (State::Ground, named(byte)),
        // One that was cut off, and the next begins.
        ESCAPE => (State::Escape, None),
        0x20..=0x3f => {
            // Which of Shift, Alt and Control is held stands behind the first number.
            let over = over || !byte.is_ascii_digit();
            let number = if over {
                number
            } else {
                number
                    .saturating_mul(10)
                    .saturating_add(u16::from(byte - b'0'))
            };
            let empty = false;
            (
                State::Control {
                    number,
                    over,
                    empty,
                },
                None,
            )
        }
        _ => (State::Ground, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // What comes of bytes that come in pieces of this size, with a pause at the end.
    fn read(bytes: &[u8]) -> Vec<Part> {
        let mut sequences = Sequences::default();
        let mut parts: Vec<Part> = bytes.iter().filter_map(|b| sequences.take(*b)).collect();
        parts.extend(sequences.pause().unwrap().map(Part::Key));
        assert_eq!(sequences.begun(), Begun::Nothing);
        parts
    }

    fn keys(bytes: &[u8]) -> Vec<Key> {
        read(bytes)
            .into_iter()
            .map(|p| match p {
                Part::Key(key) => key,
                Part::Pasted(..) => panic!("{p:?}"),
            })
            .collect()
    }

    #[test]
    fn the_keys_of_the_help_page_are_read_as_terminals_send_them() {
        for (bytes, key) in [
            (&b"\x1b[A"[..], Key::Up),
            (b"\x1bOA", Key::Up),
            (b"\x1b[1;2B", Key::Down),
            (b"\x1b[5~", Key::PageUp),
            (b"\x1b[6;5~", Key::PageDown),
            (b"\x1b[H", Key::Home),
            (b"\x1b[1~", Key::Home),
            (b"\x1b[7~", Key::Home),
            (b"\x1bOF", Key::End),
            (b"\x1b[4~", Key::End),
            (b"\x1b[Z", Key::BackTab),
            (b"\x1bOP", Key::F(1)),
            (b"\x1bOS", Key::F(4)),
            (b"\x1b[11~", Key::F(1)),
            (b"\x1b[[E", Key::F(5)),
            (b"\x1b[15~", Key::F(5)),
            (b"\x1b[1;2Q", Key::F(2)),
            (b"\x1b[17~", Key::F(6)),
            (b"\x1b[21~", Key::F(10)),
            (b"\x1b[24~", Key::F(12)),
            (b"\x1b", Key::Esc),
            (b"\x7f", Key::Backspace),
            (b"\x08", Key::Backspace),
            (b"\t", Key::Tab),
            (b"\x03", Key::Interrupt),
            ("\u{e9}".as_bytes(), Key::Char('\u{e9}')),
            ("\u{1f3b8}".as_bytes(), Key::Char('\u{1f3b8}')),
        ] {
            assert_eq!(keys(bytes), [key], "{bytes:?}");
        }
    }

    #[test]
    fn a_scanner_may_end_with_a_return_a_line_feed_or_a_tab() {
        assert_eq!(keys(b"1\r"), [Key::Char('1'), Key::Enter]);
        assert_eq!(keys(b"1\n"), [Key::Char('1'), Key::Enter]);
        assert_eq!(keys(b"1\t"), [Key::Char('1'), Key::Tab]);
    }

    #[test]
    fn what_is_no_key_of_ours_is_nothing_and_the_key_after_it_is_itself() {
        // Alt and a letter, an answer of the terminal, a mouse, keys without a meaning here, bytes that are no text.
        for bytes in [
            &b"\x1bx"[..],
            b"\x1b[?62;22c",
            b"\x1b[<0;3;4M",
            b"\x1b[2~",
            b"\x1b[99999999~",
            b"\x1b[C",
            b"\x1bOD",
            b"\x1b[5\x01",
            b"\x01",
            b"\xff\x80",
            b"\xe6\x97",
            b"\xed\xa0\x80",
        ] {
            let all = [bytes, b"q"].concat();
            assert_eq!(keys(&all), [Key::Char('q')], "{bytes:?}");
        }
        assert_eq!(keys(b"\x1b[5\x1b[A"), [Key::Up]);
        assert_eq!(keys(b"\x1b\x1b[A"), [Key::Esc, Key::Up]);
        // A beginning whose end does not come.
        for bytes in [&b"\x1b["[..], b"\x1bO", b"\x1b[1;", b"\x1b[[", b"\xf0\x9f"] {
            assert_eq!(keys(bytes), [], "{bytes:?}");
        }
    }

    #[test]
    fn a_pasted_text_is_what_stands_between_its_marks() {
        let paste = |text: &str| read(format!("\u{1b}[200~{text}\u{1b}[201~").as_bytes());
        for text in [
            "",
            "R3\ru\r",
            "\u{fc}ber \u{65e5}\u{672c}",
            "\u{1b}[20",
            "\u{1b}\u{1b}",
            "\u{1b}[A\u{1b}[200~",
        ] {
            let wanted = Part::Pasted(text.to_owned(), text.chars().count());
            assert_eq!(paste(text), [wanted]);
        }
        let after = read(b"a\x1b[200~b\x1b[201~c");
        assert_eq!(after.len(), 3);
        assert_eq!(after.last(), Some(&Part::Key(Key::Char('c'))));
    }

    #[test]
    fn of_a_paste_without_an_end_little_is_kept_and_its_characters_are_counted() {
        let mut sequences = Sequences::default();
        for byte in b"\x1b[200~" {
            assert_eq!(sequences.take(*byte), None);
        }
        assert_eq!(sequences.begun(), Begun::Paste);
        let text = "\u{65e5}\u{1b}[A".repeat(100_000);
        for byte in text.as_bytes() {
            assert_eq!(sequences.take(*byte), None);
        }
        let State::Paste { kept, .. } = &sequences.0 else {
            panic!("{sequences:?}");
        };
        assert!(kept.capacity() <= 2 * KEPT, "{}", kept.capacity());
        assert_eq!(sequences.pause(), Err(400_000));
        assert_eq!(sequences.take(b'q'), Some(Part::Key(Key::Char('q'))));
    }
}
