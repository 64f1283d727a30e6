//! Tip flexibility: the side force that turns the tip.

use nalgebra::{Rotation3, Unit, Vector3};

use super::AssayError;
use super::piece::{Held, force_scale};
use crate::device::Wire;
use crate::solve::Load;

/// How near the tip's angle must come to the one asked for, in rad.
const ANGLE_TOLERANCE: f64 = 1e-6;
/// First force of a search over the force scale.
const LEAST_FORCE: f64 = 1e-3;
/// Force over the force scale beyond which an angle counts as out of reach.
const GREATEST_FORCE: f64 = 5.0;
/// Largest turn in rad between two searches for a force that turns with the tip.
const LARGEST_TURN_RAD: f64 = std::f64::consts::PI / 36.0 + 1e-9;
/// Miss in rad beyond which a bracket that has closed holds a jump and not the angle.
const SNAP_RAD: f64 = 1e-4;
/// Width of the bracket over the force at which the search ends.
const NARROW: f64 = 1e-8;
/// Tries of the search for one load.
const TRIES: u32 = 200;
/// Rise of the force from try to try until the angle is passed, over the force scale.
const LARGEST_RISE: f64 = 0.05;

/// How the side force keeps its direction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SideForce {
    /// Always square to the tip, as from a probe that turns with it.
    SquareToTip,
    /// Always square to the wire's axis in the chuck, as from a weight.
    Fixed,
}

/// A held wire whose tip is pushed aside.
pub struct Turned<'a> {
    held: Held<'a>,
    /// Axis about which the tip is turned.
    axis: Unit<Vector3<f64>>,
    /// Direction of the tip without load.
    rest: Vector3<f64>,
    scale: f64,
    force: f64,
    /// Angle of the last search in rad.
    reached: f64,
}

impl<'a> Turned<'a> {
    /// A wire held `held_mm` behind its tip. A shaped tip is turned against its bend: the other
    /// way round the force would close the bend to a hook and snap it over.
    ///
    /// # Errors
    /// [`AssayError`] if the wire finds no rest.
    pub fn new(wire: &Wire, held_mm: f64, edge_mm: f64) -> Result<Self, AssayError> {
        let held =
            Held::new(wire, held_mm, edge_mm).map_err(AssayError::solver("tip flexibility"))?;
        let rest = held.tip_direction();
        let bent = rest.cross(&Vector3::x());
        let axis = if bent.norm() > 1e-6 {
            bent
        } else {
            Vector3::z()
        };
        let stiffness = 1.0 / (wire.compliance_between(0.0, held_mm) / held_mm);
        let scale = force_scale(stiffness, held_mm);
        Ok(Self {
            held,
            axis: Unit::new_normalize(axis),
            rest,
            scale,
            force: 0.0,
            reached: 0.0,
        })
    }

    /// Angle by which the tip is turned from where it points without load, in rad.
    #[must_use]
    pub fn angle(&self) -> f64 {
        let now = self.held.tip_direction();
        let sine = self.rest.cross(&now).dot(&self.axis);
        sine.atan2(self.rest.dot(&now))
    }

    /// The side force in mN that turns the tip to `angle_rad`; `None` if the tip comes no nearer
    /// however large the force is made.
    ///
    /// The force is a dead load in the direction that it has at the angle wanted, so that a force
    /// that turns with the tip is exactly square to it when the angle is reached. Angles are
    /// asked for in rising order, and the search goes on from the last one.
    ///
    /// # Errors
    /// [`AssayError`] where no equilibrium is found.
    pub fn force_at(&mut self, angle_rad: f64, side: SideForce) -> Result<Option<f64>, AssayError> {
        // A force that turns with the tip is followed in small turns: asked for at once, a force
        // that pushes backwards would find the wire straight, as a column that has not buckled.
        while side == SideForce::SquareToTip && angle_rad - self.reached > LARGEST_TURN_RAD {
            let next = self.reached + LARGEST_TURN_RAD;
            if self.search(next, side)?.is_none() {
                return Ok(None);
            }
            self.reached = next;
        }
        let found = self.search(angle_rad, side)?;
        self.reached = angle_rad;
        Ok(found)
    }

    /// Finds the force for one angle by the secant method between a force that is too small and
    /// one that is too large, in the form that halves the older miss where one end stays (the
    /// "Illinois" rule: Dowell and Jarratt, BIT 11:168, 1971).
    fn search(&mut self, angle_rad: f64, side: SideForce) -> Result<Option<f64>, AssayError> {
        let square = self.axis.cross(&match side {
            SideForce::SquareToTip => self.rest,
            SideForce::Fixed => Vector3::x(),
        });
        let direction = match side {
            SideForce::SquareToTip => Rotation3::from_axis_angle(&self.axis, angle_rad) * square,
            SideForce::Fixed => square,
        };
        // At no load the tip has not turned at all.
        let mut below = (0.0, -angle_rad);
        let mut above: Option<(f64, f64)> = None;
        let mut force = self.force.max(LEAST_FORCE * self.scale);
        let mut last_was_above = None;
        for _ in 0..TRIES {
            let missed = self.loaded(direction, force)? - angle_rad;
            if missed.abs() <= ANGLE_TOLERANCE {
                return Ok(Some(force));
            }
            let is_above = missed > 0.0;
            if is_above {
                above = Some((force, missed));
                if last_was_above == Some(true) {
                    below.1 *= 0.5;
                }
            } else {
                below = (force, missed);
                if let (Some(above), Some(false)) = (&mut above, last_was_above) {
                    above.1 *= 0.5;
                }
            }
            last_was_above = above.map(|_| is_above);
            force = match above {
                None => force + LARGEST_RISE * self.scale,
                Some(above) if above.0 - below.0 <= NARROW * above.0 => {
                    // A tip that snaps over passes the angle without resting there.
                    return Ok((missed.abs() <= SNAP_RAD).then_some(force));
                }
                Some(above) => below.0 - below.1 * (above.0 - below.0) / (above.1 - below.1),
            };
            if force > GREATEST_FORCE * self.scale {
                return Ok(None);
            }
        }
        Ok(None)
    }

    /// Sets the load and lets the wire go; returns the angle of the tip.
    fn loaded(&mut self, direction: Vector3<f64>, force: f64) -> Result<f64, AssayError> {
        self.force = force;
        self.held.body.loads = (0..3)
            .map(|c| Load {
                unknown: c,
                force: force * direction[c],
            })
            .collect();
        self.held.settle().map_err(AssayError::solver(format!(
            "tip flexibility at {force:.4} mN"
        )))?;
        Ok(self.angle())
    }
}

/// Side forces in mN at each of `angles_rad` (rising) with the wire held `held_mm` behind its tip;
/// `None` from the first angle on that is out of reach.
///
/// # Errors
/// [`AssayError`] where no equilibrium is found.
pub fn forces(
    wire: &Wire,
    held_mm: f64,
    angles_rad: &[f64],
    side: SideForce,
    edge_mm: f64,
) -> Result<Vec<Option<f64>>, AssayError> {
    let mut turned = Turned::new(wire, held_mm, edge_mm)?;
    let mut found = Vec::with_capacity(angles_rad.len());
    for &angle in angles_rad {
        if matches!(found.last(), Some(None)) {
            found.push(None);
        } else {
            found.push(turned.force_at(angle, side)?);
        }
    }
    Ok(found)
}
