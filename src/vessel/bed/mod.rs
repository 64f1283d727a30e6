//! A vessel that gives way: its axis is moved by what lies in it, tied to its bed and stiffened by its
//! wall.

mod bending;
mod giving;
mod moved;
mod spline;
mod tie;

pub use bending::{AtRest, BeamEnergy, WallBeam};
pub use giving::{Bed, GivingVessel, WallStiffness};
pub use moved::{Hang, MovedTree};
pub use spline::{Basis, Knots};
