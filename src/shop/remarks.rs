//! What the writer of a recipe or a data sheet noted beside its figures: the comments of the adopted file.
//!
//! *Invariants*: a remark changes no figure; it is shown with the figure that it stands beside.
//!
//! *Not here*: reading the figures (`recipe_file`, `material_file`).

/// A comment of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// The table that it stands in, as `step`, `rework.step`, `booth`; empty above the first one.
    pub table: String,
    /// The `name` or `code` of that table and of the one around it, outermost first.
    pub names: Vec<String>,
    /// The figure that it stands beside, as `dose`; `None` for a line of its own.
    pub field: Option<String>,
    /// Its words.
    pub words: String,
}

impl Remark {
    /// Whether it says that a figure is still to be confirmed, or has no source.
    pub fn doubts(&self) -> bool {
        ["from memory", "not confirmed", "no source"]
            .iter()
            .any(|doubt| self.words.contains(doubt))
    }
}

/// The comments of a file, in their order. Lines of comment that follow each other are one remark.
pub fn remarks(text: &str) -> Vec<Remark> {
    let mut found: Vec<Remark> = Vec::new();
    let mut table = String::new();
    // Names by the depth of their tables.
    let mut names: Vec<String> = Vec::new();
    let mut waiting: Vec<usize> = Vec::new();
    let mut open_block = false;
    for line in text.lines() {
        let (code, comment) = split(line);
        let code = code.trim();
        if code.starts_with('[') {
            code.trim_matches(['[', ']', ' ']).clone_into(&mut table);
            names.truncate(table.matches('.').count());
            waiting.clear();
        }
        let (field, value) = code
            .split_once('=')
            .map_or((None, ""), |(f, v)| (Some(f.trim()), v.trim()));
        let depth = table.matches('.').count();
        // A step is known by its name, a rework by its code: whichever comes first in the table.
        if matches!(field, Some("name" | "code")) && names.len() <= depth {
            names.resize(depth, String::new());
            names.push(value.trim_matches('"').to_owned());
            for at in waiting.drain(..) {
                if let Some(remark) = found.get_mut(at) {
                    remark.names.clone_from(&names);
                }
            }
        }
        let Some(words) = comment.map(str::trim).filter(|w| !w.is_empty()) else {
            open_block = false;
            continue;
        };
        let alone = code.is_empty();
        if alone
            && open_block
            && let Some(last) = found.last_mut()
        {
            last.words.push(' ');
            last.words.push_str(words);
            continue;
        }
        open_block = alone;
        if names.len() <= depth {
            waiting.push(found.len());
        }
        found.push(Remark {
            table: table.clone(),
            names: names.clone(),
            field: field.filter(|_| !alone).map(str::to_owned),
            words: words.to_owned(),
        });
    }
    found
}

// A line without its comment, and the comment. A hash between quotes is none.
fn split(line: &str) -> (&str, Option<&str>) {
    let mut quote = None;
    for (at, c) in line.char_indices() {
        match (quote, c) {
            (None, '#') => {
                let (code, comment) = line.split_at(at);
                return (code, comment.strip_prefix('#'));
            }
            (None, '"' | '\'') => quote = Some(c),
            (Some(open), c) if c == open => quote = None,
            _ => {}
        }
    }
    (line, None)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_remark_knows_its_figure_and_the_step_that_it_stands_in() {
        let text = "# Invented.\n# All of it.\n[recipe]\ncode = \"A1\" # a hash \"#\" in words\n\n[[step]]\n\
            dose = \"9 mJ/cm2\" # from memory, to be confirmed\nname = \"cure #1\"\n\n[[rework]]\ncode = \"RW1\"\n\
            [[rework.step]]\nname = \"clear\"\nafter = \"1 h\" # common practice, no source\n";
        let found = remarks(text);
        let short: Vec<(String, String, Option<&str>, bool)> = found
            .iter()
            .map(|r| {
                (
                    format!("{} {}", r.table, r.names.join("/")),
                    r.words.clone(),
                    r.field.as_deref(),
                    r.doubts(),
                )
            })
            .collect();
        assert_eq!(
            short,
            [
                (
                    " ".to_owned(),
                    "Invented. All of it.".to_owned(),
                    None,
                    false
                ),
                (
                    "recipe A1".to_owned(),
                    "a hash \"#\" in words".to_owned(),
                    Some("code"),
                    false
                ),
                (
                    "step cure #1".to_owned(),
                    "from memory, to be confirmed".to_owned(),
                    Some("dose"),
                    true
                ),
                (
                    "rework.step RW1/clear".to_owned(),
                    "common practice, no source".to_owned(),
                    Some("after"),
                    true
                ),
            ]
        );
    }
}
