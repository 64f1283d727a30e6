//! A device that lies in a lumen beside the wire: a flexible line with a thickness, laid anew as it
//! moves.

use std::sync::{PoisonError, RwLock};

use nalgebra::Vector3;

use super::lumen::{Lumen, LumenPoint};

/// Pieces whose common ball is asked first.
const BLOCK: usize = 8;

/// Newton steps to the foot of a point on a piece.
const STEPS: usize = 8;

/// A piece with round ends, a parabola: `from + out t + bend t²` for t from 0 to 1.
#[derive(Debug, Clone, Copy)]
struct Piece {
    from: Vector3<f64>,
    out: Vector3<f64>,
    bend: Vector3<f64>,
    radius_mm: f64,
}

/// Pieces in a row and a ball around them.
#[derive(Debug, Clone)]
struct Block {
    pieces: Vec<Piece>,
    centre: Vector3<f64>,
    reach_mm: f64,
}

/// A line through points, each length between two of them with its radius.
///
/// The line has no corners that a wire could catch on: at each point a parabola takes half of the
/// shorter of the two lengths beside it, and as much of the other. With equal lengths this is the
/// quadratic B-spline of the points. Where the radius changes the line goes through the point.
///
/// As a [`Lumen`] it is the space around the line: the signed distance is negative outside of it,
/// and its gradient points into it. Where nothing is laid, everything is outside.
#[derive(Debug, Default)]
pub struct Strand {
    blocks: RwLock<Vec<Block>>,
}

/// A point seen from the nearest piece.
struct Seen {
    depth_mm: f64,
    radius_mm: f64,
    offset: Vector3<f64>,
    /// Direction of the piece, where the point lies beside it and not beyond an end; its length
    /// is 1 on a straight piece, more on the inner side of a bend and less on the outer one.
    along: Option<Vector3<f64>>,
}

impl Strand {
    /// Lays the line through `points` (mm); `diameters` in mm, one for each point, hold up to the
    /// next. Pieces shorter than a micrometre are left out.
    pub fn lay(&self, points: &[Vector3<f64>], diameters: &[f64]) {
        let mut line: Vec<(Vector3<f64>, f64)> = Vec::with_capacity(points.len());
        for (point, diameter) in points.iter().zip(diameters) {
            if line
                .last()
                .is_none_or(|(last, _)| (point - last).norm() > 1e-3)
            {
                line.push((*point, *diameter));
            }
        }
        // Length of each side of a point that its corner takes.
        let cut = |k: usize| {
            if k == 0 || k + 1 >= line.len() || (line[k - 1].1 - line[k].1).abs() > 0.0 {
                return 0.0;
            }
            let side = |i: usize| (line[i].0 - line[k].0).norm();
            0.5 * side(k - 1).min(side(k + 1))
        };
        let mut pieces: Vec<Piece> = Vec::new();
        for k in 0..line.len().saturating_sub(1) {
            let (from, to, radius_mm) = (line[k].0, line[k + 1].0, 0.5 * line[k].1);
            let (length, along) = ((to - from).norm(), (to - from).normalize());
            let (begin, end) = (cut(k), cut(k + 1));
            if length - begin - end > 1e-9 {
                let ends = [from + along * begin, to - along * end];
                pieces.push(Piece::straight(ends[0], ends[1], radius_mm));
            }
            if end > 0.0 {
                let next = to + (line[k + 2].0 - to).normalize() * end;
                pieces.push(Piece {
                    from: to - along * end,
                    out: along * (2.0 * end),
                    bend: next - to - along * end,
                    radius_mm,
                });
            }
        }
        let blocks = pieces.chunks(BLOCK).map(Block::of).collect();
        *self.blocks.write().unwrap_or_else(PoisonError::into_inner) = blocks;
    }

