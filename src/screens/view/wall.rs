//! The wall: for a screen across the room.

use super::text::{line, put_line};
use crate::screens::model::Model;
use crate::screens::theme::Ink;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

/// Draws it.
pub(super) fn draw(model: &Model, area: Rect, buf: &mut Buffer) {
    put_line(buf, area, 0, &line("wall", Ink::Plain), model.shop.theme);
}
