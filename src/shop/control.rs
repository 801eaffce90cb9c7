//! Control tags: printed codes that stand for keys, so that a gloved person can work with a scanner alone.
//!
//! A code is `HT` and a word of capitals and digits: these lie on the same keys of every keyboard layout that a scanner
//! may be set to. A scanner is a keyboard; a code that is typed means the same.
//!
//! *Invariants*: every control has one code and every code one control; no serial, tag or rack can be one.
//!
//! *Not here*: what a control does on a page (`screens`), how it is printed (`reports::tags`).

use super::words::{Defect, Reason, Word};

/// What every code begins with.
const MARK: &str = "HT";

/// What a control tag stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Control {
    /// Saves or confirms what is shown.
    Confirm,
    /// Leaves what is shown without saving it.
    Leave,
    /// Shows the last action of this person at this station, to be taken back.
    Undo,
    /// A coat on what is open.
    Coat,
    /// A sanding on what is open.
    Sand,
    /// The other work of the next step on what is open.
    Work,
    /// It ended so many minutes ago.
    Ago(u16),
    /// Takes the pieces with a reason against them along, or leaves them out again.
    Everyone,
    /// It is another coat, or it is to be taken back although others built on it.
    Another,
    /// The reason of a deviation.
    Why(Reason),
    /// A defect on the open piece.
    Flaw(Defect),
    /// Who is at the terminal from now on.
    By(String),
    /// The mix in the cup.
    Mix(u32),
    /// Shows the cautions that are due and were not read today, and writes down that they were read.
    Cautions,
    /// Takes note of the alert that is shown.
    Note,
    /// Puts off the alert that is shown.
    Later,
    /// Goes to the booth.
    Booth,
    /// Goes to the floor.
    Floor,
    /// Goes to the shift.
    Shift,
    /// Leaves the program.
    Quit,
}

/// The minutes that have a printed tag of their own.
pub const MINUTES: [u16; 7] = [5, 10, 15, 20, 30, 45, 60];

// A word as it stands in a code: capitals and digits only.
fn plain(word: &str) -> String {
    word.chars()
        .filter(char::is_ascii_alphanumeric)
        .map(|c| c.to_ascii_uppercase())
        .collect()
}

impl Control {
    /// The controls without a number or a name in them, with one for each of [`MINUTES`], each reason and each defect.
    pub fn all() -> Vec<Self> {
        let mut all = vec![
            Self::Confirm,
            Self::Leave,
            Self::Undo,
            Self::Coat,
            Self::Sand,
            Self::Work,
            Self::Everyone,
            Self::Another,
            Self::Cautions,
            Self::Note,
            Self::Later,
            Self::Booth,
            Self::Floor,
            Self::Shift,
            Self::Quit,
        ];
        all.extend(MINUTES.map(Self::Ago));
        all.extend(Reason::ALL.iter().copied().map(Self::Why));
        all.extend(Defect::ALL.iter().copied().map(Self::Flaw));
        all
    }

    /// The code that is printed and scanned.
    pub fn code(&self) -> String {
        let word = match self {
            Self::Confirm => "SAVE".to_owned(),
            Self::Leave => "LEAVE".to_owned(),
            Self::Undo => "UNDO".to_owned(),
            Self::Coat => "COAT".to_owned(),
            Self::Sand => "SAND".to_owned(),
            Self::Work => "WORK".to_owned(),
            Self::Ago(minutes) => format!("AGO{minutes}"),
            Self::Everyone => "ALL".to_owned(),
            Self::Another => "ANOTHER".to_owned(),
            Self::Why(reason) => format!("WHY{}", reason.digit()),
            Self::Flaw(defect) => format!("FLAW{}", plain(defect.word())),
            Self::By(initials) => format!("BY{initials}"),
            Self::Mix(mix) => format!("MIX{mix}"),
            Self::Cautions => "READ".to_owned(),
            Self::Note => "NOTE".to_owned(),
            Self::Later => "LATER".to_owned(),
            Self::Booth => "BOOTH".to_owned(),
            Self::Floor => "FLOOR".to_owned(),
            Self::Shift => "SHIFT".to_owned(),
            Self::Quit => "QUIT".to_owned(),
        };
        format!("{MARK}{word}")
    }

