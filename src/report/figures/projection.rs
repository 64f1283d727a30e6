//! Flat views of the scene: which axes to look along, and the vessel's outline in such a view.

use nalgebra::Vector3;
use plotters::prelude::DrawingBackend;
use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::FigureError;
use super::palette::{BODY, GUIDE, LUMEN, TARGET_LUMEN, WALL};
use super::pen::Pen;
use crate::report::outline::{OutlineBranch, OutlinePoint, SceneOutline};

/// Corners of the polygon that stands for a circle.
const CIRCLE: usize = 48;
/// A scene whose height is less than this fraction of its longest side counts as flat.
const FLAT: f64 = 0.3;
/// How far a drawn tube may lie from the true one, in points.
const SLACK: f64 = 0.1;
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
pub struct View {
    /// Coordinate to the right: 0, 1, 2 for x, y, z.
    pub right: usize,
    /// Coordinate upwards.
    pub up: usize,
}

impl View {
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
pub fn draw_lumen<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    view: View,
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
pub fn draw_tube<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    view: View,
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
    draw_discs(pen, plot, &thinned(&discs), colour)
}

/// Draws the part of a thick line inside the plot's frame, with round ends and corners.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_path<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    line: &[(f64, f64)],
    width: f64,
    colour: RGBColor,
) -> Result<(), FigureError> {
    let discs: Vec<Disc> = line.iter().map(|&at| (at, 0.5 * width)).collect();
    draw_discs(pen, plot, &thinned(&discs), colour)
}

/// Draws discs and what lies between neighbours.
fn draw_discs<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    discs: &[Disc],
    colour: RGBColor,
) -> Result<(), FigureError> {
    for &disc in discs {
        draw_disc(pen, plot, disc, colour)?;
    }
    for pair in discs.windows(2) {
        if let Some(corners) = bridge(pair[0], pair[1]) {
            draw_clipped(pen, plot, &corners, colour)?;
        }
    }
    Ok(())
}

/// Draws the last piece of the guiding catheter, as a bar of no particular thickness: a scenario
/// does not state a guide's diameter.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_guide<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    view: View,
    outline: &SceneOutline,
) -> Result<(), FigureError> {
    draw_guide_at(
        pen,
        plot,
        view,
        (outline.guide_end_mm, outline.guide_direction),
    )
}

