//! A list of pieces as CSV with a header: `serial,kind,model,recipe,area` and, each optional,
//! `tag,due,pair,rack,hook,room`. A recipe is written `G9 rev 3`; a bare code takes the newest adopted revision. A list
//! from a spreadsheet may have columns of its own names, and more of them.

pub use super::table::Headings;
use crate::ledger::{PieceRow, RowFault};
use crate::shop::record::NewPiece;
use crate::shop::text::{clean, hook as read_hook};
use crate::shop::words::{PieceKind, Word};
use crate::units::{Amount, Area};
use std::collections::BTreeMap;

/// Columns that a list may have.
pub const COLUMNS: &[&str] = &[
    "serial", "kind", "model", "recipe", "area", "tag", "due", "pair", "rack", "hook", "room",
];
const NEEDED: &[&str] = &["serial", "kind", "model", "recipe", "area"];
const LONGEST: usize = 200;

/// Reads a list. `newest` gives the newest adopted revision of each recipe code. All rows are read, so that every
/// refused one is reported at once.
pub fn read(bytes: &[u8], newest: &BTreeMap<String, u32>) -> Result<Vec<PieceRow>, Vec<RowFault>> {
    read_as(bytes, newest, &Headings::default())
}

/// The same of a list whose columns have names of their own.
pub fn read_as(
    bytes: &[u8],
    newest: &BTreeMap<String, u32>,
    headings: &Headings,
) -> Result<Vec<PieceRow>, Vec<RowFault>> {
    super::table::read_as(bytes, COLUMNS, NEEDED, headings, |line, cells| {
        row(line, &|name| cells.get(name), newest)
    })
}

fn row<'a>(
    line: u64,
    field: &dyn Fn(&str) -> Option<&'a str>,
    newest: &BTreeMap<String, u32>,
) -> Result<PieceRow, String> {
    let must = |name: &str, most: usize| clean(name, field(name).unwrap_or(""), most);
    let may = |name: &str| field(name).map(|t| clean(name, t, LONGEST)).transpose();
    let kind = must("kind", 20)?;
    let (recipe, revision) = read_recipe(&must("recipe", 40)?, newest)?;
    let area = must("area", 20)?;
    let hook = may("hook")?.map(|h| read_hook(&h)).transpose()?;
    Ok(PieceRow {
        line,
        piece: NewPiece {
            serial: must("serial", 30)?,
            tag: may("tag")?,
            kind: PieceKind::typed(&kind).ok_or_else(|| {
                format!(
                    "kind \"{kind}\" is not known; write one of {}",
                    PieceKind::choices()
                )
            })?,
            model: must("model", 60)?,
            recipe,
            revision,
            area: Area::read(&area, Some("m2")).map_err(|e| e.to_string())?,
            due: may("due")?.map(|d| read_date("due", &d)).transpose()?,
            pair: may("pair")?,
        },
        rack: may("rack")?,
        hook,
        room: may("room")?,
    })
}

/// Reads `G9 rev 3`, or a bare code as its newest adopted revision.
pub fn read_recipe(text: &str, newest: &BTreeMap<String, u32>) -> Result<(String, u32), String> {
    let (code, revision) = if let Some((code, rev)) = text.split_once(" rev ") {
        (
            code.trim(),
            rev.trim().parse().map_err(|_| {
                format!("recipe \"{text}\" is not understood; write it as \"G9 rev 3\"")
            })?,
        )
    } else {
        let found = newest.get(text).ok_or_else(|| {
            format!("recipe \"{text}\" is not adopted; run \"hangtime recipe adopt FILE\"")
        })?;
        (text, *found)
    };
    Ok((code.to_owned(), revision))
}

