//! The scene in two projections: vessel, guide, target, and the wires to scale.

use nalgebra::Vector3;

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::font::wrap;
use super::labels::{Drawn, TipLabel, draw_names, draw_scale_bar, target_width};
use super::palette::{INK, LUMEN, pale, wire_colour};
use super::pen::{Pen, Type};
use super::projection::{AxisView, Bounds, draw_guide, draw_lumen};
use super::strategies::{HEADING_BOTTOM, MARGIN, heading};
use crate::report::outline::{OutlineBranch, SceneOutline};
use crate::trial::result::Outcome;

const WIDEST: f64 = 1200.0;
const NARROWEST: f64 = 760.0;
const FIRST_ROW: f64 = HEADING_BOTTOM + 4.0;
const KEY_LINE: f64 = 18.0;
const KEY_SIZE: f64 = 13.0;
/// Width of the colour before a line of a row's key, with the space behind it.
const SWATCH: f64 = 34.0;
const LEFT: f64 = 72.0;
const PANEL_GAP: f64 = 64.0;
const ROW_LABEL: f64 = 26.0;
const ROW_GAP: f64 = 52.0;
const TALLEST_PANEL: f64 = 560.0;
/// Least width of a panel, and the most that the name of a target asks for, in points.
const LEAST_PANEL: f64 = 120.0;
const MOST_LEAST_PANEL: f64 = 260.0;
/// Paper around the scene in mm.
const SURROUND_MM: f64 = 4.0;
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
    /// The covered part of each of these shapes, with the diameter of the catheter in mm.
    pub covers: Vec<(Vec<Vector3<f64>>, f64)>,
    /// Paths of the tip in mm.
    pub tip_paths: Vec<Vec<Vector3<f64>>>,
    /// How the drawn trials ended, in order of trial.
    pub ends: Vec<TrialEnd>,
}

/// The end of one drawn trial.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialEnd {
    /// Trial number, from 0.
    pub trial: u32,
    /// Where the tip lay, in mm.
    pub tip_mm: Vector3<f64>,
    /// How the trial ended.
    pub outcome: Outcome,
}

impl DrawnWire {
    /// The wire's name and how its drawn trials ended, outcome by outcome.
    fn key(&self) -> String {
        let endings = Outcome::ALL.into_iter().filter_map(|outcome| {
            let ended = self.ends.iter().filter(|end| end.outcome == outcome);
            let trials: Vec<String> = ended.map(|end| end.trial.to_string()).collect();
            let word = if trials.len() == 1 { "trial" } else { "trials" };
            (!trials.is_empty())
                .then(|| format!("{word} {} {}", trials.join(", "), outcome.label()))
        });
        let endings: Vec<String> = endings.collect();
        format!("{}: {}", self.label, endings.join("; "))
    }
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

impl SceneRow {
    /// Lines of the key above the row's panels: number of the colour where a wire's text starts,
    /// and the text.
    fn key(&self) -> Vec<(Option<usize>, String)> {
        let width = NARROWEST - LEFT - SWATCH - MARGIN;
        let lines = self.wires.iter().flat_map(|wire| {
            let lines = wrap(&wire.key(), width, Type::new(KEY_SIZE, INK));
            let colours = std::iter::once(Some(wire.colour)).chain(std::iter::repeat(None));
            colours.zip(lines)
        });
        lines.collect()
    }

    /// Height of title and key in points.
    fn head(&self) -> f64 {
        ROW_LABEL + KEY_LINE * self.key().len() as f64
    }

