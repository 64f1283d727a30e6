//! Cells of a legacy VTK file: counted lists, or offsets and connectivity.

use super::Legacy;
use crate::anatomy::error::{Checked, Fault};
use crate::anatomy::read::limits;
use crate::shown::cut;

impl Legacy<'_> {
    /// Sorts the cells of an unstructured grid by their type; those without length or area are
    /// left out, volumes are refused.
    pub(super) fn cell_types(&mut self) -> Checked<()> {
        let count = self.words.count("the number of cell types")?;
        limits::at_most("cells", count, limits::LINES)?;
        let types = self.array(count, "int", "the cell types")?;
        for (cell, kind) in std::mem::take(&mut self.mixed).into_iter().zip(types) {
            match number_of(kind) {
                1 | 2 => self.out.vertex_cells += 1,
                3 | 4 => self.out.lines.push(cell),
                5 | 7 | 9 => self.out.polygons.push(cell),
                other => {
                    return Err((
                        self.words.at(),
                        Fault::Unsupported {
                            what: format!("cells of type {other}"),
                            allowed: "lines (3, 4), triangles (5), polygons (7) and squares (9)",
                        },
                    ));
                }
            }
        }
        Ok(())
    }

    /// Cells: counted lists, or from version 5 on offsets and connectivity.
    pub(super) fn cells(&mut self) -> Checked<Vec<Vec<u64>>> {
        let first = self.words.count("the number of cells")?;
        let second = self.words.count("the number of entries")?;
        limits::at_most("cells", first, limits::LINES)?;
        limits::at_most("entries of cells", second, 8 * limits::POINTS)?;
        let is_new = self
            .words
            .peek()
            .is_some_and(|w| w.eq_ignore_ascii_case("OFFSETS"));
        if is_new {
            self.words.next_word();
            let kind = self.words.word("the type of the offsets")?.to_string();
            let offsets = self.array(first, &kind, "the offsets")?;
            let word = self.words.word("CONNECTIVITY")?;
            if !word.eq_ignore_ascii_case("CONNECTIVITY") {
                return Err((
                    self.words.at(),
                    Fault::Malformed {
                        what: format!("CONNECTIVITY was expected, found {:?}", cut(word)),
                    },
                ));
            }
            let kind = self.words.word("the type of the connectivity")?.to_string();
            let ids = self.array(second, &kind, "the connectivity")?;
            return offsets
                .windows(2)
                .map(|pair| self.cell(&ids, number_of(pair[0]), number_of(pair[1])))
                .collect();
        }
        let entries = self.array(second, "int", "the cells")?;
        let mut cells = Vec::new();
        let mut at = 0;
        for _ in 0..first {
            let size = entries.get(at).map_or(usize::MAX, |n| number_of(*n));
            cells.push(self.cell(&entries, at + 1, (at + 1).saturating_add(size))?);
            at += 1 + size;
        }
        Ok(cells)
    }

    fn cell(&self, ids: &[f64], from: usize, to: usize) -> Checked<Vec<u64>> {
        let cell = ids.get(from..to).ok_or_else(|| {
            (
                self.words.at(),
                Fault::Malformed {
                    what: format!("a cell runs from entry {from} to {to} of {}", ids.len()),
                },
            )
        })?;
        Ok(cell.iter().map(|id| number_of(*id) as u64).collect())
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the cast saturates; a number that was no index fails where it is looked up"
)]
fn number_of(x: f64) -> usize {
    if x >= 0.0 { x as usize } else { usize::MAX }
}
