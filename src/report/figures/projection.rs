//! Flat views of the scene: which axes to look along, and the vessel's outline in such a view.

use nalgebra::Vector3;
use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::FigureError;
use super::discs::{Disc, draw_clipped, draw_discs};
use super::palette::{BODY, GUIDE, LUMEN, TARGET_LUMEN, WALL};
use super::pen::Pen;
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};

/// A scene whose height is less than this fraction of its longest side counts as flat.
const FLAT: f64 = 0.3;
/// Length of the guide that is shown, in mm.
const GUIDE_MM: f64 = 6.0;
/// Thickness of the vessel's wall on paper, in points.
const WALL_WIDTH: f64 = 1.8;

/// A box in space, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Smallest coordinates.
    pub low: Vector3<f64>,
    /// Largest coordinates.
    pub high: Vector3<f64>,
}

impl Bounds {
    /// The box around `points`; `None` for no points.
    #[must_use]
    pub fn around(points: impl IntoIterator<Item = Vector3<f64>>) -> Option<Self> {
        let mut points = points.into_iter();
        let first = points.next()?;
        let start = Self {
            low: first,
            high: first,
        };
        Some(points.fold(start, |b, p| Self {
            low: b.low.inf(&p),
            high: b.high.sup(&p),
        }))
    }

    /// The box grown by `margin_mm` on all sides.
    #[must_use]
    pub fn grown(&self, margin_mm: f64) -> Self {
        let margin = Vector3::repeat(margin_mm);
        Self {
            low: self.low - margin,
            high: self.high + margin,
        }
    }

    /// Lengths of the sides in mm.
    #[must_use]
    pub fn size(&self) -> Vector3<f64> {
        self.high - self.low
    }
}

/// A view along a coordinate axis: which coordinate runs to the right and which upwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct AxisView {
    /// Coordinate to the right: 0, 1, 2 for x, y, z.
    pub right: usize,
    /// Coordinate upwards.
    pub up: usize,
}

impl AxisView {
    /// Two views that share their upward coordinate: from the front, with x to the right, and
    /// from the side. Upwards is y; where `bounds` is flat in y and flatter than in z, z.
    #[must_use]
    pub fn pair(bounds: &Bounds) -> [Self; 2] {
        let size = bounds.size();
        let (up, depth) = if size.y < FLAT * size.max() && size.y < size.z {
            (2, 1)
        } else {
            (1, 2)
        };
        [Self { right: 0, up }, Self { right: depth, up }]
    }

    /// Name of the axis `coordinate` with its unit.
    #[must_use]
    pub fn axis_name(coordinate: usize) -> String {
        format!("{} (mm)", ["x", "y", "z"][coordinate])
    }

    /// Paper coordinates of a point in space.
    #[must_use]
    pub fn on_paper(&self, plot: &Plot, p: &Vector3<f64>) -> (f64, f64) {
        plot.map(p[self.right], p[self.up])
    }
}

/// Draws the lumen of all branches as one shape: every tube in the colour of the wall, then
/// every tube a little thinner in the colour of the lumen, which leaves the wall standing
/// around their union only. The target goes first, so that its tint starts at its ostium.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_lumen(
    pen: &Pen<'_>,
    plot: &Plot,
    view: AxisView,
    outline: &SceneOutline,
) -> Result<(), FigureError> {
    let mut order: Vec<&OutlineBranch> = outline.branches.iter().collect();
    order.sort_by_key(|b| b.name != outline.target);
    let bodies: Vec<&OutlineBranch> = outline.bodies.iter().collect();
    let layers = [
        (&order, WALL_WIDTH, Some(WALL)),
        (&order, 0.0, None),
        (&bodies, WALL_WIDTH, Some(WALL)),
        (&bodies, 0.0, Some(BODY)),
    ];
    for (tubes, grown, one_colour) in layers {
        for branch in tubes {
            let is_target = branch.name == outline.target;
            let lumen = if is_target { TARGET_LUMEN } else { LUMEN };
            let colour = one_colour.unwrap_or(lumen);
            draw_tube(pen, plot, view, &branch.points, grown, colour)?;
        }
    }
    Ok(())
}

/// Draws a tube as one filled shape, thicker by `grown` points all round.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_tube(
    pen: &Pen<'_>,
    plot: &Plot,
    view: AxisView,
    points: &[OutlinePoint],
    grown: f64,
    colour: RGBColor,
) -> Result<(), FigureError> {
    let scale = (plot.right - plot.left) / (plot.x.1 - plot.x.0);
    let discs: Vec<Disc> = (points.iter())
        .map(|p| {
            let centre = view.on_paper(plot, &p.position_mm);
            (centre, (p.radius_mm * scale + grown).max(0.0))
        })
        .collect();
    draw_discs(pen, plot, &discs, colour)
}

/// Draws the part of a thick line inside the plot's frame, with round ends and corners.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_path(
    pen: &Pen<'_>,
    plot: &Plot,
    line: &[(f64, f64)],
    width: f64,
    colour: RGBColor,
) -> Result<(), FigureError> {
    let discs: Vec<Disc> = line.iter().map(|&at| (at, 0.5 * width)).collect();
    draw_discs(pen, plot, &discs, colour)
}

/// Draws the last piece of the guiding catheter, as a bar of no particular thickness: a scenario
/// does not state a guide's diameter.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_guide(
    pen: &Pen<'_>,
    plot: &Plot,
    view: AxisView,
    outline: &SceneOutline,
) -> Result<(), FigureError> {
    draw_guide_at(
        pen,
        plot,
        view,
        (outline.guide_end_mm, outline.guide_direction),
    )
}

/// Points along the drawn guide, a half text's height apart or less.
pub fn guide_on_paper(plot: &Plot, view: AxisView, outline: &SceneOutline) -> Vec<(f64, f64)> {
    const PARTS: u32 = 24;
    let at = |k: u32| {
        let back = GUIDE_MM * f64::from(k) / f64::from(PARTS);
        let p = outline.guide_end_mm - outline.guide_direction * back;
        view.on_paper(plot, &p)
    };
    (0..=PARTS).map(at).collect()
}

/// The same for a guide that ends and points elsewhere.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_guide_at(
    pen: &Pen<'_>,
    plot: &Plot,
    view: AxisView,
    (end, direction): (Vector3<f64>, Vector3<f64>),
) -> Result<(), FigureError> {
    let (x1, y1) = view.on_paper(plot, &end);
    let back = end - direction * GUIDE_MM;
    let (x0, y0) = view.on_paper(plot, &back);
    let length = (x1 - x0).hypot(y1 - y0);
    if length <= 1.0 {
        // Seen along itself it is as wide as from the side.
        draw_discs(pen, plot, &[((x1, y1), 4.0)], GUIDE)?;
    } else {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn y_is_upwards_unless_the_scene_is_flat_in_it() {
        let views = |x, y, z| {
            AxisView::pair(&Bounds {
                low: Vector3::zeros(),
                high: Vector3::new(x, y, z),
            })
            .map(|v| (v.right, v.up))
        };
        assert_eq!(views(3.0, 40.0, 20.0), [(0, 1), (2, 1)]);
        assert_eq!(views(30.0, 2.0, 20.0), [(0, 2), (1, 2)]);
    }
}
