//! The vessel tree in two projections with names, and a table of its branches below.

use nalgebra::Vector3;

use super::canvas::{Figure, FigureError};
use super::font::text_width;
use super::palette::{GRID, INK, MARK, SOFT_INK};
use super::pen::{Align, Pen, Type};
use super::scene::Scene;
use super::strategies::MARGIN;
use crate::report::outline::SceneOutline;
use crate::report::scene::BranchLine;

const LINE: f64 = 19.0;
const SIZE: f64 = 12.0;
const COLUMN_GAP: f64 = 22.0;
/// Radius of the mark at a tightest bend, in points.
const MARK_RADIUS: f64 = 3.0;

/// One branch with the place of its tightest bend.
#[derive(Debug, Clone, PartialEq)]
pub struct TreeBranch {
    /// As the scene's table lists it.
    pub line: BranchLine,
    /// Number of its tip, if the file numbers tips.
    pub tip: Option<usize>,
    /// Where its tightest bend lies, in mm.
    pub tightest_mm: Vector3<f64>,
}

/// The tree.
#[derive(Debug, Clone, PartialEq)]
pub struct TreePicture {
    scene: Scene,
    branches: Vec<TreeBranch>,
}

impl TreePicture {
    /// The picture of a scenario's tree; `axes` says where they point.
    #[must_use]
    pub fn new(
        scenario: &str,
        axes: &str,
        outline: SceneOutline,
        branches: Vec<TreeBranch>,
    ) -> Self {
        let bodies = if outline.bodies.is_empty() {
            ""
        } else {
            "; brown: bodies in the lumen"
        };
        Self {
            scene: Scene {
                name: "tree".to_owned(),
                title: "The vessel tree".to_owned(),
                subtitle: format!("{scenario}; {axes}; dots: tightest bend of each branch{bodies}"),
                outline,
                rows: Vec::new(),
            },
            branches,
        }
    }

    /// Rows of the table, heads first.
    fn rows(&self) -> Vec<Vec<String>> {
        let heads = [
            "branch",
            "tip",
            "parent",
            "length, mm",
            "diameter at start, mm",
            "at end, mm",
            "least, mm",
            "take-off, deg",
            "tightest bend, radius in mm",
            "at, mm",
        ];
        let mut rows = vec![heads.map(str::to_owned).to_vec()];
        for TreeBranch { line, tip, .. } in &self.branches {
            let bent = line.tightest_radius_mm.is_finite();
            let none = || "-".to_owned();
            let diameter = |i: usize| format!("{:.2}", line.diameters_mm[i]);
            rows.push(vec![
                line.name.clone(),
                tip.map_or_else(none, |t| t.to_string()),
                line.parent.as_ref().map_or_else(none, |p| p.0.clone()),
                format!("{:.1}", line.length_mm),
                diameter(0),
                diameter(1),
                diameter(2),
                line.take_off_rad
                    .map_or_else(none, |a| format!("{:.0}", a.to_degrees())),
                if bent {
                    format!("{:.1}", line.tightest_radius_mm)
                } else {
                    "straight".to_owned()
                },
                if bent {
                    format!("{:.1}", line.tightest_at_mm)
                } else {
                    none()
                },
            ]);
        }
        rows
    }

    /// Left end and width of each column in points.
    fn columns(rows: &[Vec<String>]) -> Vec<(f64, f64)> {
        let style = Type::new(SIZE, INK).bold();
        let mut left = MARGIN;
        (0..rows[0].len())
            .map(|c| {
                let width = rows
                    .iter()
                    .map(|row| text_width(&row[c], style))
                    .fold(0.0, f64::max);
                let column = (left, width);
                left += width + COLUMN_GAP;
                column
            })
            .collect()
    }
}

impl Figure for TreePicture {
    fn name(&self) -> &str {
        self.scene.name()
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some thousand points"
    )]
    fn size(&self) -> (u32, u32) {
        let (width, height) = self.scene.size();
        let rows = self.rows();
        let columns = Self::columns(&rows);
        let table = columns
            .last()
            .map_or(0.0, |(left, width)| left + width + MARGIN);
        let below = LINE * rows.len() as f64 + 16.0;
        (width.max(table.ceil() as u32), height + below.ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        self.scene.draw(pen)?;
        for (plot, view) in self.scene.plots() {
            for branch in &self.branches {
                if branch.line.tightest_radius_mm.is_finite() {
                    let at = view.on_paper(&plot, &branch.tightest_mm);
                    pen.disc(at, MARK_RADIUS, MARK)?;
                }
            }
        }
        let rows = self.rows();
        let columns = Self::columns(&rows);
        let mut y = f64::from(self.scene.size().1) + 0.5 * LINE;
        for (r, row) in rows.iter().enumerate() {
            for (c, (left, width)) in columns.iter().enumerate() {
                let style = if r == 0 {
                    Type::new(SIZE, SOFT_INK).bold()
                } else {
                    Type::new(SIZE, INK)
                };
                let is_text = c == 0 || c == 2;
                let (x, align) = if is_text {
                    (*left, Align::Left)
                } else {
                    (left + width, Align::Right)
                };
                pen.text(&row[c], (x, y), style.align(align))?;
            }
            let right = columns.last().map_or(MARGIN, |(left, width)| left + width);
            pen.line(
                &[(MARGIN, y + 0.5 * LINE), (right, y + 0.5 * LINE)],
                if r == 0 { 1.0 } else { 0.5 },
                GRID,
            )?;
            y += LINE;
        }
        Ok(())
    }
}
