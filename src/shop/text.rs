//! Text that came from outside is data.
//!
//! *Invariants*: what is taken into the record holds no control or direction characters; what is shown passes
//! through [`shown`], so that even a record written by other hands cannot steer the terminal.

use std::collections::BTreeSet;

/// Whether a character could steer a terminal, hide text or turn its direction.
pub fn unruly(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{061C}' | '\u{FEFF}'
            | '\u{E000}'..='\u{F8FF}' | '\u{E0000}'..='\u{E007F}' | '\u{F0000}'..='\u{10FFFF}')
}

/// A name without what people write differently: `BOOTH-1` and `booth 1` are alike.
pub fn bare(name: &str) -> String {
    let kept = name.chars().filter(|c| c.is_alphanumeric());
    kept.flat_map(char::to_lowercase).collect()
}

/// The name that a person means by what was typed: the one that is written so, else the only one that differs in capitals
/// alone. Two that differ so are told apart by their capitals, so that then none fits.
pub fn like<'n>(names: impl IntoIterator<Item = &'n str>, typed: &str) -> Option<&'n str> {
    let names: BTreeSet<&str> = names.into_iter().collect();
    let typed = typed.trim();
    let exact = names.get(typed).copied();
    exact.or_else(|| only(&names, |n| n.to_lowercase() == typed.to_lowercase()))
}

/// The same for rooms, booths and stations, which are also known by their letters and digits alone: `BOOTH-1` is `booth 1`.
pub fn place_like<'n>(names: impl IntoIterator<Item = &'n str>, typed: &str) -> Option<&'n str> {
    let names: BTreeSet<&str> = names.into_iter().collect();
    let wanted = bare(typed);
    let marks = || only(&names, |n| bare(n) == wanted);
    like(names.iter().copied(), typed).or_else(|| marks().filter(|_| !wanted.is_empty()))
}

fn only<'n>(names: &BTreeSet<&'n str>, fits: impl Fn(&str) -> bool) -> Option<&'n str> {
    let mut found = names.iter().filter(|n| fits(n));
    let first = found.next();
    first.filter(|_| found.next().is_none()).copied()
}

/// A text that may be kept: trimmed, not empty, at most `most` characters, nothing unruly in it.
pub fn clean(field: &str, text: &str, most: usize) -> Result<String, String> {
    let text = text.trim();
    if text.is_empty() {
        return Err(format!("{field} is empty; write at least one character"));
    }
    let length = text.chars().count();
    if length > most {
        return Err(format!(
            "{field} has {length} characters; at most {most} are kept, shorten it"
        ));
    }
    if let Some((at, c)) = text.chars().enumerate().find(|(_, c)| unruly(*c)) {
        return Err(format!(
            "{field} holds the invisible character U+{:04X} at place {}; type it again without it",
            u32::from(c),
            at + 1
        ));
    }
    Ok(text.to_owned())
}

/// Initials of a person: one to eight letters or digits.
pub fn initials(field: &str, text: &str) -> Result<String, String> {
    if text.trim().is_empty() {
        return Err(format!(
            "{field}: nothing was given; write one to eight letters or digits"
        ));
    }
    let text = clean(field, text, 8)?;
    if text.chars().all(char::is_alphanumeric) {
        Ok(text)
    } else {
        let bare: String = text.chars().filter(|c| c.is_alphanumeric()).collect();
        let such = if bare.is_empty() { "MK" } else { &bare };
        Err(format!(
            "{field}: \"{}\" is not taken; write one to eight letters or digits, such as {such}",
            shown(&text)
        ))
    }
}

/// Numbers that a hook of a rack can have.
const HOOKS: std::ops::RangeInclusive<u32> = 1..=999;

/// The number of a hook.
///
/// # Errors
/// A sentence that names the text and the range.
pub fn hook(text: &str) -> Result<u32, String> {
    let number = text.trim().parse().ok().filter(|n| HOOKS.contains(n));
    number.ok_or_else(|| {
        format!(
            "hook \"{}\" is outside {} to {}; write its number",
            shown(text),
            HOOKS.start(),
            HOOKS.end()
        )
    })
}

/// Hooks as people write them: `1-17`, or one of them.
pub fn hooks(text: &str) -> Result<(u32, u32), String> {
    let (first, last) = text.split_once('-').unwrap_or((text, text));
    match (first.trim().parse(), last.trim().parse()) {
        (Ok(a), Ok(b)) if (1..=b).contains(&a) => Ok((a, b)),
        _ => Err(format!(
            "hooks \"{}\" is not understood; write such as 1-17",
            shown(text)
        )),
    }
}

/// A word of a command line and the characters that it takes there, quotes included.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WordAt {
    /// The word without its quotes.
    pub text: String,
    /// Its first character, counted from 0.
    pub from: usize,
    /// The character after its last one.
    pub to: usize,
}

/// The words of a command line: blanks part them, single and double quotes keep blanks together, a backslash outside
/// single quotes takes the next character as it is. An open quote is an error.
pub fn words(text: &str) -> Result<Vec<String>, String> {
    let (list, open) = parted(text);
    match open {
        Some(quote) => Err(format!(
            "the quote {quote} is open; close it with another {quote}"
        )),
        None => Ok(list.into_iter().map(|w| w.text).collect()),
    }
}

/// The same while it is being typed: an open quote reaches to the end.
pub fn open_words(text: &str) -> Vec<WordAt> {
    parted(text).0
}

