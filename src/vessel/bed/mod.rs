//! A vessel that gives way: its axis is moved by what lies in it, tied to its bed and stiffened by its
//! wall.

mod bending;
mod giving;
mod hang;
mod heart;
mod motion;
mod moved;
mod near;
mod reading;
mod spline;
mod station;
mod stiffness;
mod swing;
mod tie;
mod turned;

pub use bending::{AtRest, BeamEnergy, WallBeam};
pub use giving::GivingVessel;
pub(crate) use giving::Part;
pub use hang::Hang;
pub use heart::{Beat, BeatFault};
pub use motion::{Cycle, Motion, pause_in_s};
pub use moved::MovedTree;
pub use reading::VesselReading;
pub use spline::{Basis, Knots, SUPPORT};
pub use stiffness::{Bed, WallStiffness};
pub use swing::{BranchSwing, Tight, swings, tightest};