    fn draw_head(&self, pen: &Pen<'_>, top: f64) -> Result<(), FigureError> {
        pen.text(&self.title, (LEFT, top + 13.0), Type::new(14.0, INK).bold())?;
        for (index, (colour, text)) in self.key().iter().enumerate() {
            let y = top + ROW_LABEL + KEY_LINE * (index as f64 + 0.5) - 3.0;
            if let Some(colour) = colour {
                pen.line(&[(LEFT, y), (LEFT + 26.0, y)], 4.0, wire_colour(*colour))?;
            }
            pen.text(text, (LEFT + SWATCH, y), Type::new(KEY_SIZE, INK))?;
        }
        Ok(())
    }
}

/// Sizes that follow from the scene.
struct Layout {
    bounds: Bounds,
    views: [AxisView; 2],
    points_per_mm: f64,
    /// Widths of the panels, in points.
    widths: [f64; 2],
}

impl Layout {
    /// The two plots of a row whose frames begin at `top`.
    fn plots(&self, top: f64) -> [(Plot, AxisView); 2] {
        let (low, size) = (self.bounds.low, self.bounds.size());
        let k = self.points_per_mm;
        let mut left = LEFT;
        [0, 1].map(|panel| {
            let (view, width) = (self.views[panel], self.widths[panel]);
            let middle = low[view.right] + 0.5 * size[view.right];
            let plot = Plot {
                left,
                top,
                right: left + width,
                bottom: top + k * size[view.up],
                x: (middle - 0.5 * width / k, middle + 0.5 * width / k),
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
    pub(super) fn plots(&self) -> [(Plot, AxisView); 2] {
        let layout = self.layout();
        layout.plots(FIRST_ROW + ROW_LABEL)
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
        let views = AxisView::pair(&self.vessel_bounds().unwrap_or(bounds));
        let size = bounds.size();
        let paper = WIDEST - LEFT - MARGIN - PANEL_GAP;
        let across = views.map(|view| size[view.right]);
        let tallest = TALLEST_PANEL / size[views[0].up];
        let mut points_per_mm = (paper / (across[0] + across[1])).min(tallest);
        // A view that is narrower than its target's name is given more paper beside the vessel.
        let least = target_width(&self.outline).clamp(LEAST_PANEL, MOST_LEAST_PANEL);
        let is_narrow = across.map(|mm| mm * points_per_mm < least);
        for (narrow, other) in [(0, 1), (1, 0)] {
            if is_narrow[narrow] && !is_narrow[other] {
                points_per_mm = points_per_mm.min((paper - least) / across[other]);
            }
        }
        Layout {
            bounds,
            views,
            points_per_mm,
            widths: across.map(|mm| (mm * points_per_mm).max(least)),
        }
    }

    /// Everything of the row's wires that a text should not cover, on paper.
    fn busy(row: Option<&SceneRow>, plot: &Plot, view: AxisView) -> Vec<(f64, f64)> {
        let wires = row.map_or(&[][..], |row| &row.wires).iter();
        wires
            .flat_map(|w| w.shapes.iter().map(|(s, _)| s).chain(&w.tip_paths))
            .flatten()
            .map(|p| view.on_paper(plot, p))
            .collect()
    }

    fn draw_view(
        &self,
        pen: &Pen<'_>,
        plot: &Plot,
        view: AxisView,
        row: Option<&SceneRow>,
    ) -> Result<(), FigureError> {
        let scale = (plot.right - plot.left) / (plot.x.1 - plot.x.0);
        draw_lumen(pen, plot, view, &self.outline)?;
        draw_guide(pen, plot, view, &self.outline)?;
        for wire in row.map_or(&[][..], |row| &row.wires) {
            let colour = wire_colour(wire.colour);
            let on_paper = |points: &[Vector3<f64>]| -> Vec<(f64, f64)> {
                points.iter().map(|p| view.on_paper(plot, p)).collect()
            };
            for path in &wire.tip_paths {
                pen.line(&on_paper(path), 0.8, pale(colour, 0.45))?;
            }
            let width = (wire.diameter_mm * scale).max(THINNEST);
            for (number, (shape, strength)) in wire.shapes.iter().enumerate() {
                let cover = wire.covers.get(number).filter(|c| c.0.len() > 1);
                if let Some((covered, diameter_mm)) = cover {
                    let band = on_paper(covered);
                    let across = (diameter_mm * scale).max(THINNEST);
                    pen.line(&band, across + RIM, pale(colour, 0.7 * strength))?;
                    pen.line(&band, across, pale(colour, 0.25 * strength))?;
                }
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
        plot.x_name(pen, &AxisView::axis_name(view.right))?;
        plot.y_name(pen, &AxisView::axis_name(view.up), 46.0)
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
        let panel = layout.bounds.size()[layout.views[0].up] * layout.points_per_mm;
        let heads: f64 = self.rows.iter().map(SceneRow::head).sum();
        let rows = self.rows.len().max(1) as f64;
        let height = FIRST_ROW + heads.max(ROW_LABEL) + rows * (panel + ROW_GAP);
        let width = LEFT + layout.widths[0] + PANEL_GAP + layout.widths[1] + MARGIN;
        (width.max(NARROWEST).ceil() as u32, height.ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(pen, &self.title, &self.subtitle)?;
        let layout = self.layout();
        let no_rows = [None];
        let rows: Vec<Option<&SceneRow>> = self.rows.iter().map(Some).collect();
        let rows = if rows.is_empty() { &no_rows[..] } else { &rows };
        let mut top = FIRST_ROW;
        for row in rows {
            if let Some(row) = row {
                row.draw_head(pen, top)?;
            }
            top += row.map_or(ROW_LABEL, SceneRow::head);
            for (plot, view) in layout.plots(top) {
                self.draw_view(pen, &plot, view, *row)?;
                let mut drawn = Drawn {
                    wires: Self::busy(*row, &plot, view),
                    ..Drawn::default()
                };
                // The side view is often too narrow for the rest; the key says all.
                if plot.left <= LEFT {
                    let bar = draw_scale_bar(pen, &plot, view, &self.outline)?;
                    drawn.taken.push(bar);
                    drawn.tips = row.map_or_else(Vec::new, tip_labels);
                }
                draw_names(pen, &plot, view, &self.outline, drawn)?;
            }
            let height = layout.bounds.size()[layout.views[0].up];
            top += layout.points_per_mm * height + ROW_GAP;
        }
        Ok(())
    }
}

/// A label for the end of every trial in a row, with the name of its wire where there are several.
fn tip_labels(row: &SceneRow) -> Vec<TipLabel> {
    let several = row.wires.len() > 1;
    let ends = row.wires.iter().flat_map(|wire| {
        wire.ends.iter().map(move |end| TipLabel {
            wire: several.then(|| wire.label.clone()),
            trial: end.trial,
            ending: end.outcome.label(),
            tip_mm: end.tip_mm,
        })
    });
    ends.collect()
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