fn parted(text: &str) -> (Vec<WordAt>, Option<char>) {
    let mut list = Vec::new();
    let mut word: Option<WordAt> = None;
    let mut quote = None;
    let mut escaped = false;
    for (at, c) in text.chars().enumerate() {
        if !escaped && quote.is_none() && c.is_whitespace() {
            list.extend(word.take());
            continue;
        }
        let word = word.get_or_insert_with(|| WordAt {
            text: String::new(),
            from: at,
            to: at,
        });
        word.to = at + 1;
        match (c, quote) {
            _ if std::mem::take(&mut escaped) => word.text.push(c),
            ('\\', None | Some('"')) => escaped = true,
            ('"' | '\'', None) => quote = Some(c),
            (c, Some(open)) if c == open => quote = None,
            _ => word.text.push(c),
        }
    }
    list.extend(word);
    (list, quote)
}

/// Text as it may be drawn: each unruly character becomes a visible mark.
pub fn shown(text: &str) -> String {
    text.chars()
        .map(|c| if unruly(c) { '\u{FFFD}' } else { c })
        .collect()
}

/// Text as a cell of a spreadsheet: what one would take for a formula, in its own or in full-width signs, starts with
/// an apostrophe instead (the signs that the application security standard ASVS 5.0, 1.2.10, names, and CR, LF and the
/// full-width forms beside them: cited from a stored excerpt). Unruly characters become marks.
pub fn cell(text: &str) -> String {
    let formula = text.starts_with([
        '=', '+', '-', '@', '\t', '\r', '\n', '\0', '\u{FF1D}', '\u{FF0B}', '\u{FF0D}', '\u{FF20}',
    ]);
    format!("{}{}", if formula { "'" } else { "" }, shown(text))
}

/// Text of several lines as it may be drawn, line by line through [`shown`].
pub fn shown_lines(text: &str) -> String {
    text.split('\n').map(shown).collect::<Vec<_>>().join("\n")
}

/// JSON as it may be printed: an unruly character stands as its escape, which says the same to whoever reads JSON.
pub fn shown_json(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    let mut units = [0_u16; 2];
    for c in json.chars() {
        if c == '\n' || !unruly(c) {
            out.push(c);
        } else {
            for unit in c.encode_utf16(&mut units) {
                out.push_str(&format!("\\u{unit:04x}"));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_known_whatever_its_capitals_where_only_one_fits() {
        let racks = ["R1", "r1", "Left", "R-2"];
        assert_eq!(like(racks, "left"), Some("Left"));
        assert_eq!(like(racks, " LEFT "), Some("Left"));
        assert_eq!(like(racks, "r1"), Some("r1"));
        assert_eq!(like(["R1", "r1"], "R 1"), None);
        assert_eq!(like(["Ra", "rA"], "ra"), None);
        // A rack that is written with other marks is another rack, and a room is not.
        assert_eq!(like(racks, "R2"), None);
        let rooms = ["booth 1", "booth 2", "Booth 2", "-"];
        assert_eq!(place_like(rooms, "BOOTH-1"), Some("booth 1"));
        assert_eq!(place_like(rooms, "booth 2"), Some("booth 2"));
        assert_eq!(place_like(rooms, "BOOTH-2"), None);
        assert_eq!(place_like(rooms, "."), None);
    }

    #[test]
    fn words_are_parted_by_blanks_and_kept_together_by_quotes() {
        for (text, wanted) in [
            ("a  b", vec!["a", "b"]),
            ("a \"b c\" 'd \"e'", vec!["a", "b c", "d \"e"]),
            ("--why=\"it is\" \"\"", vec!["--why=it is", ""]),
            ("maker\\'s \"maker's\"", vec!["maker's", "maker's"]),
            ("", vec![]),
        ] {
            assert_eq!(words(text).unwrap(), wanted, "{text}");
        }
        assert!(words("a 'b").unwrap_err().contains("quote '"));
        let open = open_words("a \"b c");
        assert_eq!(
            (open[1].text.as_str(), open[1].from, open[1].to),
            ("b c", 2, 6)
        );
    }

    #[test]
    fn no_cell_starts_as_a_formula_and_figures_stay_figures() {
        for sign in "=+-@\t\r\n\0\u{FF1D}\u{FF0B}\u{FF0D}\u{FF20}".chars() {
            let made = cell(&format!("{sign}1"));
            assert!(made.starts_with('\''), "{sign:?}: {made:?}");
            assert!(!made.chars().any(unruly), "{made:?}");
        }
        for plain in ["", "booth 1", "a=b", "'quoted'", "{\"v\":1}"] {
            assert_eq!(cell(plain), plain);
        }
        assert_eq!(cell("a\u{202e}b"), "a\u{FFFD}b");
    }

    #[test]
    fn json_says_the_same_with_unruly_characters_escaped() {
        let value = serde_json::json!({"why": "a\u{9b}b\u{202e}c\u{e0041}d"});
        let printed = shown_json(&format!("{value:#}"));
        assert!(!printed.chars().any(|c| c != '\n' && unruly(c)));
        assert_eq!(
            serde_json::from_str::<serde_json::Value>(&printed).unwrap(),
            value
        );
    }

    #[test]
    fn what_could_steer_a_terminal_is_refused_and_shown_as_a_mark() {
        for bad in [
            "a\u{1b}[2J",
            "a\u{9b}",
            "a\u{202e}b",
            "a\0",
            "a\nb",
            "\u{200b}x",
        ] {
            assert!(clean("note", bad, 99).is_err(), "{bad:?}");
            assert!(!shown(bad).chars().any(unruly));
        }
        assert_eq!(
            clean("note", " Möbel 12 ½ ", 99),
            Ok("Möbel 12 ½".to_owned())
        );
    }
}