    /// The piece into which `p` lies deepest, among those less than `margin` away.
    fn deepest(&self, p: &Vector3<f64>, margin: f64) -> Option<Seen> {
        let blocks = self.blocks.read().unwrap_or_else(PoisonError::into_inner);
        let mut best: Option<Seen> = None;
        let mut least = -margin;
        for block in blocks.iter() {
            if block.reach_mm - (p - block.centre).norm() < least {
                continue;
            }
            for piece in &block.pieces {
                if piece.reach_mm() - (p - piece.centre()).norm() < least {
                    continue;
                }
                let seen = piece.see(p);
                if seen.depth_mm >= least {
                    least = seen.depth_mm;
                    best = Some(seen);
                }
            }
        }
        best
    }
}

impl Block {
    fn of(pieces: &[Piece]) -> Self {
        // A piece lies in the triangle of its ends and its control point.
        let corners = |p: &Piece| [p.from, p.from + p.out * 0.5, p.at(1.0)];
        let ends = || pieces.iter().flat_map(corners);
        let count = 3.0 * f64::from(u32::try_from(pieces.len()).unwrap_or(u32::MAX));
        let centre = ends().sum::<Vector3<f64>>() / count;
        let thickest = pieces.iter().map(|p| p.radius_mm).fold(0.0, f64::max);
        let reach = ends().map(|x| (x - centre).norm()).fold(0.0, f64::max);
        Self {
            pieces: pieces.to_vec(),
            centre,
            reach_mm: reach + thickest,
        }
    }
}

impl Piece {
    fn straight(from: Vector3<f64>, to: Vector3<f64>, radius_mm: f64) -> Self {
        Self {
            from,
            out: to - from,
            bend: Vector3::zeros(),
            radius_mm,
        }
    }

    /// Middle of a ball around the piece.
    fn centre(&self) -> Vector3<f64> {
        self.from + self.out * 0.5 + self.bend * 0.25
    }

    /// Radius of that ball in mm.
    fn reach_mm(&self) -> f64 {
        let out = 0.5 * self.out.norm() + 0.75 * self.bend.norm();
        out + self.radius_mm
    }

    fn at(&self, t: f64) -> Vector3<f64> {
        self.from + (self.out + self.bend * t) * t
    }

    /// The point seen from its foot. With `h(t)` half the square of the distance from the piece, the
    /// foot has `h' = 0`, and the second derivatives of that half square in space are the identity
    /// less `x' x'ᵀ / h''` there.
    fn see(&self, p: &Vector3<f64>) -> Seen {
        let chord = self.out + self.bend;
        let mut t = ((p - self.from).dot(&chord) / chord.norm_squared()).clamp(0.0, 1.0);
        let mut offset = p - self.at(t);
        let mut along = None;
        for _ in 0..STEPS {
            let forward = self.out + self.bend * (2.0 * t);
            let curved = forward.norm_squared() - 2.0 * offset.dot(&self.bend);
            // Beyond the centre of a bend the foot is at an end.
            let step = if curved > 0.1 * forward.norm_squared() {
                offset.dot(&forward) / curved
            } else {
                offset.dot(&forward).signum()
            };
            let wanted = t + step;
            let next = wanted.clamp(0.0, 1.0);
            let is_beside = (0.0..=1.0).contains(&wanted);
            along = (is_beside && curved > 0.0).then(|| forward / curved.sqrt());
            let moved = (next - t).abs();
            t = next;
            offset = p - self.at(t);
            if moved < 1e-13 {
                break;
            }
        }
        Seen {
            depth_mm: self.radius_mm - offset.norm(),
            radius_mm: self.radius_mm,
            offset,
            along,
        }
    }
}

impl Lumen for Strand {
    fn near_wall(&self, p: &Vector3<f64>, margin_mm: f64) -> Option<LumenPoint> {
        let seen = self.deepest(p, margin_mm)?;
        Some(LumenPoint::around(
            seen.radius_mm,
            &seen.offset,
            seen.along.as_ref(),
        ))
    }

    fn distance(&self, p: &Vector3<f64>) -> f64 {
        self.deepest(p, f64::INFINITY)
            .map_or(f64::NEG_INFINITY, |seen| seen.depth_mm)
    }
}

