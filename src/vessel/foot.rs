//! The foot of a point on a centreline: where the curve is nearest.

use super::centreline::{Block, Curve, CurveJet};
use super::lumen::WallPoint;
use super::path::number;
use crate::products::outer;
use nalgebra::{Matrix3, Vector3};

/// Steps of Newton's method before the slow search takes over.
const NEWTON_STEPS: usize = 10;
/// Longest step along the curve in mm.
const LONGEST_STEP_MM: f64 = 1.5;
/// A step shorter than this, in mm, is the last one. It is made along the curve's osculating
/// parabola; what remains is of third order in the distance (below 1e-12 mm) and of second order
/// in the station (below 1e-8 mm).
const LAST_STEP_MM: f64 = 1e-4;
/// Below this value of 1 - (offset . curvature) the point lies too near to the centre of
/// curvature for Newton's method.
const NEAR_CENTRE: f64 = 0.1;
/// A point nearer to the axis than this, in mm, has derivatives as if it were this far away, and
/// a shorter gradient.
const AXIS_MM: f64 = 1e-3;

/// The nearest point of a centreline.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foot {
    /// Arc length from the start of the branch in mm.
    pub station: f64,
    /// Point minus foot, in mm.
    pub offset: Vector3<f64>,
    /// Length of `offset` in mm.
    pub rho: f64,
    /// Lumen radius at the foot in mm, before scaling.
    pub radius: f64,
    /// Change of the radius along the curve, before scaling.
    pub slope: f64,
    /// First derivative of the curve.
    pub first: Vector3<f64>,
    /// c'.c' - offset.c''; 0 where the foot is an end of the curve.
    pub stiffness: f64,
}

impl Foot {
    /// Signed distance to the tube's wall with all radii multiplied by `factor`.
    #[inline]
    pub(super) fn distance(&self, factor: f64) -> f64 {
        self.rho - factor * self.radius
    }

    /// How the station changes with the point: t/D (see [`Foot::wall`]); 0 at a closed end.
    pub(super) fn station_gradient(&self) -> Vector3<f64> {
        if self.stiffness > 0.0 {
            self.first / self.stiffness
        } else {
            Vector3::zeros()
        }
    }

    /// Distance with derivatives.
    ///
    /// With n the direction of the offset, t the curve's first derivative and D = t.t - offset.c'':
    /// the station's gradient is t/D, the distance's is n - r' t/D, and its second derivative
    /// (I - n nᵀ - t tᵀ/D)/rho without the change of the taper. For a unit-speed curve
    /// D = 1 - offset.kappa. At a closed end t drops out.
    #[inline]
    pub(super) fn wall(&self, factor: f64) -> WallPoint {
        let per_rho = 1.0 / self.rho.max(AXIS_MM);
        let normal = self.offset * per_rho;
        let mut gradient = normal;
        let mut hessian = Matrix3::identity() - outer(&normal, &normal);
        if self.stiffness > 0.0 {
            let along = self.first * (1.0 / self.stiffness);
            gradient -= along * (factor * self.slope);
            hessian -= outer(&self.first, &along);
        }
        WallPoint {
            distance_mm: self.distance(factor),
            gradient,
            velocity: Vector3::zeros(),
            hessian: hessian * per_rho,
        }
    }
}

/// A curve by its station, with a radius.
pub(super) trait Axis {
    /// Length in mm.
    fn length_mm(&self) -> f64;
    /// The curve at a station on it.
    fn jet(&self, station: f64) -> CurveJet;
}

impl Axis for Curve {
    #[inline(always)]
    fn length_mm(&self) -> f64 {
        self.length_mm
    }
    #[inline(always)]
    fn jet(&self, station: f64) -> CurveJet {
        Curve::jet(self, station)
    }
}

/// The foot of `p` on an axis by Newton's method from a station nearby; `None` where it lies too near to
/// a centre of curvature, or is not found soon.
#[inline(always)]
pub(super) fn foot_from(axis: &impl Axis, p: &Vector3<f64>, start: f64) -> Option<Foot> {
    let length_mm = axis.length_mm();
    let mut station = start.clamp(0.0, length_mm);
    for _ in 0..NEWTON_STEPS {
        let jet = axis.jet(station);
        let offset = p - jet.position;
        let along = offset.dot(&jet.first);
        let outward = (station <= 0.0 && along <= 0.0) || (station >= length_mm && along >= 0.0);
        if outward {
            return Some(Foot {
                station,
                offset,
                rho: offset.norm(),
                radius: jet.radius,
                slope: 0.0,
                first: jet.first,
                stiffness: 0.0,
            });
        }
        let stiffness = jet.first.norm_squared() - offset.dot(&jet.second);
        if stiffness < NEAR_CENTRE {
            return None;
        }
        let step = along / stiffness;
        if step.abs() < LAST_STEP_MM {
            let offset = offset - (jet.first + jet.second * (0.5 * step)) * step;
            return Some(Foot {
                station: station + step,
                offset,
                rho: offset.norm(),
                radius: jet.radius + jet.slope * step,
                slope: jet.slope,
                first: jet.first + jet.second * step,
                stiffness,
            });
        }
        let step = step.clamp(-LONGEST_STEP_MM, LONGEST_STEP_MM);
        station = (station + step).clamp(0.0, length_mm);
    }
    None
}