/// The same for a guide that ends and points elsewhere.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_guide_at<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    view: View,
    (end, direction): (Vector3<f64>, Vector3<f64>),
) -> Result<(), FigureError> {
    let (x1, y1) = view.on_paper(plot, &end);
    let back = end - direction * GUIDE_MM;
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

/// A disc on paper: centre and radius in points.
type Disc = ((f64, f64), f64);

/// The discs of a tube that are worth drawing: first and last, and between them those without
/// which the tube would change by more than [`SLACK`]. Where a straight tube is drawn in one
/// piece, its wall is a straight line whatever the rounding of the backend.
fn thinned(discs: &[Disc]) -> Vec<Disc> {
    let mut kept: Vec<Disc> = discs.first().into_iter().copied().collect();
    let mut start = 0;
    for end in 2..discs.len() {
        let between = &discs[start + 1..end];
        let (first, last) = (discs[start], discs[end]);
        if between.iter().any(|&disc| away(disc, first, last) > SLACK) {
            start = end - 1;
            kept.push(discs[start]);
        }
    }
    if discs.len() > 1 {
        kept.extend(discs.last());
    }
    kept
}

/// How far a disc lies from the one that a cone from `first` to `last` has in its place, in
/// points; centre or radius, whichever differs more.
fn away(((x, y), r): Disc, ((x0, y0), r0): Disc, ((x1, y1), r1): Disc) -> f64 {
    let (dx, dy) = (x1 - x0, y1 - y0);
    let along = ((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy).max(1e-12);
    let t = along.clamp(0.0, 1.0);
    let off = (x - x0 - t * dx).hypot(y - y0 - t * dy);
    off.max((r - r0 - t * (r1 - r0)).abs())
}

fn draw_disc<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    ((x, y), radius): Disc,
    colour: RGBColor,
) -> Result<(), FigureError> {
    let corner = |k: usize| {
        let (sine, cosine) = (std::f64::consts::TAU * k as f64 / CIRCLE as f64).sin_cos();
        (x + radius * cosine, y + radius * sine)
    };
    let corners: Vec<_> = (0..CIRCLE).map(corner).collect();
    draw_clipped(pen, plot, &corners, colour)
}

/// Draws the part of a convex polygon inside the plot's frame.
///
/// # Errors
///
/// What the backend reports.
fn draw_clipped<DB: DrawingBackend>(
    pen: &Pen<'_, DB>,
    plot: &Plot,
    corners: &[(f64, f64)],
    colour: RGBColor,
) -> Result<(), FigureError> {
    let inside = clip(corners, plot);
    if inside.len() > 2 {
        pen.polygon(&inside, colour)?;
    }
    Ok(())
}

/// The four-cornered piece across two neighbouring discs (centre, radius); `None` where one
/// covers the other.
fn bridge(((x0, y0), r0): Disc, ((x1, y1), r1): Disc) -> Option<[(f64, f64); 4]> {
    let length = (x1 - x0).hypot(y1 - y0);
    (length > (r1 - r0).abs()).then(|| {
        let (nx, ny) = (-(y1 - y0) / length, (x1 - x0) / length);
        [
            (x0 + nx * r0, y0 + ny * r0),
            (x1 + nx * r1, y1 + ny * r1),
            (x1 - nx * r1, y1 - ny * r1),
            (x0 - nx * r0, y0 - ny * r0),
        ]
    })
}

/// The part of a convex polygon inside the plot's frame.
///
/// Source: I. E. Sutherland and G. W. Hodgman, Commun ACM 17:32-42, 1974.
#[must_use]
fn clip(polygon: &[(f64, f64)], plot: &Plot) -> Vec<(f64, f64)> {
    // Signed distances to the four edges, positive inside.
    let edges: [&dyn Fn((f64, f64)) -> f64; 4] = [
        &|p| p.0 - plot.left,
        &|p| plot.right - p.0,
        &|p| p.1 - plot.top,
        &|p| plot.bottom - p.1,
    ];
    let mut corners = polygon.to_vec();
    for inside in edges {
        let mut kept = Vec::with_capacity(corners.len() + 2);
        for (i, &a) in corners.iter().enumerate() {
            let b = corners[(i + 1) % corners.len()];
            let (da, db) = (inside(a), inside(b));
            if da >= 0.0 {
                kept.push(a);
            }
            if (da >= 0.0) != (db >= 0.0) {
                let t = da / (da - db);
                kept.push((a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1)));
            }
        }
        corners = kept;
    }
    corners
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Twice the area, by the shoelace formula.
    fn doubled_area(polygon: &[(f64, f64)]) -> f64 {
        let next = polygon.iter().cycle().skip(1);
        let sum: f64 = polygon
            .iter()
            .zip(next)
            .map(|(a, b)| a.0 * b.1 - b.0 * a.1)
            .sum();
        sum.abs()
    }

    #[test]
    fn clipping_leaves_the_area_inside_the_frame() {
        let plot = Plot {
            left: 0.0,
            top: 0.0,
            right: 10.0,
            bottom: 6.0,
            x: (0.0, 1.0),
            y: (0.0, 1.0),
        };
        let square = [(-2.0, -2.0), (2.0, -2.0), (2.0, 2.0), (-2.0, 2.0)];
        assert_relative_eq!(doubled_area(&clip(&square, &plot)), 8.0, epsilon = 1e-12);
        let around = [(-50.0, -50.0), (50.0, -50.0), (50.0, 50.0), (-50.0, 50.0)];
        assert_relative_eq!(doubled_area(&clip(&around, &plot)), 120.0, epsilon = 1e-9);
        let outside = [(11.0, 1.0), (12.0, 1.0), (12.0, 2.0)];
        assert!(clip(&outside, &plot).is_empty());
    }

    #[test]
    fn a_straight_tube_is_one_piece_and_a_bent_one_keeps_its_shape() {
        let straight: Vec<Disc> = (0..50)
            .map(|i| ((f64::from(i), 2.0 * f64::from(i)), 9.0 - 0.1 * f64::from(i)))
            .collect();
        assert_eq!(thinned(&straight), [straight[0], straight[49]]);
        let bent: Vec<Disc> = (0..200)
            .map(|i| {
                let (sine, cosine) = (0.02 * f64::from(i)).sin_cos();
                ((80.0 * cosine, 80.0 * sine), 9.0)
            })
            .collect();
        let few = thinned(&bent);
        assert!(few.len() > 10 && few.len() < 60, "{}", few.len());
        for &disc in &bent {
            let off = |pair: &[Disc]| away(disc, pair[0], pair[1]);
            assert!(few.windows(2).any(|pair| off(pair) <= SLACK + 1e-9));
        }
    }

    #[test]
    fn y_is_upwards_unless_the_scene_is_flat_in_it() {
        let views = |x, y, z| {
            View::pair(&Bounds {
                low: Vector3::zeros(),
                high: Vector3::new(x, y, z),
            })
            .map(|v| (v.right, v.up))
        };
        assert_eq!(views(3.0, 40.0, 20.0), [(0, 1), (2, 1)]);
        assert_eq!(views(30.0, 2.0, 20.0), [(0, 2), (1, 2)]);
    }
}
