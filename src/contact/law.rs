//! How a wall gives way under a device that presses on it.

use std::fmt;
use std::ops::Deref;
use std::sync::Arc;

use super::laws::WallSpec;
use crate::vessel::Lumen;

/// A constitutive law of a wall: what a millimetre of device meets when its surface lies at a depth
/// in the wall. A wall of another kind is another type with this trait; the solver asks for nothing else.
pub trait WallLaw: fmt::Debug + Sync + Send {
    /// Energy, force and stiffness at `depth` in mm, per mm of device.
    ///
    /// The force is the derivative of the energy by the depth, the stiffness that of the force, and
    /// above 0. The solver also asks at small negative depths, where an active contact is about to
    /// open: the law continues there smoothly, with a force below 0. An iterate may lie deeper than any
    /// state that is found, by millimetres: the answer is finite there too.
    fn respond(&self, depth: f64) -> Response;

    /// Stiffness in mN/mm per mm of device against displacement along the wall while the contact
    /// sticks, above 0: that at first contact, where nothing else is known.
    fn tangential_stiffness(&self) -> f64 {
        self.respond(0.0).stiffness()
    }
}

/// What a wall answers at one depth, per mm of device.
///
/// Stored are the three stiffnesses by which energy, force and change of the force follow from the
/// depth; for a linear law they are equal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Response {
    depth: f64,
    /// `2 E / δ²`.
    mean: f64,
    /// `F / δ`.
    secant: f64,
    /// `dF / dδ`.
    tangent: f64,
}

impl Response {
    /// The answer of a law at `depth` (mm): energy in mN mm, force in mN and stiffness in mN/mm, each
    /// per mm of device.
    #[must_use]
    pub fn new(depth: f64, energy: f64, force: f64, stiffness: f64) -> Self {
        if depth.abs() <= 0.0 {
            return Self::linear(depth, stiffness);
        }
        Self {
            depth,
            mean: 2.0 * energy / (depth * depth),
            secant: force / depth,
            tangent: stiffness,
        }
    }

    /// The answer at `depth` (mm) of a law with the same `stiffness` (mN/mm per mm) at every depth.
    #[must_use]
    pub fn linear(depth: f64, stiffness: f64) -> Self {
        Self {
            depth,
            mean: stiffness,
            secant: stiffness,
            tangent: stiffness,
        }
    }

    /// Elastic energy in mN mm per mm of device.
    #[must_use]
    pub fn energy(&self) -> f64 {
        0.5 * self.mean * self.depth * self.depth
    }

    /// Force in mN per mm of device.
    #[must_use]
    pub fn force(&self) -> f64 {
        self.secant * self.depth
    }

    /// Change of the force with the depth in mN/mm per mm of device.
    #[must_use]
    pub fn stiffness(&self) -> f64 {
        self.tangent
    }

    /// `2 E / δ²` in mN/mm per mm of device.
    pub(super) fn mean(&self) -> f64 {
        self.mean
    }

    /// `F / δ` in mN/mm per mm of device.
    pub(super) fn secant(&self) -> f64 {
        self.secant
    }
}

/// A wall as contact points know it: its law, shared by all of them. A number is the stiffness of a
/// linear foundation in mN/mm².
#[derive(Debug, Clone)]
pub struct Wall(Arc<dyn WallLaw>);

impl Wall {
    /// A wall with this law.
    #[must_use]
    pub fn new(law: impl WallLaw + 'static) -> Self {
        Self(Arc::new(law))
    }
}

impl Deref for Wall {
    type Target = dyn WallLaw;

    fn deref(&self) -> &Self::Target {
        &*self.0
    }
}

impl From<f64> for Wall {
    fn from(stiffness: f64) -> Self {
        WallSpec::from(stiffness).into()
    }
}

/// A lumen with the law of its wall. The space around a body in a vessel is one too.
#[derive(Clone)]
pub struct WalledLumen<'a> {
    /// Where the wall lies.
    pub lumen: &'a dyn Lumen,
    /// How it gives way.
    pub wall: Wall,
}

impl<'a> WalledLumen<'a> {
    /// A lumen with that wall; a number is the stiffness of its foundation in mN/mm².
    #[must_use]
    pub fn new(lumen: &'a dyn Lumen, wall: impl Into<Wall>) -> Self {
        let wall = wall.into();
        Self { lumen, wall }
    }
}
