//! The one list of all worksheets. The command line, the screens, the workbook and the tests go through it.

use super::worksheet::Sheet;

/// Every subject's worksheets, one line per subject.
static SUBJECTS: &[&[Sheet]] = &[
    super::cure::SHEETS,           // credit, solvent left
    super::film::SHEETS,           // build, sanding, mass
    super::transfer::SHEETS,       // what lands on the piece
    super::mix::SHEETS,            // parts, cups, pot life
    super::statistics::SHEETS,     // readings, defects, yields
    super::psychrometrics::SHEETS, // dew point, blush
    super::cooling::SHEETS,        // what an evaporating coat loses
    super::wood::SHEETS,           // moisture, movement
    super::booth::SHEETS,          // air, filters, purge
    super::vapour::SHEETS,         // explosive limit, dilution, room vapour
    super::exposure::SHEETS,       // averages, mixtures, ceilings
    super::voc::SHEETS,            // the solvent book
    super::storage::SHEETS,        // cabinets
];

/// Every worksheet, in the order of the subjects.
pub fn all() -> Vec<&'static Sheet> {
    SUBJECTS.iter().flat_map(|sheets| sheets.iter()).collect()
}

/// The worksheet that this word calls.
pub fn find(id: &str) -> Option<&'static Sheet> {
    all().into_iter().find(|sheet| sheet.id == id)
}
