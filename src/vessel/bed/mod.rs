//! A vessel that gives way: its axis is moved by what lies in it, tied to its bed and stiffened by its
//! wall.

mod bending;
mod giving;
mod motion;
mod moved;
mod reading;
mod spline;
mod tie;

pub use bending::{AtRest, BeamEnergy, WallBeam};
pub use giving::{Bed, GivingVessel, WallStiffness};
pub use motion::{Cycle, Motion};
pub use moved::{Hang, MovedTree};
pub use reading::VesselReading;
pub use spline::{Basis, Knots, SUPPORT};
