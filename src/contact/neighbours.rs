//! Two neighbouring contact points, and what may lie between them: a ridge of the wall, or the corner of
//! the wire at a node.

use nalgebra::{Matrix3, Vector3};

use super::points::ContactPoint;
use super::samples::{Sample, Samples, edge_vector};

/// Rise of the wall between two points, or over half a cell on a flank, up to which cells are not
/// halved, in mm: less than a tenth of the deflection under a tip that presses with 1 mN.
pub(super) const FLAT_MM: f64 = 0.0015;
/// The same as a share of the depth there. The force errs by about its square.
pub(super) const SHARE: f64 = 0.1;
/// How far from the wall a roof is still cared for when cells are chosen, in mm: what a search moves
/// the wire from the shape with which it begins.
pub(super) const NEAR_MM: f64 = 0.03;
/// Rise of the wall between the points of an equilibrium above what they see, in mm, that is not
/// accepted. Between the smallest cells a slope of 1 rises by less than half of it.
const UNSEEN_MM: f64 = 0.01;
/// Largest curvature of a wall across the wire that is reckoned with, in 1/mm.
const SHARPEST: f64 = 4.0;

/// Two neighbouring points and the way between them.
pub(super) struct Neighbours<'s> {
    /// Slopes of the distance along the mean direction of the wire between them.
    slope: [f64; 2],
    /// The same along each point's own edge.
    own: [f64; 2],
    /// Length from each to the corner between them, in mm: all of it is the first's on one edge.
    way: [f64; 2],
    /// Depth of each in mm.
    depth: [f64; 2],
    /// Second derivatives of the distance, in 1/mm, and that mean direction.
    bent: [&'s Matrix3<f64>; 2],
    mean: Vector3<f64>,
    /// Whether the wire is as thick at the one as at the other.
    is_even: bool,
}

impl Neighbours<'_> {
    /// Largest second derivative of the distance along the wire, in 1/mm; 0 or more.
    pub(super) fn curved(&self) -> f64 {
        let along = |h: &Matrix3<f64>| self.mean.dot(&(h * self.mean));
        let [first, second] = self.bent;
        along(first).max(along(second)).clamp(0.0, SHARPEST)
    }

    pub(super) fn length(&self) -> f64 {
        self.way[0] + self.way[1]
    }

    pub(super) fn higher(&self) -> f64 {
        self.depth[0].max(self.depth[1])
    }

    /// Depth of the roof over the two.
    pub(super) fn roof(&self) -> Option<f64> {
        let [g1, g2] = self.slope;
        let h = self.length();
        let [d1, d2] = self.depth;
        let is_ridge = g1 - g2 > 1e-9 && g1 > 0.0 && g2 < 0.0;
        if !self.is_even || !is_ridge {
            return None;
        }
        let x = ((d2 - d1 - g2 * h) / (g1 - g2)).clamp(0.0, h);
        let flank = 0.5 * self.curved() * x.max(h - x).powi(2);
        Some(d1 + g1 * x + flank)
    }

    /// Whether a ridge between the two rises so much over half a cell, wherever it lies, that their
    /// cells are to be halved before a search.
    pub(super) fn is_high(&self) -> bool {
        let rise = 0.25 * (self.slope[0] - self.slope[1]) * self.length();
        self.roof()
            .is_some_and(|roof| roof > -NEAR_MM && rise > FLAT_MM.max(SHARE * roof))
    }

    /// Whether the wall rises between the two above what they see by more than is accepted.
    pub(super) fn is_unseen(&self) -> bool {
        let seen = self.higher().max(0.0);
        self.roof().is_some_and(|roof| roof - seen > UNSEEN_MM)
    }

    /// Depth at the corner between the two by either tangent, or of the roof.
    pub(super) fn deepest(&self) -> f64 {
        if self.way[1] <= 0.0 {
            return self.roof().unwrap_or(f64::NEG_INFINITY);
        }
        let curved = self.curved();
        let at_corner = |k: usize, along: f64| {
            let way = self.way[k];
            self.depth[k] + along * way + 0.5 * curved * way * way
        };
        let corner = at_corner(0, self.own[0]).max(at_corner(1, -self.own[1]));
        corner.max(self.roof().unwrap_or(f64::NEG_INFINITY))
    }
}

/// Point number `first` and the next as a pair, with the next, where both have been looked from and
/// lie near enough to the wall for a ridge between them.
pub(super) fn neighbours<'p, const S: usize>(
    q: &[f64],
    points: &'p [ContactPoint],
    samples: &'p Samples,
    first: usize,
) -> Option<(Neighbours<'p>, &'p ContactPoint)> {
    let (p, next) = (&points[first], points.get(first + 1)?);
    let (a, b) = (samples.get(first)?, samples.get(first + 1)?);
    // The wall rises by no more than it is far along the wire, but for where a lumen narrows.
    let apart = 2.0 * (p.reach_mm() + next.reach_mm());
    if 0.5 * (a.depth + b.depth + apart) < -NEAR_MM {
        return None;
    }
    let edges = [edge_vector::<S>(q, p.edge), edge_vector::<S>(q, next.edge)];
    let same = p.edge == next.edge;
    let rises = a.wall.gradient.dot(&edges[0]) > 0.0;
    let falls = b.wall.gradient.dot(&edges[1]) < 0.0;
    if same && !(rises && falls) {
        return None;
    }
    let lengths = [edges[0].norm(), edges[1].norm()];
    let directions = [edges[0] / lengths[0], edges[1] / lengths[1]];
    let mean = if same {
        directions[0]
    } else {
        (directions[0] + directions[1]).normalize()
    };
    let along = |s: &Sample, t: &Vector3<f64>| s.wall.gradient.dot(t);
    let pair = Neighbours {
        slope: [along(a, &mean), along(b, &mean)],
        own: [along(a, &directions[0]), along(b, &directions[1])],
        way: if same {
            [(next.fraction - p.fraction) * lengths[0], 0.0]
        } else {
            [(1.0 - p.fraction) * lengths[0], next.fraction * lengths[1]]
        },
        depth: [a.depth, b.depth],
        bent: [&a.wall.hessian, &b.wall.hessian],
        mean,
        is_even: p.layer == next.layer,
    };
    Some((pair, next))
}
