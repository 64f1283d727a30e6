//! Where along the wire contact is looked for.

use nalgebra::Vector3;

use super::friction::{ActiveContact, FrictionState};
use super::wall::Surface;
use crate::vessel::LineView;

/// How far around a wire it is looked for the wall, in mm, so that a point that is clear of it need
/// not be looked at again until it has gone some way.
pub(super) const LOOK_AHEAD_MM: f64 = 0.4;

/// The same for a line with a thickness.
const LINE_AHEAD_MM: f64 = 0.8;

/// One contact point: a material point of the wire.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ContactPoint {
    /// Device whose surface it lies on: 0 the wire, 1 the catheter that covers it.
    pub layer: usize,
    /// Edge on which it lies.
    pub edge: usize,
    /// Place on the edge, from 0 at its first node to 1 at its second.
    pub fraction: f64,
    /// Length of wire it stands for, in mm.
    pub weight: f64,
    /// The stretch of the edge that it stands for.
    pub(super) cell: Cell,
    /// What it remembers of the wall.
    pub wall: Memory,
    /// What it remembers of devices that lie beside.
    pub(super) adjacent: Memory,
}

/// A stretch of an edge with a contact point in its middle; empty for the point of the tip.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Cell {
    /// Half its length as a share of the edge.
    pub half: f64,
    /// How often it was halved.
    pub level: u8,
}

/// What a contact point remembers of something that it may touch.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Memory {
    /// Friction.
    pub friction: FrictionState,
    /// Where it was known to be clear of it.
    pub(super) clear: Option<ClearanceBound>,
}

/// A contact point that is pressed by a line with a thickness, and where.
#[derive(Debug, Clone)]
pub(super) struct Penetration {
    /// Index of the contact point.
    pub point: usize,
    /// Overlap of the two round surfaces in mm.
    pub depth: f64,
    /// The line from the point.
    pub seen: LineView,
}

impl Penetration {
    /// The active contact there of a point of `weight` mm between two of those surfaces; `ease` takes the limit
    /// now and returns the one to be used.
    pub(super) fn contact_on(
        &self,
        surface: (&Surface, f64),
        memory: &Memory,
        ease: impl FnOnce(f64) -> f64,
    ) -> ActiveContact {
        let normal = self.seen.offset.normalize();
        let (depth, memory) = (self.depth, &memory.friction);
        ActiveContact::of_overlap(self.point, normal, depth, surface, memory, ease)
    }
}

impl ContactPoint {
    /// Whether it is the point of the tip's rounded end.
    pub(super) fn is_tip(&self) -> bool {
        self.cell.half <= 0.0
    }

    /// Half the length of wire on its edge that it stands for, in mm.
    pub(super) fn reach_mm(&self) -> f64 {
        if self.is_tip() {
            0.0
        } else {
            0.5 * self.weight
        }
    }

    /// The two points that stand for the halves of its stretch.
    pub(super) fn halves(&self) -> [Self; 2] {
        let half = 0.5 * self.cell.half;
        [-half, half].map(|aside| Self {
            fraction: self.fraction + aside,
            weight: 0.5 * self.weight,
            cell: Cell {
                half,
                level: self.cell.level + 1,
            },
            ..*self
        })
    }

    /// Takes over what another point of the wire remembers of friction.
    pub(super) fn remember(&mut self, other: &Self) {
        self.wall.friction = other.wall.friction;
        self.adjacent.friction = other.adjacent.friction;
    }
}

impl Memory {
    /// Penetration of contact point number `point`, at `at` on a wire of `radius` mm, by a line that has
    /// moved by up to `gone_mm` in sum so far; `None` where they do not touch. `look` gives the nearest place
    /// of the line within a distance in mm from its surface; it is asked only where the point is not known to
    /// be clear.
    pub(super) fn pressed(
        &mut self,
        (point, at): (usize, Vector3<f64>),
        gone_mm: f64,
        radius: f64,
        look: impl FnOnce(f64) -> Option<LineView>,
    ) -> Option<Penetration> {
        if self.clear.is_some_and(|clear| clear.holds(&at, gone_mm)) {
            return None;
        }
        let seen = look(radius + LINE_AHEAD_MM);
        let gap = seen
            .as_ref()
            .map_or(LINE_AHEAD_MM, |seen| -(seen.depth_mm + radius));
        self.clear = (gap > 0.0).then(|| ClearanceBound::of_line(at, gap, gone_mm));
        let pressed = seen.filter(|seen| gap <= 0.0 && seen.offset.norm() > 1e-9);
        pressed.map(|seen| Penetration {
            point,
            depth: -gap,
            seen,
        })
    }
}

