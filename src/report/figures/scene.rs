//! The scene in two projections: vessel, guide, target, and the wires to scale.

use nalgebra::Vector3;
use plotters::prelude::DrawingBackend;

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::labels::{draw_names, draw_scale_bar};
use super::palette::{GUIDE, INK, LUMEN, pale, wire_colour};
use super::pen::{Pen, Type, text_width};
use super::projection::{Bounds, View, draw_clipped, draw_lumen};
use super::strategies::{HEADING_BOTTOM, MARGIN, heading};
use crate::report::outline::{OutlineBranch, SceneOutline};

const WIDEST: f64 = 1200.0;
const NARROWEST: f64 = 760.0;
const LEGEND_Y: f64 = HEADING_BOTTOM + 10.0;
const LEGEND_LINE: f64 = 22.0;
const LEFT: f64 = 72.0;
const PANEL_GAP: f64 = 64.0;
const ROW_LABEL: f64 = 26.0;
const ROW_GAP: f64 = 52.0;
const TALLEST_PANEL: f64 = 560.0;
/// Paper around the scene in mm.
const SURROUND_MM: f64 = 4.0;
/// Length of the guide that is shown, in mm.
const GUIDE_MM: f64 = 6.0;
/// Rim that sets a wire off from wires below it, both sides together, in points.
const RIM: f64 = 1.4;
/// Thinnest line for a wire, in points.
const THINNEST: f64 = 0.8;

/// One wire in a row of the figure.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnWire {
    /// Name in the legend.
    pub label: String,
    /// Number of its colour.
    pub colour: usize,
    /// Outer diameter in mm.
    pub diameter_mm: f64,
    /// Shapes in mm, guide's end to tip, each with a strength from 0 (not seen) to 1.
    pub shapes: Vec<(Vec<Vector3<f64>>, f64)>,
    /// Paths of the tip in mm.
    pub tip_paths: Vec<Vec<Vector3<f64>>>,
}

/// One row of the figure: two projections of the vessel with some wires.
#[derive(Debug, Clone, PartialEq)]
pub struct SceneRow {
    /// What the row shows.
    pub title: String,
    /// The wires.
    pub wires: Vec<DrawnWire>,
}

/// The scene in two projections, a row for each technique (or any other choice of wires).
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// Name of its files, without ending.
    pub name: String,
    /// Title.
    pub title: String,
    /// Line below the title.
    pub subtitle: String,
    /// The vessel.
    pub outline: SceneOutline,
    /// The rows; without any, the vessel alone is drawn.
    pub rows: Vec<SceneRow>,
}

/// Sizes that follow from the scene.
struct Layout {
    bounds: Bounds,
    views: [View; 2],
    points_per_mm: f64,
    legend: Vec<(usize, String, f64, f64)>,
    first_row: f64,
}

impl Layout {
    /// The two plots of a row whose frames begin at `top`.
    fn plots(&self, top: f64) -> [(Plot, View); 2] {
        let (low, size) = (self.bounds.low, self.bounds.size());
        let k = self.points_per_mm;
        let mut left = LEFT;
        self.views.map(|view| {
            let plot = Plot {
                left,
                top,
                right: left + k * size[view.right],
                bottom: top + k * size[view.up],
                x: (low[view.right], low[view.right] + size[view.right]),
                y: (low[view.up], low[view.up] + size[view.up]),
            };
            left = plot.right + PANEL_GAP;
            (plot, view)
        })
    }
}

impl Scene {
    /// The plots of the first row.
    #[must_use]
    pub(super) fn plots(&self) -> [(Plot, View); 2] {
        let layout = self.layout();
        layout.plots(layout.first_row + ROW_LABEL)
    }

    /// The box that is shown: the wires, the guide and the whole target; without wires the
    /// whole vessel.
    fn bounds(&self) -> Bounds {
        let wires = self.rows.iter().flat_map(|row| &row.wires);
        let mut points: Vec<Vector3<f64>> = wires
            .flat_map(|w| w.shapes.iter().map(|(s, _)| s).chain(&w.tip_paths))
            .flatten()
            .copied()
            .collect();
        let whole = points.is_empty();
        points.push(self.outline.guide_end_mm);
        let shown = |b: &&OutlineBranch| whole || b.name == self.outline.target;
        let branches = self.outline.branches.iter().filter(shown);
        points.extend(branches.flat_map(corners));
        let origin = Bounds {
            low: Vector3::zeros(),
            high: Vector3::zeros(),
        };
        Bounds::around(points).unwrap_or(origin).grown(SURROUND_MM)
    }

    fn vessel_bounds(&self) -> Option<Bounds> {
        Bounds::around(self.outline.branches.iter().flat_map(corners))
    }

    fn layout(&self) -> Layout {
        let bounds = self.bounds();
        // Chosen by the whole vessel, so that all figures of a study look the same way.
        let views = View::pair(&self.vessel_bounds().unwrap_or(bounds));
        let size = bounds.size();
        let paper = WIDEST - LEFT - MARGIN - PANEL_GAP;
        let points_per_mm = (paper / (size[views[0].right] + size[views[1].right]))
            .min(TALLEST_PANEL / size[views[0].up]);
        let (legend, below) = self.legend();
        Layout {
            bounds,
            views,
            points_per_mm,
            legend,
            first_row: below + 4.0,
        }
    }