    /// The control of a scanned text, in capitals or not; `None` where it is none.
    pub fn of(text: &str) -> Option<Self> {
        let text = text.trim().to_ascii_uppercase();
        if let Some(known) = Self::all().into_iter().find(|c| c.code() == text) {
            return Some(known);
        }
        let word = text.strip_prefix(MARK)?;
        let number = |prefix: &str| word.strip_prefix(prefix).filter(|d| !d.starts_with('0'));
        if let Some(mix) = number("MIX").and_then(|d| d.parse().ok()) {
            return Some(Self::Mix(mix));
        }
        if let Some(minutes) = number("AGO").and_then(|d| d.parse().ok()) {
            return Some(Self::Ago(minutes));
        }
        let initials = word.strip_prefix("BY")?;
        super::text::initials("initials", initials)
            .ok()
            .map(Self::By)
    }

    /// What stands beside the code, for people.
    pub fn says(&self) -> String {
        match self {
            Self::Confirm => "save what is shown".to_owned(),
            Self::Leave => "leave, save nothing".to_owned(),
            Self::Undo => "take back my last".to_owned(),
            Self::Coat => "coat".to_owned(),
            Self::Sand => "sanded".to_owned(),
            Self::Work => "next work".to_owned(),
            Self::Ago(minutes) => format!("ended {minutes} min ago"),
            Self::Everyone => "exceptions too".to_owned(),
            Self::Another => "another coat".to_owned(),
            Self::Why(reason) => format!("why: {}", reason.word()),
            Self::Flaw(defect) => format!("defect: {}", defect.word()),
            Self::By(initials) => initials.clone(),
            Self::Mix(mix) => format!("mix {mix} in the cup"),
            Self::Cautions => "read the cautions".to_owned(),
            Self::Note => "alert: seen".to_owned(),
            Self::Later => "alert: later".to_owned(),
            Self::Booth => "to the booth".to_owned(),
            Self::Floor => "to the floor".to_owned(),
            Self::Shift => "to the shift".to_owned(),
            Self::Quit => "leave the program".to_owned(),
        }
    }
}

/// Refuses a serial, tag or rack that a scanner could not tell from a control.
pub fn no_control(field: &str, text: &str) -> Result<(), String> {
    match Control::of(text) {
        Some(control) => Err(format!(
            "{field} \"{}\" is the control tag \"{}\"; take a name that does not begin with {MARK}",
            super::text::shown(text),
            control.says()
        )),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_control_has_a_code_of_its_own_that_reads_back() {
        let mut all = Control::all();
        all.extend([
            Control::By("MK".to_owned()),
            Control::Mix(118),
            Control::Ago(8),
        ]);
        let codes: BTreeSet<String> = all.iter().map(Control::code).collect();
        assert_eq!(codes.len(), all.len());
        for control in &all {
            let code = control.code();
            assert!(
                code.chars()
                    .all(|c| c.is_ascii_uppercase() || c.is_ascii_digit()),
                "{code}"
            );
            assert_eq!(Control::of(&code).as_ref(), Some(control), "{code}");
            assert_eq!(Control::of(&code.to_lowercase()).as_ref(), Some(control));
        }
    }

    #[test]
    fn no_name_of_a_piece_or_rack_is_taken_for_a_control() {
        for name in [
            "B-0411", "HT-12", "R12", "HT12", "HTMIX", "HTMIX0", "HTAGO", "T-88", "12",
        ] {
            assert_eq!(Control::of(name), None, "{name}");
            assert!(no_control("serial", name).is_ok());
        }
        assert_eq!(
            no_control("tag", "HTCOAT").unwrap_err(),
            "tag \"HTCOAT\" is the control tag \"coat\"; take a name that does not begin with HT"
        );
    }
}