impl Curve {
    /// The foot of `p`, found from a station nearby.
    #[inline]
    pub(super) fn foot_near(&self, p: &Vector3<f64>, start: f64) -> Foot {
        foot_from(self, p, start).unwrap_or_else(|| self.foot(p))
    }

    /// A lower bound in mm of the distance of `p` from the curve.
    pub(super) fn rho_at_least(&self, p: &Vector3<f64>) -> f64 {
        let regions = self.regions.iter();
        let least = regions.map(|r| (p - r.centre).norm() - r.reach_mm);
        least.fold(f64::INFINITY, f64::min) - self.spacing_mm
    }

    /// A lower bound in mm of [`Self::rho_at_least`], sooner told.
    #[inline]
    pub(super) fn rho_roughly_at_least(&self, p: &Vector3<f64>) -> f64 {
        // Rounding of coordinates of up to some metres.
        const ROUNDING_MM: f64 = 1e-9;
        let (centre, reach_mm) = self.around;
        (p - centre).norm() - reach_mm - self.spacing_mm - ROUNDING_MM
    }

    /// The foot of `p` by a search of the whole curve; slower.
    pub(super) fn foot(&self, p: &Vector3<f64>) -> Foot {
        // The middle of a region is a knot, so the nearest one bounds the distance.
        let centres = self.regions.iter().map(|r| (p - r.centre).norm());
        let mut nearest = centres.fold(f64::INFINITY, f64::min);
        for block in self.blocks_within(p, nearest) {
            if (p - block.centre).norm() - block.reach_mm < nearest {
                for knot in &self.knots[block.first..=block.last] {
                    nearest = nearest.min((p - knot).norm());
                }
            }
        }
        let limit = nearest + self.spacing_mm;
        let mut best: Option<Foot> = None;
        for block in self.blocks_within(p, limit) {
            if (p - block.centre).norm() - block.reach_mm > limit {
                continue;
            }
            for i in block.first..=block.last {
                let here = (p - self.knots[i]).norm();
                let is_low = here <= limit
                    && (i == 0 || here <= (p - self.knots[i - 1]).norm())
                    && (i + 1 == self.knots.len() || here <= (p - self.knots[i + 1]).norm());
                if is_low {
                    let foot = self.foot_between(p, i);
                    if best.is_none_or(|b| foot.rho < b.rho) {
                        best = Some(foot);
                    }
                }
            }
        }
        best.unwrap_or_else(|| self.foot_between(p, 0))
    }

    /// The blocks of all regions that may hold a knot within a distance of `p`.
    fn blocks_within(&self, p: &Vector3<f64>, limit: f64) -> impl Iterator<Item = &Block> {
        let is_near = move |r: &&Block| (p - r.centre).norm() - r.reach_mm <= limit;
        let regions = self.regions.iter().filter(is_near);
        regions.flat_map(|r| &self.blocks[r.first..=r.last])
    }

    /// The foot of `p` within one interval on either side of knot `i`: Newton's method kept
    /// between the ends by bisection.
    fn foot_between(&self, p: &Vector3<f64>, i: usize) -> Foot {
        let middle = (number(i) * self.spacing_mm).min(self.length_mm);
        let (mut low, mut high) = (
            (middle - self.spacing_mm).max(0.0),
            (middle + self.spacing_mm).min(self.length_mm),
        );
        let mut station = middle;
        for _ in 0..60 {
            let jet = self.jet(station);
            let offset = p - jet.position;
            let along = offset.dot(&jet.first);
            if along > 0.0 {
                low = station;
            } else {
                high = station;
            }
            let stiffness = jet.first.norm_squared() - offset.dot(&jet.second);
            let newton = station + along / stiffness;
            let next = if stiffness > 0.0 && newton >= low && newton <= high {
                newton
            } else {
                0.5 * (low + high)
            };
            let moved = (next - station).abs();
            station = next;
            if moved < 1e-12 * (1.0 + station) {
                break;
            }
        }
        let jet = self.jet(station);
        let offset = p - jet.position;
        let inside = station > 0.0 && station < self.length_mm;
        Foot {
            station,
            offset,
            rho: offset.norm(),
            radius: jet.radius,
            slope: if inside { jet.slope } else { 0.0 },
            first: jet.first,
            stiffness: if inside {
                (jet.first.norm_squared() - offset.dot(&jet.second)).max(NEAR_CENTRE)
            } else {
                0.0
            },
        }
    }
}