    /// Legend entries (colour, label, start of the swatch) and where they end.
    fn legend(&self) -> (Vec<(usize, String, f64, f64)>, f64) {
        let mut entries: Vec<(usize, String, f64, f64)> = Vec::new();
        let (mut x, mut y) = (MARGIN, LEGEND_Y);
        for wire in self.rows.iter().flat_map(|row| &row.wires) {
            if entries.iter().any(|(_, label, ..)| *label == wire.label) {
                continue;
            }
            let width = 62.0 + text_width(&wire.label, Type::new(13.0, INK));
            if x + width > NARROWEST - MARGIN && x > MARGIN {
                x = MARGIN;
                y += LEGEND_LINE;
            }
            entries.push((wire.colour, wire.label.clone(), x, y));
            x += width;
        }
        let below = if entries.is_empty() {
            y - 10.0
        } else {
            y + 16.0
        };
        (entries, below)
    }

    fn draw_view<DB: DrawingBackend>(
        &self,
        pen: &Pen<'_, DB>,
        plot: &Plot,
        view: View,
        row: Option<&SceneRow>,
    ) -> Result<(), FigureError> {
        let scale = (plot.right - plot.left) / (plot.x.1 - plot.x.0);
        draw_lumen(pen, plot, view, &self.outline)?;
        self.draw_guide(pen, plot, view)?;
        for wire in row.map_or(&[][..], |row| &row.wires) {
            let colour = wire_colour(wire.colour);
            let on_paper = |points: &[Vector3<f64>]| -> Vec<(f64, f64)> {
                points.iter().map(|p| view.on_paper(plot, p)).collect()
            };
            for path in &wire.tip_paths {
                pen.line(&on_paper(path), 0.8, pale(colour, 0.45))?;
            }
            let width = (wire.diameter_mm * scale).max(THINNEST);
            for (shape, strength) in &wire.shapes {
                let line = on_paper(shape);
                pen.line(&line, width + RIM, LUMEN)?;
                pen.line(&line, width, pale(colour, *strength))?;
                if let Some(&tip) = line.last() {
                    pen.disc(tip, width / 2.0, pale(colour, *strength))?;
                }
            }
        }
        plot.frame(pen)?;
        plot.x_ticks(pen, false)?;
        plot.y_ticks(pen, false)?;
        plot.x_name(pen, &View::axis_name(view.right))?;
        plot.y_name(pen, &View::axis_name(view.up), 46.0)
    }

    /// The last piece of the guiding catheter, as a bar that is not to scale.
    fn draw_guide<DB: DrawingBackend>(
        &self,
        pen: &Pen<'_, DB>,
        plot: &Plot,
        view: View,
    ) -> Result<(), FigureError> {
        let end = self.outline.guide_end_mm;
        let (x1, y1) = view.on_paper(plot, &end);
        let back = end - self.outline.guide_direction * GUIDE_MM;
        let (x0, y0) = view.on_paper(plot, &back);
        let length = (x1 - x0).hypot(y1 - y0);
        if length > 1.0 {
            let (nx, ny) = (-(y1 - y0) / length * 4.0, (x1 - x0) / length * 4.0);
            let bar = [
                (x0 + nx, y0 + ny),
                (x1 + nx, y1 + ny),
                (x1 - nx, y1 - ny),
                (x0 - nx, y0 - ny),
            ];
            draw_clipped(pen, plot, &bar, GUIDE)?;
        }
        Ok(())
    }
}

impl Figure for Scene {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let layout = self.layout();
        let rows = self.rows.len().max(1) as f64;
        let panel = layout.bounds.size()[layout.views[0].up] * layout.points_per_mm;
        let height = layout.first_row + rows * (ROW_LABEL + panel + ROW_GAP);
        let views = layout.views;
        let side_by_side =
            layout.bounds.size()[views[0].right] + layout.bounds.size()[views[1].right];
        let width = LEFT + side_by_side * layout.points_per_mm + PANEL_GAP + MARGIN;
        (width.max(NARROWEST).ceil() as u32, height.ceil() as u32)
    }

    fn draw<DB: DrawingBackend>(&self, pen: &Pen<'_, DB>) -> Result<(), FigureError> {
        heading(pen, &self.title, &self.subtitle)?;
        let layout = self.layout();
        for (colour, label, x, y) in &layout.legend {
            pen.line(&[(*x, *y), (x + 26.0, *y)], 4.0, wire_colour(*colour))?;
            pen.text(label, (x + 34.0, *y), Type::new(13.0, INK))?;
        }
        let no_rows = [None];
        let rows: Vec<Option<&SceneRow>> = self.rows.iter().map(Some).collect();
        let rows = if rows.is_empty() { &no_rows[..] } else { &rows };
        let mut top = layout.first_row;
        for row in rows {
            top += ROW_LABEL;
            for (plot, view) in layout.plots(top) {
                self.draw_view(pen, &plot, view, *row)?;
                draw_names(pen, &plot, view, &self.outline)?;
                if plot.left <= LEFT {
                    draw_scale_bar(pen, &plot, view, &self.outline)?;
                }
            }
            if let Some(row) = row {
                let style = Type::new(14.0, INK).bold();
                pen.text(&row.title, (LEFT, top - 13.0), style)?;
            }
            let height = layout.bounds.size()[layout.views[0].up];
            top += layout.points_per_mm * height + ROW_GAP;
        }
        Ok(())
    }
}

/// The corners of the boxes around a branch's points.
fn corners(branch: &OutlineBranch) -> impl Iterator<Item = Vector3<f64>> {
    branch.points.iter().flat_map(|p| {
        [
            p.position_mm.add_scalar(p.radius_mm),
            p.position_mm.add_scalar(-p.radius_mm),
        ]
    })
}