/// Reads a date written as `2026-05-15` or `15.05.2026`.
pub fn read_date(field: &str, text: &str) -> Result<chrono::NaiveDate, String> {
    crate::units::date(text).map_err(|fault| format!("{field} {fault}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn newest() -> BTreeMap<String, u32> {
        BTreeMap::from([("G9".to_owned(), 3)])
    }

    #[test]
    fn every_refused_row_is_named_with_its_reason() {
        let list = "serial,kind,model,recipe,area,hook\n\
                    B-1,body,cittern,G9,0.24 m2,1\n\
                    B-2,torso,cittern,G9,0.24,2\n\
                    B-3,body,cittern,G8,0.24,3\n\
                    B-4,body,cittern,G9,24 m2,4\n\
                    B-5,body,cittern,G9,\"1,240\",5\n\
                    B-6,body,cittern,G9,0.24\n";
        let refused = read(list.as_bytes(), &newest()).unwrap_err();
        let lines: Vec<u64> = refused.iter().map(|r| r.line).collect();
        assert_eq!(lines, [3, 4, 5, 6, 7]);
        assert!(refused[0].why.contains("body, neck"), "{}", refused[0].why);
        assert!(
            refused[2].why.contains("0 m2 to 10 m2"),
            "{}",
            refused[2].why
        );
    }

    #[test]
    fn a_hook_has_one_range_here_and_on_the_screens() {
        let list = |hook: &str| {
            let text =
                format!("serial,kind,model,recipe,area,hook\nB-1,body,cittern,G9,0.24,{hook}\n");
            read(text.as_bytes(), &newest())
        };
        assert_eq!(list("999").unwrap()[0].hook, Some(999));
        for hook in ["0", "1000", "-1", "x"] {
            let why = &list(hook).unwrap_err()[0].why;
            assert_eq!(
                *why,
                format!("hook \"{hook}\" is outside 1 to 999; write its number")
            );
        }
    }

    #[test]
    fn a_spreadsheets_own_list_is_read_with_its_own_names() {
        let list = "\u{feff}Due;\"Surface; m2\";Instrument;Type;Model;Customer;Finish\r\n\
                    2026-05-15;0,31;H-02;body;Parlour;\"Smith; J\";G9\r\n\
                    ;1.25;H-03;body;Parlour;;G9 rev 3\r\n";
        let called = [
            ("instrument", "serial"),
            ("Type", "kind"),
            ("Finish", "recipe"),
            ("Surface; m2", "area"),
        ];
        let called = called.map(|(a, b)| (a.to_owned(), b.to_owned())).to_vec();
        let headings = Headings {
            called: called.clone(),
            left_out: vec!["Customer".to_owned()],
        };
        let rows = read_as(list.as_bytes(), &newest(), &headings).unwrap();
        let areas: Vec<i64> = rows.iter().map(|r| r.piece.area.0).collect();
        assert_eq!(areas, [310_000, 1_250_000]);
        assert_eq!(rows[0].piece.serial, "H-02");
        assert_eq!(rows[0].piece.due, "2026-05-15".parse().ok());
        assert_eq!(rows[1].piece.due, None);
        // What is not said to be left out is not guessed away, and a name that the list does not have is a slip.
        let headings = Headings {
            called,
            left_out: vec!["Costumer".to_owned()],
        };
        let refused = read_as(list.as_bytes(), &newest(), &headings).unwrap_err();
        let said: Vec<&str> = refused.iter().map(|r| r.why.as_str()).collect();
        assert!(
            said.iter().any(|w| w.contains("called \"Costumer\"")),
            "{said:?}"
        );
        assert!(
            said.iter().any(|w| w.contains("\"customer\" is not known")),
            "{said:?}"
        );
    }

    #[test]
    fn the_line_of_a_refused_row_is_the_editors_whatever_ends_the_lines() {
        for (end, wanted) in [("\n", [3, 4]), ("\r\n", [3, 4]), ("\r\n\r\n", [5, 7])] {
            let rows = [
                "\u{feff}serial,kind,model,recipe,area",
                "B-1,body,cittern,G9,0.24 m2",
                "B-2,torso,cittern,G9,0.24 m2",
                "B-3,body,cittern,G8,0.24 m2",
            ];
            let refused = read(rows.join(end).as_bytes(), &newest()).unwrap_err();
            let lines: Vec<u64> = refused.iter().map(|r| r.line).collect();
            assert_eq!(lines, wanted, "{end:?}");
        }
    }

    #[test]
    fn a_comma_in_a_figure_is_read_alike_whatever_parts_the_columns() {
        for part in [",", ";", "\t"] {
            let list = |area: &str| {
                let rows = [
                    ["serial", "kind", "model", "recipe", "area"],
                    ["B-5", "body", "cittern", "G9", area],
                ];
                let text = rows.map(|row| row.join(part)).join("\n");
                read(text.as_bytes(), &newest())
            };
            assert_eq!(list("\"0,24\"").unwrap()[0].piece.area, Area(240_000));
            let why = &list("\"1,240\"").unwrap_err()[0].why;
            assert!(why.contains("1.240 or 1240"), "{why}");
        }
    }

    #[test]
    fn an_unknown_or_missing_column_is_said() {
        let refused = read(b"serial,kind,model,colour\n", &newest()).unwrap_err();
        assert!(refused.iter().any(|r| r.why.contains("colour")));
        assert!(
            refused
                .iter()
                .any(|r| r.why.contains("\"area\" is missing"))
        );
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            if let Err(refused) = read(&bytes, &newest()) {
                prop_assert!(!refused.is_empty());
                prop_assert!(refused.iter().all(|r| !r.why.chars().any(crate::shop::text::unruly)));
            }
        }
    }
}
