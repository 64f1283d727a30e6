//! Tip flexibility: the side force that turns the tip.

use nalgebra::{Rotation3, Unit, Vector3};

use super::Fault;
use super::piece::{Held, force_scale};
use crate::device::Wire;
use crate::solve::Load;

/// How near the tip's angle must come to the one asked for, in rad.
const ANGLE_TOLERANCE: f64 = 1e-6;
/// Least change of the angle, in rad, from which the slope of the next try is taken.
const CLEAR_CHANGE: f64 = 1e-4;
/// Force over the force scale beyond which an angle counts as out of reach.
const GREATEST_FORCE: f64 = 5.0;
/// Tries of the search for one load.
const TRIES: u32 = 60;
/// Largest rise of the load in one try, over the force scale.
const LARGEST_RISE: f64 = 0.5;

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
    /// Change of force over change of angle in the last search, in mN/rad.
    slope: f64,
}

impl<'a> Turned<'a> {
    /// A wire held `held_mm` behind its tip. A shaped tip is turned against its bend: the other
    /// way round the force would close the bend to a hook and snap it over.
    ///
    /// # Errors
    /// [`Fault`] if the wire finds no rest.
    pub fn new(wire: &Wire, held_mm: f64, edge_mm: f64) -> Result<Self, Fault> {
        let held = Held::new(wire, held_mm, edge_mm).map_err(Fault::solver("tip flexibility"))?;
        let rest = held.tip_direction();
        let bent = rest.cross(&Vector3::x());
        let axis = if bent.norm() > 1e-6 { bent } else { Vector3::z() };
        let stiffness = 1.0 / (wire.compliance_between(0.0, held_mm) / held_mm);
        let scale = force_scale(stiffness, held_mm);
        Ok(Self {
            held,
            axis: Unit::new_normalize(axis),
            rest,
            scale,
            force: 0.0,
            slope: 0.1 * scale,
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
    /// [`Fault`] where no equilibrium is found.
    pub fn force_at(&mut self, angle_rad: f64, side: SideForce) -> Result<Option<f64>, Fault> {
        let square = self.axis.cross(&match side {
            SideForce::SquareToTip => self.rest,
            SideForce::Fixed => Vector3::x(),
        });
        let direction = match side {
            SideForce::SquareToTip => Rotation3::from_axis_angle(&self.axis, angle_rad) * square,
            SideForce::Fixed => square,
        };
        let mut missing = angle_rad - self.loaded(direction, self.force)?;
        for _ in 0..TRIES {
            if missing.abs() <= ANGLE_TOLERANCE {
                return Ok(Some(self.force));
            }
            let most = LARGEST_RISE * self.scale;
            let rise = (self.slope * missing).clamp(-most, most);
            if self.force + rise > GREATEST_FORCE * self.scale {
                return Ok(None);
            }
            let before = missing;
            missing = angle_rad - self.loaded(direction, self.force + rise)?;
            let gained = before - missing;
            if gained.abs() > CLEAR_CHANGE && gained * rise > 0.0 {
                self.slope = rise / gained;
            } else if gained * rise < 0.0 {
                self.slope *= 0.5;
            }
        }
        Ok(None)
    }

    /// Sets the load and lets the wire go; returns the angle of the tip.
    fn loaded(&mut self, direction: Vector3<f64>, force: f64) -> Result<f64, Fault> {
        self.force = force;
        self.held.body.loads = (0..3)
            .map(|c| Load {
                unknown: c,
                force: force * direction[c],
            })
            .collect();
        self.held
            .settle()
            .map_err(Fault::solver(format!("tip flexibility at {force:.4} mN")))?;
        Ok(self.angle())
    }
}

/// Side forces in mN at each of `angles_rad` (rising) with the wire held `held_mm` behind its tip;
/// `None` from the first angle on that is out of reach.
///
/// # Errors
/// [`Fault`] where no equilibrium is found.
pub fn forces(
    wire: &Wire,
    held_mm: f64,
    angles_rad: &[f64],
    side: SideForce,
    edge_mm: f64,
) -> Result<Vec<Option<f64>>, Fault> {
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
