//! The shift: what can be done by when, and what stands in the way.

use super::text::{line, put_line};
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    put_line(buf, area, 0, &line("shift", Ink::Plain), model.shop.theme);
}
