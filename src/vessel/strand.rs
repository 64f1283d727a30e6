//! A device that lies in a lumen beside the wire: a flexible line with a thickness, laid anew as it
//! moves.

use std::sync::{PoisonError, RwLock};

use nalgebra::Vector3;

use super::lumen::{Lumen, LumenPoint};

/// Pieces whose common ball is asked first.
const BLOCK: usize = 8;

/// A straight piece with round ends.
#[derive(Debug, Clone, Copy)]
struct Capsule {
    from: Vector3<f64>,
    along: Vector3<f64>,
    radius_mm: f64,
}

/// Pieces in a row and a ball around them.
#[derive(Debug, Clone)]
struct Block {
    pieces: Vec<Capsule>,
    centre: Vector3<f64>,
    reach_mm: f64,
}

/// A line of straight pieces, each with its radius.
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
    /// Direction of the piece, where the point lies beside it and not beyond an end.
    along: Option<Vector3<f64>>,
}

impl Strand {
    /// Lays the line through `points` (mm); `diameters` in mm, one for each point, hold up to the
    /// next. Pieces shorter than a micrometre are left out.
    pub fn lay(&self, points: &[Vector3<f64>], diameters: &[f64]) {
        let pieces: Vec<Capsule> = points
            .windows(2)
            .zip(diameters)
            .map(|(ends, diameter)| Capsule {
                from: ends[0],
                along: ends[1] - ends[0],
                radius_mm: 0.5 * diameter,
            })
            .filter(|piece| piece.along.norm() > 1e-3)
            .collect();
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
    fn of(pieces: &[Capsule]) -> Self {
        let ends = || pieces.iter().flat_map(|p| [p.from, p.from + p.along]);
        let count = 2.0 * f64::from(u32::try_from(pieces.len()).unwrap_or(u32::MAX));
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

impl Capsule {
    fn see(&self, p: &Vector3<f64>) -> Seen {
        let share = (p - self.from).dot(&self.along) / self.along.norm_squared();
        let offset = p - self.from - self.along * share.clamp(0.0, 1.0);
        let beside = (0.0..=1.0).contains(&share);
        Seen {
            depth_mm: self.radius_mm - offset.norm(),
            radius_mm: self.radius_mm,
            offset,
            along: beside.then(|| self.along.normalize()),
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
    fn the_deepest_piece_is_found_as_by_looking_at_all_of_them() {
        let (points, diameters) = zigzag();
        let strand = Strand::default();
        assert!(strand.near_wall(&Vector3::zeros(), 5.0).is_none());
        strand.lay(&points, &diameters);
        for k in 0..400 {
            let x = f64::from(k);
            let p = Vector3::new(0.08 * x, (0.7 * x).sin(), (1.3 * x).cos());
            let slow = points
                .windows(2)
                .zip(&diameters)
                .map(|(ends, d)| {
                    let along = ends[1] - ends[0];
                    let share = ((p - ends[0]).dot(&along) / along.norm_squared()).clamp(0.0, 1.0);
                    0.5 * d - (p - ends[0] - along * share).norm()
                })
                .fold(f64::NEG_INFINITY, f64::max);
            approx::assert_relative_eq!(strand.distance(&p), slow, epsilon = 1e-12);
            let near = strand.near_wall(&p, 0.4);
            assert_eq!(near.is_some(), slow >= -0.4);
        }
    }

    #[test]
    fn gradient_and_hessian_are_the_derivatives_of_the_distance() {
        let strand = Strand::default();
        let points = [0.0, 4.0, 8.0].map(|x| Vector3::new(x, 0.0, 0.0));
        strand.lay(&points, &[1.0, 0.4, 0.4]);
        let points = [(2.1, 0.4, 0.2), (6.3, -0.2, 0.1), (-0.3, 0.2, -0.1)];
        derivatives_agree(&strand, &points.map(|(x, y, z)| Vector3::new(x, y, z)));
    }
}
