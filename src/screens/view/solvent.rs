//! The solvent book: the month against its limits, and the checks.

use super::text::{line, put_line};
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    put_line(buf, area, 0, &line("solvent", Ink::Plain), model.shop.theme);
}