#[cfg(test)]
mod tests {
    use super::super::lumen::tests::derivatives_agree;
    use super::*;

    /// A zigzag of 60 pieces, thick at first and thin later.
    fn zigzag() -> (Vec<Vector3<f64>>, Vec<f64>) {
        let points: Vec<_> = (0..60)
            .map(|i| {
                let x = f64::from(i);
                Vector3::new(0.5 * x, (0.3 * x).sin(), 0.4 * (0.2 * x).cos())
            })
            .collect();
        let diameters = (0..60).map(|i| if i < 30 { 1.0 } else { 0.36 }).collect();
        (points, diameters)
    }

    #[test]
    fn the_deepest_place_is_found_as_by_looking_along_the_whole_line() {
        let (points, diameters) = zigzag();
        let strand = Strand::default();
        assert!(strand.near_wall(&Vector3::zeros(), 5.0).is_none());
        strand.lay(&points, &diameters);
        let blocks = strand.blocks.read().unwrap();
        let places: Vec<(Vector3<f64>, f64)> = blocks
            .iter()
            .flat_map(|block| &block.pieces)
            .flat_map(|piece| (0..=1000).map(|i| (piece.at(f64::from(i) * 1e-3), piece.radius_mm)))
            .collect();
        for k in 0..400 {
            let x = f64::from(k);
            let p = Vector3::new(0.08 * x, (0.7 * x).sin(), (1.3 * x).cos());
            let depths = places.iter().map(|(at, radius)| radius - (p - at).norm());
            let slow = depths.fold(f64::NEG_INFINITY, f64::max);
            approx::assert_abs_diff_eq!(strand.distance(&p), slow, epsilon = 2e-6);
            let near = strand.near_wall(&p, 0.4);
            assert_eq!(near.is_some(), strand.distance(&p) >= -0.4);
        }
    }

    /// On a circle of radius R through points a length h apart, the line lies R - R cos(h/2R) inside
    /// where it touches a length.
    #[test]
    fn a_bent_line_is_smooth() {
        let (bend_mm, step) = (8.0, 0.1_f64);
        let point = |angle: f64| Vector3::new(angle.cos(), angle.sin(), 0.0) * bend_mm;
        let points: Vec<_> = (0..30).map(|i| point(f64::from(i) * step)).collect();
        let strand = Strand::default();
        strand.lay(&points, &[1.0; 30]);
        let inside = bend_mm * (1.0 - (0.5 * step).cos());
        let mut last = None;
        for k in 100..2000 {
            let direction = point(f64::from(k) * 1e-3) / bend_mm;
            for aside in [-0.6, 0.6] {
                let depth = strand.distance(&(direction * (bend_mm - inside + aside)));
                approx::assert_abs_diff_eq!(depth, -0.1, epsilon = 2e-5);
            }
            let seen = strand.near_wall(&(direction * (bend_mm - 0.6)), 1.0);
            let gradient = seen.expect("near").gradient;
            if let Some(last) = last.replace(gradient) {
                let turned: f64 = (gradient - last).norm();
                assert!(turned < 2e-3, "{turned} at {k}");
            }
        }
    }

    #[test]
    fn gradient_and_hessian_are_the_derivatives_of_the_distance() {
        let strand = Strand::default();
        let line = [(0.0, 0.0), (4.0, 0.0), (8.0, 0.0), (11.0, 2.5)];
        strand.lay(
            &line.map(|(x, y)| Vector3::new(x, y, 0.0)),
            &[1.0, 0.4, 0.4, 0.4],
        );
        let points = [
            (2.1, 0.4, 0.2),
            (5.3, -0.2, 0.1),
            (-0.3, 0.2, -0.1),
            (7.6, 0.3, 0.1),
            (8.1, -0.2, 0.2),
        ];
        derivatives_agree(&strand, &points.map(|(x, y, z)| Vector3::new(x, y, z)));
    }
}
