//! The one list of all worksheets. The command line, the screens, the workbook and the tests go through it.

use super::worksheet::Sheet;

/// Every subject's worksheets, one line per subject.
static SUBJECTS: &[&[Sheet]] = &[
    super::cure::SHEETS,       // credit, solvent left
    super::film::SHEETS,       // build, sanding, mass
    super::mix::SHEETS,        // parts, cups, pot life
    super::statistics::SHEETS, // readings, defects, yields
];

/// Every worksheet, in the order of the subjects.
pub fn all() -> Vec<&'static Sheet> {
    SUBJECTS.iter().flat_map(|sheets| sheets.iter()).collect()
}

/// The worksheet that this word calls.
pub fn find(id: &str) -> Option<&'static Sheet> {
    all().into_iter().find(|sheet| sheet.id == id)
}