/// A place from which it is some way to whatever may be touched.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ClearanceBound {
    /// The place in mm.
    at: Vector3<f64>,
    /// How far a point and what it may touch may go from there without a touch, in mm.
    way_mm: f64,
    /// How far what it may touch had gone before, in mm.
    gone_mm: f64,
}

impl ClearanceBound {
    /// By how much more than a point's own way its distance from a wall may change at most: lumens
    /// that blend and taper have distances whose gradient is not 1.
    const STEEPEST: f64 = 2.0;
    /// The same along a wire that lies beside it, where a lumen narrows.
    const ALONG: f64 = 1.25;

    /// A point at `at` that is `gap_mm` away from touching a wall that has moved by up to `gone_mm` in sum.
    #[inline]
    pub(super) fn of_wall(at: Vector3<f64>, gap_mm: f64, gone_mm: f64) -> Self {
        Self {
            at,
            way_mm: gap_mm / Self::STEEPEST,
            gone_mm,
        }
    }

    /// A point at `at` that is `gap_mm` away from touching a line that has moved by up to `gone_mm` in
    /// sum; its distance changes by no more than both move.
    fn of_line(at: Vector3<f64>, gap_mm: f64, gone_mm: f64) -> Self {
        Self {
            at,
            way_mm: gap_mm,
            gone_mm,
        }
    }

    /// Whether nothing within `reach_mm` along the wire of a point at `p` can touch a wall that has
    /// moved by up to `gone_mm` in sum so far.
    #[inline]
    pub(super) fn covers(&self, p: &Vector3<f64>, reach_mm: f64, gone_mm: f64) -> bool {
        let way = self.way_mm - (gone_mm - self.gone_mm);
        let left = way - Self::ALONG / Self::STEEPEST * reach_mm;
        left > 0.0 && (p - self.at).norm_squared() < left * left
    }

    /// Whether a point at `p` cannot touch what has moved by up to `gone_mm` in sum so far.
    #[inline]
    pub(super) fn holds(&self, p: &Vector3<f64>, gone_mm: f64) -> bool {
        let left = self.way_mm - (gone_mm - self.gone_mm);
        left > 0.0 && (p - self.at).norm_squared() < left * left
    }
}

/// Number of contact points on an edge of the given length for a largest spacing, both in mm.
fn count(length: f64, spacing: f64) -> u32 {
    let wanted = (length / spacing).ceil().clamp(1.0, 64.0);
    // In range by the clamp above.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 1..=64"
    )]
    let n = wanted as u32;
    n
}

/// The contact points of one edge: the midpoint rule with as many points as the spacing asks for.
pub(super) fn on_edge(
    edge: usize,
    length: f64,
    spacing: f64,
) -> impl Iterator<Item = ContactPoint> {
    let n = count(length, spacing);
    (0..n).map(move |k| ContactPoint {
        layer: 0,
        edge,
        fraction: (f64::from(k) + 0.5) / f64::from(n),
        weight: length / f64::from(n),
        cell: Cell {
            half: 0.5 / f64::from(n),
            level: 0,
        },
        wall: Memory::default(),
        adjacent: Memory::default(),
    })
}

/// The contact point of the tip, node 0 of the rod: its rounded end stands for one wire radius.
#[must_use]
pub fn tip_point(radius: f64) -> ContactPoint {
    ContactPoint {
        layer: 0,
        edge: 0,
        fraction: 0.0,
        weight: radius,
        cell: Cell::default(),
        wall: Memory::default(),
        adjacent: Memory::default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_cover_the_edge_at_no_more_than_the_spacing() {
        let points: Vec<_> = on_edge(3, 1.0, 0.3).collect();
        assert_eq!(points.len(), 4);
        let covered: f64 = points.iter().map(|p| p.weight).sum();
        approx::assert_relative_eq!(covered, 1.0, max_relative = 1e-15);
        assert!(
            points
                .windows(2)
                .all(|w| w[1].fraction - w[0].fraction <= 0.3)
        );
    }
}
