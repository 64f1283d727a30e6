//! Tubes and thick lines on paper: rows of discs with what lies between them, cut at a frame.

use plotters::style::RGBColor;

use super::axis::Plot;
use super::canvas::FigureError;
use super::pen::Pen;

/// Corners of the polygon that stands for a circle.
const CIRCLE: usize = 48;
/// How far a drawn tube may lie from the true one, in points.
const SLACK: f64 = 0.1;

/// A disc on paper: centre and radius in points.
pub type Disc = ((f64, f64), f64);

/// Draws the part inside the plot's frame of discs and of what lies between neighbours.
///
/// # Errors
///
/// What the backend reports.
pub fn draw_discs(
    pen: &Pen<'_>,
    plot: &Plot,
    discs: &[Disc],
    colour: RGBColor,
) -> Result<(), FigureError> {
    let discs = thinned(discs);
    for &disc in &discs {
        draw_disc(pen, plot, disc, colour)?;
    }
    for pair in discs.windows(2) {
        if let Some(corners) = bridge(pair[0], pair[1]) {
            draw_clipped(pen, plot, &corners, colour)?;
        }
    }
    Ok(())
}

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

fn draw_disc(
    pen: &Pen<'_>,
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
pub fn draw_clipped(
    pen: &Pen<'_>,
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
}
