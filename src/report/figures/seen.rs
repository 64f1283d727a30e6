//! A place as two views show it, side by side.

use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::{Figure, FigureError};
use super::labels::{Drawn, draw_names, draw_scale_bar};
use super::palette::{INK, MARK, PAPER, SOFT_INK, TARGET, WALL};
use super::pen::{Pen, Type};
use super::projection::{AxisView, draw_guide, draw_lumen};
use super::strategies::{HEADING_BOTTOM, MARGIN, heading};
use crate::report::outline::{OutlineBranch, SceneOutline};

/// Side of a panel in points.
const SIDE: f64 = 500.0;
const GAP: f64 = 36.0;
const TOP: f64 = HEADING_BOTTOM + 56.0;
/// Image coordinates: right and up.
const IMAGE: AxisView = AxisView { right: 0, up: 1 };

/// One view.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenPanel {
    /// Which view.
    pub title: String,
    /// Its measures.
    pub note: String,
    /// The scene in image coordinates: right, up and depth from the isocentre, in mm.
    pub outline: SceneOutline,
    /// Branches where they are believed to run, if not where they do, in image coordinates.
    pub believed: Vec<OutlineBranch>,
    /// Where the ostium is seen, in mm.
    pub ostium: Option<(f64, f64)>,
}

/// Two views side by side, at the same scale.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenPair {
    /// Name of its files, without ending.
    pub name: String,
    /// Title.
    pub title: String,
    /// Line below the title.
    pub subtitle: String,
    /// Half the width of what is shown about the isocentre, in mm.
    pub half_width_mm: f64,
    /// The views.
    pub panels: [SeenPanel; 2],
}

impl SeenPair {
    fn plot(&self, panel: usize) -> Plot {
        let left = MARGIN + panel as f64 * (SIDE + GAP);
        let range = (-self.half_width_mm, self.half_width_mm);
        Plot {
            left,
            top: TOP,
            right: left + SIDE,
            bottom: TOP + SIDE,
            x: range,
            y: range,
        }
    }
}

impl Figure for SeenPair {
    fn name(&self) -> &str {
        &self.name
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "some hundred points"
    )]
    fn size(&self) -> (u32, u32) {
        let width = 2.0 * (MARGIN + SIDE) + GAP;
        (width.ceil() as u32, (TOP + SIDE + MARGIN).ceil() as u32)
    }

    fn draw(&self, pen: &Pen<'_>) -> Result<(), FigureError> {
        heading(pen, &self.title, &self.subtitle)?;
        for (index, panel) in self.panels.iter().enumerate() {
            let plot = self.plot(index);
            draw_lumen(pen, &plot, IMAGE, &panel.outline)?;
            draw_guide(pen, &plot, IMAGE, &panel.outline)?;
            for branch in &panel.outline.branches {
                let target = branch.name == panel.outline.target;
                let (colour, width) = if target { (TARGET, 2.0) } else { (WALL, 1.2) };
                draw_edges(pen, &plot, branch, width, colour)?;
            }
            for branch in &panel.believed {
                draw_edges(pen, &plot, branch, 2.0, MARK)?;
            }
            if let Some(at) = panel.ostium {
                let at = plot.map(at.0, at.1);
                pen.disc(at, 6.0, PAPER)?;
                pen.disc(at, 4.5, INK)?;
            }
            plot.frame(pen)?;
            let bar = draw_scale_bar(pen, &plot, IMAGE, &panel.outline)?;
            let drawn = Drawn {
                taken: vec![bar],
                ..Drawn::default()
            };
            draw_names(pen, &plot, IMAGE, &panel.outline, drawn)?;
            let bold = Type::new(14.0, INK).bold();
            pen.text(&panel.title, (plot.left, plot.top - 34.0), bold)?;
            let soft = Type::new(13.0, SOFT_INK);
            pen.text(&panel.note, (plot.left, plot.top - 14.0), soft)?;
        }
        Ok(())
    }
}

/// The two edges of a branch, as a shadow has them: also where another vessel lies in front or
/// behind.
fn draw_edges(
    pen: &Pen<'_>,
    plot: &Plot,
    branch: &OutlineBranch,
    width: f64,
    colour: RGBColor,
) -> Result<(), FigureError> {
    let flat = |i: usize| {
        let p = &branch.points[i].position_mm;
        (p.x, p.y)
    };
    let inside =
        |(x, y): (f64, f64)| x >= plot.x.0 && x <= plot.x.1 && y >= plot.y.0 && y <= plot.y.1;
    let last = branch.points.len().saturating_sub(1);
    for side in [-1.0, 1.0] {
        let mut run: Vec<(f64, f64)> = Vec::new();
        for i in 0..=last {
            let (before, after) = (flat(i.saturating_sub(1)), flat((i + 1).min(last)));
            let (dx, dy) = (after.0 - before.0, after.1 - before.1);
            let length = dx.hypot(dy);
            let (x, y) = flat(i);
            let offset = side * branch.points[i].radius_mm / length.max(1e-9);
            let edge = (x - dy * offset, y + dx * offset);
            if length > 1e-9 && inside(edge) {
                run.push(plot.map(edge.0, edge.1));
            } else {
                pen.line(&run, width, colour)?;
                run.clear();
            }
        }
        pen.line(&run, width, colour)?;
    }
    Ok(())
}
