//! Large figures, drawn of blocks: one pixel a cell, or a square of four.

use font8x8::legacy::BASIC_LEGACY;
use ratatui::text::Line;

/// A cell that shows which of its quarters are set: top left, top right, bottom left, bottom right, from the lowest bit on.
const QUARTERS: [char; 16] = [' ', '▘', '▝', '▀', '▖', '▌', '▞', '▛', '▗', '▚', '▐', '▜', '▄', '▙', '▟', '█'];

/// The text in letters of eight pixels' height: eight rows of cells, or four where `small`. Only ASCII is drawn.
pub(super) fn large(text: &str, small: bool) -> Vec<Line<'static>> {
    let glyphs: Vec<[u8; 8]> = text.bytes().filter_map(|byte| BASIC_LEGACY.get(usize::from(byte)).copied()).collect();
    let (step, rows) = if small { (2, 4) } else { (1, 8) };
    (0..rows).map(|row| glyphs.iter().flat_map(|glyph| cells(glyph, row, step)).collect::<String>().into()).collect()
}

/// One row of a letter, in cells of `step` by `step` pixels.
fn cells(glyph: &[u8; 8], row: usize, step: usize) -> impl Iterator<Item = char> {
    let pixel = move |x: usize, y: usize| usize::from(glyph[y] >> x & 1);
    (0..8).step_by(step).map(move |x| {
        let y = row * step;
        match step {
            1 => QUARTERS[15 * pixel(x, y)],
            _ => QUARTERS[pixel(x, y) | pixel(x + 1, y) << 1 | pixel(x, y + 1) << 2 | pixel(x + 1, y + 1) << 3],
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_figure_is_eight_rows_high_or_four_and_as_wide_as_its_letters() {
        for (small, rows, columns) in [(false, 8, 24), (true, 4, 12)] {
            let drawn = large("+1.", small);
            assert_eq!(drawn.len(), rows);
            assert!(drawn.iter().all(|line| line.width() == columns));
        }
    }

    #[test]
    fn a_bar_fills_whole_cells_in_both_sizes() {
        // The minus of the font is one bar over six pixels, rows 3 of 8.
        let shown = |small| large("-", small).iter().map(ToString::to_string).collect::<Vec<_>>();
        assert!(shown(false).iter().any(|row| row.contains('█')));
        assert!(shown(true).iter().all(|row| row.chars().all(|cell| QUARTERS.contains(&cell))));
    }
}
